"""Standardised differences put on one yardstick: the SD before training (Morris 2008, d_ppc2).

A difference over the SD of the changes is another figure than one over the SD before: with r = 0.9 before to after
the same difference comes out more than twice as large. The two are never pooled as they are.
"""

import math

from evidence.errors import NumberProblem
from evidence.statistics.correlations import Correlation, as_correlation
from evidence.statistics.effect import Assumption, Effect, Metric, derive, hedges_factor

MORRIS_DESHON = "Morris & DeShon 2002, eq. 12"
EQUAL_SDS = Assumption(
    "equal_sds", "The SD was taken to be the same before and after training.", source="Morris & DeShon 2002"
)


def standardise_by_sds_before(
    difference: Effect, sd_a: float, n_a: int, sd_b: float, n_b: int, *, same_people: bool
) -> Effect:
    """A difference of mean changes in the outcome's unit over the SD before training, small-sample corrected.

    Groups of their own: the pooled SD with nA + nB - 2 df. The same people: √((SDA² + SDB²)/2) with n - 1 df.
    Variance v/s² + d²/(2 df) by the delta method (Bonett 2008). Raises NumberProblem without spread or people enough.
    """
    df = min(n_a, n_b) - 1 if same_people else n_a + n_b - 2
    if df < 2:
        raise NumberProblem("There are too few people for a standardised difference.")
    if same_people:
        s, formula, source = math.sqrt((sd_a**2 + sd_b**2) / 2), "√((SDA² + SDB²)/2)", "Bonett 2008"
    else:
        s = math.sqrt(((n_a - 1) * sd_a**2 + (n_b - 1) * sd_b**2) / df)
        formula, source = "√(Σ(n−1)SD² / Σ(n−1))", "Morris 2008, d_ppc2"
    if s <= 0:
        raise NumberProblem("Both SDs before are 0, so nothing can be standardised by them.")
    factor = hedges_factor(df)
    estimate = factor * difference.estimate / s
    variance = difference.variance / s**2 + estimate**2 / (2 * df)
    steps = (
        derive("SD before", formula, source, s, A=sd_a, B=sd_b),
        derive("small-sample factor", "J(m)", "Hedges 1981, eq. 6e", factor, m=df),
        derive("standardised difference", "J · difference / SD before", "Morris 2008, d_ppc2", estimate),
        derive("sampling variance", "v/s² + d²/(2m)", "delta method, Bonett 2008", variance, v=difference.variance),
    )  # fmt: skip
    return Effect(
        Metric.SMD_CHANGE,
        estimate,
        variance,
        difference.n,
        None,
        (*difference.steps, *steps),
        difference.assumptions,
    )


def convert_from_sd_of_change(effect: Effect, r: Correlation | float) -> Effect:
    """From SDs of the changes to SDs before: times √(2(1 − r)), r before to after, both SDs taken as equal."""
    link = as_correlation(r)
    scale = 2 * (1 - link.value)
    if scale <= 0:
        raise NumberProblem("With r = 1 the changes have no spread.", hint="Check the correlation.")
    estimate = effect.estimate * math.sqrt(scale)
    step = derive(
        "in SDs before training",
        "d · √(2(1 − r)); variance · 2(1 − r)",
        MORRIS_DESHON,
        estimate,
        d=effect.estimate,
        r=link.value,
    )
    said = Assumption(
        "yardstick",
        "Known in SDs of the changes only; put on the SD before training, on which the other studies stand, by the "
        f"correlation before to after (r = {link.value:g}).",
        link.value,
        link.low,
        link.high,
        MORRIS_DESHON,
    )
    assumptions = tuple(dict.fromkeys((*effect.assumptions, *link.assumptions(), EQUAL_SDS, said)))
    return Effect(
        Metric.SMD_CHANGE, estimate, effect.variance * scale, effect.n, None, (*effect.steps, step), assumptions
    )  # fmt: skip
