"""Why ours differs from a check file: the reference library itself, with a tight search or with the covariance that its
default call leaves out, gives our number. Values: tests/oracles/second_looks.csv (metafor 3.8-1, by second_looks.R).
"""

import csv
import json
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import nchypergeom_fisher

from evidence.statistics.counts import Events, TableMeasure, measure_tables
from evidence.statistics.dependence import correlate, group_rows
from evidence.statistics.exact_tests import compare_exactly
from evidence.statistics.heterogeneity import Array, estimate_tau2, fit_weighted, profile_tau2
from evidence.statistics.multilevel import fit_multilevel, profile_component
from evidence.statistics.network import read_contrasts
from evidence.statistics.network_comparison import build_network_model, estimate_network_tau2, list_nodes
from evidence.statistics.spread_intervals import (
    generalised_q_tau2,
    profile_likelihood_tau2,
    q_distribution,
)

ORACLES = Path(__file__).parents[2] / "oracles"
NETWORKS = ("Senn2013", "smokingcessation", "Linde2015", "Dong2013", "Hong2015_MD", "Hong2015_SMD")


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


LOOKS = {(row["case"], row["quantity"]): float(row["value"]) for row in read(ORACLES / "second_looks.csv")}
REML = sorted(case for case, quantity in LOOKS if quantity == "REML tau2")


def columns(name: str, *wanted: str) -> list[Array]:
    rows = read(ORACLES / "data" / f"{name}.csv")
    return [np.array([float(row[one]) for row in rows]) for one in wanted]


def expected(file: str, case: str) -> dict[str, object]:
    cases = json.loads((ORACLES / f"{file}.json").read_text(encoding="utf-8"))["cases"]
    return next(one["expected"] for one in cases if one["id"] == case)  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", REML)
def test_reml_is_what_the_reference_finds_with_a_tight_search(name: str) -> None:
    y, v = columns(name, "yi", "vi")
    assert estimate_tau2(y, v).value == pytest.approx(LOOKS[name, "REML tau2"], rel=1e-9)


def test_q_profile_limits_are_what_the_reference_finds_with_a_tight_search() -> None:
    a, b, c, d = columns("bcg", "tpos", "tneg", "cpos", "cneg")
    y, v = measure_tables(TableMeasure.LOG_RISK_RATIO, a, a + b, c, c + d)
    want = [LOOKS["bcg", f"Q-profile {end}"] for end in ("low", "high")]
    assert profile_tau2(y, v) == pytest.approx(want, rel=1e-9)


def test_profile_likelihood_limits_are_what_the_reference_finds_with_a_tight_search() -> None:
    a, b, c, d = columns("bcg", "tpos", "tneg", "cpos", "cneg")
    y, v = measure_tables(TableMeasure.LOG_ODDS_RATIO, a, a + b, c, c + d)
    want = [LOOKS["bcg", f"profile likelihood {end}"] for end in ("low", "high")]
    assert profile_likelihood_tau2(y, v, restricted=False) == pytest.approx(want, rel=1e-8)


def jackson() -> tuple[Array, Array, Array]:
    """Jackson, Turner, Rhodes & Viechtbauer 2014, example 1."""
    cases = json.loads((ORACLES / "worked_examples.json").read_text(encoding="utf-8"))["cases"]
    x = next(one["inputs"] for one in cases if one["id"] == "we-jackson2014-tau2ci-regression")
    group = np.array(x["x"], dtype=float)
    return np.array(x["yi"]), np.array(x["vi"]), np.column_stack([np.ones(group.size), group])


def test_q_profile_with_a_moderator_is_what_the_reference_finds_with_a_tight_search() -> None:
    y, v, design = jackson()
    want = [LOOKS["jackson2014", f"Q-profile {end}"] for end in ("low", "high")]
    assert profile_tau2(y, v, x=design) == pytest.approx(want, rel=1e-8)


def imhof(q: float, v: Array, tau2: float, x: Array) -> float:
    """P(Q <= q) by Imhof 1961 from the eigenvalues of the quadratic form: another way to the same distribution."""
    a = np.diag(1.0 / v)
    inner = a - a @ x @ np.linalg.solve(x.T @ a @ x, x.T @ a)
    root = np.sqrt(v + tau2)
    weights = np.linalg.eigvalsh(root[:, None] * inner * root[None, :])
    weights = weights[weights > 1e-10]

    def integrand(u: float) -> float:
        theta = 0.5 * float(np.arctan(weights * u).sum()) - 0.5 * q * u
        return math.sin(theta) / (u * float(np.prod((1.0 + (weights * u) ** 2) ** 0.25)))

    ends = np.linspace(0.0, 60.0, 121)
    return 0.5 - sum(quad(integrand, low, high, epsabs=1e-13)[0] for low, high in pairwise(ends)) / math.pi


def test_generalised_q_limits_with_a_moderator_solve_their_equation() -> None:
    """Printed in Jackson et al. 2014: 0.0029 to 0.6907."""
    y, v, design = jackson()
    low, high = generalised_q_tau2(y, v, x=design)
    assert (round(low, 4), round(high, 4)) == (0.0029, 0.6907)
    q = fit_weighted(y, 1.0 / v, design).q
    assert imhof(q, v, low, design) == pytest.approx(0.975, abs=1e-8)
    assert imhof(q, v, high, design) == pytest.approx(0.025, abs=1e-8)
    for tau2 in (0.0, 0.3, 2.0):
        assert q_distribution(q, v, tau2, design) == pytest.approx(imhof(q, v, tau2, design), abs=1e-8)


@pytest.mark.parametrize("name", ["molloy2014", "gibson2002"])
def test_generalised_q_limits_solve_their_equation(name: str) -> None:
    y, v = columns(name, "yi", "vi")
    ones = np.ones((y.size, 1))
    q = fit_weighted(y, 1.0 / v).q
    for limit, chance in zip(generalised_q_tau2(y, v), (0.975, 0.025), strict=True):
        assert imhof(q, v, limit, ones) == pytest.approx(chance, abs=1e-8)


def test_profile_limits_of_three_levels_are_what_the_reference_finds_with_a_tight_search() -> None:
    y, v = columns("konstantopoulos2011", "yi", "vi")
    ids = [row["district"] for row in read(ORACLES / "data" / "konstantopoulos2011.csv")]
    fitted = fit_multilevel(y, correlate(v, group_rows(ids), 0.0), (ids, range(y.size)))
    for which, name in enumerate(("between", "within")):
        want = [LOOKS["konstantopoulos2011", f"{name} {end}"] for end in ("low", "high")]
        # The reference's own peak is found to about 1e-7, and the limits hang on it.
        assert profile_component(fitted, which) == pytest.approx(want, rel=1e-6)


@pytest.mark.parametrize("number", ["01", "07", "08", "11"])
def test_exact_limits_leave_the_wanted_tails(number: str) -> None:
    """Fisher's limits: the chance of what was seen or more (or less) is 2.5 % there, by SciPy's distribution."""
    cases = json.loads((ORACLES / "effect_sizes.json").read_text(encoding="utf-8"))["cases"]
    case = next(one for one in cases if one["id"] == f"bin-{number}-fisher")
    x = case["inputs"]
    test = compare_exactly(Events(x["a"], x["n1"]), Events(x["c"], x["n2"]))
    people, events = x["n1"] + x["n2"], x["a"] + x["c"]

    def above(odds: float) -> float:
        return float(nchypergeom_fisher(people, x["n1"], events, odds).sf(x["a"] - 1))

    def below(odds: float) -> float:
        return float(nchypergeom_fisher(people, x["n1"], events, odds).cdf(x["a"]))

    theirs = case["expected"]
    if test.low > 0.0:
        assert above(test.low) == pytest.approx(0.025, abs=1e-9)
        assert abs(above(theirs["ci_lb"]) - 0.025) < 1e-4  # near, but not at the root
    if math.isfinite(test.high):
        assert below(test.high) == pytest.approx(0.025, abs=1e-9)


@pytest.mark.parametrize("method", ["REML", "ML"])
@pytest.mark.parametrize("name", NETWORKS)
def test_a_network_is_what_the_reference_finds_when_it_is_given_the_covariance(
    name: str, method: str
) -> None:
    rows = read(ORACLES / "data" / f"net_{name}.csv")
    studies = read_contrasts(
        [row["studlab"] for row in rows],
        [row["treat1"] for row in rows],
        [row["treat2"] for row in rows],
        [float(row["TE"]) for row in rows],
        [float(row["seTE"]) for row in rows],
    )
    model = build_network_model(studies, list_nodes(studies))
    ours, converged = estimate_network_tau2(model, method)
    assert converged
    # The reference's optimiser stops at a relative change of 1e-10 of the likelihood, about 1e-5 of tau^2.
    assert ours == pytest.approx(LOOKS[name, f"{method} with covariance"], rel=1e-5, abs=1e-9)
    if max(len(study.arms) for study in studies) > 2 and ours > 0.0:
        without = LOOKS[name, f"{method} without covariance"]
        assert abs(without - ours) > 1e-5
