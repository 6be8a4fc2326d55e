"""Sameness, worthwhile size and what a measure can detect.

A difference that is not significant is not sameness. Sameness is a claim of its own, tested against a
margin that is printed with the answer. All differences and margins are on one scale (for ratios:
logarithms).
"""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import critical_value, require_finite


@dataclass(frozen=True, slots=True)
class Margin:
    """Differences from `low` to `high` count as too small to matter; `source` says who decided that."""

    low: float
    high: float
    source: str

    def __post_init__(self) -> None:
        require_finite(lower_margin=self.low, upper_margin=self.high)
        if not self.low < 0 < self.high:
            raise NumberProblem(
                f"A margin must span 0; {self.low:g} to {self.high:g} does not.",
                hint="Give the largest difference that would not matter; it is above 0.",
            )


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Two one-sided tests of one estimate against a margin.

    `low` and `high` are the 1 − 2α interval. `equivalent`: it lies wholly inside the margin. `not_worse`:
    it lies above the lower margin. `different`: the 1 − α interval shuts out 0. Equivalent and different
    can both hold: a real difference too small to matter.
    """

    margin: Margin
    p: float
    low: float
    high: float
    equivalent: bool
    not_worse: bool
    not_better: bool
    different: bool


@dataclass(frozen=True, slots=True)
class Chances:
    """How a difference stands to a margin, as probabilities that sum to 1 (flat prior, so a display, no test)."""

    above: float
    within: float
    below: float


@dataclass(frozen=True, slots=True)
class Detectable:
    """The smallest change that exceeds measurement error at a level, for one person and for the mean of n."""

    sem: float
    person: float
    group: float | None
    level: float


def symmetric_margin(size: float, source: str) -> Margin:
    """−size to +size."""
    return Margin(-abs(size), abs(size), source)


def ratio_margin(ratio: float, source: str) -> Margin:
    """1/ratio to ratio, as logarithms: 1.10 means ten percent more either way."""
    if ratio <= 0 or ratio == 1:
        raise NumberProblem(f"A ratio margin of {ratio:g} spans nothing.", hint="Write 1.10 for ten percent.")
    return symmetric_margin(math.log(ratio), source)


def assess_equivalence(
    estimate: float, se: float, margin: Margin, *, df: float | None = None, alpha: float = 0.05
) -> Equivalence:
    """Two one-sided tests (Schuirmann 1987): equivalent when the 1 − 2α interval lies inside the margin."""
    _require_spread(estimate, se)
    half = critical_value(1 - 2 * alpha, df) * se
    wide = critical_value(1 - alpha, df) * se
    low, high = estimate - half, estimate + half
    p_low = _upper_tail((estimate - margin.low) / se, df)
    p_high = _upper_tail((margin.high - estimate) / se, df)
    return Equivalence(
        margin,
        max(p_low, p_high),
        low,
        high,
        equivalent=margin.low < low and high < margin.high,
        not_worse=margin.low < low,
        not_better=high < margin.high,
        different=abs(estimate) > wide,
    )


def weigh_chances(
    estimate: float, se: float, margin: Margin, *, df: float | None = None, tau2: float = 0.0
) -> Chances:
    """The probability that the true difference lies above, within or below the margin.

    With `tau2` above 0 it is the difference in a new setting, with the spread √(se² + tau²) (Higgins 2009).
    """
    _require_spread(estimate, se)
    if tau2 < 0:
        raise NumberProblem(
            f"tau² is {tau2:g}; it cannot be negative.", hint="Use 0 for no spread between studies."
        )
    spread = math.sqrt(se**2 + tau2)
    above = _upper_tail((margin.high - estimate) / spread, df)
    below = _upper_tail((estimate - margin.low) / spread, df)
    return Chances(above, max(0.0, 1 - above - below), below)


def smallest_worthwhile(sd_between_people: float, fraction: float = 0.2) -> float:
    """A fraction of the SD between people, in the unit of the outcome.

    0.2 is the habit of magnitude-based inference, a method that journals have stopped accepting and
    statisticians reject: a convention for display, never a test.
    """
    require_finite(SD=sd_between_people, fraction=fraction)
    if sd_between_people <= 0 or fraction <= 0:
        raise NumberProblem("The SD between people and the fraction must be above 0.")
    return sd_between_people * fraction


def detectable_change(sem: float, *, n: int | None = None, level: float = 0.95) -> Detectable:
    """z·√2·SEM for a person, and that over √n for the mean of n people (Weir 2005)."""
    require_finite(SEM=sem)
    if sem <= 0:
        raise NumberProblem(f"The standard error of measurement is {sem:g}; it must be above 0.")
    person = critical_value(level) * math.sqrt(2) * sem
    return Detectable(sem, person, None if n is None else person / math.sqrt(n), level)


def measurement_error(sd: float, icc: float) -> float:
    """SEM = SD·√(1 − ICC), in the unit of the SD (Weir 2005)."""
    require_finite(SD=sd, ICC=icc)
    if sd <= 0 or not 0 <= icc <= 1:
        raise NumberProblem(
            f"SD {sd:g} and ICC {icc:g} give no measurement error.", hint="SD above 0, ICC between 0 and 1."
        )
    return sd * math.sqrt(1 - icc)


def measurement_error_from_cv(mean: float, cv_percent: float) -> float:
    """SEM = mean·CV/100, for a typical error printed as a coefficient of variation."""
    require_finite(mean=mean, CV=cv_percent)
    if mean <= 0 or cv_percent <= 0:
        raise NumberProblem("Mean and coefficient of variation must be above 0.")
    return mean * cv_percent / 100


def _upper_tail(z: float, df: float | None) -> float:
    from scipy.special import ndtr, stdtr

    return float(ndtr(-z)) if df is None or math.isinf(df) else float(stdtr(df, -z))


def _require_spread(estimate: float, se: float) -> None:
    require_finite(estimate=estimate, standard_error=se)
    if se <= 0:
        raise NumberProblem(f"The standard error is {se:g}; it must be above 0.", hint="Check the variance.")
