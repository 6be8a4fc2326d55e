"""From what a paper prints about one group (SE, interval, subgroups) to its mean, SD and n; and SDs of
change.

Every conversion returns the value with the step that led to it and what had to be assumed.
"""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import (
    Assumption,
    Step,
    Summary,
    critical_value,
    derive,
    require_finite,
    require_people,
)
from evidence.statistics.t_tests import t_from_p


@dataclass(frozen=True, slots=True)
class Converted:
    """One figure worked out from printed ones."""

    value: float
    steps: tuple[Step, ...]
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True, slots=True)
class ConvertedSummary:
    """Mean, SD and n worked out from printed figures."""

    summary: Summary
    steps: tuple[Step, ...]
    assumptions: tuple[Assumption, ...] = ()


def sd_from_se(se: float, n: int) -> Converted:
    """SD = SE·√n, in the unit of the SE (Cochrane Handbook 6.5.2.2)."""
    require_finite(SE=se)
    require_people(n, at_least=2)
    if se < 0:
        raise NumberProblem(f"The standard error is {se:g}; it cannot be negative.", hint="Check the sign.")
    value = se * math.sqrt(n)
    return Converted(value, (derive("SD from SE", "SE·√n", "Cochrane Handbook 6.5.2.2", value, SE=se, n=n),))


def sd_from_interval(
    low: float, high: float, n: int, level: float = 0.95, *, normal: bool = False
) -> Converted:
    """SD of one group from the confidence interval of its mean: √n·(high − low)/(2q), q = t with n − 1 df.

    `normal` takes q from the normal distribution, for papers that say so. Which one a paper used is rarely
    said, so the choice travels as an assumption with the other value beside it.
    """
    require_finite(lower_limit=low, upper_limit=high)
    require_people(n, at_least=2)
    if low > high:
        raise NumberProblem(
            f"The lower limit {low:g} is above the upper limit {high:g}.",
            hint="A minus sign may have been lost when the table was copied.",
        )
    quantiles = critical_value(level, n - 1), critical_value(level)
    chosen, other = reversed(quantiles) if normal else quantiles
    value, instead = (math.sqrt(n) * (high - low) / (2 * q) for q in (chosen, other))
    name, alternative = ("normal", "t") if normal else ("t", "normal")
    source = "Cochrane Handbook 6.5.2.2"
    step = derive(
        "SD from interval", "√n·(high − low)/(2q)", source, value, low=low, high=high, n=n, q=chosen
    )
    text = (
        f"The interval was taken as built with the {name} distribution; with the {alternative} one the SD is"
    )
    assumption = Assumption(
        "interval_distribution",
        f"{text} {instead:.3g}.",
        value,
        min(value, instead),
        max(value, instead),
        source,
    )
    return Converted(value, (step,), (assumption,))


def combine_groups(*groups: Summary) -> ConvertedSummary:
    """One summary of all people of several groups, as if their values had been thrown together.

    SD² = [Σ(n−1)SD² + Σn(mean − M)²]/(N − 1) (Cochrane Handbook 6.5.2.10, for any number of groups).
    """
    if not groups:
        raise NumberProblem("There is no group to combine.", hint="Give at least one mean, SD and n.")
    total = sum(group.n for group in groups)
    mean = sum(group.n * group.mean for group in groups) / total
    within = sum((group.n - 1) * group.sd**2 for group in groups)
    between = sum(group.n * (group.mean - mean) ** 2 for group in groups)
    sd = math.sqrt((within + between) / (total - 1))
    source = "Cochrane Handbook 6.5.2.10"
    steps = (
        derive("combined mean", "Σ n·mean / N", source, mean, N=total),
        derive("combined SD", "√([Σ(n−1)SD² + Σn(mean − M)²]/(N−1))", source, sd, N=total),
    )
    return ConvertedSummary(Summary(mean, sd, total), steps)


def correlation_from_sds(sd_a: float, sd_b: float, sd_difference: float) -> Converted:
    """r = (SDA² + SDB² − SDdiff²)/(2·SDA·SDB) (Cochrane Handbook 6.5.2.8).

    Raises NumberProblem when the SD of the differences is impossible beside the other two.
    """
    require_finite(SD_A=sd_a, SD_B=sd_b, SD_of_differences=sd_difference)
    if min(sd_a, sd_b) <= 0 or sd_difference < 0:
        raise NumberProblem(
            "Standard deviations must be above 0 to find a correlation.", hint="Check the SDs."
        )
    value = (sd_a**2 + sd_b**2 - sd_difference**2) / (2 * sd_a * sd_b)
    if abs(value) > 1 + 1e-12:
        raise NumberProblem(
            f"An SD of differences of {sd_difference:g} is impossible beside SDs of {sd_a:g} and {sd_b:g}: "
            f"it must lie between {abs(sd_a - sd_b):g} and {sd_a + sd_b:g}.",
            hint="One of the three may be a standard error.",
        )
    value = max(-1.0, min(1.0, value))
    source = "Cochrane Handbook 6.5.2.8"
    formula = "(SDA² + SDB² − SDdiff²)/(2·SDA·SDB)"
    step = derive("correlation", formula, source, value, SDA=sd_a, SDB=sd_b, SDdiff=sd_difference)
    return Converted(value, (step,))


def difference_sd_from_t(mean_difference: float, t: float, n: int) -> Converted:
    """SD of the individual differences from a paired t: |difference|·√n/|t| (Cochrane Handbook 6.5.2.8)."""
    require_finite(difference=mean_difference, t=t)
    require_people(n, at_least=2)
    if t == 0 or mean_difference == 0:
        raise NumberProblem(
            "A difference or t of 0 says nothing about the spread of the differences.",
            hint="Use the SDs and a correlation instead.",
        )
    value = abs(mean_difference) * math.sqrt(n) / abs(t)
    source = "Cochrane Handbook 6.5.2.8"
    return Converted(
        value,
        (derive("SD of differences", "|difference|·√n/|t|", source, value, difference=mean_difference, t=t),),
    )


def difference_sd_from_p(mean_difference: float, p: float, n: int) -> Converted:
    """SD of the individual differences from the exact two-sided p of a paired t test."""
    require_people(n, at_least=2)
    t = t_from_p(p, n - 1)
    found = difference_sd_from_t(mean_difference, t, n)
    step = derive("t from p", "t with n − 1 df at p/2", "Cochrane Handbook 6.5.2.3", t, p=p, n=n)
    return Converted(found.value, (step, *found.steps))
