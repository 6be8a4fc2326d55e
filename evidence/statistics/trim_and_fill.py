"""Trim-and-fill: how the pooled effect would move if the funnel were symmetric. A sensitivity look, never an
answer.

Source: Duval & Tweedie 2000, JASA 95:89-98 (estimators L0, R0, Q0).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.asymmetry import regress_on_precision
from evidence.statistics.heterogeneity import Array
from evidence.statistics.pooling import Pooled, check_results, pool


@dataclass(frozen=True, slots=True)
class Filled:
    """`missing` results imagined on `side`; `pooled` includes them, `estimates` and `variances` are the
    imagined ones.
    """

    missing: int
    missing_se: float
    p_none_missing: float | None
    side: str
    pooled: Pooled
    estimates: tuple[float, ...]
    variances: tuple[float, ...]
    converged: bool
    notes: tuple[str, ...]


def trim_and_fill(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    estimator: str = "L0",
    side: str | None = None,
    tau2_method: str | None = "REML",
    interval: str = "knapp_hartung",
    labels: Sequence[str] | None = None,
    level: float = 0.95,
) -> Filled:
    """Trim the extreme results of the fuller side, and fill in their mirror images.

    `side` is where results are thought to be missing; without it, the side is that opposite to where the
    small studies lie. `tau2_method` None uses the common-effect model throughout.

    Raises:
        NumberProblem: unusable figures, fewer than three results, or an unknown estimator or side.
    """
    if estimator not in ("L0", "R0", "Q0"):
        raise NumberProblem(f"No estimator is called {estimator!r}.", hint="Choose L0, R0 or Q0.")
    if side not in (None, "left", "right"):
        raise NumberProblem(f"No side is called {side!r}.", hint='Choose "left" or "right".')
    y, v, _ = check_results(estimates, variances, labels)
    if y.size < 3:
        raise NumberProblem("Trim-and-fill needs at least three results.")
    side = side or _find_side(y, v, tau2_method)
    sign = -1.0 if side == "right" else 1.0
    order = np.argsort(sign * y, kind="stable")
    sorted_y, sorted_v = sign * y[order], v[order]
    k, missing, seen, centre, se = y.size, 0, set[int](), 0.0, 0.0
    converged = False
    while missing not in seen and missing < k - 1:
        seen.add(missing)
        trimmed = slice(0, k - missing)
        centre = pool(
            sorted_y[trimmed], sorted_v[trimmed], tau2_method=tau2_method, interval="wald", level=level
        ).estimate
        missing_now, se = _count_missing(sorted_y - centre, estimator)
        converged = missing_now == missing
        missing = missing_now
    filled_y = sign * (2.0 * centre - sorted_y[k - missing :])
    filled_v = sorted_v[k - missing :]
    pooled = pool(
        np.append(y, filled_y),
        np.append(v, filled_v),
        tau2_method=tau2_method,
        interval=interval,
        level=level,
    )
    notes = ["The imagined results are not evidence; small studies can differ for other reasons."]
    if not converged:
        notes.append("The number of missing results kept changing; read this look with more care still.")
    return Filled(
        missing=missing,
        missing_se=se,
        p_none_missing=0.5 ** (missing + 1) if estimator == "R0" else None,
        side=side,
        pooled=pooled,
        estimates=tuple(filled_y.tolist()),
        variances=tuple(filled_v.tolist()),
        converged=converged,
        notes=tuple(notes),
    )


def _find_side(y: Array, v: Array, tau2_method: str | None) -> str:
    slope = regress_on_precision(y, v, tau2_method=tau2_method).slope
    if slope is None:
        raise NumberProblem(
            "All results are equally precise, so no side can be found.", hint="Name the side yourself."
        )
    return "right" if slope < 0.0 else "left"


def _count_missing(centred: Array, estimator: str) -> tuple[int, float]:
    """Return the estimated number of missing results on the left and its standard error (Duval & Tweedie
    2000).
    """
    k = centred.size
    order = np.argsort(np.abs(centred), kind="stable")
    ranks = np.empty(k)
    ranks[order] = np.arange(1, k + 1)
    if estimator == "R0":
        below = ranks[centred < 0.0]
        raw = k - float(below.max(initial=0.0)) - 1.0
        return max(0, round(raw)), math.sqrt(2.0 * max(0.0, raw) + 2.0)
    s = float(ranks[centred > 0.0].sum())
    if estimator == "L0":
        raw = (4.0 * s - k * (k + 1)) / (2.0 * k - 1.0)
    else:
        inner = 2.0 * k**2 - 4.0 * s + 0.25
        if inner < 0.0:
            raise NumberProblem("The estimator Q0 does not exist for these results.", hint="Use L0.")
        raw = k - 0.5 - math.sqrt(inner)
    variance = (
        k * (k + 1) * (2 * k + 1)
        + 10.0 * raw**3
        + 27.0 * raw**2
        + 17.0 * raw
        - 18.0 * k * raw**2
        - 18.0 * k * raw
        + 6.0 * k**2 * raw
    ) / 24.0
    scale = 4.0 / (2.0 * k - 1.0)
    if estimator == "Q0":
        scale = 2.0 / math.sqrt((k - 0.5) ** 2 - raw * (2.0 * k - raw - 1.0))
    return max(0, round(raw)), math.sqrt(max(variance, 0.0)) * scale
