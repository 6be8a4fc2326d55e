"""Three-level model with robust errors against metafor, in one run: `python tests/benchmarks/multilevel.py`."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import report, time_best, time_metafor

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


def main() -> None:
    print("Three levels (results in studies, five a study), REML")
    for k in (100, 500, 2000):
        y, v, ids = make(k)
        blocks = correlate(v, group_rows(ids), 0.0)
        ours = time_best(lambda y=y, b=blocks, ids=ids: fit_multilevel(y, b, (ids, range(y.size))))
        rival = None
        if k <= 500:
            rival = time_metafor(
                "rma.mv(yi, vi, random = ~ 1 | id / es, data = d)",
                {"yi": y.tolist(), "vi": v.tolist(), "id": ids, "es": list(range(k))},
                runs=1,
            )
        report(f"model alone, {k} results", ours, {"metafor": rival} if k <= 500 else {})
        whole = time_best(lambda y=y, v=v, ids=ids: pool_dependent(y, v, ids))
        print(f"{'with covariance and CR2':<34} {whole * 1e3:10.3f} ms")


if __name__ == "__main__":
    main()
