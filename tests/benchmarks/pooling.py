"""REML and moment pooling against statsmodels, PyMARE and metafor: `python tests/benchmarks/pooling.py`."""

import sys
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rivals import Row, race, race_metafor, time_median, time_once

from evidence.statistics.pooling import pool


def make(k: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(k)
    v = rng.uniform(0.02, 0.2, k)
    return rng.normal(0.3, 0.3, k) + rng.standard_normal(k) * np.sqrt(v), v


def pymare(y: np.ndarray, v: np.ndarray) -> Callable[[], object] | None:
    try:
        from pymare import Dataset
        from pymare.estimators import VarianceBasedLikelihoodEstimator
    except ImportError:
        return None

    def run() -> object:
        data = Dataset(y=y[:, None], v=v[:, None], X=np.ones((y.size, 1)), add_intercept=False)
        return VarianceBasedLikelihoodEstimator(method="REML").fit_dataset(data).summary()

    return run


def statsmodels(y: np.ndarray, v: np.ndarray) -> Callable[[], object] | None:
    try:
        from statsmodels.stats.meta_analysis import combine_effects
    except ImportError:
        return None
    return lambda: combine_effects(y, v, method_re="iterated").summary_frame()


def rows() -> Iterator[Row]:
    """The lines of the table."""
    warnings.simplefilter("ignore")
    note = "ours with Q-profile and prediction interval"
    for k in (20, 200, 2000):
        y, v = make(k)

        def ours(y: np.ndarray = y, v: np.ndarray = v) -> object:
            return pool(y, v)

        rival = pymare(y, v)
        if rival:
            yield race(f"REML pooling, k = {k:,}", ours, "PyMARE", rival, note=note)
        yield race_metafor(
            f"REML pooling, k = {k:,}",
            ours,
            "rma(yi, vi, data = d, test = 'knha')",
            {"yi": y.tolist(), "vi": v.tolist()},
            runs=1 if k > 500 else 7,
            repeat=1 if k > 50 else 20,
            note=note,
        )
        moments = statsmodels(y, v)
        if moments:
            yield race(
                f"Paule-Mandel pooling, k = {k:,}",
                lambda y=y, v=v: pool(y, v, tau2_method="PM"),
                "statsmodels",
                moments,
                note=note,
            )
    base = make(2000)
    grown = make(20_000)
    ratio = time_median(lambda: pool(*grown)) / time_median(lambda: pool(*base))
    yield Row(
        "REML pooling, k = 20,000",
        time_median(lambda: pool(*grown)),
        note=f"{ratio:.1f} × the time of k = 2,000",
    )
    sets = [make(5 + n % 30) for n in range(10_000)]
    total = time_once(lambda: [pool(y, v) for y, v in sets], least_seconds=0.0)
    yield Row("10,000 pools of 5 to 34 results", total, note="the arithmetic of re-weighing 10,000 claims")


if __name__ == "__main__":
    for row in rows():
        print("  ".join(cell.ljust(30) for cell in row.cells()).rstrip())
