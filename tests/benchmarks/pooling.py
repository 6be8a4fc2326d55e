"""REML and moment pooling against statsmodels, PyMARE and metafor, in one run: `python
tests/benchmarks/pooling.py`.
"""

import sys
import warnings
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import report, time_best, time_metafor

from evidence.statistics.heterogeneity import estimate_tau2
from evidence.statistics.pooling import pool


def make(k: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(k)
    v = rng.uniform(0.02, 0.2, k)
    return rng.normal(0.3, 0.3, k) + rng.standard_normal(k) * np.sqrt(v), v


def time_pymare(y: np.ndarray, v: np.ndarray) -> float | None:
    try:
        from pymare import Dataset
        from pymare.estimators import VarianceBasedLikelihoodEstimator
    except ImportError:
        return None

    def run() -> None:
        data = Dataset(y=y[:, None], v=v[:, None], X=np.ones((y.size, 1)), add_intercept=False)
        VarianceBasedLikelihoodEstimator(method="REML").fit_dataset(data).summary()

    return time_best(run)


def time_statsmodels(y: np.ndarray, v: np.ndarray) -> float | None:
    try:
        from statsmodels.stats.meta_analysis import combine_effects
    except ImportError:
        return None
    return time_best(lambda: combine_effects(y, v, method_re="iterated").summary_frame())


def main() -> None:
    warnings.simplefilter("ignore")
    print("Pooling: REML, Knapp-Hartung, Q-profile and prediction interval; theirs without the last two")
    for k in (20, 200, 2000):
        y, v = make(k)
        ours = time_best(lambda y=y, v=v: pool(y, v))
        metafor = time_metafor(
            "rma(yi, vi, data = d, test = 'knha')",
            {"yi": y.tolist(), "vi": v.tolist()},
            runs=1 if k > 500 else 5,
        )
        report(f"REML, k = {k}", ours, {"PyMARE": time_pymare(y, v), "metafor": metafor})
        moments = time_best(lambda y=y, v=v: pool(y, v, tau2_method="PM"))
        report(f"Paule-Mandel, k = {k}", moments, {"statsmodels": time_statsmodels(y, v)})
    y, v = make(20)
    alone = time_best(lambda: estimate_tau2(y, v, "REML"))
    print(f"\nREML tau^2 alone, k = 20: {alone * 1e3:.3f} ms")
    sets = [make(5 + n % 30) for n in range(10_000)]
    total = time_best(lambda: [pool(y, v) for y, v in sets], least_seconds=0.0, most_runs=1)
    print(f"10,000 claims of 5 to 34 results re-weighed: {total:.2f} s")
    print(
        "growth with k:",
        ", ".join(f"{k}: {time_best(lambda k=k: pool(*make(k))) * 1e3:.2f} ms" for k in (1000, 10_000)),
    )


if __name__ == "__main__":
    main()
