"""Several conditions of one study at once: their joint covariance, and averages of contrasts between them.

Two rows and two pulldowns done by twelve people are one comparison of rows with pulldowns, not four: the four
contrasts share people and conditions. Here all log means (or means) of a study are one vector with one
covariance matrix, and any weighted contrast of them has the variance w'Vw (Lajeunesse 2011, for log means
by the delta method).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evidence.errors import NumberProblem
from evidence.statistics.correlations import Correlation, as_correlation
from evidence.statistics.effect import (
    Assumption,
    Effect,
    Metric,
    Step,
    Summary,
    derive,
    require_positive_means,
)

Floats = NDArray[np.float64]
_LAJEUNESSE = "Lajeunesse 2011 (multivariate delta method)"
_CONTRAST = "variance of a linear combination, w'Vw"


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """The conditions of one study on one scale: k estimates and their k × k covariance.

    `metric` is the metric that a contrast of two of them has.
    """

    summaries: tuple[Summary, ...]
    estimates: Floats
    covariance: Floats
    metric: Metric
    same_people: bool
    steps: tuple[Step, ...]
    assumptions: tuple[Assumption, ...]

    def contrast(self, weights: ArrayLike) -> Effect:
        """Any weighted contrast; the k weights must add up to 0."""
        w = np.asarray(weights, dtype=float)
        if w.shape != self.estimates.shape:
            raise NumberProblem(f"{w.size} weights were given for {self.estimates.size} conditions.")
        if not np.isfinite(w).all() or abs(w.sum()) > 1e-9 or not w.any():
            raise NumberProblem(
                "The weights of a comparison must add up to 0, and not all be 0.",
                hint="Weights of A add up to 1, those of B to −1.",
            )
        estimate, variance = float(w @ self.estimates), float(w @ self.covariance @ w)
        shown = ", ".join(f"{value:g}" for value in w)
        steps = (
            *self.steps,
            derive("contrast of conditions", "w'y", "linear combination", estimate, weights=shown),
            derive("sampling variance", "w'Vw", _CONTRAST, variance, weights=shown),
        )
        counts = [self.summaries[i].n for i in np.flatnonzero(w)]
        people = counts[0] if self.same_people else sum(counts)
        return Effect(self.metric, estimate, variance, people, None, steps, self.assumptions)

    def compare(self, a: int, b: int) -> Effect:
        """Condition number `a` against condition number `b` (from 0)."""
        return self.combine_contrasts([(a, b)])

    def combine_contrasts(
        self, pairs: Sequence[tuple[int, int]], weights: Sequence[float] | None = None
    ) -> Effect:
        """The average of several A-over-B contrasts as one effect; equal weights unless given.

        `pairs` holds positions (A, B) from 0. Contrasts that share people or conditions are not counted
        twice: the variance comes from the joint covariance.
        """
        if not pairs:
            raise NumberProblem(
                "There is no contrast to combine.", hint="Give at least one pair of conditions."
            )
        shares = np.full(len(pairs), 1.0) if weights is None else np.asarray(weights, dtype=float)
        if shares.shape != (len(pairs),) or not np.isfinite(shares).all() or shares.sum() <= 0:
            raise NumberProblem("Each contrast needs one weight, and the weights must add up to more than 0.")
        total = np.zeros(len(self.summaries))
        for (a, b), share in zip(pairs, shares / shares.sum(), strict=True):
            if a == b or not {a, b} <= set(range(len(total))):
                raise NumberProblem(
                    f"The pair ({a}, {b}) does not name two conditions out of {len(total)}.",
                    hint="Conditions are counted from 0.",
                )
            total[a] += share
            total[b] -= share
        return self.contrast(total)

    def contrast_covariance(self, pairs: Sequence[tuple[int, int]]) -> tuple[Floats, Floats]:
        """The separate contrasts A − B and their joint covariance, for models that take several per study."""
        design = np.zeros((len(pairs), len(self.summaries)))
        for row, (a, b) in enumerate(pairs):
            design[row, a], design[row, b] = 1.0, -1.0
        return design @ self.estimates, design @ self.covariance @ design.T


def join_same_people(
    summaries: Sequence[Summary],
    r: Correlation | float | ArrayLike,
    *,
    metric: Metric = Metric.LOG_RATIO_OF_MEANS,
) -> Conditions:
    """Conditions that the same people did.

    `r` is one correlation for all pairs or a k × k matrix. `metric` is the log ratio of means (estimates
    are log means, covariance r·SDi·SDj/(n·meani·meanj)) or the mean difference (means, r·SDi·SDj/n).
    Raises NumberProblem for different n, an impossible correlation matrix, or means at or below 0 with logs.
    """
    _require_some(summaries)
    n = summaries[0].n
    if any(summary.n != n for summary in summaries):
        counts = ", ".join(str(summary.n) for summary in summaries)
        raise NumberProblem(
            f"The conditions have {counts} people; the same people must stand behind all of them.",
            hint="Use the number who did all conditions, or treat them as different groups.",
        )
    matrix, assumptions = _spread_correlation(r, len(summaries))
    estimates, scales = _scale(summaries, metric)
    covariance = matrix * np.outer(scales, scales) / n
    link = "given matrix" if not assumptions and np.ndim(_as_number(r)) == 2 else f"{matrix[0, -1]:g}"
    formula = "r·SDi·SDj/(n·meani·meanj)" if metric is Metric.LOG_RATIO_OF_MEANS else "r·SDi·SDj/n"
    step = derive("covariance of the conditions", formula, _LAJEUNESSE, float(covariance[0, -1]), n=n, r=link)
    return Conditions(tuple(summaries), estimates, covariance, metric, True, (step,), assumptions)


def join_different_people(
    summaries: Sequence[Summary], *, metric: Metric = Metric.LOG_RATIO_OF_MEANS
) -> Conditions:
    """Arms of different people: the covariance is diagonal, and contrasts against one control share that
    control.

    Two contrasts against the same arm C get the covariance SDC²/(nC·meanC²) (Gleser & Olkin 2009).
    """
    _require_some(summaries)
    estimates, scales = _scale(summaries, metric)
    variances = scales**2 / np.array([summary.n for summary in summaries])
    step = derive(
        "covariance of the arms",
        "diagonal; shared arms share their variance",
        "Gleser & Olkin 2009",
        float(variances[-1]),
    )
    return Conditions(tuple(summaries), estimates, np.diag(variances), metric, False, (step,), ())


def _scale(summaries: Sequence[Summary], metric: Metric) -> tuple[Floats, Floats]:
    """Estimates and the SDs on the scale of the estimates (the CV for log means)."""
    means = np.array([summary.mean for summary in summaries])
    sds = np.array([summary.sd for summary in summaries])
    if metric is Metric.MEAN_DIFFERENCE:
        return means, sds
    if metric is Metric.LOG_RATIO_OF_MEANS:
        require_positive_means(*summaries)
        return np.log(means), sds / means
    raise NumberProblem(
        f"Conditions cannot be joined on the scale {metric.value.replace('_', ' ')}.",
        hint="Use the log ratio of means or the mean difference.",
    )


def _spread_correlation(r: Correlation | float | ArrayLike, k: int) -> tuple[Floats, tuple[Assumption, ...]]:
    number = _as_number(r)
    if np.ndim(number) == 2:
        matrix = np.asarray(number, dtype=float)
        if matrix.shape != (k, k) or not np.allclose(matrix, matrix.T) or not np.allclose(np.diag(matrix), 1):
            raise NumberProblem(
                f"{k} conditions need a symmetric {k} by {k} table of correlations, 1 on its diagonal."
            )
        assumptions: tuple[Assumption, ...] = ()
    else:
        link = r if isinstance(r, Correlation) else as_correlation(float(np.asarray(number)))
        matrix = np.full((k, k), link.value)
        np.fill_diagonal(matrix, 1.0)
        assumptions = link.assumptions()
    if np.linalg.eigvalsh(matrix)[0] < -1e-10:
        raise NumberProblem(
            "These correlations cannot all hold at once.",
            hint="Check the table of correlations; with many conditions r cannot be far below 0.",
        )
    return matrix, assumptions


def _as_number(r: Correlation | float | ArrayLike) -> ArrayLike:
    return r.value if isinstance(r, Correlation) else r


def _require_some(summaries: Sequence[Summary]) -> None:
    if len(summaries) < 2:
        raise NumberProblem("A comparison needs at least two conditions.", hint="Add the other condition.")
