"""A forest plot as lines of text for a terminal, in Unicode or plain ASCII."""

from dataclasses import dataclass

from evidence.appraisal.metrics import format_interval
from evidence.publishing.axis import Axis, scale_text
from evidence.publishing.figures import ForestPlot, ForestRow, axis_of, shorten, tell_row, tell_summary

MINIMUM = 60


@dataclass(frozen=True, slots=True)
class Marks:
    """The characters a line is drawn with."""

    line: str
    end: str
    start: str
    cut_left: str
    cut_right: str
    study: str
    bare: str
    zero: str
    pooled: str
    fulcrum: str
    dashed: str


UNICODE = Marks("─", "┤", "├", "◄", "►", "■", "○", "│", "━", "▲", "┄")
ASCII = Marks("-", "]", "[", "<", ">", "#", "o", "|", "=", "^", ".")
PLAIN = str.maketrans({"−": "-", "–": "-", "…": ".", "→": ">", "←": "<", "²": "2", "τ": "tau", "±": "+/-"})


def forest_text(plot: ForestPlot, width: int = 80, *, ascii_only: bool = False) -> str:
    """The plot as text, at most `width` columns wide (60 at the least), one line per study.

    With `ascii_only` every character that is not ASCII is replaced, letters of names by `?` at worst.
    """
    width = max(width, MINIMUM)
    marks = ASCII if ascii_only else UNICODE
    axis = axis_of(plot)
    figures = [tell_row(plot.metric, row) for row in plot.rows]
    if plot.summary is not None:
        figures.append(tell_summary(plot))
    right = min(max((len(f) for f in figures), default=10), 34)
    left = min(max((len(r.label) for r in plot.rows), default=8), max(12, width - right - 25))
    room = width - left - right - 7
    lines = [shorten(plot.title, width)]
    for row, text in zip(plot.rows, figures, strict=False):
        lines.append(_line(row.label, row.n, _draw_row(axis, row, room, marks), text, left))
    if plot.summary is not None:
        s = plot.summary
        bar = _draw(axis, s.low, s.high, room, marks, marks.pooled)
        bar[_column(axis, s.estimate, room)] = marks.fulcrum
        lines.append(_line(s.label, s.n, "".join(bar), figures[-1], left))
        if s.prediction_low is not None and s.prediction_high is not None:
            dashes = "".join(_draw(axis, s.prediction_low, s.prediction_high, room, marks, marks.dashed))
            shown = format_interval(plot.metric, s.prediction_low, s.prediction_high)
            lines.append(_line("new study", None, dashes, shown, left))
    lines.append(" " * (left + 6) + scale_text(axis, room))
    directions = [f"← {plot.less}" if plot.less else "", f"{plot.more} →" if plot.more else ""]
    lines += [shorten(" | ".join(d for d in directions if d), width)] if any(directions) else []
    text = "\n".join(line.rstrip() for line in lines) + "\n"
    return text.translate(PLAIN).encode("ascii", "replace").decode() if ascii_only else text


def _line(label: str, n: int | None, drawn: str, figures: str, left: int) -> str:
    people = "" if n is None else str(n)
    return f"{shorten(label, left):<{left}} {people:>4} {drawn} {figures}"


def _column(axis: Axis, value: float, room: int) -> int:
    return round(axis.place(value) * (room - 1))


def _draw(axis: Axis, low: float, high: float, room: int, marks: Marks, line: str) -> list[str]:
    cells = [" "] * room
    cells[_column(axis, 0.0, room)] = marks.zero
    a, b = _column(axis, low, room), _column(axis, high, room)
    cells[a : b + 1] = line * (b + 1 - a)
    cells[a] = marks.start if axis.holds(low) else marks.cut_left
    cells[b] = marks.end if axis.holds(high) else marks.cut_right
    return cells


def _draw_row(axis: Axis, row: ForestRow, room: int, marks: Marks) -> str:
    if row.estimate is None:
        cells = [" "] * room
        cells[_column(axis, 0.0, room)] = marks.zero
        return "".join(cells)
    low = row.estimate if row.low is None else row.low
    high = row.estimate if row.high is None else row.high
    cells = _draw(axis, low, high, room, marks, marks.line)
    if axis.holds(row.estimate):
        cells[_column(axis, row.estimate, room)] = marks.study if row.has_interval else marks.bare
    return "".join(cells)
