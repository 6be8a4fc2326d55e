"""Network comparison against the same model in metafor, in one run: `python tests/benchmarks/network.py`."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import Row, race_metafor, time_median

from evidence.statistics.network import NetworkStudy, from_arms
from evidence.statistics.network_comparison import build_contrast_rows, compare_network, list_nodes
from evidence.statistics.network_consistency import decompose_q, split_all
from evidence.statistics.network_counts import CountStudy, compare_counts, make_count_study

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


def metafor_columns(studies: list[NetworkStudy]) -> tuple[str, dict[str, list[Any]]]:
    """The call and its data: contrasts with random effects that correlate 0.5 inside a study (covariances left out,
    which only helps the rival).
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
    call = f"rma.mv(yi, vi, mods = ~ {moderators} - 1, random = ~ factor(es) | id, rho = 0.5, data = d)"
    return call, columns


def rows() -> Iterator[Row]:
    """The lines of the table."""
    for nodes, count in SEEN:
        studies = make(nodes, count)
        name = f"network, {nodes} conditions, {count} studies"

        def ours(studies: list[NetworkStudy] = studies) -> object:
            return compare_network(studies)

        if nodes == 20:
            yield race_metafor(
                name,
                ours,
                *metafor_columns(studies),
                runs=3,
                note="ours with league table, ladder and shares; theirs the model alone",
            )
        seen = SEEN[nodes, count]
        took = time_median(ours)
        yield Row(name, took, "netmeta", seen / took, note=f"seen elsewhere: {seen:g} s, a mark and no race")
        part = compare_network(studies).parts[0]
        splits = time_median(lambda part=part: split_all(part), runs=3)
        yield Row("  all node splits of it", splits)
        yield Row("  Q by design, each detached", time_median(lambda part=part: decompose_q(part), runs=1))
    small, large = make(40, 400), make(40, 1600)
    times = [time_median(lambda s=s: compare_network(s), runs=3) for s in (small, large)]
    yield Row(
        "network, 40 conditions, 1,600 studies",
        times[1],
        note=f"{times[1] / times[0]:.1f} × the time of 400 studies",
    )
    counts = make_counts(8, 60)
    for method in ("MH", "NCH"):
        yield Row(
            f"network of counts by {method}, 8 conditions, 60 studies",
            time_median(lambda m=method: compare_counts(counts, method=m), runs=3),
        )


def make_counts(nodes: int, count: int) -> list[CountStudy]:
    rng = np.random.default_rng(3)
    studies = []
    for j in range(count):
        arms = [j % nodes, (j + 1) % nodes] if j < nodes else rng.choice(nodes, 2, replace=False).tolist()
        totals = rng.integers(40, 200, 2).tolist()
        events = [int(rng.binomial(n, 0.1)) for n in totals]
        studies.append(make_count_study(f"s{j}", [f"E{a}" for a in arms], events, totals))
    return studies


if __name__ == "__main__":
    for row in rows():
        print("  ".join(cell.ljust(30) for cell in row.cells()).rstrip())
