"""Confidence by the default rules: each domain, its rule, its reason with numbers (confidence.md 1)."""

import math
from dataclasses import replace

import pytest

from evidence.appraisal.body import Body, Indirectness
from evidence.appraisal.confidence import rate
from evidence.appraisal.levels import Level
from evidence.errors import BadInput
from evidence.vocabulary.terms import Direction


def levels_of(confidence):
    return {d.domain: d.proposed for d in confidence.domains}


def test_a_large_consistent_direct_body_at_low_risk_is_high(body, pool):
    confidence = rate(body(pool(0.5, 0.3, 0.7, k=4, i2=10.0), k=4, each={"n": 100}))
    assert confidence.level is Level.HIGH
    assert levels_of(confidence) == dict.fromkeys(levels_of(confidence), 0)
    assert confidence.low == confidence.high == Level.HIGH


@pytest.mark.parametrize(
    ("design", "randomised", "start"),
    [
        ("randomised_parallel", True, Level.HIGH),
        ("randomised_crossover", True, Level.HIGH),
        ("within_subject_order_not_randomised", False, Level.LOW),
        ("within_subject_order_not_randomised", None, Level.LOW),
        ("nonrandomised_comparative", False, Level.LOW),
        ("single_arm_or_case_series", False, Level.VERY_LOW),
        ("mechanistic_or_model_or_expert", False, Level.VERY_LOW),
    ],
)
def test_the_design_sets_the_start(body, design, randomised, start):
    assert rate(body(each={"design": design, "randomised": randomised})).start is start


def test_an_order_not_said_to_be_randomised_starts_low_and_says_so(body):
    confidence = rate(body(each={"design": "randomised_crossover", "randomised": None}))
    assert confidence.start is Level.LOW
    assert any("do not say" in note for note in confidence.notes)


def test_robins_starts_high_and_is_rated_down_by_its_judgement(body):
    each = {
        "design": "nonrandomised_comparative",
        "randomised": False,
        "bias": "serious",
        "bias_tool": "ROBINS-I",
    }
    confidence = rate(body(each=each))
    assert confidence.start is Level.HIGH
    assert confidence.domain("risk_of_bias").proposed == -2
    assert rate(body(each=each), settings={"nrs_start": "coregrade2025"}).start is Level.LOW


@pytest.mark.parametrize(
    ("biases", "proposed", "rule"),
    [
        (("low",) * 4, 0, "RB2"),
        (("low", "low", "low", "high"), 0, "RB2"),
        (("low", "low", "high", "high"), -1, "RB5"),
        (("high", "high", "high", "low"), -2, "RB3"),
        (("not assessed",) * 4, -1, "RB1"),
        (("some concerns",) * 4, -1, "RB5"),
    ],
)
def test_shares_of_the_information_set_risk_of_bias(body, contribution, biases, proposed, rule):
    contributions = tuple(
        contribution(i, bias=b, high_domains=2 * (b == "high")) for i, b in enumerate(biases)
    )
    rating = rate(body(k=4, contributions=contributions)).domain("risk_of_bias")
    assert (rating.proposed, rating.rule_id) == (proposed, rule)


def test_few_high_risk_studies_that_change_nothing_are_borderline(body, contribution, pool):
    contributions = tuple(
        contribution(i, bias=b) for i, b in enumerate(("low", "low", "some concerns", "high"))
    )
    confidence = rate(body(k=4, contributions=contributions, without_high_risk=pool(0.4, 0.1, 0.7)))
    rating = confidence.domain("risk_of_bias")
    assert (rating.rule_id, rating.borderline) == ("RB4", True)
    assert confidence.low.rank < confidence.high.rank


@pytest.mark.parametrize(
    ("i2", "estimates", "overlap", "proposed"),
    [
        (20.0, (0.4, -0.1, 0.3), True, 0),
        (50.0, (0.4, 0.1, 0.3), True, 0),
        (50.0, (0.4, 0.1, 0.3), False, -1),
        (50.0, (0.4, -0.1, 0.3), True, -1),
        (80.0, (0.4, 0.1, 0.3), False, -1),
        (80.0, (0.4, -0.1, 0.3), False, -2),
        (None, (0.4, -0.1, 0.3), False, None),
    ],
)
def test_the_matrix_of_cd009172_sets_inconsistency(
    body, contribution, pool, i2, estimates, overlap, proposed
):
    half = 1.0 if overlap else 0.02
    contributions = tuple(
        contribution(i, estimate=e, low=e - half, high=e + half) for i, e in enumerate(estimates)
    )
    confidence = rate(body(pool(0.3, 0.1, 0.5, i2=i2), contributions=contributions))
    assert confidence.domain("inconsistency").proposed == proposed


def test_every_overlapping_band_of_i2_is_named(body, pool):
    rating = rate(body(pool(0.3, 0.1, 0.5, i2=55.0))).domain("inconsistency")
    assert "moderate or substantial" in rating.reason


def test_a_single_study_is_flagged_and_rated_down_only_by_setting(body, pool):
    one = body(pool(0.4, 0.1, 0.7, k=1), k=1)
    rating = rate(one).domain("inconsistency")
    assert (rating.proposed, rating.flags) == (0, ("single study",))
    assert rate(one, settings={"single_study": "kce"}).domain("inconsistency").proposed == -1


def test_activation_behind_a_claim_about_growth_loses_two_levels(body):
    rating = rate(body(each={"construct": "activation"})).domain("indirectness")
    assert (rating.proposed, rating.flags) == (-2, ("surrogate",))
    assert "not a validated predictor" in rating.reason


def test_activation_behind_a_claim_about_activation_loses_nothing(body):
    direct = body(construct="activation", metric="log_ratio_of_means", each={"construct": "activation"})
    assert rate(direct).domain("indirectness").proposed == 0


def test_another_surrogate_loses_one_level(body):
    assert rate(body(each={"construct": "architecture"})).domain("indirectness").proposed == -1


@pytest.mark.parametrize(
    ("dimensions", "proposed"), [(("population",), -1), (("population", "timeframe"), -2)]
)
def test_serious_indirectness_is_counted_by_respect(body, dimensions, proposed):
    indirect = tuple(Indirectness(d, "serious", "another kind") for d in dimensions)
    assert rate(body(each={"indirectness": indirect})).domain("indirectness").proposed == proposed


def test_only_a_common_comparator_is_one_level_that_may_be_two(body):
    rating = rate(body(each={"via_common_comparator": True})).domain("indirectness")
    assert (rating.proposed, rating.worst, rating.borderline) == (-1, -2, True)


@pytest.mark.parametrize(
    ("interval", "n", "proposed", "rule"),
    [
        ((-0.9, 0.0, 0.9), 60, -3, "IM2"),
        ((-0.6, 0.0, 0.6), 60, -2, "IM3"),
        ((-0.1, 0.3, 0.7), 60, -1, "IM4"),
        ((0.1, 0.6, 1.1), 10, -2, "IM5"),
        ((0.1, 0.6, 1.1), 30, -1, "IM6"),
        ((0.1, 0.6, 1.1), 60, 0, "IM8"),
    ],
)
def test_the_interval_and_the_people_set_imprecision(body, pool, interval, n, proposed, rule):
    low, estimate, high = interval
    rating = rate(body(pool(estimate, low, high), each={"n": n})).domain("imprecision")
    assert (rating.proposed, rating.rule_id) == (proposed, rule)


@pytest.mark.parametrize(
    ("ratios", "proposed"), [((0.70, 0.95, 1.30), -2), ((0.78, 1.00, 1.30), -1), ((0.60, 0.70, 0.80), 0)]
)
def test_ratios_are_held_against_the_published_lines(body, pool, ratios, proposed):
    # GRADE guidelines 6: 0.75 and 1.25 for ratio measures
    low, estimate, high = (math.log(r) for r in ratios)
    injuries = body(
        pool(estimate, low, high), metric="log_risk_ratio", direction=Direction.LESS, each={"n": 5000}
    )
    rating = rate(injuries).domain("imprecision")
    assert rating.proposed == proposed
    if proposed == -2:
        assert "0.75 and 1.25" in rating.reason


def test_people_who_did_both_conditions_count_for_more(body):
    between = rate(body(each={"n": 20})).domain("imprecision")
    within = rate(body(each={"n": 20, "design": "randomised_crossover"})).domain("imprecision")
    assert "126" in between.reason
    assert dict(within.facts)["needed"] == 32
    assert within.proposed == 0


def test_mixed_designs_add_up_their_shares_of_the_people_needed(body, contribution):
    mixed = (contribution(1, n=63), contribution(2, n=16, design="randomised_crossover"))
    facts = dict(rate(body(contributions=mixed, k=2)).domain("imprecision").facts)
    assert facts["share_of_needed"] == pytest.approx(63 / 126 + 16 / 32)


def test_a_claim_of_little_or_no_difference_is_held_against_its_margin(body, pool):
    same = body(pool(0.0, -0.3, 0.1), direction=Direction.SAME, margin=0.2)
    confidence = rate(same)
    assert confidence.target == "little to no difference"
    assert confidence.domain("imprecision").proposed == -1


def test_the_result_at_the_small_difference_is_printed_beside(body, pool):
    rating = rate(body(pool(0.3, -0.25, 0.85))).domain("imprecision")
    assert rating.proposed == -1
    assert any("0.20" in option and "−2" in option for option in rating.options)


def test_no_interval_leaves_imprecision_open_and_the_level_a_range(body):
    bare = body(each={"low": None, "high": None, "variance": None})
    bare = Body(construct="hypertrophy", metric="smd", contributions=bare.contributions)
    confidence = rate(bare)
    rating = confidence.domain("imprecision")
    assert (rating.proposed, rating.counted) == (None, -1)
    assert confidence.low is not confidence.high
    assert confidence.span.startswith(f"{confidence.level} (between ")


def test_activation_in_log_ratios_takes_people_needed_from_the_variances(body, pool):
    ratio = body(
        pool(math.log(1.2), math.log(1.1), math.log(1.3)),
        construct="activation",
        metric="log_ratio_of_means",
        each={"construct": "activation", "n": 12, "variance": 0.003, "design": "randomised_crossover"},
    )
    facts = dict(rate(ratio).domain("imprecision").facts)
    # 12 x 0.003 = 0.036 per person; 0.036 x 7.849 / log(1.25)^2 = 5.67 people
    assert facts["share_of_needed"] == pytest.approx(36 / 6)


def test_changes_from_before_to_after_take_people_needed_from_the_variances(body):
    plain = dict(rate(body(each={"variance": 0.09})).domain("imprecision").facts)
    change = dict(rate(body(each={"variance": 0.01})).domain("imprecision").facts)
    assert plain["needed"] == 126  # the published formula: wide studies do not raise it
    assert change["needed"] == 19  # 60 x 0.01 per person; 0.6 x 7.849 / 0.5^2


def test_an_estimate_of_nothing_points_neither_way(body, contribution):
    even = (contribution(1, estimate=-1e-17, low=-0.2, high=0.2), contribution(2))
    confidence = rate(body(contributions=even))
    assert dict(confidence.domain("inconsistency").facts)["directions"].endswith(
        "0 of the comparator, 1 of neither"
    )


def test_few_studies_are_not_testable_for_publication_bias_and_it_is_printed(body):
    rating = rate(body()).domain("publication_bias")
    assert (rating.proposed, rating.flags) == (0, ("not testable",))
    assert "not testable with 3 studies" in rating.reason.lower()


def test_ten_studies_with_a_small_study_effect_lose_one_level(body, pool):
    ten = body(pool(0.4, 0.2, 0.6, k=10), k=10, small_study_p=0.03)
    assert rate(ten).domain("publication_bias").proposed == -1
    assert rate(replace(ten, small_study_p=0.4)).domain("publication_bias").proposed == 0


def test_mixed_designs_stretch_the_range_and_are_named(body, contribution):
    mixed = (
        contribution(1),
        contribution(2),
        contribution(3, design="nonrandomised_comparative", randomised=False),
    )
    confidence = rate(body(contributions=mixed))
    assert confidence.start is Level.HIGH
    assert confidence.low.rank < confidence.high.rank
    assert any("mixed" in note for note in confidence.notes)


def test_the_same_inputs_give_the_same_rating(body):
    assert rate(body()) == rate(body())
    assert rate(body()).inputs_hash != rate(body(each={"n": 61})).inputs_hash


def test_every_reason_carries_its_rule_and_sources(body):
    for rating in rate(body()).domains:
        assert rating.rule_id
        assert rating.sources
        assert rating.conf in ("verified", "memory", "project")
        assert "not known" not in rating.reason


def test_an_empty_body_is_very_low():
    confidence = rate(Body(construct="hypertrophy", metric="smd"))
    assert confidence.level is Level.VERY_LOW


def test_an_unknown_setting_rule_set_or_metric_is_refused(body):
    with pytest.raises(BadInput):
        rate(body(), settings={"colour": "red"})
    with pytest.raises(BadInput):
        rate(body(), rule_set="../default")
    with pytest.raises(BadInput):
        rate(body(metric="furlongs"))


def test_a_bias_word_that_is_none_is_refused(contribution):
    with pytest.raises(BadInput):
        contribution(bias="green")
