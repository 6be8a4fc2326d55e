"""What would change the answer; and the rating of one comparison in a network."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.changing import Change, Remaining, Repair, Z, find_changes, find_flips
from evidence.appraisal.confidence import rate
from evidence.appraisal.levels import Level
from evidence.appraisal.network_rating import NetworkPart, rate_network
from evidence.errors import BadInput
from evidence.statistics.pooling import common_effect, pool


def make(effects, variances, n=40, **changes):
    contributions = tuple(
        Contribution(
            study=f"s{i}",
            label=f"Study {i}",
            year=2000 + i,
            design="randomised_parallel",
            randomised=True,
            n=n,
            estimate=e,
            variance=v,
            low=e - Z * v**0.5,
            high=e + Z * v**0.5,
            construct="strength",
            bias="low",
        )
        for i, (e, v) in enumerate(zip(effects, variances, strict=True))
    )
    base = Body(
        construct="strength", metric="smd", contributions=contributions, pooled=pool(effects, variances)
    )
    return replace(base, **changes)


def test_the_null_study_puts_the_limit_of_the_interval_on_zero():
    body = make([0.5, 0.55, 0.6], [0.02, 0.02, 0.02], pooled=common_effect([0.5, 0.55, 0.6], [0.02] * 3))
    people = find_changes(body, rate(body)).null_study_people
    assert people is not None
    variance = 40 * 0.02 / people  # one person contributes n times the variance
    with_it = common_effect([0.5, 0.55, 0.6, 0.0], [0.02, 0.02, 0.02, variance])
    assert with_it.low == pytest.approx(0.0, abs=2e-3)  # people are whole numbers


def test_an_agreeing_study_makes_an_open_answer_clear():
    body = make([0.3, 0.2], [0.09, 0.09], pooled=common_effect([0.3, 0.2], [0.09, 0.09]))
    changes = find_changes(body, rate(body))
    assert changes.null_study_people is None
    people = changes.agreeing_study_people
    with_it = common_effect([0.3, 0.2, 0.25], [0.09, 0.09, 40 * 0.09 / people])
    assert with_it.low == pytest.approx(0.0, abs=2e-3)


def test_no_single_study_moves_an_answer_whose_studies_differ_too_much():
    body = make([0.9, -0.4, 0.8, -0.3], [0.02] * 4)
    changes = find_changes(body, rate(body))
    assert body.pooled.tau2 > 0.2
    assert changes.agreeing_study_people is None
    assert changes.one_study_cannot
    assert any(line.startswith("0 studies on their own") for line in changes.lines())


def test_people_missing_are_those_to_the_information_size():
    body = make([0.6, 0.6], [0.2, 0.2], n=20)
    assert find_changes(body, rate(body)).people_missing == 126 - 40


def test_a_study_that_decides_is_named():
    body = make([0.5, 0.5, -0.6], [0.01, 0.01, 0.01])
    assert [label for label, _ in find_flips(body)] == ["Study 2"]
    assert any("without Study 2" in line for line in find_changes(body, rate(body)).lines())


def test_the_domain_whose_repair_lifts_the_level_is_named():
    body = make([0.6, 0.6], [0.005, 0.005], n=100)
    high_risk = replace(
        body, contributions=tuple(replace(c, bias="some concerns") for c in body.contributions)
    )
    changes = find_changes(high_risk, rate(high_risk))
    assert [(r.domain, r.level) for r in changes.repairs] == [("risk_of_bias", Level.HIGH)]
    assert changes.falsifier_needed


def test_every_line_begins_with_a_number():
    body = make([0.5, 0.1, -0.6], [0.05, 0.02, 0.01], n=12)
    lines = find_changes(body, rate(body)).lines()
    assert lines
    assert all(line[0].isdigit() for line in lines)


def test_an_empty_body_has_nothing_to_change():
    empty = Body(construct="strength", metric="smd")
    changes = find_changes(empty, rate(empty))
    assert (changes.null_study_people, changes.flips, changes.people_missing) == (None, (), None)


@given(st.floats(0.5, 1.0), st.floats(0.001, 0.02))
def test_a_more_precise_body_needs_a_larger_null_study(effect, variance):
    sizes = []
    for v in (variance, variance / 2):
        body = make([effect, effect], [v, v], n=round(4 / v), pooled=common_effect([effect, effect], [v, v]))
        sizes.append(find_changes(body, rate(body)).null_study_people or 0)
    assert sizes[1] >= sizes[0]
    assert all(math.isfinite(s) for s in sizes)


@pytest.mark.parametrize(
    ("part", "level"),
    [
        (NetworkPart(Level.HIGH, (Level.LOW, Level.LOW), 0.6), Level.HIGH),
        (NetworkPart(Level.HIGH, (Level.LOW, Level.MODERATE), 0.2), Level.LOW),
        (NetworkPart(None, (Level.HIGH, Level.MODERATE), 0.0), Level.MODERATE),
        (NetworkPart(None, (Level.HIGH, Level.MODERATE), 0.0, intransitive=True), Level.LOW),
        (NetworkPart(Level.MODERATE, (Level.HIGH, Level.HIGH), 0.7, incoherent=True), Level.LOW),
        (NetworkPart(Level.MODERATE, None, 1.0, imprecision=-2), Level.VERY_LOW),
    ],
)
def test_direct_and_indirect_evidence_are_joined_in_the_published_order(part, level):
    assert rate_network(part).level is level


def test_incoherence_is_not_counted_twice():
    both = NetworkPart(None, (Level.HIGH, Level.HIGH), 0.0, intransitive=True, incoherent=True)
    assert rate_network(both).level is Level.MODERATE


def test_a_comparison_without_evidence_is_refused():
    with pytest.raises(BadInput):
        rate_network(NetworkPart(None, None, 0.0))
    with pytest.raises(BadInput):
        rate_network(NetworkPart(Level.HIGH, None, 1.4))


def test_one_study_alone_is_reckoned_with_its_own_variance_not_with_its_interval_by_students_t():
    # By hand: W = 1/0.01, (0.4 W / 1.95996)² − W = 316.49 is the weight; one person brings 1/(20 · 0.01), so 63.3.
    reach = 2.093 * 0.1  # t, 19 degrees of freedom (printed tables)
    alone = Remaining(1, 0.4, 0.4 - reach, 0.4 + reach)
    body = make([0.4], [0.01], n=20, pooled=alone)
    assert find_changes(body, rate(body)).null_study_people == 64


def test_doubts_that_lift_to_the_same_level_are_told_in_one_line():
    repairs = (Repair("risk_of_bias", Level.MODERATE), Repair("imprecision", Level.MODERATE))
    change = Change(repairs, None, None, None, False, (), falsifier_needed=False)
    assert change.lines() == (
        "1 doubt less would make the confidence moderate: risk of bias or imprecision.",
    )
