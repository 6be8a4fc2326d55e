"""Before and after in two arms: how much more one programme changed people than the other.

Arms of different people, or the same people with one limb in each arm. All effects are arm A minus arm B, and
"change" is always after minus before.
"""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics import independent, paired
from evidence.statistics.correlations import Correlation, as_correlation
from evidence.statistics.effect import (
    Assumption,
    Effect,
    Metric,
    Summary,
    derive,
    hedges_factor,
    hedges_factor_approximate,
    require_positive_means,
)

_MORRIS = "Morris 2008, d_ppc2"
_MORRIS_VARIANCE = "Morris 2008, eq. 25 (from memory)"


@dataclass(frozen=True, slots=True)
class Arm:
    """One programme: the same people before and after, and the correlation between the two."""

    before: Summary
    after: Summary
    r: Correlation | float

    def __post_init__(self) -> None:
        if self.before.n != self.after.n:
            raise NumberProblem(
                f"{self.before.n} people before and {self.after.n} after; a change needs the same people.",
                hint="Use the number analysed at the end for both, and note the drop-outs.",
            )

    @property
    def n(self) -> int:
        """People measured both times."""
        return self.before.n

    @property
    def correlation(self) -> Correlation:
        """The correlation with its origin."""
        return as_correlation(self.r)

    @property
    def change(self) -> Summary:
        """The mean change with its SD, in the printed unit."""
        sd = paired.difference_sd(self.after, self.before, self.r)
        return Summary(self.after.mean - self.before.mean, sd, self.n)


def mean_change_difference(a: Arm, b: Arm) -> Effect:
    """Difference of the mean changes, in the printed unit."""
    return _subtract(
        Metric.MEAN_DIFFERENCE,
        paired.mean_difference(a.after, a.before, a.r),
        paired.mean_difference(b.after, b.before, b.r),
        "mean change A − mean change B",
    )


def standardised_change_difference(
    a: Arm, b: Arm, *, exact: bool = True, simple_variance: bool = False
) -> Effect:
    """Difference of the mean changes over the pooled SD before (Morris 2008, d_ppc2), small-sample corrected.

    Arms with different correlations enter with their own 2(1−r)/n. `exact` False uses the approximate
    correction printed in the paper; `simple_variance` the large-sample form, without the correction.
    """
    df = a.n + b.n - 2
    if not simple_variance and df <= 2:
        raise NumberProblem(f"{a.n + b.n} people are too few for this effect; it needs at least 5.")
    pooled = _require_spread(independent.pool_sd(a.before, b.before))
    net = a.change.mean - b.change.mean
    factor = hedges_factor(df) if exact else hedges_factor_approximate(df)
    estimate = factor * net / pooled
    base = sum(2 * (1 - arm.correlation.value) / arm.n for arm in (a, b))
    if simple_variance:
        variance = base + estimate**2 / (2 * (a.n + b.n))
        formula, source = "base + d²/(2N)", "large-sample form, after Becker 1988"
    else:
        variance = factor**2 * df / (df - 2) * (base + estimate**2) - estimate**2
        formula, source = "J²·m/(m−2)·(base + d²) − d²", _MORRIS_VARIANCE
    steps = (
        derive("net change", "change A − change B", _MORRIS, net, A=a.change.mean, B=b.change.mean),
        derive("pooled SD before", "√(Σ(n−1)SD² / Σ(n−1))", _MORRIS, pooled, A=a.before.sd, B=b.before.sd),
        derive("small-sample factor", "J(m), m = nA + nB − 2", "Hedges 1981, eq. 6e", factor, m=df),
        derive("standardised difference", "J · net / pooled SD before", _MORRIS, estimate),
        derive(
            "part free of the effect",
            "2(1−rA)/nA + 2(1−rB)/nB",
            _MORRIS,
            base,
            rA=a.correlation.value,
            rB=b.correlation.value,
            nA=a.n,
            nB=b.n,
        ),
        derive("sampling variance", formula, source, variance),
    )
    return Effect(Metric.SMD_CHANGE, estimate, variance, a.n + b.n, None, steps, _assume(a, b))


def standardise_printed_changes(
    change_a: Summary, change_b: Summary, sd_before_a: float, sd_before_b: float
) -> Effect:
    """As `standardised_change_difference` where a paper prints the changes themselves (mean, SD, n per arm).

    The printed SDs of change take the place of r: variance (SDA²/nA + SDB²/nB)/s² + d²/(2m), by the delta
    method.
    """
    df = change_a.n + change_b.n - 2
    pooled = _require_spread(
        math.sqrt(((change_a.n - 1) * sd_before_a**2 + (change_b.n - 1) * sd_before_b**2) / df)
    )
    factor = hedges_factor(df)
    net = change_a.mean - change_b.mean
    estimate = factor * net / pooled
    spread = (change_a.sd**2 / change_a.n + change_b.sd**2 / change_b.n) / pooled**2
    variance = spread + estimate**2 / (2 * df)
    steps = (
        derive("net change", "change A − change B", _MORRIS, net, A=change_a.mean, B=change_b.mean),
        derive("pooled SD before", "√(Σ(n−1)SD² / Σ(n−1))", _MORRIS, pooled, A=sd_before_a, B=sd_before_b),
        derive("small-sample factor", "J(m), m = nA + nB − 2", "Hedges 1981, eq. 6e", factor, m=df),
        derive("standardised difference", "J · net / pooled SD before", _MORRIS, estimate),
        derive(
            "sampling variance",
            "(SDA²/nA + SDB²/nB)/s² + d²/(2m)",
            "delta method, Bonett 2008",
            variance,
            SDA=change_a.sd,
            SDB=change_b.sd,
        ),
    )
    return Effect(Metric.SMD_CHANGE, estimate, variance, change_a.n + change_b.n, None, steps)


def difference_of_own_standardised_changes(a: Arm, b: Arm) -> Effect:
    """Each arm standardised by its own SD before, then subtracted (Becker 1988)."""
    return _subtract(
        Metric.SMD_CHANGE,
        paired.standardise_by_b(a.after, a.before, a.r),
        paired.standardise_by_b(b.after, b.before, b.r),
        "standardised change A − standardised change B",
    )


def difference_of_changes_in_change_sds(a: Arm, b: Arm) -> Effect:
    """Each arm standardised by the SD of its changes, then subtracted; the units differ between the arms."""
    return _subtract(
        Metric.SMD_CHANGE,
        paired.standardise_by_difference_sd(a.after, a.before, a.r),
        paired.standardise_by_difference_sd(b.after, b.before, b.r),
        "change A in SDs of change − change B in SDs of change",
    )


def smd_of_changes(a: Arm, b: Arm) -> Effect:
    """Hedges' g of the individual changes: the yardstick is the pooled SD of change."""
    effect = independent.standardised_mean_difference(a.change, b.change)
    return Effect(
        Metric.SMD_CHANGE, effect.estimate, effect.variance, effect.n, None, effect.steps, _assume(a, b)
    )


def log_ratio_of_ratios(a: Arm, b: Arm) -> Effect:
    """ln((afterA/beforeA) / (afterB/beforeB)): the relative change of A over that of B."""
    return _subtract(
        Metric.LOG_RATIO_OF_MEANS,
        paired.log_ratio_of_means(a.after, a.before, a.r),
        paired.log_ratio_of_means(b.after, b.before, b.r),
        "ln(after/before) A − ln(after/before) B",
    )


def percent_change(arm: Arm) -> Effect:
    """100·(after/before − 1) of the means, in percent (delta method); not the mean of individual percents."""
    require_positive_means(arm.before, arm.after)
    ratio = paired.log_ratio_of_means(arm.after, arm.before, arm.r)
    grown = 100 * arm.after.mean / arm.before.mean
    estimate, variance = grown - 100, grown**2 * ratio.variance
    step = derive(
        "percent change of the means",
        "100·(after/before − 1)",
        "delta method on the log ratio",
        estimate,
        after=arm.after.mean,
        before=arm.before.mean,
    )
    return Effect(
        Metric.PERCENT_CHANGE_DIFFERENCE,
        estimate,
        variance,
        arm.n,
        None,
        (*ratio.steps, step),
        arm.correlation.assumptions(),
    )


def percent_change_difference(a: Arm, b: Arm, r_changes: Correlation | float = 0.0) -> Effect:
    """Percent change of A minus percent change of B, in percentage points.

    `r_changes` is the correlation between the two changes when the same people did both (one limb each); 0
    means different people.
    """
    return _subtract(
        Metric.PERCENT_CHANGE_DIFFERENCE,
        percent_change(a),
        percent_change(b),
        "percent change A − percent change B",
        r_changes,
        same_people=_are_linked(r_changes),
    )


def within_person_change_difference(a: Arm, b: Arm, r_changes: Correlation | float) -> Effect:
    """Difference of the mean changes of two limbs (or periods) of the same people, in the printed unit."""
    _require_same_people(a, b)
    return _subtract(
        Metric.MEAN_DIFFERENCE,
        paired.mean_difference(a.after, a.before, a.r),
        paired.mean_difference(b.after, b.before, b.r),
        "mean change A − mean change B",
        r_changes,
        same_people=True,
    )


def within_person_standardised_change_difference(a: Arm, b: Arm, r_changes: Correlation | float) -> Effect:
    """Difference of the changes of two limbs of the same people over the mean SD before, small-sample
    corrected.

    The variance is the raw one over s², plus d²/(2(n−1)) for the yardstick (delta method, as in Bonett
    2008; the two SDs before are taken as fully dependent, which errs on the wide side).
    """
    _require_same_people(a, b)
    raw = within_person_change_difference(a, b, r_changes)
    yardstick = _require_spread(math.sqrt((a.before.sd**2 + b.before.sd**2) / 2))
    factor = hedges_factor(a.n - 1)
    estimate = factor * raw.estimate / yardstick
    variance = raw.variance / yardstick**2 + estimate**2 / (2 * (a.n - 1))
    steps = (
        *raw.steps,
        derive(
            "yardstick",
            "√((SD before A² + SD before B²)/2)",
            "Bonett 2008",
            yardstick,
            A=a.before.sd,
            B=b.before.sd,
        ),
        derive("small-sample factor", "J(m), m = n − 1", "Hedges 1981, eq. 6e", factor, m=a.n - 1),
        derive("standardised difference", "J · difference / yardstick", "Becker 1988", estimate),
        derive("sampling variance", "v/s² + d²/(2(n−1))", "delta method, Bonett 2008", variance),
    )
    return Effect(Metric.SMD_CHANGE, estimate, variance, a.n, None, steps, raw.assumptions)


def _subtract(
    metric: Metric,
    a: Effect,
    b: Effect,
    formula: str,
    r_changes: Correlation | float = 0.0,
    *,
    same_people: bool = False,
) -> Effect:
    link = as_correlation(r_changes)
    estimate = a.estimate - b.estimate
    variance = a.variance + b.variance - 2 * link.value * math.sqrt(a.variance * b.variance)
    people = a.n if same_people else (a.n or 0) + (b.n or 0)
    step = derive(
        "difference of the changes",
        formula,
        "difference of two effects",
        estimate,
        A=a.estimate,
        B=b.estimate,
    )
    spread = derive(
        "sampling variance", "vA + vB − 2·r·√(vA·vB)", "variance of a difference", variance, r=link.value
    )
    assumptions = _unique((*a.assumptions, *b.assumptions, *link.assumptions()))
    return Effect(metric, estimate, variance, people, None, (*a.steps, *b.steps, step, spread), assumptions)


def _assume(a: Arm, b: Arm) -> tuple[Assumption, ...]:
    return _unique((*a.correlation.assumptions(), *b.correlation.assumptions()))


def _unique(assumptions: tuple[Assumption, ...]) -> tuple[Assumption, ...]:
    return tuple(dict.fromkeys(assumptions))


def _are_linked(r_changes: Correlation | float) -> bool:
    return as_correlation(r_changes).value != 0


def _require_same_people(a: Arm, b: Arm) -> None:
    if a.n != b.n:
        raise NumberProblem(
            f"The two sides have {a.n} and {b.n} people; a within-person comparison needs the same people.",
            hint="Use the number with both sides measured.",
        )


def _require_spread(sd: float) -> float:
    if not sd > 0:
        raise NumberProblem(
            "The SD before is 0, so nothing can be measured in units of it.",
            hint="Use the difference in the printed unit or in percent.",
        )
    return sd
