"""A table as understood, laid out as a grid again, and what may be answered about it."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.reading.preview import show_cell
from evidence.vocabulary.terms import ReadFrom, Spread, Timepoint
from evidence.workflows.extract.pasting import Understood
from evidence.workflows.opening import vocabulary_of


@dataclass(frozen=True, slots=True)
class GridCell:
    """One cell as understood: its text, and whether a person must look at it."""

    text: str
    printed: str
    doubtful: bool


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row with its labels."""

    label: str
    cells: tuple[tuple[GridCell, ...], ...]  # several where figures share a row and column


@dataclass(frozen=True, slots=True)
class Grid:
    """The table laid out as it was understood."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[GridRow, ...]


@dataclass(frozen=True, slots=True)
class TableChoices:
    """What may be answered about a table of one study: value and name each."""

    study: str
    outcomes: tuple[tuple[str, str], ...]
    spreads: tuple[str, ...]
    sources: tuple[str, ...]
    times: tuple[str, ...]
    regions: tuple[tuple[str, str], ...]
    meanings: tuple[tuple[str, str], ...]  # what a label of the table may stand for


def grid_of(understood: Understood) -> Grid | None:
    """The grid of a table that was understood."""
    reading = understood.reading
    if reading is None:
        return None
    doubtful = {m.cell.id for m in understood.cells if not m.sure}
    columns = tuple(dict.fromkeys(cell.column for cell in reading.cells))
    rows: dict[str, dict[str, list[GridCell]]] = {}
    for cell in reading.cells:
        group = None if cell.group and cell.group in cell.column else cell.group
        label = " / ".join(dict.fromkeys(part for part in (cell.section, cell.row, group) if part))
        text = show_cell(cell).removesuffix("ASKED").strip()
        shown = GridCell(text, cell.printed, cell.id in doubtful or bool(cell.doubts))
        rows.setdefault(label, {}).setdefault(cell.column, []).append(shown)
    laid = tuple(
        GridRow(label, tuple(tuple(cells.get(column, ())) for column in columns))
        for label, cells in rows.items()
    )
    return Grid(reading.title, columns, laid)


def choices_for(catalogue: Catalogue, key: str) -> TableChoices:
    """What may be answered about a table of this study. Raises NotFound."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
    regions = tuple((r.id, r.name) for r in sorted(vocabulary.regions.values(), key=lambda r: r.name))
    conditions = tuple((c.key, f"condition: {c.printed or c.key}") for c in rows.conditions)
    outcomes = tuple((o.key, f"outcome: {o.key}") for o in rows.outcomes)
    people = tuple((p.key, f"group: {p.label or p.key}") for p in rows.people)
    times = tuple((t.value, f"time: {t.value}") for t in Timepoint)
    muscles = tuple((id_, f"region: {name}") for id_, name in regions)
    return TableChoices(
        key,
        tuple((o.key, f"{o.key} ({o.unit})" if o.unit else o.key) for o in rows.outcomes),
        tuple(s.value for s in Spread if s is not Spread.NOT_STATED),
        tuple(r.value for r in ReadFrom),
        tuple(t.value for t in Timepoint),
        regions,
        (("skip", "not a result: leave it out"), *conditions, *outcomes, *people, *times, *muscles),
    )
