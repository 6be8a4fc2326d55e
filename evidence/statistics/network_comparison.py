"""Many conditions at once: every comparison from all direct and indirect evidence, and a ladder with its
uncertainty.

One linear model over all studies: generalised least squares with the covariance inside each study, and one
between-study variance tau^2 whose effects inside a study correlate 0.5 (tau^2 (I + J)/2). Sources: Lu & Ades
2006 and White et al. 2012 (model); Jackson et al. 2012 (moment estimator); Ruecker & Schwarzer 2015
(P-scores); Jackson et al. 2017 (share of the information that each study carries).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.blocks import (
    BlockFit,
    BlockModel,
    build_model,
    expected_slopes,
    fit_blocks,
    maximise,
)
from evidence.statistics.heterogeneity import Array, i2_from_q
from evidence.statistics.network import NetworkStudy, find_look_alikes, sort_names, split_parts
from evidence.statistics.quantiles import (
    check_level,
    chi2_tail,
    normal_quantile,
    normal_two_sided,
    t_quantile,
)

METHODS = ("REML", "ML", "DL", "common")


@dataclass(frozen=True, slots=True)
class NetworkEffect:
    """First minus second, from all evidence. `k_direct` studies compare them directly."""

    first: str
    second: str
    estimate: float
    se: float
    low: float
    high: float
    p: float
    prediction_low: float | None
    prediction_high: float | None
    k_direct: int


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a condition stands: P-score (0 to 1), and the rank (1 is best) with its interval from simulation."""

    node: str
    p_score: float
    mean_rank: float
    rank_low: int
    rank_high: int


@dataclass(frozen=True, slots=True)
class Network:
    """One connected part. Matrices are row minus column, in the order of `nodes`.

    `contributions` (studies x comparisons in the order of `pairs`) are shares of the information on each
    comparison; every column sums to 1. tau^2 is in squared units of the effect.
    """

    nodes: tuple[str, ...]
    studies: tuple[NetworkStudy, ...]
    estimates: Array
    ses: Array
    level: float
    tau2_method: str
    tau2: float
    q: float
    q_df: int
    q_p: float
    i2: float | None
    small_is_better: bool
    standings: tuple[Standing, ...]
    pairs: tuple[tuple[str, str], ...]
    contributions: Array
    counts: Array
    converged: bool
    notes: tuple[str, ...]

    def effect(self, first: str, second: str) -> NetworkEffect:
        """First minus second, with confidence and prediction intervals (t with the df of Q for the latter).

        Raises:
            NumberProblem: a condition that is not in this part.
        """
        for node in (first, second):
            if node not in self.nodes:
                raise NumberProblem(f"{node} is not among the conditions compared here.")
        a, b = self.nodes.index(first), self.nodes.index(second)
        estimate, se = float(self.estimates[a, b]), float(self.ses[a, b])
        upper = check_level(self.level)
        width = normal_quantile(upper) * se
        low = high = None
        if self.q_df >= 1 and a != b:
            reach = t_quantile(upper, self.q_df) * float(np.hypot(se, np.sqrt(self.tau2)))
            low, high = estimate - reach, estimate + reach
        return NetworkEffect(
            first,
            second,
            estimate,
            se,
            estimate - width,
            estimate + width,
            normal_two_sided(estimate / se) if se > 0.0 else 1.0,
            low,
            high,
            int(self.counts[a, b]),
        )


@dataclass(frozen=True, slots=True)
class NetworkComparison:
    """All connected parts, largest first. Conditions of different parts are never compared; `notes` name the
    gap.
    """

    parts: tuple[Network, ...]
    notes: tuple[str, ...]

    def effect(self, first: str, second: str) -> NetworkEffect:
        """First minus second.

        Raises:
            NumberProblem: they are not connected, or unknown.
        """
        for part in self.parts:
            if first in part.nodes and second in part.nodes:
                return part.effect(first, second)
        known = {node for part in self.parts for node in part.nodes}
        missing = [node for node in (first, second) if node not in known]
        if missing:
            raise NumberProblem(f"{missing[0]} is not among the conditions compared here.")
        raise NumberProblem(
            f"No study links {first} with {second}, not even by way of other conditions.",
            hint="They cannot be compared until a study connects the two parts.",
        )


def compare_network(
    studies: Sequence[NetworkStudy],
    *,
    tau2_method: str = "REML",
    tau2: float | None = None,
    small_is_better: bool = False,
    level: float = 0.95,
    draws: int = 10_000,
    seed: int = 1,
) -> NetworkComparison:
    """Compare all conditions of all studies, each connected part by itself.

    Args:
        studies: from `from_arms`, `from_contrasts` or `read_contrasts`; every study once.
        tau2_method: REML, ML, DL (generalised moments) or "common" (no between-study variance).
        tau2: a value to use instead of estimating it, for sensitivity looks.
        small_is_better: the direction of "best" for P-scores and ranks.
        draws, seed: of the simulation behind the rank intervals.

    Raises:
        NumberProblem: no study, a study twice, or an unknown method.
    """
    if tau2_method not in METHODS:
        raise NumberProblem(
            f"No method is called {tau2_method!r}.", hint=f"Choose one of {', '.join(METHODS)}."
        )
    if tau2 is not None and not 0.0 <= tau2 < float("inf"):
        raise NumberProblem(f"A between-study variance cannot be {tau2:g}.")
    check_level(level)
    if not studies:
        raise NumberProblem("There is no study to compare.", hint="Give at least one.")
    twice = [name for name, count in Counter(study.name for study in studies).items() if count > 1]
    if twice:
        raise NumberProblem(
            "The study stands twice.", where=f"study {twice[0]}", hint="Give all its comparisons together."
        )
    parts = [
        _compare_part([studies[i] for i in part], tau2_method, tau2, small_is_better, level, draws, seed)
        for part in split_parts(studies)
    ]
    parts.sort(key=lambda part: -len(part.nodes))
    notes = [
        f"The studies {a!r} and {b!r} have nearly the same name: are they one?"
        for a, b in find_look_alikes(study.name for study in studies)
    ]
    if len(parts) > 1:
        groups = "; ".join(f"({n}) {', '.join(part.nodes)}" for n, part in enumerate(parts, start=1))
        notes.append(
            f"The evidence falls into {len(parts)} parts that no study connects: {groups}. "
            "They are ranked apart and cannot be compared with each other."
        )
    return NetworkComparison(tuple(parts), tuple(notes))


def list_nodes(studies: Sequence[NetworkStudy]) -> tuple[str, ...]:
    """All conditions in order of their names."""
    return sort_names(arm for study in studies for arm in study.arms)


def build_network_model(studies: Sequence[NetworkStudy], nodes: Sequence[str]) -> BlockModel:
    """The model with the first node as reference."""
    y = np.concatenate([study.effects for study in studies])
    rows, parts, start = [], [], 0
    for study in studies:
        size = study.effects.size
        rows.append(np.arange(start, start + size))
        parts.append((np.eye(size) + np.ones((size, size))) / 2.0)
        start += size
    x = build_contrast_rows(studies, nodes)[:, 1:]
    return build_model(y, x, rows, [study.covariance for study in studies], [parts])


def build_contrast_rows(studies: Sequence[NetworkStudy], nodes: Sequence[str]) -> Array:
    """One row per effect: +1 for its condition, -1 for the first arm of its study; one column per node."""
    index = {node: i for i, node in enumerate(nodes)}
    x = np.zeros((sum(study.effects.size for study in studies), len(nodes)))
    row = 0
    for study in studies:
        for arm in study.arms[1:]:
            x[row, index[arm]] = 1.0
            x[row, index[study.arms[0]]] = -1.0
            row += 1
    return x


def estimate_network_tau2(model: BlockModel, method: str) -> tuple[float, bool]:
    """tau^2 by REML, ML or generalised moments; 0 when no degrees of freedom are left."""
    df = model.k - model.p
    if method == "common" or df < 1:
        return 0.0, True
    flat = fit_blocks(model, np.zeros(1))
    moment = max(0.0, (flat.q - df) / float(expected_slopes(model, np.zeros(1))[0]))
    if method == "DL":
        return moment, True
    best = maximise(model, np.array([moment]), restricted=method == "REML")
    return float(best.fit.theta[0]), best.converged


def count_direct(studies: Sequence[NetworkStudy], nodes: Sequence[str]) -> Array:
    """How many studies contain both conditions (nodes x nodes)."""
    index = {node: i for i, node in enumerate(nodes)}
    counts = np.zeros((len(nodes), len(nodes)))
    for study in studies:
        places = [index[arm] for arm in study.arms]
        counts[np.ix_(places, places)] += 1.0
    np.fill_diagonal(counts, 0.0)
    return counts


def score_nodes(estimates: Array, ses: Array, *, small_is_better: bool) -> Array:
    """P-scores: the mean over the other nodes of the chance (one-sided) of being better than they are."""
    from scipy.special import ndtr

    sign = -1.0 if small_is_better else 1.0
    size = estimates.shape[0]
    if size < 2:
        return np.ones(size)
    z = sign * estimates / np.where(ses > 0.0, ses, 1.0)
    chance = np.asarray(ndtr(z), dtype=np.float64)
    np.fill_diagonal(chance, 0.0)
    return np.asarray(chance.sum(axis=1) / (size - 1), dtype=np.float64)


def _compare_part(
    studies: Sequence[NetworkStudy],
    method: str,
    given: float | None,
    small_is_better: bool,
    level: float,
    draws: int,
    seed: int,
) -> Network:
    nodes = list_nodes(studies)
    model = build_network_model(studies, nodes)
    tau2, converged = estimate_network_tau2(model, method) if given is None else (given, True)
    flat = fit_blocks(model, np.zeros(1))
    fit = fit_blocks(model, np.array([tau2])) if tau2 > 0.0 else flat
    beta = np.concatenate([[0.0], fit.beta])
    covariance = np.zeros((len(nodes), len(nodes)))
    covariance[1:, 1:] = fit.covariance
    own = np.diag(covariance)
    ses = np.sqrt(np.maximum(own[:, None] + own[None, :] - 2.0 * covariance, 0.0))
    np.fill_diagonal(ses, 0.0)
    estimates = beta[:, None] - beta[None, :]
    df = model.k - model.p
    counts = count_direct(studies, nodes)
    pairs = tuple((a, b) for i, a in enumerate(nodes) for b in nodes[i + 1 :])
    scores = score_nodes(estimates, ses, small_is_better=small_is_better)
    ranks = _simulate_ranks(beta, fit.covariance, small_is_better, draws, seed)
    tail = (1.0 - level) / 2.0
    low, high = np.quantile(ranks, [tail, 1.0 - tail], axis=0, method="inverted_cdf")
    return Network(
        nodes=nodes,
        studies=tuple(studies),
        estimates=estimates,
        ses=ses,
        level=level,
        tau2_method=method if given is None else "given",
        tau2=tau2,
        q=flat.q,
        q_df=df,
        q_p=chi2_tail(flat.q, df),
        i2=i2_from_q(flat.q, df) if df > 0 else None,
        small_is_better=small_is_better,
        standings=tuple(
            Standing(node, float(scores[i]), float(ranks[:, i].mean()), int(low[i]), int(high[i]))
            for i, node in enumerate(nodes)
        ),
        pairs=pairs,
        contributions=_share_information(studies, nodes, fit, tau2, pairs),
        counts=counts,
        converged=converged,
        notes=_note_shape(nodes, counts, df, converged),
    )


def _simulate_ranks(beta: Array, covariance: Array, small_is_better: bool, draws: int, seed: int) -> Array:
    """Ranks (draws, nodes) of effects drawn from their joint normal distribution; rank 1 is best."""
    normal = np.random.default_rng(seed).standard_normal((draws, covariance.shape[0]))
    drawn = np.zeros((draws, beta.size))
    drawn[:, 1:] = beta[1:] + normal @ np.linalg.cholesky(covariance).T
    order = np.argsort(drawn if small_is_better else -drawn, axis=1)
    ranks = np.empty_like(drawn)
    np.put_along_axis(ranks, order, np.arange(1, beta.size + 1, dtype=np.float64)[None, :], axis=1)
    return ranks


def _share_information(
    studies: Sequence[NetworkStudy],
    nodes: Sequence[str],
    fit: BlockFit,
    tau2: float,
    pairs: Sequence[tuple[str, str]],
) -> Array:
    """c'C (X_j'M_j^-1 X_j) C c / c'Cc for each study j and comparison c: the shares of a comparison sum to 1."""
    index = {node: i for i, node in enumerate(nodes)}
    x = build_contrast_rows(studies, nodes)[:, 1:]
    full = np.zeros((len(nodes), len(nodes) - 1))
    full[1:] = fit.covariance
    first = [index[a] for a, _ in pairs]
    second = [index[b] for _, b in pairs]
    reach = full[first] - full[second]  # (pairs, p): C c
    variances = np.einsum("cp,cp->c", reach, _contrast_columns(first, second, len(nodes)))
    shares = np.empty((len(studies), len(pairs)))
    start = 0
    for j, study in enumerate(studies):
        size = study.effects.size
        total = study.covariance + tau2 * (np.eye(size) + np.ones((size, size))) / 2.0
        pulled = np.linalg.solve(np.linalg.cholesky(total), x[start : start + size] @ reach.T)
        shares[j] = (pulled * pulled).sum(axis=0) / variances
        start += size
    return shares


def _contrast_columns(first: Sequence[int], second: Sequence[int], size: int) -> Array:
    eye = np.eye(size)[:, 1:]
    return np.asarray(eye[list(first)] - eye[list(second)], dtype=np.float64)


def _note_shape(nodes: Sequence[str], counts: Array, df: int, converged: bool) -> tuple[str, ...]:
    notes = []
    if df < 1:
        notes.append("No comparison is made twice, so heterogeneity and consistency cannot be judged.")
    linked = counts > 0.0
    hubs = [nodes[i] for i in range(len(nodes)) if linked[i].sum() == len(nodes) - 1]
    if len(nodes) > 2 and linked.sum() == 2 * (len(nodes) - 1):
        through = f" All indirect comparisons go through {hubs[0]}." if hubs else ""
        notes.append(
            "There is no closed loop, so direct and indirect evidence cannot be checked against each other."
            + through
        )
    if not converged:
        notes.append("The search for the between-study variance did not converge.")
    return tuple(notes)
