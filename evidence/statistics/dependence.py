"""How results of one study hang together: covariance from correlations and from shared arms, and aggregation.

Sources: Gleser & Olkin 2009 (shared control, two endpoints); Borenstein et al. 2009, chapter 24 (composite of
correlated results).
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.blocks import Rows
from evidence.statistics.heterogeneity import Array
from evidence.statistics.pooling import check_results


@dataclass(frozen=True, slots=True)
class Clusters:
    """Results grouped by study, in order of first appearance; `rows` are positions in the input."""

    names: tuple[str, ...]
    rows: tuple[Rows, ...]

    @property
    def largest(self) -> int:
        return max(members.size for members in self.rows)


@dataclass(frozen=True, slots=True)
class Composite:
    """One result a study, made of all its results."""

    names: tuple[str, ...]
    estimates: tuple[float, ...]
    variances: tuple[float, ...]


def group_rows(ids: Sequence[Hashable]) -> Clusters:
    """Group positions by study id."""
    members: dict[Hashable, list[int]] = {}
    for position, name in enumerate(ids):
        members.setdefault(name, []).append(position)
    return Clusters(
        tuple(str(name) for name in members),
        tuple(np.array(rows, dtype=np.intp) for rows in members.values()),
    )


def correlate(variances: Array, clusters: Clusters, rho: float) -> list[Array]:
    """Covariance blocks with one correlation between all results of a study: cov = rho sqrt(v_a v_b).

    Raises:
        NumberProblem: rho is not a correlation, or makes a block not positive definite.
    """
    if not -1.0 <= rho < 1.0:
        raise NumberProblem(
            f"The correlation between results of one study cannot be {rho:g}.",
            hint="Give a number from 0 to below 1.",
        )
    blocks = []
    for rows in clusters.rows:
        correlation = np.full((rows.size, rows.size), rho)
        np.fill_diagonal(correlation, 1.0)
        blocks.append(scale_correlation(correlation, variances[rows]))
    for name, block in zip(clusters.names, blocks, strict=True):
        check_covariance(block, name)
    return blocks


def scale_correlation(correlation: Array, variances: Array) -> Array:
    """Turn a correlation matrix into a covariance matrix with the given variances."""
    roots = np.sqrt(variances)
    return np.asarray(correlation * np.outer(roots, roots), dtype=np.float64)


def correlate_comparisons(
    first: Sequence[Hashable], second: Sequence[Hashable], n_first: ArrayLike, n_second: ArrayLike
) -> Array:
    """Correlation of comparisons of one study that share arms (each is `first` minus `second`, with arm
    sizes).

    Each arm contributes variance 1/n: two comparisons with one control arm correlate by
    sqrt((1/n2)/(1/n1a + 1/n2) * (1/n2)/(1/n1b + 1/n2)); an arm that is first in one and second in the other
    counts negatively.
    """
    inverse_1 = 1.0 / np.asarray(n_first, dtype=np.float64)
    inverse_2 = 1.0 / np.asarray(n_second, dtype=np.float64)

    def shared(a: Sequence[Hashable], b: Sequence[Hashable], wa: Array, wb: Array) -> Array:
        same = np.array([[left == right for right in b] for left in a], dtype=np.float64)
        return np.asarray(same * np.sqrt(np.outer(wa, wb)), dtype=np.float64)

    overlap = shared(first, first, inverse_1, inverse_1) + shared(second, second, inverse_2, inverse_2)
    overlap -= shared(first, second, inverse_1, inverse_2) + shared(second, first, inverse_2, inverse_1)
    total = np.sqrt(inverse_1 + inverse_2)
    return np.asarray(overlap / np.outer(total, total), dtype=np.float64)


def covary_shared_control(estimates: Array, n_control: float, n_total: float) -> Array:
    """Covariances of SMDs with one control arm (Gleser & Olkin 2009, eq. 19.19): 1/n_c + d_a d_b/(2N);
    diagonal not valid.
    """
    return np.asarray(1.0 / n_control + np.outer(estimates, estimates) / (2.0 * n_total), dtype=np.float64)


def covary_endpoints(estimates: Array, r: float, n1: float, n2: float) -> Array:
    """Covariances of SMDs of outcomes that correlate r in the same people (Gleser & Olkin, 19.27)."""
    spread = 1.0 / n1 + 1.0 / n2
    return np.asarray(
        spread * r + np.outer(estimates, estimates) * r**2 / (2.0 * (n1 + n2)), dtype=np.float64
    )


def check_covariance(matrix: Array, name: str = "") -> None:
    """Accept a symmetric positive definite covariance matrix.

    Raises:
        NumberProblem: it is none; the largest implied correlation is named.
    """
    where = name or None
    if not np.isfinite(matrix).all():
        raise NumberProblem("A covariance is missing or not a number.", where=where)
    diagonal = np.diag(matrix)
    if (diagonal <= 0.0).any():
        raise NumberProblem("A variance is not above 0.", where=where, hint="Check the figure.")
    if not np.allclose(matrix, matrix.T, rtol=1e-8, atol=0.0):
        raise NumberProblem("The covariance matrix is not symmetric.", where=where)
    correlation = matrix / np.sqrt(np.outer(diagonal, diagonal))
    smallest = float(np.linalg.eigvalsh(correlation)[0])
    if smallest > 1e-10:
        return
    off = np.abs(correlation - np.diag(np.diag(correlation)))
    raise NumberProblem(
        f"The covariance matrix is not positive definite: it implies correlations up to {off.max():.3g}.",
        where=where,
        hint="Correlations must lie below 1 and fit together; check them or the assumed correlation.",
    )


def split_covariance(matrix: ArrayLike, clusters: Clusters, k: int) -> list[Array]:
    """Cut a full k x k covariance matrix into the blocks of the studies.

    Raises:
        NumberProblem: wrong shape, covariances between studies, or a block that is not positive definite.
    """
    full = np.asarray(matrix, dtype=np.float64)
    if full.shape != (k, k):
        raise NumberProblem(f"For {k} results the covariance matrix must be {k} by {k}, not {full.shape}.")
    blocks, inside = [], 0
    for name, rows in zip(clusters.names, clusters.rows, strict=True):
        block = full[np.ix_(rows, rows)]
        check_covariance(block, f"study {name}")
        inside += int(np.count_nonzero(block))
        blocks.append(block)
    if inside != int(np.count_nonzero(full)):
        raise NumberProblem(
            "The covariance matrix links results of different studies.",
            hint="Give such results the same study id.",
        )
    return blocks


def aggregate(
    estimates: ArrayLike,
    variances: ArrayLike,
    study_ids: Sequence[Hashable],
    *,
    rho: float,
    weighting: str = "inverse",
) -> Composite:
    """Combine the results of each study into one, given the correlation between them.

    "inverse" weighs by the inverse covariance, 1/(1'V^-1 1); "mean" takes the plain mean, 1'V1/n^2. With a
    high rho and unequal variances the inverse weights can turn negative; the plain mean never does.

    Raises:
        NumberProblem: unusable figures or correlation.
    """
    y, v, _ = check_results(estimates, variances, [str(one) for one in study_ids])
    clusters = group_rows(study_ids)
    return aggregate_blocks(y, correlate(v, clusters, rho), clusters, weighting)


def aggregate_blocks(
    y: Array, blocks: Sequence[Array], clusters: Clusters, weighting: str = "inverse"
) -> Composite:
    """As `aggregate`, with the covariance of every study given."""
    centres, spreads = [], []
    for rows, block in zip(clusters.rows, blocks, strict=True):
        if weighting == "mean":
            centres.append(float(y[rows].mean()))
            spreads.append(float(block.sum()) / rows.size**2)
        else:
            solved = np.linalg.solve(block, np.column_stack([np.ones(rows.size), y[rows]]))
            total = float(solved[:, 0].sum())
            centres.append(float(solved[:, 1].sum()) / total)
            spreads.append(1.0 / total)
    return Composite(clusters.names, tuple(centres), tuple(spreads))
