"""What would change a verdict: null studies of typical size, one study of some size or result, leaving one
out.

Every question is answered by pooling again with the same settings, so the answer fits the verdict as
printed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evidence.errors import NumberProblem
from evidence.statistics.counts import Events
from evidence.statistics.exact_tests import compare_exactly

Interval = tuple[float, float]
Pooling = Callable[[NDArray[np.float64], NDArray[np.float64]], Interval]
_MOST_STUDIES = 1000


@dataclass(frozen=True, slots=True)
class Fragility:
    """How firmly an interval shuts out a threshold.

    `clear`: it does so now. `null_studies`: how many more studies of typical variance that find exactly the
    threshold bring it back in (None: over a thousand, or not clear). `single_result`: what one more study
    of typical variance would have to find. `single_variance`: the largest variance of one more study on the
    threshold that would do it (None: no single study can). `leaving_out`: positions whose removal changes
    the answer.
    """

    clear: bool
    typical_variance: float
    null_studies: int | None
    single_result: float | None
    single_variance: float | None
    leaving_out: tuple[int, ...]


def pool_interval(estimates: NDArray[np.float64], variances: NDArray[np.float64]) -> Interval:
    """The default pooled interval of the product."""
    from evidence.statistics.pooling import pool

    pooled = pool(estimates, variances)
    return pooled.low, pooled.high


def assess_fragility(
    estimates: Sequence[float],
    variances: Sequence[float],
    *,
    threshold: float = 0.0,
    pooling: Pooling = pool_interval,
) -> Fragility:
    """Find what would move the pooled interval of independent results onto the threshold.

    `pooling` takes estimates and variances and returns the interval; the median variance counts as typical.
    """
    y, v = np.asarray(estimates, dtype=float), np.asarray(variances, dtype=float)
    if y.ndim != 1 or y.shape != v.shape or y.size == 0:
        raise NumberProblem("Estimates and variances must be two lists of one length, not empty.")
    typical = float(np.median(v))

    def is_clear(extra_y: Sequence[float] = (), extra_v: Sequence[float] = ()) -> bool:
        low, high = pooling(np.append(y, extra_y), np.append(v, extra_v))
        return not low <= threshold <= high

    clear = is_clear()
    flips = tuple(
        i for i in range(y.size) if y.size > 1 and _clear_without(y, v, i, threshold, pooling) != clear
    )
    if not clear:
        return Fragility(False, typical, None, None, None, flips)
    return Fragility(
        True,
        typical,
        _count_null_studies(is_clear, threshold, typical),
        _find_result(is_clear, y, v, threshold, typical),
        _find_variance(is_clear, threshold, typical),
        flips,
    )


def fragility_index(a: Events, b: Events, *, alpha: float = 0.05) -> int | None:
    """How many people would have to have had the other outcome for Fisher's p to pass alpha (Walsh 2014).

    Events are added in the group with fewer of them. None when p is above alpha as it stands.
    """
    if compare_exactly(a, b).p > alpha:
        return None
    fewer_a = a.count <= b.count
    for changed in range(1, max(a.people, b.people) + 1):
        first = Events(a.count + changed, a.people) if fewer_a else a
        second = b if fewer_a else Events(b.count + changed, b.people)
        if compare_exactly(first, second).p > alpha:
            return changed
        if max(first.count / first.people, second.count / second.people) == 1:
            break
    return None


def _clear_without(
    y: NDArray[np.float64], v: NDArray[np.float64], i: int, threshold: float, pooling: Pooling
) -> bool:
    low, high = pooling(np.delete(y, i), np.delete(v, i))
    return not low <= threshold <= high


def _count_null_studies(
    is_clear: Callable[[Sequence[float], Sequence[float]], bool], threshold: float, typical: float
) -> int | None:
    def holds(count: int) -> bool:
        return is_clear([threshold] * count, [typical] * count)

    count = 1
    while holds(count):
        count *= 2
        if count > _MOST_STUDIES:
            return None
    low, high = count // 2, count
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return high


def _find_result(
    is_clear: Callable[[Sequence[float], Sequence[float]], bool],
    y: NDArray[np.float64],
    v: NDArray[np.float64],
    threshold: float,
    typical: float,
) -> float | None:
    """Going from the weighted mean past the threshold: the first result of a typical study that does it."""
    mean = float(np.average(y, weights=1 / v))
    step = (threshold - mean) / 20 or -(typical**0.5) / 20
    position = mean
    for _ in range(400):
        if not is_clear([position + step], [typical]):
            break
        position += step
    else:
        return None
    inside, outside = position, position + step
    for _ in range(40):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if is_clear([middle], [typical]) else (inside, middle)
    return outside


def _find_variance(
    is_clear: Callable[[Sequence[float], Sequence[float]], bool], threshold: float, typical: float
) -> float | None:
    """From a very large variance downwards: the first that brings the threshold back into the interval."""
    grid = typical * np.geomspace(1e3, 1e-6, 73)
    for larger, smaller in pairwise(grid):
        if is_clear([threshold], [float(smaller)]):
            continue
        low, high = float(smaller), float(larger)
        for _ in range(40):
            middle = (low * high) ** 0.5
            low, high = (low, middle) if is_clear([threshold], [middle]) else (middle, high)
        return low
    return None
