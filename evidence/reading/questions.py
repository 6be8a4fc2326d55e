"""What is asked once for the whole paste, and what the answers change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.legend import Notes
from evidence.reading.table import Answers, Question, ReadCell, TableReading
from evidence.vocabulary.terms import Spread, Statistic

_ENDS = tuple(s.value for s in (Spread.CI, Spread.IQR, Spread.RANGE))
_SPREADS = (Spread.SD.value, Spread.SE.value, *_ENDS)


def ask_questions(reading: TableReading, notes: Notes, unsure: str, answers: Answers) -> list[Question]:
    """Questions in the order a person should meet them; each can be answered, and none that was is asked again.

    `unsure`: why the decimal sign is in doubt ("" when it is not).
    """
    cells = reading.cells
    questions = [
        Question(
            f"character {char}", f"Does {char!r} stand for {sign} in this paste?", (sign, "leave it as it is")
        )
        for char, sign in reading.mapping.items()
        if char not in answers.characters
    ]
    if unsure:
        questions.append(Question("decimal", f"{unsure.capitalize()}.", ("decimal comma", "thousands comma")))
    open_spread = [c.id for c in cells if _is_open(c)]
    if open_spread:
        ends = all(c.spread is None for c in cells if _is_open(c))
        text = f"The paste does not say what {'the two figures in brackets are' if ends else 'the second figure is'}."
        questions.append(Question("spread", text, _ENDS if ends else _SPREADS, tuple(open_spread)))
    measured = _measured(cells)
    questions += _ask_people(measured)
    bare = all(c.spread is None and c.low is None for c in measured)
    if measured and bare and not notes.says_mean and not notes.says_median and answers.statistic is None:
        text = "The paste does not say what the figures are; they are read as means."
        questions.append(Question("statistic", text, ("means", "medians"), tuple(c.id for c in measured)))
    return questions


def _is_open(cell: ReadCell) -> bool:
    return cell.spread_kind is Spread.NOT_STATED and (cell.spread is not None or cell.low is not None)


def _measured(cells: Sequence[ReadCell]) -> list[ReadCell]:
    return [c for c in cells if c.value is not None and c.value_kind in (Statistic.MEAN, Statistic.MEDIAN)]


def _ask_people(measured: Sequence[ReadCell]) -> list[Question]:
    without = [c for c in measured if c.n is None]
    if not without:
        return []
    groups = sorted({c.group for c in without if c.group})
    way = f"n {groups[0]}=NUMBER for each group" if groups else "n=NUMBER"
    names = f" ({', '.join(groups)})" if groups else ""
    text = f"The paste does not say how many people{names}. Answer with {way}."
    return [Question("n", text, (), tuple(c.id for c in without))]


def tell_notes(reading: TableReading, decimal: str) -> list[str]:
    """What a person should know of the paste and need not answer."""
    told = ["The comma is read as the decimal sign."] if decimal == "," else []
    counts: dict[tuple[str, str | None], set[int]] = {}
    for cell in _measured(reading.cells):
        if cell.n is not None and cell.group:
            counts.setdefault((cell.row, cell.group), set()).add(cell.n)
    if any(len(numbers) > 1 for numbers in counts.values()):
        told.append("n differs between time points of one group; each cell keeps its own.")
    unexplained = sorted({m for c in reading.cells for m in c.marks} - set(reading.legend.marks))
    if unexplained:
        told.append(f"Nothing in the paste explains: {' '.join(unexplained)}")
    pounds = any((c.unit or "").casefold() in ("lb", "lbs", "pounds") for c in reading.cells)
    if pounds or "pounds" in reading.title.casefold():
        told.append("The unit is pounds; the figures are kept as printed.")
    return told


def apply_answers(cells: Sequence[ReadCell], answers: Answers, *, says_mean: bool = False) -> list[ReadCell]:
    """Put the user's answers into the cells: the kind of spread, and for single cells the reading chosen.

    `says_mean`: whether the paste itself calls its figures means.
    """
    result = []
    for cell in cells:
        kind = answers.spread_by_column.get(cell.column, answers.spread)
        if kind is not None and (cell.spread is not None or cell.low is not None):
            stated = cell.column in answers.spread_by_column or cell.spread_kind is Spread.NOT_STATED
            cell = replace(cell, spread_kind=kind) if stated else cell
            middle = (
                stated and kind is Spread.IQR and cell.low is not None and cell.value_kind is Statistic.MEAN
            )
            if middle and answers.statistic is None and not says_mean:
                cell = replace(cell, value_kind=Statistic.MEDIAN)  # quartiles stand about a median
        if answers.statistic is not None and cell.value_kind is Statistic.MEAN and not cell.doubts:
            cell = replace(cell, value_kind=answers.statistic)
        for chosen in answers.cells.get(cell.id, "").split("\n"):
            cell = choose_reading(cell, chosen)
        result.append(cell)
    return result


def choose_reading(cell: ReadCell, chosen: str) -> ReadCell:
    """Settle the doubt that offers this candidate: its effects are applied and the doubt is gone.

    The first candidate is the cell as read. Another one that says nothing to set ("another place") sets the cell
    aside: it is no longer a figure, so that a reading which was refused is never stored.
    """
    for doubt in cell.doubts:
        if chosen in doubt.candidates:
            at = doubt.candidates.index(chosen)
            rest = tuple(d for d in cell.doubts if d is not doubt)
            if at < len(doubt.effects):
                return replace(cell, doubts=rest, **dict(doubt.effects[at]))  # type: ignore[arg-type]
            return replace(cell, doubts=rest) if at == 0 else set_aside(cell)
    return cell


def set_aside(cell: ReadCell) -> ReadCell:
    """The cell without its figure, as the user refused how it was read."""
    empty = replace(
        cell, value=None, value_kind=None, spread=None, spread_kind=Spread.NONE, low=None, high=None
    )
    return replace(empty, p=None, word=None, missing="set aside", doubts=())
