"""Answers network.json with the product's own functions; nothing is computed here but units, names and order."""

import csv
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from evidence.statistics.heterogeneity import Array
from evidence.statistics.network import NetworkStudy, measure_distance, read_contrasts, split_parts
from evidence.statistics.network_comparison import Network, compare_network, count_direct, score_nodes
from evidence.statistics.network_consistency import Heterogeneity, decompose_q, pool_direct, split_node
from evidence.statistics.network_counts import CountStudy, compare_counts, make_count_study
from evidence.statistics.quantiles import normal_quantile, normal_two_sided, t_quantile
from evidence.statistics.spread_intervals import measure_inconsistency

Answer = dict[str, Any]
Rows = list[dict[str, str]]


def compute(case: Mapping[str, Any]) -> Answer:
    """Answer one case."""
    with open(case["inputs"]["dataset"], encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    variant, expected = case["variant"], case["expected"]
    if variant.startswith("netmetabin"):
        return _from_counts(rows, variant.rpartition("_")[2], expected["treatments"])
    studies = read_contrasts(
        [row["studlab"] for row in rows],
        [row["treat1"] for row in rows],
        [row["treat2"] for row in rows],
        [float(row["TE"]) for row in rows],
        [float(row["seTE"]) for row in rows],
    )
    if variant == "disconnected_network":
        return _disconnected(studies, rows, expected["treatments"])
    method = next((name for name in ("REML", "ML", "DL") if variant.endswith(name)), "DL")
    common, random = (_compare(studies, name) for name in ("common", method))
    if variant == "structure":
        return _structure(studies, expected["treatments"])
    if variant == "common_effect":
        return _common_effect(common, random, expected["treatments"])
    if variant.startswith("random_effects"):
        return _random_effects(random, expected["treatments"])
    if variant.startswith("P_scores"):
        return _p_scores(common, random, expected["treatments"])
    if variant.startswith("node_split"):
        return _node_splits(common, random, expected["comparison"], refit="SIDDE" in variant)
    if variant == "direct_estimates":
        return _direct(common, random, expected["treatments"])
    return _decomposition(common, expected)


def _compare(studies: Sequence[NetworkStudy], method: str) -> Network:
    (network,) = compare_network(studies, tau2_method=method, draws=100).parts
    return network


def _arrange(network: Network, matrix: Array, order: Sequence[str]) -> Array:
    places = [network.nodes.index(name) for name in order]
    return matrix[np.ix_(places, places)]


def _from_counts(rows: Rows, method: str, order: Sequence[str]) -> Answer:
    network = compare_counts(read_count_rows(rows), method=method)
    places = [network.nodes.index(name) for name in order]
    square = np.ix_(places, places)
    return {
        "treatments": order,
        "TE": network.estimates[square],
        "seTE": network.ses[square],
        "k": network.k,
        "Q_between": network.q,
        "df": network.q_df,
    }


def read_count_rows(rows: Rows) -> list[CountStudy]:
    """One study for every id, in order of first appearance."""
    return [
        make_count_study(
            name,
            [row["treatment"] for row in rows if row["id"] == name],
            [int(row["death"]) for row in rows if row["id"] == name],
            [int(row["randomized"]) for row in rows if row["id"] == name],
        )
        for name in dict.fromkeys(row["id"] for row in rows)
    ]


def _structure(studies: Sequence[NetworkStudy], order: Sequence[str]) -> Answer:
    return {
        "n_studies": len(studies),
        "n_pairwise": sum(len(s.arms) * (len(s.arms) - 1) // 2 for s in studies),
        "n_treatments": len({arm for s in studies for arm in s.arms}),
        "n_designs": len({s.design for s in studies}),
        "treatments": order,
        "n_multiarm": sum(len(s.arms) > 2 for s in studies),
        "n_subnetworks": len(split_parts(studies)),
        "direct_comparison_counts": count_direct(studies, order),
    }


def _matrices(network: Network, order: Sequence[str]) -> Answer:
    estimates, ses = _arrange(network, network.estimates, order), _arrange(network, network.ses, order)
    width = normal_quantile(0.975) * ses
    p = [
        [normal_two_sided(t / s) if s > 0.0 else None for t, s in zip(*line, strict=True)]
        for line in zip(estimates.tolist(), ses.tolist(), strict=True)
    ]
    return {
        "treatments": order,
        "TE": estimates,
        "seTE": ses,
        "lower": estimates - width,
        "upper": estimates + width,
        "p": p,
    }


def _common_effect(common: Network, moments: Network, order: Sequence[str]) -> Answer:
    parts = decompose_q(common)
    spread = measure_inconsistency(common.q, common.q_df)
    return _matrices(common, order) | {
        "Q_total": common.q,
        "Q_total_df": common.q_df,
        "Q_total_p": common.q_p,
        "Q_within_designs": parts.within.q,
        "Q_within_df": parts.within.df,
        "Q_within_p": parts.within.p,
        "Q_between_designs": parts.between.q,
        "Q_between_df": parts.between.df,
        "Q_between_p": parts.between.p,
        "I2": spread.i2 / 100.0,
        "I2_ci_lb": None if spread.i2_low is None else spread.i2_low / 100.0,
        "I2_ci_ub": None if spread.i2_high is None else spread.i2_high / 100.0,
        "tau_DL": float(np.sqrt(moments.tau2)),
    }


def _random_effects(network: Network, order: Sequence[str]) -> Answer:
    answer = _matrices(network, order)
    wide = np.sqrt(answer["seTE"] ** 2 + network.tau2)
    reach = t_quantile(0.975, network.q_df) * wide
    np.fill_diagonal(reach, 0.0)
    return answer | {
        "tau": float(np.sqrt(network.tau2)),
        "tau2": network.tau2,
        "seTE_predict": wide,
        "lower_predict": answer["TE"] - reach,
        "upper_predict": answer["TE"] + reach,
    }


def _p_scores(common: Network, random: Network, order: Sequence[str]) -> Answer:
    answer: Answer = {"treatments": order}
    for name, network in (("common", common), ("random", random)):
        for direction in ("small_desirable", "small_undesirable"):
            answer[f"{name}_{direction}"] = score_nodes(
                _arrange(network, network.estimates, order),
                _arrange(network, network.ses, order),
                small_is_better=direction == "small_desirable",
            )
    return answer


def _node_splits(common: Network, random: Network, comparisons: Sequence[str], *, refit: bool) -> Answer:
    answer: Answer = {"comparison": comparisons}
    for name, network in (("common", common), ("random", random)):
        splits = [split_node(network, *pair.split(":"), refit=refit) for pair in comparisons]
        whole = [network.effect(one.first, one.second) for one in splits]
        answer["k_direct"] = [one.k_direct for one in splits]
        answer[f"prop_direct_{name}"] = [one.share_direct for one in splits]
        answer[name] = {
            "nma": [one.estimate for one in whole],
            "nma_se": [one.se for one in whole],
            "direct": [one.direct for one in splits],
            "direct_se": [one.direct_se for one in splits],
            "indirect": [one.indirect for one in splits],
            "indirect_se": [one.indirect_se for one in splits],
            "diff": [one.difference for one in splits],
            "diff_se": [one.difference_se for one in splits],
            "z": [one.z for one in splits],
            "p": [one.p for one in splits],
        }
    return answer


def _direct(common: Network, random: Network, order: Sequence[str]) -> Answer:
    answer: Answer = {"treatments": order}
    for name, network in (("common", common), ("random", random)):
        found = [[pool_direct(network, a, b) if a != b else None for b in order] for a in order]
        answer[f"TE_direct_{name}"] = [[cell and cell[0] for cell in line] for line in found]
        answer[f"seTE_direct_{name}"] = [[cell and cell[1] for cell in line] for line in found]
    return answer


def _decomposition(network: Network, expected: Mapping[str, Any]) -> Answer:
    got = decompose_q(network)
    test = got.interaction
    return {
        "Q_decomp": _table((got.total, got.within, got.between), "label")
        | {"label": ["Total", "Within designs", "Between designs"]},
        "Q_within_by_design": _table(
            _sort(got.by_design, expected["Q_within_by_design"]["design"]), "design"
        ),
        "Q_between_after_detaching_design": _table(
            _sort(got.detached, expected["Q_between_after_detaching_design"]["design"]), "design"
        ),
        "full_design_by_treatment_random": {
            "Q": test.q,
            "df": test.df,
            "p": test.p,
            "tau_within": float(np.sqrt(got.tau2_within)),
            "tau2_within": got.tau2_within,
        },
    }


def _sort(found: Sequence[Heterogeneity], order: Sequence[str]) -> list[Heterogeneity]:
    """In the order of the file, whose names of designs may list the conditions otherwise; what it lacks comes
    last.
    """
    places = {frozenset(name.split(":")): i for i, name in enumerate(order)}
    return sorted(found, key=lambda one: places.get(frozenset(one.label.split(":")), len(order)))


def _table(found: Sequence[Heterogeneity], label: str) -> Answer:
    return {
        label: [one.label for one in found],
        "Q": [one.q for one in found],
        "df": [one.df for one in found],
        "p": [one.p for one in found],
    }


def _disconnected(studies: Sequence[NetworkStudy], rows: Rows, order: Sequence[str]) -> Answer:
    comparison = compare_network(studies, draws=100)
    parts = split_parts(studies)
    part_of = {studies[i].name: n for n, part in enumerate(parts, start=1) for i in part}
    return {
        "n_subnetworks": len(parts),
        "subnetwork_of_each_row": [part_of[row["studlab"]] for row in rows],
        "must_refuse_single_model": len(comparison.parts) > 1,
        "treatments": order,
        "graph_distance": measure_distance(studies, order),
    }
