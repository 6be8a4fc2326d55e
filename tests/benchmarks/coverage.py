"""How often 95 % intervals hold a known truth, by simulation: `python tests/benchmarks/coverage.py [--scale 1]`.

Writes docs/coverage.md. Every setting draws data from the model that the method assumes (or, where it is said, from
another), so the truth is known. "As stated" means within 2.6 Monte Carlo standard errors of the nominal rate. Seeds are
fixed.
"""

import argparse
import math
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import numpy as np  # noqa: E402
from effect_coverage import N, R, count_held  # noqa: E402

from evidence.statistics.conditions import join_same_people  # noqa: E402
from evidence.statistics.dependent_pooling import pool_dependent  # noqa: E402
from evidence.statistics.effect import Metric, Summary  # noqa: E402
from evidence.statistics.equivalence import assess_equivalence, symmetric_margin  # noqa: E402
from evidence.statistics.heterogeneity import profile_tau2  # noqa: E402
from evidence.statistics.independent import standardised_mean_difference  # noqa: E402
from evidence.statistics.network import from_arms  # noqa: E402
from evidence.statistics.network_comparison import compare_network  # noqa: E402
from evidence.statistics.network_counts import compare_counts, make_count_study  # noqa: E402
from evidence.statistics.pooling import pool  # noqa: E402
from evidence.statistics.regression import regress  # noqa: E402
from evidence.statistics.trend import fit_conditions, pool_curves  # noqa: E402

Rng = np.random.Generator
TRUTH = 0.3


@dataclass(frozen=True, slots=True)
class Rate:
    """In `held` of `runs` simulations the interval held the truth (or the test erred); `nominal` is what it states."""

    method: str
    setting: str
    held: int
    runs: int
    nominal: float = 0.95
    at_most: bool = False

    @property
    def share(self) -> float:
        return self.held / self.runs

    @property
    def error(self) -> float:
        """Monte Carlo standard error of the share if the nominal rate were true."""
        return math.sqrt(self.nominal * (1.0 - self.nominal) / self.runs)

    @property
    def is_foil(self) -> bool:
        """Shown only to tell what the default is for: it falls short, and is not what the product uses by itself."""
        return self.method.startswith(("common effect", "DL,", "nesting ignored"))

    def verdict(self) -> str:
        off = (self.share - self.nominal) / self.error
        if abs(off) <= 2.6:
            return "as stated"
        if self.at_most:
            return "stays below" if off < 0 else "**too many**"
        return "**below**" if off < 0 else "above (cautious)"

    def line(self) -> str:
        return (
            f"| {self.method} | {self.setting} | {100 * self.share:.1f} % | {100 * self.nominal:g} ± "
            f"{100 * 2.6 * self.error:.1f} % | {self.verdict()} |"
        )


def draw_results(rng: Rng, k: int, tau2: float) -> tuple[np.ndarray, np.ndarray]:
    """Effects of k studies with known variances, as those of 10 to 60 people per study are."""
    v = rng.uniform(0.05, 0.4, k)
    return rng.normal(TRUTH, math.sqrt(tau2), k) + rng.standard_normal(k) * np.sqrt(v), v


def measure_pooling(runs: int) -> Iterator[Rate]:
    """Default, plain random effects (REML, DL) and common effect, over numbers of studies and spreads between them."""
    methods: dict[str, Callable[[np.ndarray, np.ndarray], object]] = {
        "REML, Knapp-Hartung guarded (default)": lambda y, v: pool(y, v),
        "DL, normal interval": lambda y, v: pool(y, v, tau2_method="DL", interval="wald"),
        "common effect": lambda y, v: pool(y, v, tau2_method=None, interval="wald"),
    }
    for tau2, named in ((0.0, "none"), (0.05, "small"), (0.3, "large")):
        for k in (2, 3, 5, 10, 30):
            rng = np.random.default_rng([k, int(100 * tau2)])
            held = dict.fromkeys(methods, 0)
            foreseen = spanned = 0
            for _ in range(runs):
                y, v = draw_results(rng, k, tau2)
                for name, method in methods.items():
                    got = method(y, v)
                    held[name] += got.low <= TRUTH <= got.high  # type: ignore[attr-defined]
                    if name.startswith("REML") and k > 2:
                        new = rng.normal(TRUTH, math.sqrt(tau2))
                        foreseen += got.prediction_low <= new <= got.prediction_high  # type: ignore[attr-defined]
                        low, high = profile_tau2(y, v)
                        spanned += low <= tau2 <= high
            where = f"{k} studies, spread between them {named}"
            for name in methods:
                yield Rate(name, where, held[name], runs)
            if k > 2 and k != 5:
                yield Rate("prediction interval (t, k − 1)", where, foreseen, runs)
            if k in (5, 30):
                yield Rate("Q-profile interval of τ²", where, spanned, runs)


def measure_effects(runs: int) -> Iterator[Rate]:
    """Single effects from raw people."""
    for name, held, _ in count_held(runs):
        yield Rate(name, f"one study, n = {N} a group, r = {R}", held, runs)


def measure_pooled_effects(runs: int) -> Iterator[Rate]:
    """Hedges' g from raw people, pooled: the variances are estimated too."""
    for k, n in ((5, 10), (10, 10), (10, 25)):
        rng = np.random.default_rng([k, n])
        held = 0
        for _ in range(runs):
            effects = []
            for _ in range(k):
                a, b = rng.normal(rng.normal(0.5, 0.2), 1.0, n), rng.normal(0.0, 1.0, n)
                groups = [Summary(float(x.mean()), float(x.std(ddof=1)), n) for x in (a, b)]
                effects.append(standardised_mean_difference(*groups))
            got = pool([e.estimate for e in effects], [e.variance for e in effects])
            held += got.low <= 0.5 <= got.high
        yield Rate("Hedges' g pooled by default", f"{k} studies of {n} a group, raw people", held, runs)


def measure_nested(runs: int) -> Iterator[Rate]:
    """Results nested in studies: three levels with CR2, whether the assumed correlation is right or not."""
    for m in (4, 8, 20, 40):
        for rho in (0.2, 0.5, 0.8):
            if rho != 0.5 and m != 20:
                continue
            rng = np.random.default_rng([m, int(10 * rho)])
            held = naive = 0
            for _ in range(runs):
                sizes = rng.integers(1, 6, m)
                sizes[0] = 4
                ids = np.repeat(np.arange(m), sizes)
                v = rng.uniform(0.05, 0.4, m)[ids]
                shared = rng.standard_normal(m)[ids] * math.sqrt(rho) + rng.standard_normal(
                    ids.size
                ) * math.sqrt(1 - rho)
                y = TRUTH + rng.normal(0, 0.3, m)[ids] + rng.normal(0, 0.2, ids.size) + shared * np.sqrt(v)
                got = pool_dependent(y, v, ids.tolist())
                held += got.low <= TRUTH <= got.high
                plain = pool(y, v)
                naive += plain.low <= TRUTH <= plain.high
            where = f"{m} studies of 1 to 5 results, true correlation {rho:g}, assumed 0.5"
            yield Rate("three levels, CR2 (default)", where, held, runs)
            yield Rate("nesting ignored (wrong)", where, naive, runs)


def measure_regression(runs: int) -> Iterator[Rate]:
    """A slope of meta-regression by Knapp-Hartung."""
    for k in (6, 12, 30):
        rng = np.random.default_rng(k)
        held = 0
        for _ in range(runs):
            y, v = draw_results(rng, k, 0.1)
            x = rng.uniform(-1, 1, k)
            slope = regress(y + 0.4 * x, v, {"x": x}).coefficients[1]
            held += slope.low <= 0.4 <= slope.high
        yield Rate("meta-regression, slope", f"{k} studies", held, runs)


def measure_network(runs: int) -> Iterator[Rate]:
    """One comparison of a network, mostly indirect, and one of counts."""
    true = np.array([0.0, 0.2, 0.4, 0.6, 0.8])
    for count in (12, 40):
        rng = np.random.default_rng(count)
        held = 0
        for _ in range(runs):
            studies = []
            for j in range(count):
                arms = [j % 4, j % 4 + 1] if j < 8 else rng.choice(5, 2, replace=False).tolist()
                v = rng.uniform(0.02, 0.1, 2)
                means = true[arms] + rng.normal(0, 0.1, 2) + rng.standard_normal(2) * np.sqrt(v)
                studies.append(from_arms(str(j), [f"E{a}" for a in arms], means, v))
            got = compare_network(studies, draws=10).effect("E4", "E0")
            held += got.low <= 0.8 <= got.high
        yield Rate("network, one comparison (REML, normal)", f"5 conditions, {count} studies", held, runs)
    rng = np.random.default_rng(7)
    counted = {"MH": 0, "NCH": 0}
    odds = np.array([0.05, 0.08, 0.12])
    for _ in range(runs):
        studies = []
        for j in range(12):
            arms = [(0, 1), (1, 2), (0, 2)][j % 3]
            events = [int(rng.binomial(60, odds[a] / (1 + odds[a]))) for a in arms]
            studies.append(make_count_study(str(j), [f"E{a}" for a in arms], events, [60, 60]))
        for method in counted:
            got = compare_counts(studies, method=method).effect("E2", "E0")
            counted[method] += got.low <= math.log(0.12 / 0.05) <= got.high
    for method, held in counted.items():
        yield Rate(f"network of rare events, {method}", "3 conditions, 12 studies of 60 a group", held, runs)


def measure_trend(runs: int) -> Iterator[Rate]:
    """The slope of one study and the pooled slope of several, with the correlation known."""
    levels, slope = np.array([0.0, 30.0, 60.0, 90.0]), 0.004
    for studies in (1, 5):
        rng = np.random.default_rng(studies)
        held = 0
        for _ in range(runs):
            curves = []
            for _ in range(studies):
                means = 50 * np.exp(slope * levels)
                spread = np.outer(means, means) * 0.2**2 * (R + (1 - R) * np.eye(4))
                people = rng.multivariate_normal(means, spread, size=N)
                columns = [Summary(float(c.mean()), float(c.std(ddof=1)), N) for c in people.T]
                joined = join_same_people(columns, R, metric=Metric.LOG_RATIO_OF_MEANS)
                curves.append(fit_conditions(levels, joined))
            curve = pool_curves(curves)
            _, low, high = curve.change(0.0, 90.0)
            held += low <= 90 * slope <= high
        yield Rate(
            "trend, change over the range",
            f"{studies} {'study' if studies == 1 else 'studies'}, 4 levels, n = {N}",
            held,
            runs,
        )


def measure_equivalence(runs: int) -> Iterator[Rate]:
    """Sameness claimed although the true difference lies on the margin: at most 5 %."""
    for n in (12, 40):
        rng = np.random.default_rng(n)
        wrong = 0
        for _ in range(runs):
            a, b = rng.normal(0.8, 1.0, n), rng.normal(0.0, 1.0, n)
            se = math.sqrt((a.var(ddof=1) + b.var(ddof=1)) / n)
            got = assess_equivalence(
                float(a.mean() - b.mean()), se, symmetric_margin(0.8, "simulation"), df=2 * n - 2
            )
            wrong += got.equivalent
        yield Rate(
            "sameness claimed wrongly",
            f"difference on the margin, {n} a group",
            wrong,
            runs,
            0.05,
            at_most=True,
        )


FALLS_SHORT = (
    "## Where it falls short",
    "",
    "What the product uses by itself, where its interval is too narrow. Prediction intervals with a small spread and",
    "a moderate number of studies do so because the spread is itself hardly known; normal intervals of single small",
    "studies because the SD is. Two studies that differ cannot tell by how much, which the answer says. The foils",
    "(common effect, DL with a normal interval, nesting ignored) are in the tables, to show what the defaults are for.",
    "",
)
SECTIONS: tuple[tuple[str, Callable[[int], Iterator[Rate]], int], ...] = (
    ("Pooled effects", measure_pooling, 2000),
    ("Effects of single studies", measure_effects, 3000),
    ("Standardised differences, pooled from raw people", measure_pooled_effects, 1000),
    ("Results nested in studies", measure_nested, 600),
    ("Meta-regression", measure_regression, 2000),
    ("Networks", measure_network, 800),
    ("Trends", measure_trend, 1000),
    ("Sameness", measure_equivalence, 10_000),
)
OPENING = """# How often the intervals hold the truth

Written by `python tests/benchmarks/coverage.py`: data are drawn from a known truth, analysed by the product,
and counted. A 95 % interval should hold the truth in 95 % of them. "As stated" is within 2.6 Monte Carlo standard
errors of that (the span in the column "stated"); **below** means that the interval is too narrow in this setting, and
is to be read so.
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scale", type=float, default=1.0, help="how many times the usual number of runs")
    parser.add_argument("--to", type=Path, default=HERE.parents[1] / "docs" / "coverage.md")
    chosen = parser.parse_args()
    parts, short = [OPENING.strip()], []
    for title, measure, runs in SECTIONS:
        rates = list(measure(max(20, round(runs * chosen.scale))))
        short += [
            rate for rate in rates if rate.verdict() in ("**below**", "**too many**") and not rate.is_foil
        ]
        lines = [f"## {title}", "", f"{rates[0].runs:,} simulations a line.", ""]
        lines += [
            "| method | setting | held | stated | |",
            "| --- | --- | --- | --- | --- |",
            *(r.line() for r in rates),
        ]
        parts.append("\n".join(lines))
        print(f"{title}: done", file=sys.stderr)
    plain = [f"- {r.method}, {r.setting}: {100 * r.share:.1f} %" for r in short]
    parts.insert(1, "\n".join([*FALLS_SHORT, *(plain or ["Nowhere here."])]))
    chosen.to.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
    print(f"Wrote {chosen.to}.")


if __name__ == "__main__":
    main()
