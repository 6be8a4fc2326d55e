"""Two people who judged the same thing: both stay, the more cautious counts, settling is on record."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.raters import Judgements, Opinion, Settlement, compare_raters, tell_agreement

ORDER = ("low", "some concerns", "high")


def judged(*pairs, settlement=None):
    return Judgements(
        "D4", "measurement", tuple(Opinion(p, v, f"{p} says so") for p, v in pairs), ORDER, settlement
    )


def test_one_person_counts_alone_and_an_open_domain_is_no_judgement():
    assert judged(("Sam", "low")).holds == "low"
    assert judged(("Sam", "open")).holds is None
    assert judged(("Sam", "open"), ("Kim", "high")).holds == "high"
    assert not judged(("Sam", "open"), ("Kim", "high")).disagree


def test_until_it_is_settled_the_more_cautious_counts_and_it_is_said():
    item = judged(("Sam", "low"), ("Kim", "high"))
    assert (item.disagree, item.settled, item.holds) == (True, False, "high")
    assert "not settled" in item.told()


def test_what_was_settled_counts_and_goes_stale_when_someone_judges_anew():
    done = Settlement("Kim", "low", "Blind, p. 4.", "2026-03-01", (("Kim", "high"), ("Sam", "low")))
    item = judged(("Sam", "low"), ("Kim", "high"), settlement=done)
    assert (item.holds, item.settled, item.why) == ("low", True, "Kim: Blind, p. 4.")
    anew = judged(("Sam", "some concerns"), ("Kim", "high"), settlement=done)
    assert (anew.stale, anew.settled, anew.holds) == (True, False, "low")
    assert "settle it again" in anew.told()
    agreed = judged(("Sam", "high"), ("Kim", "high"), settlement=done)
    assert agreed.holds == "high"


def test_every_two_people_are_compared_on_what_both_judged():
    items = [judged(("Sam", "low"), ("Kim", "low"), ("Ann", "high")), judged(("Sam", "high"), ("Kim", "low"))]
    found = {(two.one, two.other): two.measured for two in compare_raters(items)}
    assert {pair: (m.agreed, m.n) for pair, m in found.items()} == {
        ("Ann", "Kim"): (0, 1),
        ("Ann", "Sam"): (0, 1),
        ("Kim", "Sam"): (1, 2),
    }
    assert "1 of 2 domains alike (50 %)" in tell_agreement(compare_raters(items)[2])


@given(st.lists(st.sampled_from([*ORDER, "open"]), min_size=1, max_size=4))
def test_what_counts_is_never_milder_than_any_opinion(values):
    item = judged(*((f"p{n}", value) for n, value in enumerate(values)))
    given_ones = [value for value in values if value != "open"]
    if given_ones:
        assert ORDER.index(item.holds) == max(map(ORDER.index, given_ones))
    else:
        assert item.holds is None


def test_a_pair_that_always_agrees_in_one_word_is_told_without_a_kappa():
    [two] = compare_raters([judged(("Sam", "low"), ("Kim", "low"))] * 3)
    assert "kappa is not defined" in tell_agreement(two)
    assert two.measured.observed == pytest.approx(1)
