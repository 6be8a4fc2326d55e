"""A trend drawn: every study's levels, its line, and the line over all with its interval. The table stands beside it.

Heights are not compared, only how steep lines are: each study is set where its own line meets the line over all at its
lowest level. Values are on the metric's own scale and labelled as people read them.
"""

import math
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.metrics import Metric, format_interval, format_value
from evidence.publishing.axis import Axis, choose_axis, even_axis
from evidence.publishing.figures import shorten
from evidence.publishing.templating import render

SHAPES = ("square", "disc", "triangle", "diamond", "open-square", "ring", "open-triangle", "open-diamond")
WIDEST = 3.0  # times the farthest point: how much of a wide interval is drawn; project
PIECES = 24  # of the edge of an interval, so that it is cut off where the drawing ends and not bent


@dataclass(frozen=True, slots=True)
class TrendStudy:
    """One study: its levels in rising order, the value at each, and its own line through them.

    `slope`: change in one unit of the detail; `height`: of the line at the lowest level. None: no line was fitted.
    """

    label: str
    n: int
    levels: tuple[float, ...]
    values: tuple[float, ...]
    slope: float | None = None
    height: float | None = None


@dataclass(frozen=True, slots=True)
class TrendPlot:
    """What is drawn. `low` to `high`: the range studied. `step`: what the figures are told over.

    `slope` with its interval: of the line over all, in one unit of the detail; None where there is none.
    """

    title: str
    metric: Metric
    detail: str
    studies: tuple[TrendStudy, ...]
    low: float
    high: float
    step: float
    told_step: str  # in words: "over 10 degrees of knee angle"
    slope: float | None = None
    slope_low: float | None = None
    slope_high: float | None = None
    figure_id: str = "trend"

    @property
    def drawn(self) -> tuple[TrendStudy, ...]:
        """The studies that have points."""
        return tuple(study for study in self.studies if study.levels)


def trend_svg(plot: TrendPlot, *, standalone: bool = False) -> str:
    """The trend as SVG: real text, a title and a description, no colour that says anything."""
    return render(
        "trend.svg",
        plot=plot,
        drawn=_Layout(plot),
        standalone=standalone,
        describe=describe_trend(plot),
        line_name=name_line(plot),
        line_told=tell_line(plot),
        line_over=shorten(plot.told_step, 30),
    )


def describe_trend(plot: TrendPlot) -> str:
    """The drawing in sentences: what a reader who does not see it is told."""
    parts = [f"Levels of {plot.detail} from {plot.low:g} to {plot.high:g}, and nothing beyond."]
    for study in plot.drawn:
        first = study.values[0]
        told = (
            f"{level:g}: {format_value(plot.metric, value - first, sign=True)}"
            for level, value in zip(study.levels, study.values, strict=True)
        )
        parts.append(f"{study.label}, {study.n} people, against its lowest level: {'; '.join(told)}.")
    if (line := tell_line(plot)) is not None:
        parts.append(f"{name_line(plot)}: {line} {plot.told_step}.")
    return " ".join(parts)


def tell_line(plot: TrendPlot) -> str | None:
    """The change over the step along the line, with its interval; None where there is no line."""
    if plot.slope is None:
        return None
    told = format_value(plot.metric, plot.slope * plot.step, sign=True)
    if plot.slope_low is None or plot.slope_high is None:
        return told
    return f"{told} [{format_interval(plot.metric, plot.slope_low * plot.step, plot.slope_high * plot.step)}]"


def name_line(plot: TrendPlot) -> str:
    """What the thick line is of."""
    return "Line over all studies" if len(plot.drawn) > 1 else "Line of the one study"


def caption_of(plot: TrendPlot) -> str:
    """How to read the drawing."""
    points = "Points: levels against the lowest of their study."
    if plot.slope is None:
        return points
    interval = ", with its 95 % interval" if plot.slope_low is not None else ""
    if len(plot.drawn) > 1:
        line = (
            f"Each study is set so that its own line (dashed) begins on the line over all (thick{interval}): "
            "only steepness is compared."
        )
    else:
        line = f"The thick line goes through them{interval}."
    return f"{points} {line} Nothing is said beyond the range studied, between the dotted lines."


def placed(plot: TrendPlot, study: TrendStudy) -> float:
    """What is taken off every value of a study, so that its line begins on the line over all."""
    begin = (plot.slope or 0.0) * (study.levels[0] - plot.low)
    return (study.values[0] if study.height is None else study.height) - begin


def rise(slope: float, along: float) -> float:
    """How far a line has risen; nothing at its beginning, where a bound without end would be no number."""
    return slope * along if along else 0.0


def upright_axis(plot: TrendPlot) -> Axis:
    """Over the points and the line; its interval only as far as it leaves room for them."""
    span = plot.high - plot.low
    kept = [value - placed(plot, study) for study in plot.drawn for value in study.values]
    kept.append((plot.slope or 0.0) * span)
    reach = WIDEST * max(map(abs, kept)) or math.inf
    limits = [rise(s, span) for s in (plot.slope_low, plot.slope_high) if s is not None]
    return choose_axis(plot.metric, [], [*kept, *(min(max(limit, -reach), reach) for limit in limits)])


class _Layout:
    """Where everything stands, in the units of the viewBox."""

    WIDTH, LEFT, RIGHT, TOP, BOTTOM, LEGEND = 720, 64, 478, 34, 244, 500
    ROW, GAP = 19, 30

    def __init__(self, plot: TrendPlot) -> None:
        self.plot = plot
        self.across = even_axis(plot.low, plot.high)
        self.up = upright_axis(plot)
        self.studies = [self._study(i, study) for i, study in enumerate(plot.drawn)]
        self.line = self._line()
        self.band = self._band()
        self.zero = self.y(0.0)
        self.ends = [self.x(plot.low), self.x(plot.high)]
        self.ticks = self._ticks()
        self.rungs = [{"y": self.y(t.value), "text": t.text} for t in self.up.ticks]
        self.named = self.TOP + 6 + self.ROW * len(self.studies)
        self.height = max(self.BOTTOM + 46, self.named + 60)

    def _ticks(self) -> list[dict[str, Any]]:
        """The levels that were studied, as far as there is room, the ends first; else even steps."""
        studied = sorted({level for study in self.plot.drawn for level in study.levels})
        kept: list[float] = []
        for level in dict.fromkeys([*studied[:1], *studied[-1:], *studied]):
            if all(abs(self.x(level) - self.x(other)) >= self.GAP for other in kept):
                kept.append(level)
        if len(kept) * 2 < len(studied):
            return [{"x": self.x(t.value), "text": t.text} for t in self.across.ticks]
        return [{"x": self.x(level), "text": f"{level:g}".replace("-", "−")} for level in sorted(kept)]

    def x(self, level: float) -> float:
        return round(self.LEFT + self.across.place(level) * (self.RIGHT - self.LEFT), 1)

    def y(self, value: float) -> float:
        return round(self.BOTTOM - self.up.place(value) * (self.BOTTOM - self.TOP), 1)

    def _study(self, index: int, study: TrendStudy) -> dict[str, Any]:
        off = placed(self.plot, study)
        points = [
            {"x": self.x(level), "y": self.y(value - off)}
            for level, value in zip(study.levels, study.values, strict=True)
        ]
        line = ""
        if study.slope is not None and study.height is not None and len(self.plot.drawn) > 1:
            first, last = study.levels[0], study.levels[-1]
            start, rise = study.height - off, study.slope
            line = self._path([(x, start + rise * (x - first)) for x in _between(first, last)])
        name = {"label": shorten(study.label, 26), "full": study.label, "n": study.n}
        return {"points": points, "line": line, "shape": SHAPES[index % len(SHAPES)], **name,
                "y": self.TOP + 6 + self.ROW * index}  # fmt: skip

    def _line(self) -> str:
        slope = self.plot.slope
        if slope is None:
            return ""
        low = self.plot.low
        return self._path([(x, slope * (x - low)) for x in _between(low, self.plot.high)])

    def _band(self) -> str:
        plot = self.plot
        if plot.slope is None or plot.slope_low is None or plot.slope_high is None:
            return ""
        levels = _between(plot.low, plot.high)
        upper = [(x, rise(plot.slope_high, x - plot.low)) for x in levels]
        lower = [(x, rise(plot.slope_low, x - plot.low)) for x in reversed(levels)]
        return self._path([*upper, *lower]) + "Z"

    def _path(self, points: list[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{self.x(level)} {self.y(value)}" for level, value in points)


def _between(low: float, high: float) -> list[float]:
    return [low + (high - low) * i / PIECES for i in range(PIECES + 1)]
