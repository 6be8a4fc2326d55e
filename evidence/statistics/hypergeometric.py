"""The multivariate non-central hypergeometric distribution: events of each arm given their sum.

Arm j contributes the polynomial sum_e C(n_j, e) exp(theta_j e) t^e; the distribution given the sum is a coefficient
of their product. Sources: Breslow & Day 1980, section 4.2; McCullagh & Nelder 1989, section 7.3.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import gammaln

from evidence.statistics.heterogeneity import Array


def log_chance(events: Array, totals: Array, theta: Array) -> float:
    """Log-likelihood of the events given their sum, up to the binomial coefficients of what was seen."""
    whole = int(events.sum())
    factors, shift = _tilt(totals, whole, theta)
    product, scale = _multiply([one for one, _ in factors], whole)
    constant = float(np.log(product[whole])) + scale + sum(top for _, top in factors) - shift * whole
    return float(events @ theta) - constant


def hypergeometric_moments(totals: Array, events: int, theta: Array) -> tuple[Array, Array]:
    """Mean and covariance of the events of each arm given their sum, for log odds theta (up to a constant).

    The distribution of one arm, or of two together, is a product of polynomials: those of the arms and of the rest.
    """
    factors = [one for one, _ in _tilt(totals, events, theta)[0]]
    size = len(factors)

    def spread(chosen: Sequence[int]) -> tuple[float, float]:
        own, _ = _multiply([factors[j] for j in chosen], events)
        rest, _ = _multiply([factors[j] for j in range(size) if j not in chosen], events)
        counts = np.arange(own.size)
        reach = (events - counts >= 0) & (events - counts < rest.size)
        chance = np.where(reach, own * rest[np.clip(events - counts, 0, rest.size - 1)], 0.0)
        chance /= chance.sum()
        mean = float(chance @ counts)
        return mean, float(chance @ (counts - mean) ** 2)

    alone = [spread([j]) for j in range(size)]
    covariance = np.diag([variance for _, variance in alone])
    for a in range(size):
        for b in range(a):
            both = (
                spread([a, b])[1] if size > 2 else 0.0
            )  # the sum of two arms is fixed when there are only two
            covariance[a, b] = covariance[b, a] = (both - alone[a][1] - alone[b][1]) / 2.0
    return np.array([mean for mean, _ in alone]), covariance


def _tilt(totals: Array, events: int, theta: Array) -> tuple[list[tuple[Array, float]], float]:
    """Each arm's polynomial, scaled to a top of 1 with the log of its scale, and the common shift of theta used.

    A shift leaves the distribution given the sum as it is; the one that makes the expected sum equal to the observed
    keeps the numbers near 1 where they matter.
    """
    low, high = -60.0 - float(theta.max()), 60.0 - float(theta.min())
    for _ in range(60):
        shift = (low + high) / 2.0
        expected = float((totals / (1.0 + np.exp(-np.clip(theta + shift, -500.0, 500.0)))).sum())
        low, high = (shift, high) if expected < events else (low, shift)
    factors = []
    for total, own in zip(totals, theta + shift, strict=True):
        count = np.arange(min(int(total), events) + 1)
        height = gammaln(total + 1.0) - gammaln(count + 1.0) - gammaln(total - count + 1.0) + own * count
        top = float(height.max())
        factors.append((np.exp(height - top), top))
    return factors, shift


def _multiply(factors: Sequence[Array], events: int) -> tuple[Array, float]:
    product, scale = np.ones(1), 0.0
    for factor in factors:
        product = np.convolve(product, factor)[: events + 1]
        top = float(product.max())
        product, scale = product / top, scale + float(np.log(top))
    return product, scale
