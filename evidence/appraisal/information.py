"""Optimal information size: how many people a comparison needs before its interval can be trusted.

Parallel groups: n per group = 2 (z_a + z_b)^2 / d^2, rounded up, both groups together. Same people in both
conditions: 2 (1 - r) (z_a + z_b)^2 / d^2 people, r the within-person correlation. Normal approximation
(from the project's design material: confidence.md 1.5, computed there).
"""

import math
from statistics import NormalDist

from evidence.errors import NumberProblem


def squared_quantiles(alpha: float, power: float) -> float:
    """(z at 1 - alpha/2 plus z at power), squared."""
    if not (0 < alpha < 1 and 0 < power < 1):
        raise NumberProblem(f"alpha {alpha} and power {power} must lie between 0 and 1")
    normal = NormalDist()
    return (normal.inv_cdf(1 - alpha / 2) + normal.inv_cdf(power)) ** 2


def parallel_people(difference: float, *, alpha: float = 0.05, power: float = 0.80) -> int:
    """People in both groups together needed to see a standardised `difference`."""
    _check(difference)
    return 2 * math.ceil(2 * squared_quantiles(alpha, power) / difference**2)


def paired_people(difference: float, r: float, *, alpha: float = 0.05, power: float = 0.80) -> int:
    """People needed to see a standardised `difference` when each does both conditions; `r` within person."""
    _check(difference)
    if not -1 <= r < 1:
        raise NumberProblem(f"a correlation of {r}", hint="It lies between -1 and 1, and below 1 here.")
    return math.ceil(2 * (1 - r) * squared_quantiles(alpha, power) / difference**2)


def people_from_variance(
    difference: float, unit_variance: float, *, alpha: float = 0.05, power: float = 0.80
) -> int:
    """People needed when one person contributes `unit_variance` (n times the variance of the estimate).

    For scales without a standard deviation of their own (log ratios, raw units): the variance comes from
    the studies.
    """
    _check(difference)
    return math.ceil(unit_variance * squared_quantiles(alpha, power) / difference**2)


def _check(difference: float) -> None:
    if not difference > 0:
        raise NumberProblem(f"a difference to be seen of {difference}", hint="It must be larger than 0.")
