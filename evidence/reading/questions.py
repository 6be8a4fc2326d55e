"""What is asked once for the whole paste, and what the answers change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.legend import Notes
from evidence.reading.table import Answers, Question, ReadCell, TableReading
from evidence.vocabulary.terms import Spread, Statistic

_SPREADS = tuple(s.value for s in (Spread.SD, Spread.SE, Spread.CI, Spread.IQR, Spread.RANGE))


def ask_questions(reading: TableReading, notes: Notes, decimal: str, stubs: Sequence[str]) -> list[Question]:
    """Questions in the order a person should meet them."""
    questions: list[Question] = []
    cells = reading.cells
    for char, sign in reading.mapping.items():
        questions.append(
            Question(
                f"character {char}",
                f"Does {char!r} stand for {sign} in this paste?",
                (sign, "leave it as it is"),
            )
        )
    if decimal == ",":
        questions.append(
            Question(
                "decimal", "The comma is read as the decimal sign.", ("decimal comma", "thousands comma")
            )
        )
    open_spread = [
        c.id
        for c in cells
        if c.spread_kind is Spread.NOT_STATED and (c.spread is not None or c.low is not None)
    ]
    if open_spread:
        questions.append(
            Question(
                "spread", "The paste does not say what the second figure is.", _SPREADS, tuple(open_spread)
            )
        )
    if any(c.spread_kind is Spread.SE for c in cells):
        questions.append(
            Question(
                "standard error",
                "The spread is a standard error. Is n known for every cell, to make it an SD?",
                ("yes", "no"),
            )
        )
    measured = [
        c for c in cells if c.value is not None and c.value_kind in (Statistic.MEAN, Statistic.MEDIAN)
    ]
    without = [c.id for c in measured if c.n is None]
    if without:
        groups = sorted({c.group for c in measured if c.n is None and c.group})
        names = f" ({', '.join(groups)})" if groups else ""
        questions.append(Question("n", f"The paste does not say how many people{names}.", (), tuple(without)))
    if (
        measured
        and not notes.says_mean
        and not notes.says_median
        and all(c.spread is None and c.low is None for c in measured)
    ):
        questions.append(
            Question(
                "statistic",
                "The paste does not say what the figures are; they are read as means.",
                ("means", "medians"),
            )
        )
    counts: dict[tuple[str, str | None], set[int]] = {}
    for c in measured:
        if c.n is not None and c.group:
            counts.setdefault((c.row, c.group), set()).add(c.n)
    if any(len(v) > 1 for v in counts.values()):
        questions.append(
            Question(
                "n differs",
                "n differs between time points of one group; each cell keeps its own.",
                ("keep both", "use the smaller"),
            )
        )
    used = {m for c in cells for m in c.marks}
    unexplained = sorted(used - set(reading.legend.marks))
    if unexplained:
        questions.append(Question("marks", f"Nothing in the paste explains: {' '.join(unexplained)}", ()))
    if (
        any((c.unit or "").casefold() in ("lb", "lbs", "pounds") for c in cells)
        or "pounds" in reading.title.casefold()
    ):
        questions.append(
            Question("unit", "The unit is pounds. Convert to kilograms?", ("keep pounds", "convert"))
        )
    return questions


def apply_answers(cells: Sequence[ReadCell], answers: Answers) -> list[ReadCell]:
    """Put the user's answers into the cells: the kind of spread, and for single cells the reading chosen."""
    result = []
    for cell in cells:
        kind = answers.spread_by_column.get(cell.column, answers.spread)
        if kind is not None and (cell.spread is not None or cell.low is not None):
            stated = cell.column in answers.spread_by_column or cell.spread_kind is Spread.NOT_STATED
            cell = replace(cell, spread_kind=kind) if stated else cell
        chosen = answers.cells.get(cell.id)
        result.append(choose_reading(cell, chosen) if chosen is not None else cell)
    return result


def choose_reading(cell: ReadCell, chosen: str) -> ReadCell:
    """Settle the doubt that offers this candidate: its effects are applied and the doubt is gone."""
    for doubt in cell.doubts:
        if chosen in doubt.candidates:
            at = doubt.candidates.index(chosen)
            changes = dict(doubt.effects[at]) if at < len(doubt.effects) else {}
            rest = tuple(d for d in cell.doubts if d is not doubt)
            return replace(cell, doubts=rest, **changes)  # type: ignore[arg-type]
    return cell
