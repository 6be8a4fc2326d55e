"""Fisher's exact test of a 2×2 table, with the conditional odds ratio and its exact limits."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.statistics.counts import Events

# Tables as likely as the observed one count as "at least as extreme"; the slack absorbs rounding of the sums.
_SLACK = 1 + 1e-7


@dataclass(frozen=True, slots=True)
class ExactTest:
    """Two-sided p, the conditional maximum-likelihood odds ratio (may be 0 or infinite) and its limits."""

    p: float
    odds_ratio: float
    low: float
    high: float


def compare_exactly(a: Events, b: Events, level: float = 0.95) -> ExactTest:
    """Fisher's exact test: all tables with the observed margins, noncentral hypergeometric."""
    support, weights = _list_tables(a, b)
    observed = a.count

    def spread(log_odds: float) -> NDArray[np.float64]:
        logs = weights + support * log_odds
        likely = np.exp(logs - logs.max())
        chances: NDArray[np.float64] = likely / likely.sum()
        return chances

    null = spread(0.0)
    at = null[support == observed][0]
    p = min(1.0, float(null[null <= at * _SLACK].sum()))
    tail = (1 - level) / 2
    lowest, highest = support[0], support[-1]
    estimate = low = 0.0
    high = math.inf
    if observed == highest:
        estimate = math.inf
    if lowest < observed < highest:
        estimate = math.exp(_solve(lambda x: float(spread(x) @ support) - observed))
    if observed > lowest:
        low = math.exp(_solve(lambda x: float(spread(x)[support >= observed].sum()) - tail))
    if observed < highest:
        high = math.exp(_solve(lambda x: tail - float(spread(x)[support <= observed].sum())))
    return ExactTest(p, estimate, low, high)


def _list_tables(a: Events, b: Events) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Every possible count in A given the margins, and the log of its hypergeometric weight."""
    from scipy.special import gammaln

    events = a.count + b.count
    support = np.arange(max(0, events - b.people), min(events, a.people) + 1)
    rest = events - support
    weights = -(
        gammaln(support + 1)
        + gammaln(a.people - support + 1)
        + gammaln(rest + 1)
        + gammaln(b.people - rest + 1)
    )
    return support, weights


def _solve(rising: Callable[[float], float]) -> float:
    """The root of a rising function of the log odds ratio, by bisection."""
    low, high = -1.0, 1.0
    while rising(low) > 0:
        low *= 2
    while rising(high) < 0:
        high *= 2
    while high - low > 1e-13 * max(1.0, abs(low)):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return (low + high) / 2
