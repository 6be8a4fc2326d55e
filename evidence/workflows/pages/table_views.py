"""A table as understood, laid out as a grid again, and what may be answered about it."""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.reading.preview import show_cell
from evidence.vocabulary import Vocabulary
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
    spreads: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]
    times: tuple[tuple[str, str], ...]
    regions: tuple["ChoiceGroup", ...]
    meanings: tuple["ChoiceGroup", ...]  # what a label of the table may stand for, what the study holds first

    @property
    def names(self) -> dict[str, str]:
        """What each value that a label may stand for is called."""
        return {value: text for group in self.meanings for value, text in group.choices}

    def likely(self, values: Sequence[str]) -> tuple[tuple[str, str], ...]:
        """The nearest of the choices for a label, best first; a few."""
        names = self.names
        return tuple((value, names[value]) for value in values if value in names)[:MOST_LIKELY]

    def meant(self, typed: str) -> str | None:
        """The value that a typed name stands for; None where it is none of the choices."""
        plain = " ".join(typed.casefold().split())
        return next(
            (
                v
                for v, text in self.names.items()
                if plain in (v.casefold(), text.casefold(), bare(text).casefold())
            ),
            None,
        )


@dataclass(frozen=True, slots=True)
class ChoiceGroup:
    """Choices that belong together, value and name each."""

    title: str
    choices: tuple[tuple[str, str], ...]


MOST_LIKELY = 6
SPREADS = {
    Spread.SD: "SD: standard deviation",
    Spread.SE: "SE (SEM): standard error",
    Spread.CI: "CI: confidence interval",
    Spread.IQR: "IQR: between the quartiles",
    Spread.RANGE: "range: lowest to highest",
    Spread.NONE: "none: there is no such figure",
}


def bare(text: str) -> str:
    """A choice's name without the word that says what it is."""
    return text.partition(": ")[2] or text


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
    conditions = tuple((c.key, f"condition: {c.printed or c.key}") for c in rows.conditions)
    outcomes = tuple((o.key, f"outcome: {o.key}") for o in rows.outcomes)
    people = tuple((p.key, f"group: {p.label or p.key}") for p in rows.people)
    times = tuple((t.value, f"time: {t.explained}") for t in Timepoint)
    regions = regions_by_part(vocabulary)
    held = (
        ChoiceGroup("This study", (*conditions, *outcomes, *people)),
        ChoiceGroup("Times", times),
        ChoiceGroup("Nothing to store", (("skip", "not a result: leave it out"),)),
    )
    return TableChoices(
        key,
        tuple((o.key, f"{o.key} ({o.unit})" if o.unit else o.key) for o in rows.outcomes),
        tuple((s.value, SPREADS[s]) for s in Spread if s in SPREADS),
        tuple(r.value for r in ReadFrom),
        tuple((t.value, t.explained) for t in Timepoint),
        regions,
        (*held, *regions),
    )


def regions_by_part(vocabulary: Vocabulary) -> tuple[ChoiceGroup, ...]:
    """The regions in groups: limbs, trunk and neck, and each of their parts that has portions; legs first."""
    holding = {region.parent for region in vocabulary.regions.values()}
    groups: dict[str, list[tuple[str, str]]] = {}
    for region in vocabulary.regions.values():
        *_, top = line = [region.id, *vocabulary.ancestors(region.id)]
        part = line[-2:][0]  # the one below the top; the top itself where there is no other
        names = [vocabulary.regions[name].name for name in dict.fromkeys((top, part)) if name in holding]
        groups.setdefault(": ".join(names) or "measuring sites", []).append((region.id, region.name))
    legs = vocabulary.regions["lower_limb"].name if "lower_limb" in vocabulary.regions else ""
    ordered = sorted(
        groups.items(), key=lambda item: not item[0].startswith(legs)
    )  # as the vocabulary has them
    return tuple(ChoiceGroup(title, tuple(choices)) for title, choices in ordered)
