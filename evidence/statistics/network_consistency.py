"""Does direct evidence agree with indirect evidence? Node splitting and the decomposition of Q by design.

A design is the set of conditions of a study. Sources: Koenig, Krahn & Binder 2013 (back-calculation);
Efthimiou et al. 2019 (separating indirect from direct evidence by leaving studies out); Krahn, Binder &
Koenig 2013 (Q by design, detaching a design); Higgins et al. 2012 and Jackson et al. 2012
(design-by-treatment interaction).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evidence.statistics.blocks import BlockFit, expected_slopes, fit_blocks
from evidence.statistics.heterogeneity import Array
from evidence.statistics.network import NetworkStudy, split_parts
from evidence.statistics.network_comparison import (
    Network,
    NetworkEffect,
    build_contrast_rows,
    build_network_model,
    compare_network,
)
from evidence.statistics.quantiles import chi2_tail, normal_two_sided

# Below this share of the information, indirect evidence is a rounding error divided by itself.
ALL_DIRECT = 5e-4


@dataclass(frozen=True, slots=True)
class Split:
    """Direct against indirect evidence on first minus second; None where one of the two does not exist."""

    first: str
    second: str
    k_direct: int
    share_direct: float
    direct: float | None
    direct_se: float | None
    indirect: float | None
    indirect_se: float | None
    difference: float | None
    difference_se: float | None
    z: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class Heterogeneity:
    """One Q with its degrees of freedom; `p` is None when there are none."""

    label: str
    q: float
    df: int
    p: float | None


@dataclass(frozen=True, slots=True)
class Decomposition:
    """Q in all, within designs and between designs; by design; what is left when a design is detached; and
    the test of all interactions between design and condition under random effects, with the tau^2 from within
    designs.
    """

    total: Heterogeneity
    within: Heterogeneity
    between: Heterogeneity
    by_design: tuple[Heterogeneity, ...]
    detached: tuple[Heterogeneity, ...]
    interaction: Heterogeneity
    tau2_within: float


def pool_direct(network: Network, first: str, second: str) -> tuple[float, float, int] | None:
    """Effect, standard error and number of studies of the direct comparisons, with the tau^2 of the network."""
    found = [s.contrast(first, second) for s in network.studies if first in s.arms and second in s.arms]
    if not found:
        return None
    effects, variances = np.array(found).T
    weights = 1.0 / (variances + network.tau2)
    return float(weights @ effects) / float(weights.sum()), float(weights.sum()) ** -0.5, len(found)


def split_node(network: Network, first: str, second: str, *, refit: bool = False) -> Split:
    """Separate direct from indirect evidence on one comparison.

    By back-calculation from the network estimate or, with `refit`, by a network without the studies that
    compare the two directly (tau^2 estimated anew).
    """
    whole = network.effect(first, second)
    direct = pool_direct(network, first, second)
    if direct is None:
        return Split(first, second, 0, 0.0, None, None, whole.estimate, whole.se, None, None, None, None)
    estimate, se, k = direct
    share = (whole.se / se) ** 2
    indirect = _refit_without(network, first, second) if refit else _calculate_back(whole, estimate, se)
    if indirect is None:
        return Split(first, second, k, min(share, 1.0), estimate, se, None, None, None, None, None, None)
    difference = estimate - indirect[0]
    difference_se = float(np.hypot(se, indirect[1]))
    z = difference / difference_se
    return Split(
        first,
        second,
        k,
        share,
        estimate,
        se,
        indirect[0],
        indirect[1],
        difference,
        difference_se,
        z,
        normal_two_sided(z),
    )


def split_all(network: Network, *, refit: bool = False) -> tuple[Split, ...]:
    """All comparisons, in the order of `network.pairs`."""
    return tuple(split_node(network, first, second, refit=refit) for first, second in network.pairs)


def _calculate_back(whole: NetworkEffect, direct: float, direct_se: float) -> tuple[float, float] | None:
    estimate, se = whole.estimate, whole.se
    rest = 1.0 / se**2 - 1.0 / direct_se**2
    if rest <= ALL_DIRECT / se**2:
        return None
    return (estimate / se**2 - direct / direct_se**2) / rest, rest**-0.5


def _refit_without(network: Network, first: str, second: str) -> tuple[float, float] | None:
    left = [s for s in network.studies if not (first in s.arms and second in s.arms)]
    for part in split_parts(left):
        members = [left[i] for i in part]
        arms = {arm for study in members for arm in study.arms}
        if first in arms and second in arms:
            given = network.tau2 if network.tau2_method == "given" else None
            method = "REML" if given is not None else network.tau2_method
            again = compare_network(members, tau2_method=method, tau2=given, draws=1)
            effect = again.effect(first, second)
            return effect.estimate, effect.se
    return None


def decompose_q(network: Network) -> Decomposition:
    """Split the heterogeneity of a network by design."""
    studies, nodes = network.studies, network.nodes
    places = _place_designs(studies)
    zero = np.zeros(1)
    by_design = [_within(design, members, zero) for design, members in places.items()]
    q_within, df_within = sum(one.q for one in by_design), sum(one.df for one in by_design)
    q_between, df_between = network.q - q_within, network.q_df - df_within
    detached = []
    flat = fit_blocks(build_network_model(studies, nodes), zero)
    x = build_contrast_rows(studies, nodes)
    basis = np.linalg.qr(x[:, 1:])[0]
    for design, members in places.items():
        extra = _design_columns(members, basis, x, nodes, design)
        if extra.shape[1] == 0:
            continue
        df = df_between - extra.shape[1]
        left = max(q_between - _explain(members, extra, x[:, 1:], flat), 0.0)
        detached.append(_heterogeneity(":".join(design), left, df))
    tau2 = _estimate_within(places, q_within, df_within)
    theta = np.array([tau2])
    q_all = fit_blocks(build_network_model(studies, nodes), theta).q
    q_inside = sum(_within(design, members, theta).q for design, members in places.items())
    return Decomposition(
        total=_heterogeneity("total", network.q, network.q_df),
        within=_heterogeneity("within designs", q_within, df_within),
        between=_heterogeneity("between designs", max(q_between, 0.0), df_between),
        by_design=tuple(by_design),
        detached=tuple(detached),
        interaction=_heterogeneity("design by condition", max(q_all - q_inside, 0.0), df_between),
        tau2_within=tau2,
    )


def _heterogeneity(label: str, q: float, df: int) -> Heterogeneity:
    return Heterogeneity(label, q, df, chi2_tail(q, df) if df > 0 else None)


Design = tuple[str, ...]
Placed = list[tuple[NetworkStudy, slice]]  # studies, each with its rows among those of the whole network


def _place_designs(studies: Sequence[NetworkStudy]) -> dict[Design, Placed]:
    """The studies of each design, the designs with the fewest conditions first."""
    found: dict[Design, Placed] = {}
    start = 0
    for study in studies:
        rows = slice(start, start + study.effects.size)
        start = rows.stop
        found.setdefault(study.design, []).append((study, rows))
    return {design: found[design] for design in sorted(found, key=lambda design: (len(design), design))}


def _within(design: Design, members: Placed, theta: Array) -> Heterogeneity:
    """Heterogeneity of the studies of one design around their own mean effects."""
    if len(members) == 1:
        return Heterogeneity(":".join(design), 0.0, 0, None)
    model = build_network_model([study for study, _ in members], design)
    return _heterogeneity(":".join(design), fit_blocks(model, theta).q, model.k - model.p)


def _design_columns(members: Placed, basis: Array, x: Array, nodes: Sequence[str], design: Design) -> Array:
    """Columns that give one design effects of its own, as many as the rest of the network can tell apart.

    `basis` is an orthonormal basis of the model: a column adds something when a part of it lies outside.
    """
    rows = np.zeros(x.shape[0], dtype=bool)
    for _, own in members:
        rows[own] = True
    chosen: list[Array] = []
    for arm in design[1:]:
        column = np.where(rows, x[:, list(nodes).index(arm)], 0.0)
        outside = column
        for _ in range(2):  # twice, so that rounding does not pass for a new direction
            outside = outside - basis @ (basis.T @ outside)
        size = float(np.linalg.norm(outside))
        if size > 1e-8 * float(np.linalg.norm(column)):
            basis = np.column_stack([basis, outside / size])
            chosen.append(column)
    return np.column_stack(chosen) if chosen else np.zeros((x.shape[0], 0))


def _explain(members: Placed, extra: Array, x: Array, flat: BlockFit) -> float:
    """How much the extra columns Z of one design lower Q: s'S^-1 s, s = Z'V^-1 r, S = Z'V^-1 Z - Z'V^-1 X C X'V^-1 Z.

    Z is 0 outside the studies of the design, so only their rows are visited.
    """
    pull = np.zeros(extra.shape[1])
    own = np.zeros((extra.shape[1], extra.shape[1]))
    shared = np.zeros((extra.shape[1], x.shape[1]))
    for study, rows in members:
        weighted = np.linalg.solve(study.covariance, extra[rows])
        pull += weighted.T @ (study.effects - x[rows] @ flat.beta)
        own += weighted.T @ extra[rows]
        shared += weighted.T @ x[rows]
    return float(pull @ np.linalg.solve(own - shared @ flat.covariance @ shared.T, pull))


def _estimate_within(places: Mapping[Design, Placed], q: float, df: int) -> float:
    """Moment estimate of tau^2 from the heterogeneity within designs alone."""
    if df < 1:
        return 0.0
    slope = 0.0
    for design, members in places.items():
        if len(members) > 1:
            model = build_network_model([study for study, _ in members], design)
            slope += float(expected_slopes(model, np.zeros(1))[0])
    return max(0.0, (q - df) / slope)
