"""The table as understood, as plain text: what a person looks at before anything is stored."""

from __future__ import annotations

import re

from evidence.reading.table import ReadCell, Repair, TableReading
from evidence.vocabulary.terms import Spread, Statistic

_NUMBER = re.compile(r"\d+(?:[.,·]\d+)*|[.,·]\d+", re.ASCII)


def preview(reading: TableReading, *, doubts: bool = True) -> str:
    """The grid as understood, doubts in words, repairs, questions and warnings. Pure: returns the text.

    `doubts`: whether doubtful cells are listed; not where each is asked about beside the preview.
    """
    if reading.refused:
        return f"Not read. {reading.refused}\n"
    parts = [reading.title] if reading.title else []
    parts += [_grid(reading)]
    doubtful = _describe_doubts(reading) if doubts else []
    for title, lines in (
        ("Doubtful cells (choose a reading for each):", doubtful),
        ("Repaired on the way:", [f"  {_show_repair(repair)}" for repair in reading.repairs]),
        (
            "To settle once (the name to answer with stands in brackets):",
            [f"  [{q.id}] {q.text} {_options(q.candidates)}".rstrip() for q in reading.questions],
        ),
        ("Warnings:", [f"  {text}" for text in reading.warnings]),
        ("Not read:", [f"  {line}" for line in reading.unread]),
    ):
        if lines:
            parts.append("\n".join([title, *lines]))
    return "\n\n".join(parts) + "\n"


def _show_repair(repair: Repair) -> str:
    """What was changed, from what to what where an example is known, and why."""
    changed = f": {repair.before!r} read as {repair.after!r}" if repair.before else ""
    return f"{repair.text}{changed}, because {repair.evidence}"


def _describe_doubts(reading: TableReading) -> list[str]:
    """Doubts with the cells they stand on; one line for all cells that share a doubt."""
    shared: dict[tuple[str, tuple[str, ...]], list[ReadCell]] = {}
    for cell in reading.doubtful:
        for doubt in cell.doubts:
            shared.setdefault((doubt.text, doubt.candidates), []).append(cell)
    lines = []
    for (text, candidates), cells in shared.items():
        named = "; ".join(f"{_place(c)} {c.printed!r}" for c in cells[:3])
        more = f" and {len(cells) - 3} more cells" if len(cells) > 3 else ""
        lines.append(f"  {named}{more}: {text}. {_options(candidates)}")
    return lines


def _options(candidates: tuple[str, ...]) -> str:
    return f"Either: {'; or: '.join(candidates)}" if candidates else ""


def _place(cell: ReadCell) -> str:
    return " | ".join(p for p in (cell.section, cell.row, cell.group, cell.column) if p)


def _grid(reading: TableReading) -> str:
    """Rows and columns as they were understood, one line per row."""
    columns = list(dict.fromkeys(c.column for c in reading.cells))
    rows: dict[tuple[str, ...], dict[str, str]] = {}
    for cell in reading.cells:
        group = None if cell.group and cell.group in cell.column else cell.group
        label = tuple(p for p in (cell.section, cell.row, group) if p)
        taken = rows.setdefault(label, {})
        text = show_cell(cell)
        taken[cell.column] = f"{taken[cell.column]} // {text}" if cell.column in taken else text
    table = [["", *columns]] + [
        [" / ".join(dict.fromkeys(label)), *(cells.get(c, "") for c in columns)]
        for label, cells in rows.items()
    ]
    widths = [max(len(line[i]) for line in table) for i in range(len(columns) + 1)]
    return "\n".join(
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in table
    )


def show_cell(cell: ReadCell) -> str:
    """One cell in words: its figure, kind, spread, n, marks; "asked" when it is doubtful."""
    if cell.missing is not None:
        text = f"missing ({cell.missing})"
    elif cell.value is None and cell.p is not None:
        text = f"p {cell.p}"
    else:
        text = "" if cell.value is None else show_number(cell.value, cell.printed)
        if cell.value_kind not in (None, Statistic.MEAN):
            text = f"{cell.value_kind.value.replace('_', ' ')} {text}" if cell.value_kind else text
        if cell.spread is not None:
            text += f" ({_kind(cell)} {show_number(cell.spread, cell.printed)})"
        if cell.low is not None and cell.high is not None:
            of = f" of the {cell.interval_of.value}" if cell.interval_of else ""
            low, high = (show_number(end, cell.printed) for end in (cell.low, cell.high))
            text += f" [{_interval(cell)}{of} {low} to {high}]"
        text += f" {cell.word}" if cell.word else ""
    text += f" n={cell.n}" if cell.n is not None and cell.missing is None else ""
    text += f" {' '.join(cell.marks)}" if cell.marks else ""
    return f"{text} ASKED".strip() if cell.doubts else text.strip()


def show_number(value: float, printed: str) -> str:
    """A number with the decimals that the paper gives it: 24.0 stays 24.0; one that stands there otherwise is bare."""
    for token in _NUMBER.findall(printed):
        if abs(value) in _readings(token):
            return f"-{token}" if value < 0 else str(token)
    return f"{value:g}"


def _readings(token: str) -> set[float]:
    """What a printed number may be: with its comma as the decimal sign, and with it parting thousands."""
    pointed = token.replace("·", ".")
    texts = (pointed.replace(",", "."), pointed.replace(",", ""))
    return {float(text) for text in texts if text.count(".") < 2}


def _interval(cell: ReadCell) -> str:
    if cell.interval_kind is None:
        return _kind(cell)
    return (
        f"{cell.level:g}% CI" if cell.interval_kind is Spread.CI and cell.level else cell.interval_kind.value
    )


def _kind(cell: ReadCell) -> str:
    if cell.spread_kind is Spread.NOT_STATED:
        return "?"  # asked below
    return f"{cell.level:g}% CI" if cell.spread_kind is Spread.CI and cell.level else cell.spread_kind.value
