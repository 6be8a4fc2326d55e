"""What every effect is made of: printed summaries in, an estimate with its variance and derivation out.

An `Effect` is always "A against B" (group 1 minus group 2, post minus pre, first condition minus second).
It carries the steps that led to it (formula, inputs, source) and what had to be assumed, so that any figure
can be traced to a page.
"""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from evidence.errors import NumberProblem


class Metric(StrEnum):
    """The scale an effect lives on. Ratios are kept as natural logarithms."""

    LOG_RATIO_OF_MEANS = "log_ratio_of_means"
    MEAN_DIFFERENCE = "mean_difference"
    SMD = "smd"
    SMD_CHANGE = "smd_change"
    PERCENT_CHANGE_DIFFERENCE = "percent_change_difference"
    LOG_RISK_RATIO = "log_risk_ratio"
    LOG_ODDS_RATIO = "log_odds_ratio"
    RISK_DIFFERENCE = "risk_difference"
    ARCSINE_DIFFERENCE = "arcsine_difference"
    LOG_RATE_RATIO = "log_rate_ratio"
    RATE_DIFFERENCE = "rate_difference"
    ROOT_RATE_DIFFERENCE = "root_rate_difference"
    LOG_VARIABILITY_RATIO = "log_variability_ratio"
    LOG_CV_RATIO = "log_cv_ratio"
    CORRELATION = "correlation"
    FISHER_Z = "fisher_z"
    PHI = "phi"
    YULE_Q = "yule_q"
    PROPORTION = "proportion"
    LOG_PROPORTION = "log_proportion"
    LOGIT_PROPORTION = "logit_proportion"
    ARCSINE_PROPORTION = "arcsine_proportion"
    DOUBLE_ARCSINE_PROPORTION = "double_arcsine_proportion"
    MEAN = "mean"
    LOG_MEAN = "log_mean"
    LOG_SD = "log_sd"
    LOG_CV = "log_cv"


LOG_RATIOS = frozenset(
    {
        Metric.LOG_RATIO_OF_MEANS,
        Metric.LOG_RISK_RATIO,
        Metric.LOG_ODDS_RATIO,
        Metric.LOG_RATE_RATIO,
        Metric.LOG_VARIABILITY_RATIO,
        Metric.LOG_CV_RATIO,
    }
)

ONE_SAMPLE = frozenset(
    {
        Metric.PROPORTION,
        Metric.LOG_PROPORTION,
        Metric.LOGIT_PROPORTION,
        Metric.ARCSINE_PROPORTION,
        Metric.DOUBLE_ARCSINE_PROPORTION,
        Metric.MEAN,
        Metric.LOG_MEAN,
        Metric.LOG_SD,
        Metric.LOG_CV,
        Metric.CORRELATION,
        Metric.FISHER_Z,
        Metric.PHI,
        Metric.YULE_Q,
    }
)


# Fourth powers of such figures, and of their ratios, are still numbers that a computer holds.
LARGEST = 1e30
MOST_PEOPLE = 10_000_000_000  # more than live; a larger n is another figure


@dataclass(frozen=True, slots=True)
class Summary:
    """Mean, standard deviation and number of people of one group or condition, in the unit printed.

    Raises NumberProblem when they cannot be a summary of anything: n below 2, a negative SD, not a number.
    """

    mean: float
    sd: float
    n: int

    def __post_init__(self) -> None:
        require_measurable(mean=self.mean, sd=self.sd)
        require_people(self.n, at_least=2)
        if self.sd < 0:
            raise NumberProblem(
                f"The standard deviation is {self.sd:g}; it cannot be negative.",
                hint="Check for a minus sign that belongs to another figure.",
            )

    @property
    def squared_cv_over_n(self) -> float:
        """SD² / (n · mean²): the sampling variance of the log of the mean (delta method)."""
        return self.sd**2 / (self.n * self.mean**2)


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a derivation: what was computed, by which formula, from what, with which result."""

    name: str
    formula: str
    inputs: tuple[tuple[str, float | str], ...]
    value: float
    source: str


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something not printed that the result leans on; `low` and `high` span what else would be reasonable."""

    code: str
    text: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """An estimate of A against B with its sampling variance.

    `n` counts the people who contribute, each once. `df` is set only where the interval should use
    Student's t. Raises NumberProblem for figures that are not numbers, or a variance that is not positive.
    """

    metric: Metric
    estimate: float
    variance: float
    n: int | None = None
    df: float | None = None
    steps: tuple[Step, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def __post_init__(self) -> None:
        require_finite(estimate=self.estimate, variance=self.variance)
        if self.variance <= 0:
            raise NumberProblem(
                f"The sampling variance came out as {self.variance:g}; such an effect cannot be weighed.",
                hint="Check the standard deviations: every one of them is 0, or one figure was misread.",
            )

    @property
    def se(self) -> float:
        """Standard error: the square root of the variance."""
        return math.sqrt(self.variance)

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Two-sided confidence limits on the effect's own scale (t with `df` if given, else normal)."""
        margin = critical_value(level, self.df) * self.se
        return self.estimate - margin, self.estimate + margin

    def swapped(self) -> "Effect":
        """The same comparison as B against A: the sign turns, the variance stays."""
        if self.metric in ONE_SAMPLE:
            raise NumberProblem(
                f"A {self.metric.value.replace('_', ' ')} describes one sample; there are no sides to swap.",
                hint="Compare two samples first.",
            )
        step = Step("swap", "−(A against B)", (("A against B", self.estimate),), -self.estimate, "definition")
        return replace(self, estimate=-self.estimate, steps=(*self.steps, step))


def derive(name: str, formula: str, source: str, value: float, **inputs: float | str) -> Step:
    """A step of a derivation; the inputs keep the order in which they are given."""
    return Step(name, formula, tuple(inputs.items()), value, source)


def as_percent(effect: Effect | float) -> float:
    """A log ratio (an Effect or a bare number) as percent more or less: 100 · (exp(x) − 1)."""
    if isinstance(effect, Effect):
        if effect.metric not in LOG_RATIOS:
            raise NumberProblem(
                f"A {effect.metric.value.replace('_', ' ')} is not a ratio, so it has no percent form.",
                hint="Show it in its own unit.",
            )
        return as_percent(effect.estimate)
    return 100.0 * math.expm1(effect)


def critical_value(level: float, df: float | None = None) -> float:
    """The two-sided critical value: Student's t with `df`, or normal when df is None."""
    from scipy.special import ndtri, stdtrit

    if not 0 < level < 1:
        raise NumberProblem(
            f"A confidence level lies between 0 and 1, not {level:g}.", hint="Write 0.95 for 95 %."
        )
    tail = (1 + level) / 2
    if tail == 0.5:
        raise NumberProblem(
            f"A confidence level of {level:g} leaves no interval.", hint="Write 0.95 for 95 %."
        )
    if df is None or math.isinf(df):
        return float(ndtri(tail))
    if not df > 0:
        raise NumberProblem(f"Student's t needs degrees of freedom above 0, not {df:g}.")
    return float(stdtrit(df, tail))


def hedges_factor(df: float) -> float:
    """The exact small-sample correction Γ(m/2) / (√(m/2) Γ((m−1)/2)) with m = df (Hedges 1981, eq. 6e).

    Needs df > 1. Below that the standardised difference has no mean and cannot be corrected.
    """
    if not df > 1:
        raise NumberProblem(
            f"A standardised difference needs more than 1 degree of freedom; there is {df:g}.",
            hint="Use the mean difference in the printed unit instead.",
        )
    return math.exp(math.lgamma(df / 2) - math.lgamma((df - 1) / 2) - 0.5 * math.log(df / 2))


def hedges_factor_approximate(df: float) -> float:
    """The usual approximation 1 − 3 / (4·df − 1) (Hedges 1981, eq. 6f); only to compare with older papers."""
    return 1 - 3 / (4 * df - 1)


def require_finite(**values: float) -> None:
    """Refuse NaN and infinities, naming the figure."""
    for name, value in values.items():
        if not math.isfinite(value):
            raise NumberProblem(
                f"The figure for {name.replace('_', ' ')} is {value}, which cannot be used as a number.",
                hint="Enter the printed figure, or leave the result out.",
            )


def require_measurable(**values: float) -> None:
    """Refuse NaN, infinities, and figures so large or so fine that their squares are no numbers any more."""
    require_finite(**values)
    for name, value in values.items():
        if value and not 1 / LARGEST <= abs(value) <= LARGEST:
            raise NumberProblem(
                f"The figure for {name.replace('_', ' ')} is {value:g}: too large or too fine for any measure.",
                hint="Check the exponent, or the unit.",
            )


def require_share(name: str, value: float) -> None:
    """Refuse what does not lie between 0 and 1: an error rate, a level."""
    if not 0 < value < 1:
        raise NumberProblem(f"The {name} is {value:g}; it lies between 0 and 1.", hint="Write 0.05 for 5 %.")


def require_people(n: float, *, at_least: int, name: str = "n") -> None:
    """Refuse a number of people that is not whole or too small for a spread to exist."""
    if not math.isfinite(n) or n != int(n):
        raise NumberProblem(f"{name} is {n}; the number of people must be a whole number.")
    if n > MOST_PEOPLE:
        raise NumberProblem(f"{name} is {n:g}: more than there are people.", hint="Check the number printed.")
    if n < at_least:
        raise NumberProblem(
            f"{name} is {n:g}; this needs at least {at_least} people.",
            hint="One person has no spread to judge by. Check the number printed in the methods.",
        )


def require_positive_means(*summaries: Summary) -> None:
    """Refuse means at or below zero, for which a ratio has no meaning."""
    for summary in summaries:
        if summary.mean <= 0:
            raise NumberProblem(
                f"The mean is {summary.mean:g}; a ratio needs means above 0.",
                hint="Use the mean difference (MD) or the standardised mean difference (SMD) instead.",
            )


def require_correlation(r: float, name: str = "r") -> None:
    """Refuse a correlation outside −1 to 1."""
    if not -1 <= r <= 1:
        raise NumberProblem(
            f"The correlation {name} is {r:g}; it must lie between −1 and 1.", hint="Check the decimal point."
        )
