"""Scales of effects: families, what counts as a difference that matters, and figures as people read them.

Thresholds come from `rules/metrics.yaml` (each with its source and mark). Values of log scales are kept
on the log here and shown as percent or ratio.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from evidence.appraisal.rulebook import load_rules
from evidence.errors import BadInput


class Size(StrEnum):
    """How large a difference is, in the four words of the wording frames."""

    TRIVIAL = "trivial"
    SMALL = "small"
    MODERATE = "moderate"
    LARGE = "large"


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What counts as small, important, large; in the metric's own scale. None: not known for this scale."""

    small: float | None
    moderate: float | None
    large: float | None
    mid: float | None
    mid_beside: float | None
    margin: float | None
    gross: float | None
    mid_below: float | None  # the lower line where it is not the mirror of `mid`
    sources: tuple[str, ...]
    conf: str
    note: str


@dataclass(frozen=True, slots=True)
class Metric:
    """One family of effects. `logged`: figures are natural logs and shown as percent or ratio."""

    family: str
    shown_as: str  # number, percent, ratio, correlation, points, per_hundred
    unit: str
    name: str  # as people call it: "standardised mean difference"

    @property
    def logged(self) -> bool:
        return self.shown_as in ("percent", "ratio")


NAMES = ("small", "moderate", "large", "mid", "mid_beside", "margin", "gross")


@cache
def find_metric(name: str) -> Metric:
    """The family a metric id belongs to. Raises BadInput for a scale that is not known."""
    families: Mapping[str, Any] = load_rules("metrics")["families"]
    wanted = name.strip()
    for fold in (str, str.lower):
        for family, entry in families.items():
            if fold(wanted) in {fold(alias) for alias in (family, *entry["aliases"])}:
                return Metric(family, entry["shown_as"], entry["unit"], entry["name"])
    raise BadInput(f"no scale of effects is called {name!r}", hint=f"There are: {', '.join(families)}.")


@cache
def find_thresholds(name: str, construct: str) -> Thresholds:
    """Thresholds of a metric: those for the construct where the data has them, else the family's."""
    metric = find_metric(name)
    entry = load_rules("metrics")["families"][metric.family]
    row = entry.get("constructs", {}).get(construct, entry["default"])
    values = {name: _on_scale(metric, row[name]) for name in NAMES}
    values["mid_below"] = _on_scale(metric, row.get("mid_below"))
    return Thresholds(**values, sources=tuple(row["src"]), conf=row["conf"], note=row["note"])


def _on_scale(metric: Metric, value: float | None) -> float | None:
    return math.log(value) if value is not None and metric.logged else value


def size_of(estimate: float, thresholds: Thresholds) -> Size | None:
    """The size word of an estimate; None where the scale has no thresholds."""
    if thresholds.small is None or thresholds.moderate is None or thresholds.large is None:
        return None
    amount = abs(estimate)
    if amount < thresholds.small:
        return Size.TRIVIAL
    if amount < thresholds.moderate:
        return Size.SMALL
    return Size.MODERATE if amount < thresholds.large else Size.LARGE


LEAST = 1e-6  # a limit nearer to zero is zero, but for the arithmetic


def show_value(metric: Metric, value: float) -> float:
    """The figure people read: percent (relative), ratio, correlation, or the value itself."""
    if metric.shown_as == "percent":
        return 100 * math.expm1(value)
    if metric.shown_as == "ratio":
        return math.exp(value)
    if metric.shown_as == "per_hundred":
        return 100 * value
    return math.tanh(value) if metric.shown_as == "correlation" else value


def format_value(metric: Metric, value: float, *, sign: bool = False) -> str:
    """A shown figure as text: `28 %`, `0.31`, `1.4`, `∞`; with a real minus sign and never a negative zero."""
    shown = show_value(metric, value)
    if metric.shown_as in ("percent", "points", "per_hundred"):
        digits = 1 if abs(shown) < 10 else 0
    elif metric.shown_as in ("ratio", "correlation") or abs(shown) < 10:
        digits = 2
    else:
        digits = 1 if abs(shown) < 100 else 0
    text = "∞" if math.isinf(shown) else f"{abs(shown):.{digits}f}"
    nothing = not text.strip("0.")
    if shown < 0 and not nothing:
        text = f"−{text}"
    elif sign and not nothing and metric.shown_as != "ratio":
        text = f"+{text}"
    return f"{text} %" if metric.shown_as == "percent" else text


def format_interval(metric: Metric, low: float, high: float) -> str:
    """`15 % to 42 %`, `−0.33 to 0.46`; on which side of zero a limit lies is seen: `−0.0003 to 0.69`."""
    return f"{_format_limit(metric, low)} to {_format_limit(metric, high)}"


def _format_limit(metric: Metric, value: float) -> str:
    text, shown = format_value(metric, value), show_value(metric, value)
    if metric.shown_as == "ratio" or text.strip("0. %") or abs(shown) < LEAST:
        return text
    figure = f"{abs(shown):.{math.ceil(-math.log10(abs(shown)))}f}"
    return f"{'−' if shown < 0 else ''}{figure}{' %' if metric.shown_as == 'percent' else ''}"
