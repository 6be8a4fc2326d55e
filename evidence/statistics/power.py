"""How many people a comparison needs, and what the next study would have to be to change the picture.

Power by the noncentral t distribution for one study; by the normal distribution for what is added to a pool.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import critical_value, require_correlation, require_finite, require_people

_MOST = 10_000_000


@dataclass(frozen=True, slots=True)
class NextStudy:
    """What one new study would need so that the pooled interval leaves the threshold.

    `people` is None when no single study could do it, because the spread between studies alone is too wide;
    then `studies` of unlimited size are needed. `already` says that nothing is needed.
    """

    people: int | None
    studies: int
    already: bool


def power_of_groups(d: float, n_a: int, n_b: int, *, alpha: float = 0.05) -> float:
    """Power of the two-sided t test of two groups of different people at a standardised difference d."""
    require_people(n_a, at_least=2)
    require_people(n_b, at_least=2)
    return _power(d * math.sqrt(n_a * n_b / (n_a + n_b)), n_a + n_b - 2, alpha)


def power_of_pairs(d: float, n: int, r: float, *, alpha: float = 0.05) -> float:
    """Power of the two-sided paired t test; d is in SDs between people, so dz = d/√(2(1−r))."""
    require_people(n, at_least=2)
    return _power(_in_difference_sds(d, r) * math.sqrt(n), n - 1, alpha)


def people_for_groups(d: float, *, power: float = 0.8, alpha: float = 0.05) -> int:
    """People per group, two groups of one size, for the wanted power (noncentral t; Cohen 1988, section 2.4)."""
    return _smallest(lambda n: power_of_groups(d, n, n, alpha=alpha), d, power)


def people_for_pairs(d: float, r: float, *, power: float = 0.8, alpha: float = 0.05) -> int:
    """People who each do both conditions, for the wanted power."""
    return _smallest(lambda n: power_of_pairs(d, n, r, alpha=alpha), d, power)


def information_for_groups(d: float, *, power: float = 0.8, alpha: float = 0.05) -> float:
    """People in total by the large-sample form 4(zα + zβ)²/d²."""
    return 4 * _squared_quantiles(alpha, power) / _square(d)


def information_for_pairs(d: float, r: float, *, power: float = 0.8, alpha: float = 0.05) -> float:
    """People by the large-sample form 2(1 − r)(zα + zβ)²/d²."""
    require_correlation(r)
    return 2 * (1 - r) * _squared_quantiles(alpha, power) / _square(d)


def size_next_study(
    estimate: float,
    se: float,
    variance_per_person: float,
    *,
    tau2: float = 0.0,
    threshold: float = 0.0,
    level: float = 0.95,
) -> NextStudy:
    """The people one new study needs so that the pooled interval leaves `threshold`, if it finds the same.

    A study of n people has the variance variance_per_person/n + tau2 and is added with inverse-variance
    weight (Roloff 2013, normal approximation; the spread between studies is taken as known).
    """
    require_finite(estimate=estimate, standard_error=se, variance_per_person=variance_per_person, tau2=tau2)
    if se <= 0 or variance_per_person <= 0 or tau2 < 0:
        raise NumberProblem("Standard error and variance per person must be above 0, tau² not below 0.")
    gap = abs(estimate - threshold)
    if gap == 0:
        raise NumberProblem(
            "The estimate lies on the threshold, so no number of people would move the interval off it.",
            hint="Choose another threshold.",
        )
    lacking = (critical_value(level) / gap) ** 2 - 1 / se**2
    if lacking <= 0:
        return NextStudy(0, 0, already=True)
    room = 1 / lacking - tau2
    if room <= 0:
        return NextStudy(None, math.floor(lacking * tau2) + 1, already=False)
    return NextStudy(math.ceil(variance_per_person / room - 1e-9), 1, already=False)


def _power(noncentrality: float, df: float, alpha: float) -> float:
    from scipy.special import nctdtr

    cut = critical_value(1 - alpha, df)
    # The lower tail of −x is the upper tail of x; the one against the effect matters only for tiny effects.
    shift = abs(noncentrality)
    return float(1 - nctdtr(df, shift, cut) + nctdtr(df, shift, -cut))


def _smallest(reach: Callable[[int], float], d: float, power: float) -> int:
    _square(d)
    if not 0 < power < 1:
        raise NumberProblem(f"Power lies between 0 and 1, not {power:g}.", hint="Write 0.8 for 80 %.")
    low, high = 1, 2
    while reach(high) < power:
        low, high = high, high * 2
        if high > _MOST:
            raise NumberProblem(f"A difference of {d:g} would need more than {_MOST:,} people.")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reach(middle) >= power else (middle, high)
    return high


def _in_difference_sds(d: float, r: float) -> float:
    require_correlation(r)
    if r == 1:
        raise NumberProblem("With r = 1 the differences have no spread.", hint="Check the correlation.")
    return d / math.sqrt(2 * (1 - r))


def _squared_quantiles(alpha: float, power: float) -> float:
    from scipy.special import ndtri

    if not 0 < power < 1:
        raise NumberProblem(f"Power lies between 0 and 1, not {power:g}.", hint="Write 0.8 for 80 %.")
    return float((critical_value(1 - alpha) + ndtri(power)) ** 2)


def _square(d: float) -> float:
    require_finite(difference=d)
    if d == 0:
        raise NumberProblem(
            "No number of people shows a difference of 0.", hint="Give the smallest difference that matters."
        )
    return d**2
