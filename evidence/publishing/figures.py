"""Forest plots: SVG by template, and lines of text for a terminal. Always shown beside their table.

Values are on the metric's own scale (log ratios stay on the log) and labelled as people read them
(percent, ratio).
"""

import math
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.metrics import Metric, format_interval, format_value
from evidence.publishing.axis import Axis, choose_axis
from evidence.publishing.templating import clean_text, render

NO_INTERVAL = "no interval printed"


@dataclass(frozen=True, slots=True)
class ForestRow:
    """One study. No estimate: named only. No interval: the estimate alone, marked so. `weight`: share 0
    to 1.
    """

    label: str
    n: int | None
    estimate: float | None
    low: float | None = None
    high: float | None = None
    weight: float | None = None
    note: str = ""

    @property
    def has_interval(self) -> bool:
        return self.estimate is not None and self.low is not None and self.high is not None


@dataclass(frozen=True, slots=True)
class ForestSummary:
    """The pooled effect under the studies; with a prediction interval where there is one."""

    label: str
    estimate: float
    low: float
    high: float
    n: int | None = None
    prediction_low: float | None = None
    prediction_high: float | None = None


@dataclass(frozen=True, slots=True)
class ForestPlot:
    """What is drawn. `less` and `more` say what the two directions mean ("higher with the back squat").

    `margin` shades the band within which differences do not matter. `figure_id` keeps ids apart when
    several figures stand in one page.
    """

    title: str
    metric: Metric
    rows: tuple[ForestRow, ...]
    summary: ForestSummary | None = None
    less: str = ""
    more: str = ""
    margin: float | None = None
    figure_id: str = "forest"


def forest_svg(plot: ForestPlot, *, standalone: bool = False) -> str:
    """The plot as SVG: real text, a title and a description. `standalone`: with its own colours for light
    and dark.
    """
    axis = axis_of(plot)
    drawn = _Layout(plot, axis)
    return render(
        "forest.svg", plot=plot, axis=axis, drawn=drawn, standalone=standalone, describe=describe_plot(plot)
    )


def describe_plot(plot: ForestPlot) -> str:
    """The plot in sentences: what a reader who does not see it is told."""
    parts = [f"{len(plot.rows)} {'study' if len(plot.rows) == 1 else 'studies'}."]
    parts += [f"{row.label}: {tell_row(plot.metric, row)}." for row in plot.rows]
    if plot.summary is not None:
        s = plot.summary
        parts.append(f"{s.label}: {_tell(plot.metric, s.estimate, s.low, s.high)}.")
        if s.prediction_low is not None and s.prediction_high is not None:
            parts.append(
                f"Prediction interval {format_interval(plot.metric, s.prediction_low, s.prediction_high)}."
            )
    return " ".join(parts)


def tell_row(metric: Metric, row: ForestRow) -> str:
    """A row's figures as text: estimate and interval, or what is missing."""
    if row.estimate is None:
        return "no figure to compare"
    if row.low is None or row.high is None:
        return f"{format_value(metric, row.estimate, sign=True)}, {NO_INTERVAL}"
    return _tell(metric, row.estimate, row.low, row.high)


def tell_summary(plot: ForestPlot) -> str:
    """The pooled figures as text; empty without a pooled effect."""
    s = plot.summary
    return "" if s is None else _tell(plot.metric, s.estimate, s.low, s.high)


def _tell(metric: Metric, estimate: float, low: float, high: float) -> str:
    return f"{format_value(metric, estimate, sign=True)} [{format_interval(metric, low, high)}]"


def axis_of(plot: ForestPlot) -> Axis:
    """The axis that fits a plot's rows, pooled effect and margin."""
    spans: list[tuple[float, float, float]] = []
    for row in plot.rows:
        if row.estimate is not None:
            low = row.estimate if row.low is None else row.low
            high = row.estimate if row.high is None else row.high
            spans.append((low, row.estimate, high))
    keep: list[float] = []
    if plot.summary is not None:
        s = plot.summary
        keep += [s.low, s.high]
        if s.prediction_low is not None and s.prediction_high is not None:
            spans.append((s.prediction_low, s.estimate, s.prediction_high))
    if plot.margin is not None:
        keep += [-plot.margin, plot.margin]
    return choose_axis(plot.metric, spans, keep)


def _has_prediction(summary: ForestSummary) -> bool:
    return summary.prediction_low is not None and summary.prediction_high is not None


def shorten(text: str, width: int) -> str:
    """Text held to a width in characters, with an ellipsis where it is cut."""
    text = " ".join(clean_text(text).split())
    return text if len(text) <= width else text[: width - 1].rstrip() + "…"


class _Layout:
    """Where everything stands, in the units of the viewBox."""

    WIDTH, ROW, TOP = 740, 27, 44
    LEFT, RIGHT = 226, 486  # the plot's own columns
    EDGES = (8.0, 732.0)
    LETTER = 6.4  # about the width of one, in the size of what the sides mean

    def __init__(self, plot: ForestPlot, axis: Axis) -> None:
        self.axis = axis
        self.metric = plot.metric
        self.weights = [row.weight for row in plot.rows if row.weight is not None and row.has_interval]
        self.rows = [self._row(i, row) for i, row in enumerate(plot.rows)]
        self.bottom = self.TOP + self.ROW * len(plot.rows) + (6 if plot.rows else 0)
        self.summary = self._summary(plot.summary) if plot.summary else None
        if plot.summary:
            self.bottom += self.ROW + (20 if _has_prediction(plot.summary) else 4)
        self.zero = self.x(0.0)
        self.sides = self._sides(plot.less, plot.more)
        self.height = max([self.bottom + 40.0, *(side["y"] + 18 for side in self.sides)])
        self.ticks = [{"x": self.x(t.value), "text": t.text} for t in axis.ticks]
        self.band = None
        if plot.margin is not None:
            left, right = self.x(-plot.margin), self.x(plot.margin)
            self.band = {"x": left, "width": round(right - left, 1)}

    def x(self, value: float) -> float:
        return round(self.LEFT + self.axis.place(value) * (self.RIGHT - self.LEFT), 1)

    def _sides(self, less: str, more: str) -> list[dict[str, Any]]:
        """What the two directions mean, away from zero; moved inwards and under one another where there is no room."""
        wide = [self.LETTER * (len(text) + 2) for text in (less, more)]
        ends = max(self.zero - 8, self.EDGES[0] + wide[0])
        starts = min(self.zero + 8, self.EDGES[1] - wide[1])
        y = self.bottom + 40
        under = 17 if less and more and starts < ends + 10 else 0
        sides = []
        if less:
            sides.append({"x": round(ends, 1), "y": y, "end": True, "text": f"← {less}"})
        if more:
            sides.append({"x": round(starts, 1), "y": y + under, "end": False, "text": f"{more} →"})
        return sides

    def _row(self, index: int, row: ForestRow) -> dict[str, Any]:
        y = self.TOP + self.ROW * index + self.ROW / 2
        shown: dict[str, Any] = {"y": y, "label": shorten(row.label, 27), "full": row.label, "n": row.n}
        shown |= {"figures": tell_row(self.metric, row), "weight": _weight_text(row.weight), "note": row.note}
        shown["cut"] = []
        shown["estimate"] = None
        if row.estimate is not None and math.isfinite(row.estimate):
            shown["estimate"] = self.x(row.estimate)
            shown["inside"] = self.axis.holds(row.estimate)
            shown["half"] = round(3 + 5 * math.sqrt(self._share(row.weight)), 1)
        shown["interval"] = row.has_interval
        if row.low is not None and row.high is not None and row.has_interval:
            shown["low"], shown["high"] = self.x(row.low), self.x(row.high)
            shown["cut"] = [s for s, v in (("left", row.low), ("right", row.high)) if not self.axis.holds(v)]
        return shown

    def _share(self, weight: float | None) -> float:
        heaviest = max(self.weights, default=0.0)
        return weight / heaviest if weight and heaviest > 0 else 0.25

    def _summary(self, summary: ForestSummary) -> dict[str, Any]:
        shown: dict[str, Any] = {
            "y": self.bottom + self.ROW / 2,
            "label": shorten(summary.label, 25),
            "n": summary.n,
            "figures": _tell(self.metric, summary.estimate, summary.low, summary.high),
            "estimate": self.x(summary.estimate),
            "low": self.x(summary.low),
            "high": self.x(summary.high),
            "prediction": None,
        }
        if summary.prediction_low is not None and summary.prediction_high is not None:
            shown["prediction"] = {
                "y": self.bottom + self.ROW + 10,
                "low": self.x(summary.prediction_low),
                "high": self.x(summary.prediction_high),
                "cut_left": not self.axis.holds(summary.prediction_low),
                "cut_right": not self.axis.holds(summary.prediction_high),
                "figures": format_interval(self.metric, summary.prediction_low, summary.prediction_high),
            }
        return shown


def _weight_text(weight: float | None) -> str:
    return "" if weight is None else f"{100 * weight:.0f} %" if weight >= 0.005 else "<1 %"
