"""Three levels with robust errors against metafor and statsmodels: `python tests/benchmarks/multilevel.py`."""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import Row, race_metafor, time_median

from evidence.statistics.dependence import correlate, group_rows
from evidence.statistics.dependent_pooling import pool_dependent
from evidence.statistics.multilevel import fit_multilevel


def make(k: int) -> tuple[np.ndarray, np.ndarray, list[int]]:
    rng = np.random.default_rng(k)
    ids = np.sort(rng.integers(0, k // 5, k)).tolist()
    between = rng.normal(0.3, 0.3, k // 5)
    v = rng.uniform(0.02, 0.2, k)
    y = between[ids] + rng.normal(0.0, 0.2, k) + rng.standard_normal(k) * np.sqrt(v)
    return y, v, ids


def rows() -> Iterator[Row]:
    """The lines of the table."""
    for k in (100, 500):
        y, v, ids = make(k)
        blocks = correlate(v, group_rows(ids), 0.0)
        yield race_metafor(
            f"three levels, {k} results",
            lambda y=y, b=blocks, ids=ids: fit_multilevel(y, b, (ids, range(y.size))),
            "rma.mv(yi, vi, random = ~ 1 | id / es, data = d)",
            {"yi": y.tolist(), "vi": v.tolist(), "id": ids, "es": list(range(k))},
            runs=3 if k == 100 else 1,
            note="model alone, both",
        )
    times = {}
    for k in (500, 5000):
        y, v, ids = make(k)
        times[k] = time_median(lambda y=y, v=v, ids=ids: pool_dependent(y, v, ids), runs=3)
    yield Row("three levels, 500 results", times[500], note="with covariance inside studies and CR2")
    yield Row(
        "three levels, 5,000 results", times[5000], note=f"{times[5000] / times[500]:.1f} × the time of 500"
    )


if __name__ == "__main__":
    for row in rows():
        print("  ".join(cell.ljust(30) for cell in row.cells()).rstrip())
