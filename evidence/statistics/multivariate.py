"""Several outcomes at once: their effects may correlate across studies as well as within them.

Model: y = X beta + u + e with u ~ N(0, T) across the outcomes of a study, T unstructured. Source: Berkey et
al. 1998; Jackson, Riley & White 2011.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.blocks import Maximum, build_model, fit_blocks, maximise
from evidence.statistics.dependence import group_rows
from evidence.statistics.heterogeneity import Array
from evidence.statistics.quantiles import chi2_tail


@dataclass(frozen=True, slots=True)
class Multivariate:
    """Coefficients, and T as variances `tau2` (per outcome) and correlations `rho` (pairs in order of
    `outcomes`).
    """

    outcomes: tuple[str, ...]
    beta: Array
    covariance: Array
    tau2: tuple[float, ...]
    rho: tuple[float | None, ...]
    q: float
    q_df: int
    q_p: float
    log_likelihood: float
    aic: float
    bic: float
    converged: bool
    notes: tuple[str, ...]


def fit_multivariate(
    y: Array,
    v: Sequence[Array],
    study_ids: Sequence[Hashable],
    outcomes: Sequence[Hashable],
    *,
    x: Array | None = None,
    random: bool = True,
    restricted: bool = True,
) -> Multivariate:
    """Fit all outcomes together; without `x` one mean per outcome. `random` False leaves T out (common
    effect).

    Args:
        y: k effects; `study_ids` and `outcomes` say whose and of what.
        v: sampling covariance blocks, one per study in order of first appearance.

    Raises:
        NumberProblem: a study with the same outcome twice, or unusable covariance.
    """
    clusters = group_rows(study_ids)
    names = sorted({str(one) for one in outcomes})
    code = np.array([names.index(str(one)) for one in outcomes])
    for name, rows in zip(clusters.names, clusters.rows, strict=True):
        if np.unique(code[rows]).size < rows.size:
            raise NumberProblem(
                "One outcome stands twice.", where=f"study {name}", hint="Use a nested model."
            )
    design = (code[:, None] == np.arange(len(names))).astype(np.float64) if x is None else x
    pairs = list(combinations(range(len(names)), 2))
    parts = [
        [np.diag((code[rows] == one).astype(np.float64)) for rows in clusters.rows]
        for one in range(len(names))
    ]
    parts += [[_link(code[rows], a, b) for rows in clusters.rows] for a, b in pairs]
    model = build_model(y, design, clusters.rows, v, parts if random else [])
    if random:
        spread = [max(float(y[code == one].var()), 1e-6) for one in range(len(names))]
        start = np.array(spread + [0.0] * len(pairs))
        best = maximise(
            model,
            start,
            restricted=restricted,
            bounded=False,
            feasible=lambda theta: _is_covariance(theta, len(names), pairs),
        )
    else:
        fit = fit_blocks(model, np.zeros(0))
        best = Maximum(fit, fit.restricted_log_likelihood if restricted else fit.log_likelihood, True)
    theta = best.fit.theta
    flat = fit_blocks(model, np.zeros(model.m))
    count = best.fit.beta.size + model.m
    size = y.size - best.fit.beta.size if restricted else y.size
    tau2 = tuple(theta[: len(names)].tolist()) if random else ()
    return Multivariate(
        outcomes=tuple(names),
        beta=best.fit.beta,
        covariance=best.fit.covariance,
        tau2=tau2,
        rho=tuple(_correlation(theta, len(names), n, pair) for n, pair in enumerate(pairs)) if random else (),
        q=flat.q,
        q_df=y.size - best.fit.beta.size,
        q_p=chi2_tail(flat.q, y.size - best.fit.beta.size),
        log_likelihood=best.log_likelihood,
        aic=2.0 * count - 2.0 * best.log_likelihood,
        bic=count * float(np.log(size)) - 2.0 * best.log_likelihood,
        converged=best.converged,
        notes=()
        if best.converged
        else ("The correlation between outcomes lies at its limit: read with care.",),
    )


def _link(code: Array, a: int, b: int) -> Array:
    one, other = (code == a).astype(np.float64), (code == b).astype(np.float64)
    return np.outer(one, other) + np.outer(other, one)


def _is_covariance(theta: Array, size: int, pairs: Sequence[tuple[int, int]]) -> bool:
    matrix = np.diag(theta[:size])
    for value, (a, b) in zip(theta[size:], pairs, strict=True):
        matrix[a, b] = matrix[b, a] = value
    return bool(np.linalg.eigvalsh(matrix)[0] >= 0.0)


def _correlation(theta: Array, size: int, n: int, pair: tuple[int, int]) -> float | None:
    product = float(theta[pair[0]] * theta[pair[1]])
    return float(theta[size + n]) / float(np.sqrt(product)) if product > 0.0 else None
