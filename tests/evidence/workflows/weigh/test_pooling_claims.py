"""Several results of one study in a claim, counts of events, units, normalisations: from stored figures to the verdict.

Figures invented. Expected values are worked out here by the formulas named in each test, or by the model itself on
figures that the test makes by hand.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from evidence.catalogue import Catalogue
from evidence.statistics.dependent_pooling import pool_dependent
from evidence.statistics.pooling import pool
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.effects.study_results import says_nothing_twice
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.relevance.contributions import results_of
from evidence.workflows.trace.tracing import trace_claim
from evidence.workflows.trace.tracing_text import claim_trace_text
from evidence.workflows.weigh.pooling_claims import NestedPooled
from evidence.workflows.weigh.telling import weighing_as_text
from evidence.workflows.weigh.weighing import Weighing, weigh

STUDY = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: {design}
read_from: full text
locator: Table 1
people: [{{key: all, analysed: {n}, sex: both, training_status: trained, health: healthy}}]
conditions:
{conditions}
outcomes:
{outcomes}
"""
TWO = {"a": "seated leg curl", "b": "lying leg curl"}
EMG = (
    "  - {key: emg, construct: activation, instrument: surface EMG, unit: '%MVIC',\n"
    "     normalisation: mvc_standard_isometric}"
)


def add(
    catalogue: Catalogue,
    folder: Path,
    key: str,
    body: str,
    *,
    conditions: dict[str, str] = TWO,
    outcomes: str = EMG,
    design: str = "randomised_crossover",
    n: int = 16,
    each: int | None = None,
    load: dict[str, str] | None = None,
) -> None:
    lines = [
        f"  - {{key: {name}, exercise: {exercise}, n: {each or n}"
        + (f", details: {{load: {load[name]}}}" if load else "")
        + "}"
        for name, exercise in conditions.items()
    ]
    text = STUDY.format(key=key, design=design, n=n, conditions="\n".join(lines), outcomes=outcomes)
    (folder / f"{key}.yaml").write_text(text + body, "utf-8")
    load_study(catalogue, folder / f"{key}.yaml", "Sam")


def means(rows: dict[str, list[str]], columns: str = "a, b") -> str:
    """A table of acute means, one row a region."""
    lines = "\n".join(f"      - {{region: {r}, cells: {json.dumps(cells)}}}" for r, cells in rows.items())
    return (
        "tables:\n  - {outcome: emg, timepoint: acute, spread: SD, columns: [" + columns + "], rows: [\n"
        + lines.replace("      - ", "      ").replace("}\n", "},\n") + "]}\n"
    )  # fmt: skip


def weighed(catalogue: Catalogue, outcome: str = "activation", **more: object) -> Weighing:
    sides = {"exercise": "seated leg curl", "comparator": "lying leg curl"} | more
    return weigh(catalogue, state_claim(catalogue, Statement(outcome=outcome, **sides), "Sam").key)  # type: ignore[arg-type]


BICEPS, SEMI = "biceps_femoris_long_head", "semitendinosus"
FIGURES = {
    "ash-2011": ((60, 55), (48, 50)),
    "birch-2012": ((70, 52), (66, 49)),
    "cedar-2013": ((41, 40), (44, 35)),
    "elm-2014": ((90, 71), (75, 72)),
    "fir-2015": ((55, 56), (61, 50)),
}


@pytest.fixture
def portions(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    """Five studies of the same people that each print two portions of the hamstrings; all SDs a quarter of the mean."""
    for key, (one, other) in FIGURES.items():
        rows = {
            region: [f"{a} ({a / 4})", f"{b} ({b / 4})"] for region, (a, b) in ((BICEPS, one), (SEMI, other))
        }
        add(catalogue, tmp_path, key, means(rows))
    return catalogue


def by_hand(rho: float, r: float = 0.5) -> tuple[list[float], np.ndarray, list[str]]:
    """Log ratios with 2(1 - r)·cv²/n as their variance (delta method), and `rho` between those of one study."""
    y = [math.log(a / b) for pair in FIGURES.values() for a, b in pair]
    v = 2 * (1 - r) * 0.25**2 / 16
    block = np.array([[v, rho * v], [rho * v, v]])
    return y, np.kron(np.eye(5), block), [key for key in FIGURES for _ in range(2)]


def test_results_of_one_study_are_pooled_in_a_three_level_model(portions: Catalogue) -> None:
    pooled = weighed(portions, region="hamstrings").pooled
    assert isinstance(pooled, NestedPooled)
    y, v, ids = by_hand(0.2)
    expected = pool_dependent(y, v, ids, way="three_level")
    assert (pooled.estimate, pooled.low, pooled.high) == pytest.approx(
        (expected.estimate, expected.low, expected.high), rel=1e-6
    )
    assert (pooled.tau2_between, pooled.tau2_within) == pytest.approx(expected.components, abs=1e-8)
    assert (pooled.k, pooled.results) == (5, 10)


def test_the_answer_that_takes_every_result_for_a_study_never_comes_out(portions: Catalogue) -> None:
    weighing = weighed(portions, region="hamstrings")
    y, v, _ = by_hand(0.0)
    wrong = pool(y, np.diag(v))
    assert weighing.pooled is not None
    assert weighing.pooled.k == weighing.verdict.k == 5 != wrong.k
    assert weighing.pooled.high - weighing.pooled.low > wrong.high - wrong.low
    assert [c.n for c in weighing.contributions] == [16] * 5


def test_a_study_keeps_one_row_and_the_weights_add_up(portions: Catalogue) -> None:
    weighing = weighed(portions, region="hamstrings")
    assert len(weighing.contributions) == 5
    assert sum(c.weight or 0 for c in weighing.contributions) == pytest.approx(1)
    first = weighing.contributions[0]
    assert first.estimate == pytest.approx((math.log(60 / 55) + math.log(48 / 50)) / 2)
    # Mean of two results with rho 0.2 between their errors: v (1 + rho)/2 (Borenstein et al. 2009, eq. 24.2).
    assert first.variance == pytest.approx(2 * 0.5 * 0.0625 / 16 * 1.2 / 2)


def test_the_two_assumed_correlations_are_varied_apart(portions: Catalogue) -> None:
    weighing = weighed(portions, region="hamstrings")
    rows = {(row.varied, row.pick): row for row in weighing.grid}
    assert [row.correlations for row in weighing.grid] == [(0.3,), (0.5,), (0.8,), (0.06,), (0.2,), (0.36,)]
    for rho, pick in ((0.06, "low"), (0.36, "high")):
        y, v, ids = by_hand(rho)
        expected = pool_dependent(y, v, ids, way="three_level")
        row = rows["results of one study", pick]
        assert (row.low, row.high) == pytest.approx((expected.low, expected.high), rel=1e-5)
    y, v, ids = by_hand(0.2, r=0.8)
    expected = pool_dependent(y, v, ids, way="three_level")
    assert rows["within people", "high"].low == pytest.approx(expected.low, rel=1e-5)
    assert "between results of one study was printed" in weighing_as_text(weighing)


def test_the_trace_shows_every_result_both_variances_and_the_robust_error(portions: Catalogue) -> None:
    key = state_claim(
        portions,
        Statement(exercise="seated leg curl", comparator="lying leg curl", outcome="activation", region="hamstrings"),
        "Sam",
    ).key  # fmt: skip
    trace, weighing = trace_claim(portions, key), weigh(portions, key)
    steps = {s.name: s for s in trace.pooling}
    assert isinstance(weighing.pooled, NestedPooled)
    assert steps["tau² between studies"].value == weighing.pooled.tau2_between
    assert steps["pooled estimate"].value == weighing.pooled.estimate
    assert len(steps["pooled estimate"].inputs) == 11  # ten results and rho
    assert all(len(study.contrasts) == 2 and all(c.steps for c in study.contrasts) for study in trace.studies)
    assert "CR2" in claim_trace_text(trace)


def test_three_studies_are_too_few_for_the_nested_model_and_that_is_told(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    for key, (one, other) in list(FIGURES.items())[:3]:
        rows = {
            region: [f"{a} ({a / 4})", f"{b} ({b / 4})"] for region, (a, b) in ((BICEPS, one), (SEMI, other))
        }
        add(catalogue, tmp_path, key, means(rows))
    weighing = weighed(catalogue, region="hamstrings")
    assert not isinstance(weighing.pooled, NestedPooled)
    assert any("averaged before pooling" in note and "3 studies" in note for note in weighing.notes)


def test_two_variants_of_the_exercise_share_the_arm_they_are_held_against(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    """cov = v_b + c(a1, a2) - c(a1, b) - c(a2, b) on the log scale, groups of their own: cv_b²/n_b alone."""
    three = {"near": "seated leg curl", "far": "seated leg curl", "b": "lying leg curl"}
    table = means({BICEPS: ["60 (15)", "66 (12)", "50 (10)"]}, "near, far, b")
    add(catalogue, tmp_path, "ash-2011", table, conditions=three, design="randomised_parallel", n=60, each=20)
    weighing = weighed(catalogue, region=BICEPS)
    results = results_of(weighing.studies[0], weighing.scale)
    assert results is not None and len(results.effects) == 2
    assert results.covariance[0, 1] == pytest.approx((10 / 50) ** 2 / 20)
    assert weighing.contributions[0].n == 60  # 20 in each group, the shared one once


def test_pairs_that_follow_from_each_other_are_seen() -> None:
    assert says_nothing_twice([(1, 3), (2, 3)])
    assert says_nothing_twice([(1, 3), (2, 4)])
    assert not says_nothing_twice([(1, 3), (2, 3), (1, 4), (2, 4)])


COUNT = "  - {{outcome: harm, condition: {0}, statistic: count, events: {1}, printed: '{1}'{2}}}\n"
HARM = "  - {key: harm, construct: injury, instrument: injury registration, unit: injuries, better: lower}"


def counted(catalogue: Catalogue, folder: Path, key: str, a: int, b: int, more: str = ", n: 40") -> None:
    body = "results:\n" + COUNT.format("a", a, more) + COUNT.format("b", b, more)
    add(catalogue, folder, key, body, outcomes=HARM, design="randomised_parallel", n=80, each=40)


def test_counts_of_injured_people_give_a_risk_ratio_with_its_caution(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    """ln(4/10), variance 1/4 - 1/40 + 1/10 - 1/40 (Cochrane Handbook 6.4.1)."""
    counted(catalogue, tmp_path, "ash-2011", 4, 10)
    weighing = weighed(catalogue, "injury", direction="less")
    assert weighing.scale == "log_risk_ratio"
    assert weighing.verdict.estimate == pytest.approx(math.log(0.4))
    assert weighing.contributions[0].variance == pytest.approx(1 / 4 - 1 / 40 + 1 / 10 - 1 / 40)
    assert weighing.contributions[0].n == 80
    from evidence.workflows.documents.briefing import make_brief

    assert any("pain or injury" in text for text in make_brief(catalogue, weighing).cautions)


def test_counts_over_exposure_time_give_a_rate_ratio(catalogue: Catalogue, tmp_path: Path) -> None:
    """ln((6/1200)/(15/1200)), variance 1/6 + 1/15."""
    counted(catalogue, tmp_path, "ash-2011", 6, 15, ", person_time: 1200")
    weighing = weighed(catalogue, "injury", direction="less", scale="log-rate-ratio")
    assert weighing.verdict.estimate == pytest.approx(math.log(6 / 15))
    assert weighing.contributions[0].variance == pytest.approx(1 / 6 + 1 / 15)


def test_no_events_on_either_side_say_nothing_about_a_ratio_and_what_to_do_is_told(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    counted(catalogue, tmp_path, "ash-2011", 0, 0)
    weighing = weighed(catalogue, "injury", direction="less")
    assert weighing.pooled is None
    assert "Nobody in either group had the event" in weighing.contributions[0].note
    assert str(weighing.verdict.kind) == "nothing found"


def test_no_event_on_one_side_adds_a_half_and_says_so(catalogue: Catalogue, tmp_path: Path) -> None:
    counted(catalogue, tmp_path, "ash-2011", 0, 5)
    weighing = weighed(catalogue, "injury", direction="less")
    assert weighing.verdict.estimate == pytest.approx(math.log((0.5 / 41) / (5.5 / 41)))
    assert any("1/2 was added" in note for note in weighing.notes)


def test_counts_of_the_same_people_are_not_compared_like_two_groups(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    body = "results:\n" + COUNT.format("a", 4, "") + COUNT.format("b", 9, "")
    add(catalogue, tmp_path, "ash-2011", body, outcomes=HARM)
    weighing = weighed(catalogue, "injury", direction="less")
    assert weighing.pooled is None
    assert "same people stand on both sides" in weighing.contributions[0].note


@pytest.mark.parametrize(
    ("unit", "scale", "said"),
    [
        ("risk ratio", "log_risk_ratio", ""),
        ("IRR", "log_rate_ratio", ""),
        ("odds ratio", "log_odds_ratio", ""),
        ("hazard ratio", "", "hazard"),
        ("", "", "a ratio of what is not said"),
    ],
)
def test_a_printed_ratio_of_events_is_what_the_words_beside_it_say(
    catalogue: Catalogue, tmp_path: Path, unit: str, scale: str, said: str
) -> None:
    body = (
        "results:\n  - {outcome: harm, condition: a, comparator: b, statistic: ratio, value: 0.5, ci: [0.25, 1.0],\n"
        f"     printed: '{unit} 0.5 (0.25 to 1.0)'}}\n"
    )
    add(catalogue, tmp_path, "ash-2011", body, outcomes=HARM, design="randomised_parallel", n=80, each=40)
    weighing = weighed(catalogue, "injury", direction="less")
    if scale:
        assert weighing.scale == scale
        assert weighing.verdict.estimate == pytest.approx(math.log(0.5))
    else:
        assert weighing.pooled is None
        assert said in weighing.contributions[0].note


def test_figures_scaled_within_each_task_are_told_in_a_claim(catalogue: Catalogue, tmp_path: Path) -> None:
    scaled = EMG.replace("mvc_standard_isometric", "task_peak_or_mean")
    add(catalogue, tmp_path, "ash-2011", means({BICEPS: ["60 (15)", "50 (10)"]}), outcomes=scaled)
    other = {"a": "10RM", "b": "6RM"}
    add(catalogue, tmp_path, "birch-2012", means({BICEPS: ["62 (15)", "51 (10)"]}), load=other)
    notes = " ".join(weighed(catalogue, region=BICEPS).notes)
    assert "shares of the peak or mean within each task" in notes
    assert "normalised in different ways" in notes
    assert "not done with the same load (10RM against 6RM)" in notes


def test_a_claim_about_the_load_is_not_told_that_loads_differ(catalogue: Catalogue, tmp_path: Path) -> None:
    add(
        catalogue, tmp_path, "ash-2011", means({BICEPS: ["60 (15)", "50 (10)"]}), load={"a": "10RM", "b": "6RM"}
    )  # fmt: skip
    weighing = weighed(
        catalogue, region=BICEPS, exercise_details=("load=10RM",), comparator_details=("load=6RM",)
    )
    assert weighing.pooled is not None
    assert not any("same load" in note for note in weighing.notes)


def test_differences_in_different_units_are_not_pooled(catalogue: Catalogue, tmp_path: Path) -> None:
    millivolts = EMG.replace("'%MVIC'", "mV").replace("mvc_standard_isometric", "none")
    for key, outcomes in (("ash-2011", EMG), ("birch-2012", EMG), ("cedar-2013", millivolts)):
        add(catalogue, tmp_path, key, means({BICEPS: ["60 (15)", "50 (10)"]}), outcomes=outcomes)
    weighing = weighed(catalogue, region=BICEPS, scale="mean-difference")
    assert weighing.pooled is not None and weighing.pooled.k == 2
    assert "in mV, where the others are in %MVIC" in weighing.contributions[2].note
    assert all(row.verdict for row in weighing.grid)
    assert weighed(catalogue, region=BICEPS, key="ratio").verdict.k == 3  # a ratio has no unit


def test_results_whose_errors_are_assumed_to_correlate_enter_with_one_variance_and_none_counts_against_another(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    for key, (one, other) in FIGURES.items():
        rows = {BICEPS: [f"{one[0]} (30)", f"{one[1]} (30)"], SEMI: [f"{other[0]} (3)", f"{other[1]} (3)"]}
        add(catalogue, tmp_path, key, means(rows))
    weighing = weighed(catalogue, region="hamstrings")
    pooled = weighing.pooled
    assert isinstance(pooled, NestedPooled)
    results = [results_of(s, weighing.scale) for s in weighing.studies]
    each = [np.array([e.estimate for e in r.effects]) for r in results if r is not None]
    # Equal variances inside a study: each study enters as the plain mean of its results.
    assert pooled.estimate == pytest.approx(
        sum(w * y.mean() for w, y in zip(pooled.weights, each, strict=True)), rel=1e-9
    )
    assert any("mean of their sampling variances" in note for note in weighing.notes)
