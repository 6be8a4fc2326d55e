"""Trend over a graded detail (angle, load, range): a line or curve within each study, then pooled.

Levels of one study share people, so each study is fitted by generalised least squares with its own
covariance (Greenland & Longnecker 1992; for means Crippa & Orsini 2016). Nothing is said beyond the levels
that were studied.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evidence.errors import NumberProblem
from evidence.statistics.conditions import Conditions
from evidence.statistics.effect import Assumption, critical_value

Floats = NDArray[np.float64]


class Shape(StrEnum):
    """How the outcome may move with the level."""

    LINEAR = "linear"
    QUADRATIC = "quadratic"
    SPLINE = "restricted cubic"  # three knots, straight beyond the outer two


class Direction(StrEnum):
    """What may be said about a trend over the range studied."""

    RISES = "rises"
    FALLS = "falls"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A fitted curve of one study or a pool, relative to the level `origin` (where it is 0).

    `coefficients` (length p) and their `covariance` (p × p) multiply the basis of `shape`; for a line the one
    coefficient is the slope per unit of the level. `lowest` to `highest` is the range studied. Intervals use
    Student's t where `df` is set (pooled lines), else the normal distribution.
    """

    shape: Shape
    knots: tuple[float, ...]
    origin: float
    coefficients: Floats
    covariance: Floats
    lowest: float
    highest: float
    studies: int
    people: int
    q: float
    q_df: int
    df: float | None = None
    assumptions: tuple[Assumption, ...] = ()
    notes: tuple[str, ...] = ()

    def change(self, start: float, end: float, level: float = 0.95) -> tuple[float, float, float]:
        """Estimate and limits of the outcome at `end` minus at `start`; NumberProblem outside the range."""
        for value in (start, end):
            if not self.lowest <= value <= self.highest:
                raise NumberProblem(
                    f"{value:g} lies outside the levels studied ({self.lowest:g} to {self.highest:g}).",
                    hint="Nothing is known beyond them.",
                )
        rows = _basis(np.array([start, end]), self.shape, self.knots)
        step = rows[1] - rows[0]
        estimate = float(step @ self.coefficients)
        margin = critical_value(level, self.df) * float(np.sqrt(max(0.0, step @ self.covariance @ step)))
        return estimate, estimate - margin, estimate + margin

    def direction(self, level: float = 0.95) -> Direction:
        """Rises or falls only when the interval of the slope says so all over the range studied."""
        grid = np.linspace(self.lowest, self.highest, 41)
        slopes = _slopes(grid, self.shape, self.knots)
        estimates = slopes @ self.coefficients
        spread = np.sqrt(np.einsum("ij,jk,ik->i", slopes, self.covariance, slopes).clip(min=0))
        margin = critical_value(level, self.df) * spread
        if (estimates - margin > 0).all():
            return Direction.RISES
        return Direction.FALLS if (estimates + margin < 0).all() else Direction.UNCLEAR

    def nonlinearity(self) -> tuple[float, int, float] | None:
        """Wald test that the curve is a line: (χ², df, p); None for a line."""
        from scipy.special import chdtrc

        if self.shape is Shape.LINEAR:
            return None
        bend, spread = self.coefficients[1:], self.covariance[1:, 1:]
        statistic = float(bend @ np.linalg.solve(spread, bend))
        return statistic, bend.size, float(chdtrc(bend.size, statistic))


def fit_curve(
    levels: ArrayLike,
    estimates: ArrayLike,
    covariance: ArrayLike,
    *,
    shape: Shape = Shape.LINEAR,
    knots: Sequence[float] | None = None,
    people: int = 0,
    assumptions: tuple[Assumption, ...] = (),
) -> Curve:
    """Fit one study: k levels with k estimates (such as log means) and their k × k covariance.

    A line needs two different levels, a curve four. Raises NumberProblem for fewer, or a covariance that is
    not positive definite.
    """
    x, y = np.asarray(levels, dtype=float), np.asarray(estimates, dtype=float)
    v = np.asarray(covariance, dtype=float)
    if x.ndim != 1 or y.shape != x.shape or v.shape != (x.size, x.size):
        raise NumberProblem(f"{x.size} levels need as many estimates and a {x.size} by {x.size} covariance.")
    if not (np.isfinite(x).all() and np.isfinite(y).all() and np.isfinite(v).all()):
        raise NumberProblem(
            "Levels, estimates and covariance must be numbers.", hint="Leave out empty levels."
        )
    distinct = np.unique(x)
    needed = 2 if shape is Shape.LINEAR else 4
    if distinct.size < needed:
        raise NumberProblem(
            f"A {shape.value} trend needs at least {needed} different levels; there are {distinct.size}.",
            hint="Use a line, or compare the levels directly."
            if needed == 4
            else "Compare the two conditions.",
        )
    places = _place_knots(distinct, shape) if knots is None else tuple(float(knot) for knot in knots)
    design = np.column_stack([np.ones_like(x), _basis(x, shape, places)])
    try:
        factor = np.linalg.cholesky(v)
    except np.linalg.LinAlgError:
        raise NumberProblem(
            "The covariance of the levels is not positive definite.",
            hint="Check the correlation: with r = 1 nothing is left to fit.",
        ) from None
    a, b = np.linalg.solve(factor, design), np.linalg.solve(factor, y)
    spread = np.linalg.inv(a.T @ a)
    beta = spread @ a.T @ b
    residual = b - a @ beta
    return Curve(
        shape,
        places,
        float(distinct[0]),
        beta[1:],
        spread[1:, 1:],
        float(distinct[0]),
        float(distinct[-1]),
        1,
        people,
        float(residual @ residual),
        x.size - design.shape[1],
        assumptions=assumptions,
    )


def fit_conditions(levels: ArrayLike, conditions: Conditions, *, shape: Shape = Shape.LINEAR) -> Curve:
    """Fit the conditions of one study, on their own scale (a line on log means is a constant percent per unit)."""
    people = conditions.summaries[0].n
    if not conditions.same_people:
        people = sum(summary.n for summary in conditions.summaries)
    return fit_curve(
        levels,
        conditions.estimates,
        conditions.covariance,
        shape=shape,
        people=people,
        assumptions=conditions.assumptions,
    )


def pool_curves(curves: Sequence[Curve]) -> Curve:
    """Pool curves of one shape (and the same knots).

    Lines are pooled by random effects (REML, Knapp-Hartung as everywhere); curves by common-effect weights
    of their covariances, which is noted, because spread between studies is then not allowed for.
    """
    if not curves:
        raise NumberProblem("There is no trend to pool.", hint="Fit at least one study.")
    first = curves[0]
    if any(curve.shape is not first.shape or curve.knots != first.knots for curve in curves):
        raise NumberProblem(
            "Only trends of one shape with the same knots can be pooled.", hint="Fit all with the same knots."
        )
    if len(curves) == 1:
        return first
    notes: tuple[str, ...] = ()
    df: float | None = None
    if first.shape is Shape.LINEAR:
        beta, spread, q, df = _pool_lines(curves)
    else:
        weights = [np.linalg.inv(curve.covariance) for curve in curves]
        spread = np.linalg.inv(sum(weights))
        beta = spread @ sum(w @ curve.coefficients for w, curve in zip(weights, curves, strict=True))
        gaps = [curve.coefficients - beta for curve in curves]
        q = float(sum(gap @ w @ gap for gap, w in zip(gaps, weights, strict=True)))
        notes = ("The curves were pooled without allowing for spread between studies.",)
    lowest, highest = max(c.lowest for c in curves), min(c.highest for c in curves)
    if lowest >= highest:
        lowest, highest = min(c.lowest for c in curves), max(c.highest for c in curves)
        notes += ("No range of levels was studied by all; the trend joins different ranges.",)
    return Curve(
        first.shape,
        first.knots,
        lowest,
        beta,
        spread,
        lowest,
        highest,
        len(curves),
        sum(curve.people for curve in curves),
        q,
        (len(curves) - 1) * beta.size,
        df,
        tuple(dict.fromkeys(said for curve in curves for said in curve.assumptions)),
        notes,
    )


def _pool_lines(curves: Sequence[Curve]) -> tuple[Floats, Floats, float, float | None]:
    from evidence.statistics.pooling import pool

    slopes = [float(curve.coefficients[0]) for curve in curves]
    pooled = pool(slopes, [float(curve.covariance[0, 0]) for curve in curves])
    return np.array([pooled.estimate]), np.array([[pooled.se**2]]), pooled.q, pooled.df


def _place_knots(levels: Floats, shape: Shape) -> tuple[float, ...]:
    if shape is not Shape.SPLINE:
        return ()
    return tuple(float(knot) for knot in np.quantile(levels, [0.1, 0.5, 0.9]))


def _basis(x: Floats, shape: Shape, knots: tuple[float, ...]) -> Floats:
    """The columns that the coefficients multiply (Harrell 2001, eq. 2.25, for the restricted cubic)."""
    if shape is Shape.LINEAR:
        return x[:, None]
    if shape is Shape.QUADRATIC:
        return np.column_stack([x, x**2])
    a, b, c = knots
    bend = _cube(x - a) - _cube(x - b) * (c - a) / (c - b) + _cube(x - c) * (b - a) / (c - b)
    return np.column_stack([x, bend / (c - a) ** 2])


def _slopes(x: Floats, shape: Shape, knots: tuple[float, ...]) -> Floats:
    """The derivative of the basis with respect to the level."""
    if shape is Shape.LINEAR:
        return np.ones((x.size, 1))
    if shape is Shape.QUADRATIC:
        return np.column_stack([np.ones_like(x), 2 * x])
    a, b, c = knots
    parts = [3 * np.maximum(x - knot, 0) ** 2 for knot in (a, b, c)]
    bend = parts[0] - parts[1] * (c - a) / (c - b) + parts[2] * (b - a) / (c - b)
    return np.column_stack([np.ones_like(x), bend / (c - a) ** 2])


def _cube(x: Floats) -> Floats:
    cubed: Floats = np.maximum(x, 0) ** 3
    return cubed
