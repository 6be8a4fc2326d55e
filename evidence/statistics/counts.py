"""Events among people, and events in exposure time: two groups compared, or one described.

`Events(2, 30)` is two of thirty people; `Rate(18, 4210)` is 18 events in 4,210 hours. Half an event is
added to every cell of a table only where a logarithm would otherwise fail, and never for differences of
risks or rates.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evidence.errors import NumberProblem
from evidence.statistics.effect import (
    LARGEST,
    Assumption,
    Effect,
    Metric,
    derive,
    require_measurable,
    require_people,
)

Floats = NDArray[np.float64]
_TABLE = "Cochrane Handbook 6.4.1"
_RATES = "Cochrane Handbook 6.7.1"  # number from memory
# Name, sampling variance as a formula (a, b: with and without the event in A; c, d: in B), and its source.
_SHOWN = {
    "log_risk_ratio": ("log risk ratio", "1/a − 1/nA + 1/c − 1/nB", _TABLE),
    "log_odds_ratio": ("log odds ratio", "1/a + 1/b + 1/c + 1/d", _TABLE),
    "risk_difference": ("risk difference", "pA(1 − pA)/nA + pB(1 − pB)/nB", _TABLE),
    "arcsine_difference": ("arcsine difference", "1/(4nA) + 1/(4nB)", "Rücker 2009"),
    "peto_log_odds_ratio": ("log odds ratio (Peto)", "1/V, V hypergeometric", "Yusuf 1985"),
    "log_rate_ratio": ("log rate ratio", "1/eventsA + 1/eventsB", _RATES),
    "rate_difference": ("rate difference", "eventsA/timeA² + eventsB/timeB²", _RATES),
    "root_rate_difference": ("root rate difference", "1/(4·timeA) + 1/(4·timeB)", _RATES),
}


def require_count(count: float) -> None:
    """Refuse a number of events that is not whole, or below 0."""
    if not math.isfinite(count) or count != int(count) or not 0 <= count <= LARGEST:
        raise NumberProblem(
            f"{count:g} is no number of events.",
            hint="Give a whole number, 0 or more; check for a lost sign.",
        )


@dataclass(frozen=True, slots=True)
class Events:
    """How many of `people` had the event, each counted once."""

    count: int
    people: int

    def __post_init__(self) -> None:
        require_people(self.people, at_least=1, name="the number of people")
        require_count(self.count)
        if self.count > self.people:
            raise NumberProblem(
                f"{self.count} events among {self.people} people; one person counts once.",
                hint="If events are counted more than once per person, enter them as a rate over time.",
            )


@dataclass(frozen=True, slots=True)
class Rate:
    """Events over exposure time (hours, sessions, person-years: the same unit on both sides)."""

    count: int
    time: float

    def __post_init__(self) -> None:
        require_count(self.count)
        require_measurable(exposure_time=self.time)
        if self.time <= 0:
            raise NumberProblem(
                f"The exposure time is {self.time:g}; it must be above 0.", hint="Enter hours or sessions."
            )


class TableMeasure(StrEnum):
    """What to compute from a 2×2 table."""

    LOG_RISK_RATIO = "log_risk_ratio"
    LOG_ODDS_RATIO = "log_odds_ratio"
    RISK_DIFFERENCE = "risk_difference"
    ARCSINE_DIFFERENCE = "arcsine_difference"
    PETO_LOG_ODDS_RATIO = "peto_log_odds_ratio"
    PHI = "phi"
    YULE_Q = "yule_q"


class RateMeasure(StrEnum):
    """What to compute from two rates."""

    LOG_RATE_RATIO = "log_rate_ratio"
    RATE_DIFFERENCE = "rate_difference"
    ROOT_RATE_DIFFERENCE = "root_rate_difference"


@np.errstate(divide="ignore", invalid="ignore")
def measure_tables(
    measure: TableMeasure, a: ArrayLike, n1: ArrayLike, c: ArrayLike, n2: ArrayLike, *, add: float = 0.0
) -> tuple[Floats, Floats]:
    """Estimates and variances for arrays of 2×2 tables: `a` events of `n1` people against `c` of `n2`.

    `add` goes to all four cells of a table that has a zero anywhere. Undefined values are NaN (or infinite).
    """
    a, n1, c, n2 = (np.asarray(x, dtype=float) for x in (a, n1, c, n2))
    b, d = n1 - a, n2 - c
    zero = (a == 0) | (b == 0) | (c == 0) | (d == 0)
    a, b, c, d = (np.where(zero, x + add, x) for x in (a, b, c, d))
    n1, n2 = a + b, c + d
    p1, p2, total = a / n1, c / n2, n1 + n2
    match measure:
        case TableMeasure.LOG_RISK_RATIO:
            return np.log(p1 / p2), 1 / a - 1 / n1 + 1 / c - 1 / n2
        case TableMeasure.LOG_ODDS_RATIO:
            return np.log(a * d / (b * c)), 1 / a + 1 / b + 1 / c + 1 / d
        case TableMeasure.RISK_DIFFERENCE:
            return p1 - p2, p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2
        case TableMeasure.ARCSINE_DIFFERENCE:
            return np.arcsin(np.sqrt(p1)) - np.arcsin(np.sqrt(p2)), 1 / (4 * n1) + 1 / (4 * n2)
        case TableMeasure.PETO_LOG_ODDS_RATIO:
            events = a + c
            expected = events * n1 / total
            spread = events * (b + d) * (n1 / total) * (n2 / total) / (total - 1)
            return (a - expected) / spread, 1 / spread
        case TableMeasure.PHI:
            return _phi(a, b, c, d)
        case TableMeasure.YULE_Q:
            odds = a * d / (b * c)
            q = (odds - 1) / (odds + 1)
            return q, 0.25 * (1 - q**2) ** 2 * (1 / a + 1 / b + 1 / c + 1 / d)


@np.errstate(divide="ignore", invalid="ignore")
def measure_rates(
    measure: RateMeasure, x1: ArrayLike, t1: ArrayLike, x2: ArrayLike, t2: ArrayLike, *, add: float = 0.0
) -> tuple[Floats, Floats]:
    """Estimates and variances for arrays of rates; `add` goes to both counts where either is 0."""
    x1, t1, x2, t2 = (np.asarray(x, dtype=float) for x in (x1, t1, x2, t2))
    zero = (x1 == 0) | (x2 == 0)
    x1, x2 = np.where(zero, x1 + add, x1), np.where(zero, x2 + add, x2)
    match measure:
        case RateMeasure.LOG_RATE_RATIO:
            return np.log((x1 / t1) / (x2 / t2)), 1 / x1 + 1 / x2
        case RateMeasure.RATE_DIFFERENCE:
            return x1 / t1 - x2 / t2, x1 / t1**2 + x2 / t2**2
        case RateMeasure.ROOT_RATE_DIFFERENCE:
            return np.sqrt(x1 / t1) - np.sqrt(x2 / t2), 1 / (4 * t1) + 1 / (4 * t2)


def log_risk_ratio(a: Events, b: Events) -> Effect:
    """ln(risk A / risk B)."""
    return _compare_events(TableMeasure.LOG_RISK_RATIO, Metric.LOG_RISK_RATIO, a, b, "ln(pA / pB)")


def log_odds_ratio(a: Events, b: Events) -> Effect:
    """ln(odds A / odds B)."""
    return _compare_events(TableMeasure.LOG_ODDS_RATIO, Metric.LOG_ODDS_RATIO, a, b, "ln(oddsA / oddsB)")


def risk_difference(a: Events, b: Events) -> Effect:
    """Risk A − risk B, as a proportion; zero cells are left as they are."""
    return _compare_events(TableMeasure.RISK_DIFFERENCE, Metric.RISK_DIFFERENCE, a, b, "pA − pB")


def arcsine_difference(a: Events, b: Events) -> Effect:
    """arcsin√pA − arcsin√pB, which is defined for any counts (Rücker 2009)."""
    formula = "arcsin√pA − arcsin√pB"
    return _compare_events(TableMeasure.ARCSINE_DIFFERENCE, Metric.ARCSINE_DIFFERENCE, a, b, formula)


def peto_log_odds_ratio(a: Events, b: Events) -> Effect:
    """(observed − expected) / hypergeometric variance (Yusuf 1985): for rare events, like-sized groups."""
    return _compare_events(TableMeasure.PETO_LOG_ODDS_RATIO, Metric.LOG_ODDS_RATIO, a, b, "(O − E)/V")


def log_rate_ratio(a: Rate, b: Rate) -> Effect:
    """ln(rate A / rate B)."""
    return _compare_rates(RateMeasure.LOG_RATE_RATIO, Metric.LOG_RATE_RATIO, a, b, "ln(rateA / rateB)")


def rate_difference(a: Rate, b: Rate) -> Effect:
    """Rate A − rate B, per unit of exposure time; zero counts are left as they are."""
    return _compare_rates(RateMeasure.RATE_DIFFERENCE, Metric.RATE_DIFFERENCE, a, b, "rateA − rateB")


def root_rate_difference(a: Rate, b: Rate) -> Effect:
    """√rateA − √rateB, which keeps its variance whatever the counts."""
    formula = "√rateA − √rateB"
    return _compare_rates(RateMeasure.ROOT_RATE_DIFFERENCE, Metric.ROOT_RATE_DIFFERENCE, a, b, formula)


def _phi(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Phi with its large-sample variance under multinomial sampling (Yule 1912)."""
    n = a + b + c + d
    r1, r2, k1, k2 = (a + b) / n, (c + d) / n, (a + c) / n, (b + d) / n
    phi = (a * d - b * c) / np.sqrt((a + b) * (c + d) * (a + c) * (b + d))
    skew = (r1 - r2) * (k1 - k2) / np.sqrt(r1 * r2 * k1 * k2)
    tilt = (r1 - r2) ** 2 / (r1 * r2) + (k1 - k2) ** 2 / (k1 * k2)
    return phi, (1 - phi**2 + phi * (1 + phi**2 / 2) * skew - 0.75 * phi**2 * tilt) / n


def _compare_events(measure: TableMeasure, metric: Metric, a: Events, b: Events, formula: str) -> Effect:
    logs = measure in (TableMeasure.LOG_RISK_RATIO, TableMeasure.LOG_ODDS_RATIO)
    peto = measure is TableMeasure.PETO_LOG_ODDS_RATIO
    if (logs or peto) and a.count + b.count in (0, a.people + b.people):
        word = "Nobody" if a.count == 0 else "Everybody"
        raise NumberProblem(
            f"{word} in either group had the event, so these counts say nothing about a ratio.",
            hint="Use the risk difference with exact limits, or state the counts in words.",
        )
    cells = (a.count, a.people - a.count, b.count, b.people - b.count)
    mended = logs and 0 in cells
    estimate, variance = measure_tables(
        measure, a.count, a.people, b.count, b.people, add=0.5 if mended else 0.0
    )
    people = a.people + b.people
    return _finish(measure, metric, formula, float(estimate), float(variance), a, b, mended, people)


def _compare_rates(measure: RateMeasure, metric: Metric, a: Rate, b: Rate, formula: str) -> Effect:
    logs = measure is RateMeasure.LOG_RATE_RATIO
    if logs and a.count + b.count == 0:
        raise NumberProblem(
            "There were no events on either side, so these counts say nothing about a ratio.",
            hint="Use the rate difference, or state the counts in words.",
        )
    mended = logs and 0 in (a.count, b.count)
    estimate, variance = measure_rates(measure, a.count, a.time, b.count, b.time, add=0.5 if mended else 0.0)
    return _finish(measure, metric, formula, float(estimate), float(variance), a, b, mended, None)


def _finish(
    measure: TableMeasure | RateMeasure,
    metric: Metric,
    formula: str,
    estimate: float,
    variance: float,
    a: Events | Rate,
    b: Events | Rate,
    mended: bool,
    people: int | None,
) -> Effect:
    if math.isfinite(variance) and variance == 0:
        raise NumberProblem(
            "With no events (or only events) on both sides this difference has no usable variance.",
            hint="State the counts in words, with exact limits for each side.",
        )
    name, spread, source = _SHOWN[measure.value]
    inputs: dict[str, float | str] = {"A": _show(a), "B": _show(b)}
    steps = (
        derive(name, formula, source, estimate, **inputs),
        derive("sampling variance", spread, source, variance),
    )
    mending = Assumption(
        "zero_cells", "One side had no event (or only events), so 1/2 was added to every cell.", 0.5
    )
    return Effect(metric, estimate, variance, people, None, steps, (mending,) if mended else ())


def _show(side: Events | Rate) -> str:
    return f"{side.count} of {side.people}" if isinstance(side, Events) else f"{side.count} in {side.time:g}"
