"""Real papers go the whole way: from their printed figures to a claim, its effect and its verdict.

Study files hold figures printed in the papers, with what was read of each; see their headers for the sources.
"""

import csv
import math
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.statistics.pooling import common_effect, pool
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.extract.individuals import load_individuals
from evidence.workflows.gather.gathering import gather
from evidence.workflows.weigh.weighing import weigh

TESTS = Path(__file__).parents[3]
STUDIES = TESTS / "evidence" / "reading" / "data"
REFERENCES = TESTS / "references" / "data" / "training.bib"
LIU_LATHAM = TESTS / "evidence" / "statistics" / "liu_latham_2009_physical_function_33.csv"


@pytest.fixture
def library(catalogue: Catalogue) -> Catalogue:
    gather(catalogue, REFERENCES, "Sam")
    for name in ("lehman_2004", "contreras_2015", "plotkin_2023"):
        load_study(catalogue, STUDIES / f"{name}.study.yaml", "Sam")
    return catalogue


def stated(catalogue: Catalogue, a: str, b: str, region: str, outcome: str, **more: object) -> str:
    statement = Statement(exercise=a, comparator=b, region=region, outcome=outcome, **more)  # type: ignore[arg-type]
    return state_claim(catalogue, statement, "Sam").key


def test_lehman_rows_over_pulldowns_give_one_effect_for_twelve_men(library: Catalogue) -> None:
    key = stated(library, "seated cable row", "lat pulldown", "latissimus dorsi", "activation")
    weighing = weigh(library, key)
    # Mean of four log ratios of the means printed in Table 1 of Lehman 2004, worked out here by hand.
    rows, pulldowns = (30.10, 37.08), (26.23, 22.37)
    by_hand = sum(math.log(a / b) for a in rows for b in pulldowns) / 4
    assert weighing.verdict.estimate == pytest.approx(by_hand, rel=1e-12)
    assert [c.n for c in weighing.contributions] == [12]
    assert str(weighing.verdict.kind) == "supported"


def test_lehman_interval_follows_the_joint_covariance_of_the_four_conditions(library: Catalogue) -> None:
    key = stated(library, "seated cable row", "lat pulldown", "latissimus dorsi", "activation")
    weighing = weigh(library, key)
    # Delta method by hand: each condition enters with weight 1/2 or -1/2; covariance r * cv_i * cv_j / n.
    cvs = [14.9 / 30.10, 14.04 / 37.08, 10.1 / 26.23, 9.1 / 22.37]
    weights = [0.5, 0.5, -0.5, -0.5]
    for row in weighing.grid:
        (r,) = row.correlations
        variance = sum(
            weights[i] * weights[j] * cvs[i] * cvs[j] * (1.0 if i == j else r) / 12
            for i in range(4)
            for j in range(4)
        )
        half = 2.2009851600916366 * math.sqrt(
            variance
        )  # one study of 12: Student's t, 11 df (any table: 2.201)
        assert (row.low, row.high) == pytest.approx((row.estimate - half, row.estimate + half), rel=1e-9)
    assert [row.pick for row in weighing.grid] == ["low", "usual", "high"]


def test_lehman_biceps_shows_no_clear_difference_whatever_correlation_is_assumed(library: Catalogue) -> None:
    key = stated(library, "seated cable row", "lat pulldown", "biceps brachii", "activation")
    weighing = weigh(library, key)
    assert {row.verdict for row in weighing.grid} == {"no clear difference"}
    assert weighing.grid_agrees


def test_hip_thrust_activates_more_by_an_abstract_without_spreads_and_no_interval_is_made_up(
    library: Catalogue,
) -> None:
    key = stated(library, "hip thrust", "back squat", "gluteus maximus", "activation")
    weighing = weigh(library, key)
    assert str(weighing.verdict.kind) == "direction only"
    assert weighing.pooled is None
    # Contreras 2015, abstract: mean amplitude, upper 69.5 v 29.4, lower 86.8 v 45.4 (%MVIC).
    by_hand = (math.log(69.5 / 29.4) + math.log(86.8 / 45.4)) / 2
    assert weighing.verdict.estimate == pytest.approx(by_hand, rel=1e-12)


def test_hip_thrust_growth_is_no_clear_difference_and_does_not_lean_on_activation_silently(
    library: Catalogue,
) -> None:
    key = stated(library, "hip thrust", "back squat", "gluteus maximus", "growth")
    weighing = weigh(library, key)
    assert str(weighing.verdict.kind) == "no clear difference"
    assert [c.study for c in weighing.contributions] == ["plotkin-2023"]
    assert any("Contreras et al. 2015" in note and "not used" in note for note in weighing.notes)


def test_plotkin_counts_once_although_preprint_and_article_report_it(library: Catalogue) -> None:
    key = stated(library, "hip thrust", "back squat", "gluteus maximus", "growth")
    weighing = weigh(library, key)
    assert weighing.verdict.people == 34


def test_plotkin_turned_round_points_to_the_hip_thrust(library: Catalogue) -> None:
    """The abstract prints squat minus hip thrust; the claim asks for hip thrust minus squat."""
    weighing = weigh(library, stated(library, "hip thrust", "back squat", "gluteus maximus", "growth"))
    assert weighing.verdict.estimate is not None
    assert weighing.verdict.estimate > 0
    turned = weigh(library, stated(library, "back squat", "hip thrust", "gluteus maximus", "growth"))
    assert turned.verdict.estimate == pytest.approx(-weighing.verdict.estimate)
    assert turned.pooled is not None and weighing.pooled is not None
    assert turned.pooled.se == pytest.approx(weighing.pooled.se)


def test_a_growth_claim_that_leans_on_activation_says_so_in_its_verdict(library: Catalogue) -> None:
    for study in ("plotkin_2023",):
        from evidence.workflows.upkeep.keeping import undo_change

        with library.reading() as session:
            from evidence.catalogue.history import list_changes

            number = next(e.number for e in list_changes(session) if study in e.action)
        undo_change(library, number, "Sam")
    key = stated(library, "hip thrust", "back squat", "gluteus maximus", "growth", surrogate="activation")
    weighing = weigh(library, key)
    assert "by muscle activation alone" in weighing.verdict.text
    assert weighing.confidence.domain("indirectness").counted == -2


def test_liu_and_latham_pool_to_their_published_answer() -> None:
    """Liu & Latham 2009, Cochrane Review CD002759: 0.14 [0.05, 0.22]; more digits recomputed."""
    with LIU_LATHAM.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    y, v = [float(r["y"]) for r in rows], [float(r["v"]) for r in rows]
    common = common_effect(y, v)
    # Printed to four decimals: half a unit of the last one.
    assert (common.estimate, common.low, common.high) == pytest.approx((0.1352, 0.0504, 0.2200), abs=5e-5)
    assert common.q == pytest.approx(35.93, abs=5e-3)
    random = pool(y, v, tau2_method="DL", interval="wald")
    assert random.i2 == pytest.approx(10.9, abs=0.05)
    assert (random.estimate, random.low, random.high) == pytest.approx((0.134, 0.041, 0.228), abs=6e-4)


HAMMARSTROM = TESTS / "evidence" / "workflows" / "data" / "hammarstrom2020_leg_lean_mass.csv"
LEGS = """steelyard: study/1
key: hammarstrom-legs
title: Leg lean mass of the open individual data (CC0)
year: 2020
weeks: 12
references: [{doi: 10.1113/JP278455}]
design: randomised_crossover
pairing: within
people: [{key: all, analysed: 34, sex: both, training_status: moderately untrained, health: healthy}]
conditions:
  - {key: three, exercise: leg press, printed: three sets per exercise, dose: {sets_per_exercise: 3}}
  - {key: one, exercise: leg press, printed: one set per exercise, dose: {sets_per_exercise: 1}}
outcomes:
  - {key: mass, construct: hypertrophy, instrument: DXA, unit: g}
"""


@pytest.fixture
def legs(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    path = tmp_path / "legs.yaml"
    path.write_text(LEGS, "utf-8")
    load_study(catalogue, path, "Sam")
    load_individuals(
        catalogue,
        "hammarstrom-legs",
        HAMMARSTROM,
        "Sam",
        outcome="mass",
        region="lower limb",
        columns={"person": "subject", "condition": "cond", "pre": "pre", "post": "post"},
        conditions={"multiple": "three", "single": "one"},
    )
    return catalogue


def test_three_sets_over_one_go_from_individual_legs_to_a_claim_about_growth(legs: Catalogue) -> None:
    """Hammarstrom et al. 2020, open data: +3.37 % against +2.05 %, difference 1.31 points [0.01, 2.62], n = 34."""
    statement = Statement(
        exercise="any",
        comparator="any",
        exercise_details=("sets_per_exercise=3",),
        comparator_details=("sets_per_exercise=1",),
        region="lower limb",
        outcome="growth",
        scale="percent-change-difference",
    )
    weighing = weigh(legs, state_claim(legs, statement, "Sam").key)
    verdict = weighing.verdict
    # Printed to two decimals: half a unit of the last one.
    assert (verdict.estimate, verdict.low, verdict.high) == pytest.approx((1.31, 0.01, 2.62), abs=0.005)
    assert str(verdict.kind) == "supported"
    assert verdict.people == 34
    assert not weighing.grid, "the correlation was computed from the data, so nothing is assumed"


def test_the_correlation_of_the_legs_changes_is_that_of_the_open_data(legs: Catalogue) -> None:
    """0.61 between the legs' percent changes; 0.979 and 0.989 before to after (recomputed from the open data)."""
    from evidence.catalogue.queries import study_by_key, study_rows

    with legs.reading() as session:
        rows = study_rows(session, study_by_key(session, "hammarstrom-legs"))
    found = sorted(round(c.r, 3) for c in rows.correlations)
    assert found == pytest.approx([0.609, 0.665, 0.979, 0.989], abs=5e-4)
    assert {c.origin for c in rows.correlations} == {"computed from individual data"}


def test_mean_and_peak_amplitude_are_two_views_of_one_signal_and_the_other_is_named(
    library: Catalogue,
) -> None:
    """Contreras 2015 prints mean and peak amplitude; the claim rests on the mean, and the peak is told of."""
    weighing = weigh(library, stated(library, "hip thrust", "back squat", "gluteus maximus", "activation"))
    assert any("emg_peak" in note and "not averaged" in note for note in weighing.notes)
