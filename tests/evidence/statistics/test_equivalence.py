"""Equivalence, chances, detectable change, power and fragility, against closed forms and printed tables."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics import equivalence, fragility, power
from evidence.statistics.counts import Events
from evidence.statistics.equivalence import Margin, ratio_margin, symmetric_margin

MARGIN = symmetric_margin(0.2, "test")


def test_not_significant_is_not_the_same():
    got = equivalence.assess_equivalence(0.05, 0.3, MARGIN)
    assert not got.different
    assert not got.equivalent


def test_a_real_difference_can_be_too_small_to_matter():
    got = equivalence.assess_equivalence(0.08, 0.02, MARGIN)
    assert got.different
    assert got.equivalent
    assert got.not_worse
    assert got.not_better


@given(st.floats(-1, 1), st.floats(0.01, 1), st.one_of(st.none(), st.floats(3, 60)))
def test_equivalent_means_p_below_alpha(estimate, se, df):
    # The two forms of the test are the same (Schuirmann 1987)
    got = equivalence.assess_equivalence(estimate, se, MARGIN, df=df)
    assert got.equivalent == (got.p < 0.05) or abs(got.p - 0.05) < 1e-9


def test_non_inferior_without_being_equivalent():
    got = equivalence.assess_equivalence(0.3, 0.1, MARGIN)
    assert got.not_worse
    assert not got.equivalent


@given(st.floats(-1, 1), st.floats(0.01, 1), st.floats(0, 1))
def test_chances_add_up_and_mirror(estimate, se, tau2):
    got = equivalence.weigh_chances(estimate, se, MARGIN, tau2=tau2)
    assert got.above + got.within + got.below == pytest.approx(1)
    mirrored = equivalence.weigh_chances(-estimate, se, MARGIN, tau2=tau2)
    assert mirrored.below == pytest.approx(got.above)


def test_an_estimate_on_the_threshold_has_an_even_chance():
    got = equivalence.weigh_chances(0.2, 0.01, MARGIN)
    assert got.above == pytest.approx(0.5)


def test_margins_for_ratios_are_even_on_the_log_scale():
    margin = ratio_margin(1.1, "test")
    assert margin.high == pytest.approx(math.log(1.1))
    assert margin.low == -margin.high


def test_detectable_change_follows_the_measurement_error():
    # Weir 2005: SEM = SD·√(1 − ICC), MD = SEM·1.96·√2
    sem = equivalence.measurement_error(10, 0.91)
    assert sem == pytest.approx(3)
    got = equivalence.detectable_change(sem, n=16)
    assert got.person == pytest.approx(3 * 1.959964 * math.sqrt(2), rel=1e-6)
    assert got.group == pytest.approx(got.person / 4)
    assert equivalence.measurement_error_from_cv(100, 4.2) == pytest.approx(4.2)
    assert equivalence.smallest_worthwhile(15) == pytest.approx(3)


@pytest.mark.parametrize(("d", "per_group"), [(0.2, 394), (0.5, 64), (0.8, 26)])
def test_people_per_group_as_in_the_printed_table(d, per_group):
    # Cohen 1988, Table 2.4.1, alpha 0.05 two-sided, power 0.80: 393, 64, 26 (from memory; 393.4 rounded down)
    assert power.people_for_groups(d) == per_group
    assert (
        power.power_of_groups(d, per_group, per_group)
        >= 0.8
        > power.power_of_groups(d, per_group - 1, per_group - 1)
    )


@pytest.mark.parametrize(("d", "total"), [(0.2, 786), (0.3, 350), (0.5, 126)])
def test_large_sample_information_size(d, total):
    # From the project's design material (confidence, optimal information size)
    assert math.ceil(power.information_for_groups(d)) == pytest.approx(total, abs=1)


@pytest.mark.parametrize(
    ("r", "d", "people"), [(0.5, 0.2, 197), (0.5, 0.3, 88), (0.5, 0.5, 32), (0.8, 0.2, 79)]
)
def test_large_sample_information_size_of_pairs(r, d, people):
    assert math.ceil(power.information_for_pairs(d, r)) == pytest.approx(people, abs=1)


def test_pairs_with_half_correlation_are_the_plain_one_sample_case():
    # With r = 0.5 the SD of differences is that between people; Cohen 1988: n = 34 for d = 0.5 (from memory)
    assert power.people_for_pairs(0.5, 0.5) == 34


def test_power_without_an_effect_is_alpha():
    assert power.power_of_groups(0, 20, 20) == pytest.approx(0.05, abs=1e-9)


def test_the_next_study_brings_the_interval_off_the_threshold():
    got = power.size_next_study(0.2, 0.15, 4.0)
    se = 1 / math.sqrt(1 / 0.15**2 + got.people / 4.0)
    assert 0.2 / se >= 1.959963
    before = 1 / math.sqrt(1 / 0.15**2 + (got.people - 1) / 4.0)
    assert 0.2 / before < 1.959964
    assert power.size_next_study(0.5, 0.1, 4.0).already
    wide = power.size_next_study(0.1, 0.15, 4.0, tau2=0.09)
    assert wide.people is None
    assert wide.studies > 1


def pool_common(y, v):
    w = 1 / v
    mean, se = (w @ y) / w.sum(), 1 / math.sqrt(w.sum())
    return mean - 1.959963984540054 * se, mean + 1.959963984540054 * se


def test_null_studies_in_closed_form():
    # k equal studies with estimate m, variance v: j null studies more give k·m/(k+j) ± z·√(v/(k+j))
    k, m, v = 5, 0.5, 0.1
    got = fragility.assess_fragility([m] * k, [v] * k, pooling=pool_common)
    z = 1.959963984540054
    closed = math.floor((k * m / z) ** 2 / v - k) + 1
    assert got.null_studies == closed
    # one study that finds x: (k·m + x)/(k + 1) = z·√(v/(k+1))
    assert got.single_result == pytest.approx(z * math.sqrt(v * (k + 1)) - k * m, abs=1e-6)
    # one null study with weight w: k·m/v = z·√(k/v + w)
    assert got.single_variance == pytest.approx(1 / ((k * m / v / z) ** 2 - k / v), rel=1e-6)
    assert got.leaving_out == ()


def test_default_pooling_answers_too():
    got = fragility.assess_fragility([0.4, 0.5, 0.45, 0.6, 0.3], [0.04, 0.05, 0.03, 0.06, 0.04])
    assert got.clear
    assert got.null_studies >= 1
    unclear = fragility.assess_fragility([0.4, -0.5, 0.1], [0.04, 0.05, 0.03])
    assert not unclear.clear
    assert unclear.null_studies is None


def test_leaving_one_out_that_changes_the_answer_is_named():
    got = fragility.assess_fragility([1.0, 0.05, 0.0], [0.01, 0.1, 0.1], pooling=pool_common)
    assert got.leaving_out == (0,)


def test_fragility_index_of_a_table():
    # After Walsh et al. 2014 (example from memory), worked by Fisher's exact test: 1/100 against 9/100, p = 0.018
    assert fragility.fragility_index(Events(1, 100), Events(9, 100)) == 1
    assert fragility.fragility_index(Events(5, 100), Events(9, 100)) is None
    assert fragility.fragility_index(Events(0, 200), Events(40, 200)) > 20


@pytest.mark.parametrize(
    "call",
    [
        lambda: Margin(0.1, 0.3, "x"),
        lambda: ratio_margin(0, "x"),
        lambda: equivalence.assess_equivalence(0.1, 0, MARGIN),
        lambda: equivalence.assess_equivalence(math.nan, 1, MARGIN),
        lambda: equivalence.weigh_chances(0.1, 1, MARGIN, tau2=-1),
        lambda: equivalence.measurement_error(3, 1.2),
        lambda: equivalence.detectable_change(0),
        lambda: equivalence.smallest_worthwhile(0),
        lambda: power.people_for_groups(0),
        lambda: power.people_for_groups(0.5, power=1.2),
        lambda: power.people_for_groups(1e-6),
        lambda: power.power_of_pairs(0.5, 10, 1),
        lambda: power.size_next_study(0.0, 0.1, 1),
        lambda: power.size_next_study(0.1, 0.1, -1),
        lambda: fragility.assess_fragility([], []),
    ],
)
def test_impossible_questions_are_refused_in_words(call):
    with pytest.raises(NumberProblem) as caught:
        call()
    assert len(str(caught.value).split()) > 5


def test_the_simulated_power_is_the_computed_one():
    rng = np.random.default_rng(7)
    n, d = 20, 0.8
    a, b = rng.normal(d, 1, (4000, n)), rng.normal(0, 1, (4000, n))
    pooled = np.sqrt((a.var(1, ddof=1) + b.var(1, ddof=1)) / 2)
    t = (a.mean(1) - b.mean(1)) / (pooled * math.sqrt(2 / n))
    share = (np.abs(t) > 2.0244).mean()  # t(38) at 0.975, printed table
    assert share == pytest.approx(power.power_of_groups(d, n, n), abs=3 * math.sqrt(0.25 / 4000))
