"""Network comparison against the same model in metafor, in one run: `python tests/benchmarks/network.py`."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import report, time_best, time_metafor

from evidence.statistics.network import NetworkStudy, from_arms
from evidence.statistics.network_comparison import build_contrast_rows, compare_network, list_nodes
from evidence.statistics.network_consistency import decompose_q, split_all

# Seconds of netmeta 3.3-1 (argument checks cached) on 2 cores of another machine, from the project's design
# material: oracles/README.md. A mark on the wall, not a race in one run.
SEEN = {(20, 100): 18.0, (60, 400): 163.0}


def make(nodes: int, count: int) -> list[NetworkStudy]:
    rng = np.random.default_rng(nodes)
    true = rng.normal(0.0, 0.5, nodes)
    studies = []
    for j in range(count):
        arms = np.array([j, j + 1]) if j < nodes - 1 else rng.choice(nodes, rng.integers(2, 4), replace=False)
        v = rng.uniform(0.02, 0.1, arms.size)
        means = true[arms] + rng.normal(0.0, 0.15, arms.size) + rng.standard_normal(arms.size) * np.sqrt(v)
        studies.append(from_arms(f"s{j}", [f"E{a:02d}" for a in arms], means, v))
    return studies


def time_model_in_metafor(studies: list[NetworkStudy]) -> float | None:
    """Contrasts with random effects that correlate 0.5 inside a study (covariances left out, which only helps
    them).
    """
    nodes = list_nodes(studies)
    x = build_contrast_rows(studies, nodes)[:, 1:]
    y = np.concatenate([study.effects for study in studies])
    ids = np.repeat(np.arange(len(studies)), [study.effects.size for study in studies])
    inner = np.concatenate([np.arange(study.effects.size) for study in studies])
    values = [float(np.diag(study.covariance)[n]) for study in studies for n in range(study.effects.size)]
    columns = {"yi": y.tolist(), "vi": values, "id": ids.tolist(), "es": inner.tolist()}
    columns |= {f"x{n}": x[:, n].tolist() for n in range(x.shape[1])}
    moderators = " + ".join(f"x{n}" for n in range(x.shape[1]))
    return time_metafor(
        f"rma.mv(yi, vi, mods = ~ {moderators} - 1, random = ~ factor(es) | id, rho = 0.5, data = d)",
        columns,
        runs=1,
    )


def main() -> None:
    print(
        "Network: REML, league table, P-scores, 10,000 drawn ladders, shares of information; theirs the model alone"
    )
    for nodes, count in SEEN:
        studies = make(nodes, count)
        ours = time_best(lambda studies=studies: compare_network(studies))
        rival = time_model_in_metafor(studies) if nodes == 20 else None
        report(f"{nodes} conditions, {count} studies", ours, {"metafor": rival} if nodes == 20 else {})
        print(f"  netmeta, seen elsewhere: {SEEN[nodes, count] / ours:.0f} x")
        part = compare_network(studies).parts[0]
        splits = time_best(lambda part=part: split_all(part), most_runs=3)
        parts = time_best(lambda part=part: decompose_q(part), most_runs=1, least_seconds=0.0)
        print(f"  all node splits {splits * 1e3:.1f} ms; Q by design with each detached {parts * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
