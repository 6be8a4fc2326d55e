"""A claim's confidence rated by people: kept beside the proposal, stale, settled, by another rule set (invented)."""

import pytest

from evidence.appraisal.levels import Level
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key, overrides_of
from evidence.catalogue.queries.judgement import ratings_of_claim
from evidence.errors import BadInput, NotFound
from evidence.workflows.claims.claiming import Statement, leave_study_out, state_claim
from evidence.workflows.claims.rating import (
    agreement_on_claims,
    choose_rules,
    compare_rule_sets,
    rate_domain,
    rate_together,
    settle_domain,
    show_rating,
    take_back,
)
from evidence.workflows.claims.rating_told import tell_rating, tell_rule_sets
from evidence.workflows.claims.terms import Terms
from evidence.workflows.judge.judging import judge_study
from evidence.workflows.weigh.weighing import weigh

LOW_RISK = {
    "q1_1": "Y", "q1_2": "Y", "q1_3": "N", "q2_1": "N", "q2_2": "N", "q2_6": "Y", "q3_1": "Y", "q4_1": "N",
    "q4_2": "N", "q4_3": "N", "q5_1": "Y", "q5_2": "N", "q5_3": "N",
}  # fmt: skip


@pytest.fixture
def claim(stocked: Catalogue) -> str:
    statement = Statement(
        "standing calf raise", "seated calf raise", "growth", region="gastrocnemius", key="calf-growth"
    )
    return state_claim(stocked, statement, "Sam").key


def told(catalogue: Catalogue, key: str) -> str:
    return "\n".join(tell_rating(show_rating(catalogue, key)))


def test_every_domain_shows_its_rule_reason_numbers_and_source(stocked: Catalogue, claim: str) -> None:
    text = told(stocked, claim)
    for part in (
        "rule RB1",
        "rule IN1",
        "rule ID",
        "Pollock et al.",
        "default, version",
        "starts high",
        "28 people",
    ):
        assert part in text
    assert "borderline" in text
    assert text == told(stocked, claim)


def test_a_rating_is_kept_beside_the_proposal_and_counts(stocked: Catalogue, claim: str) -> None:
    before = show_rating(stocked, claim).confidence
    after = rate_domain(stocked, claim, "imprecision", "very serious", "One gym only.", "Sam").confidence
    assert after.domain("imprecision").proposed == before.domain("imprecision").proposed
    assert after.choices[0].chosen == "−2"
    assert after.level.rank <= before.level.rank
    assert "Sam" in told(stocked, claim) and "One gym only." in told(stocked, claim)
    taken = take_back(stocked, claim, "imprecision", "Sam").confidence
    assert (taken.choices, taken.level) == ((), before.level)


def test_a_rating_goes_stale_when_what_it_rests_on_changes_and_not_for_another_domain(
    stocked: Catalogue, claim: str
) -> None:
    rate_domain(stocked, claim, "bias", "0", "Seen the lab.", "Sam")
    rate_domain(stocked, claim, "indirectness", "-1", "Novices only.", "Sam")
    assert not any(c.stale for c in show_rating(stocked, claim).confidence.choices)
    judge_study(stocked, "rack-2016", "Sam", LOW_RISK)
    stale = {c.domain: c.stale for c in show_rating(stocked, claim).confidence.choices}
    assert stale == {"risk_of_bias": True, "indirectness": False}
    assert "STALE" in told(stocked, claim)


def test_two_people_are_both_kept_until_it_is_settled(stocked: Catalogue, claim: str) -> None:
    rate_domain(stocked, claim, "imprecision", "0", "Clear of both lines.", "Sam")
    shown = rate_domain(stocked, claim, "imprecision", "-2", "28 people.", "Kim")
    assert shown.confidence.choices[0].chosen == "−2"
    assert "they differ" in told(stocked, claim)
    assert agreement_on_claims(stocked).pairs[0][1].measured.agreed == 0
    with pytest.raises(BadInput):
        settle_domain(stocked, claim, "indirectness", "0", "x", "Kim")
    with pytest.raises(BadInput):
        settle_domain(stocked, claim, "imprecision", "-1", " ", "Kim")
    settled = settle_domain(stocked, claim, "imprecision", "-1", "Agreed on the phone.", "Kim")
    assert settled.confidence.choices[0].chosen == "−1"
    with stocked.reading() as session:
        row = claim_by_key(session, claim)
        assert len(overrides_of(session, row)) == 1
        assert len(ratings_of_claim(session, row)) == 3
    again = rate_domain(stocked, claim, "imprecision", "-1", "On second thoughts.", "Sam")
    assert again.judged["imprecision"].stale
    assert "settle it again" in told(stocked, claim)


def test_the_overall_level_can_be_rated(stocked: Catalogue, claim: str) -> None:
    shown = rate_domain(stocked, claim, "overall", "very low", "One small study.", "Sam")
    assert shown.confidence.level is Level.VERY_LOW
    assert take_back(stocked, claim, "overall", "Sam").confidence.choices == ()


KINDS_THAT_ARE_WORDED = {
    "trend": Statement(
        "leg extension", None, "activation", "rectus femoris", "less", kind="trend", key="worded",
        terms=Terms(detail="hip_angle_deg", step=30.0),
    ),
    "level": Statement(
        "nordic curl", None, "activation", "hamstrings", kind="level", key="worded", terms=Terms(level=60.0)
    ),
    "superlative": Statement(
        "standing calf raise", None, "growth", "gastrocnemius", kind="superlative", key="worded"
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS_THAT_ARE_WORDED)
def test_the_sentence_follows_the_level_that_a_person_chose(stocked: Catalogue, kind: str) -> None:
    key = state_claim(stocked, KINDS_THAT_ARE_WORDED[kind], "Sam").key
    said = {}
    for level in ("high", "very low"):
        rate_domain(stocked, key, "overall", level, "For the test.", "Sam")
        said[level] = weigh(stocked, key).wordings.full
    assert "very uncertain" not in said["high"]
    assert "very uncertain" in said["very low"]


def test_no_confidence_is_kept_in_a_claim_of_which_nothing_is_found_any_more(
    stocked: Catalogue, claim: str
) -> None:
    rate_domain(stocked, claim, "overall", "high", "Seen it often.", "Sam")
    assert weigh(stocked, claim).confidence.level is Level.HIGH
    for study in {s.rows.study.key for s in weigh(stocked, claim).studies}:
        leave_study_out(stocked, claim, study, "Not this one.", "Sam")
    found = weigh(stocked, claim)
    assert found.verdict.text == "nothing found"
    assert found.confidence.level is Level.VERY_LOW
    assert any("What Sam chose of the confidence waits" in note for note in found.confidence.notes)


@pytest.mark.parametrize(
    ("domain", "level", "reason"),
    [
        ("weather", "-1", "x"),
        ("imprecision", "-7", "x"),
        ("imprecision", "dreadful", "x"),
        ("overall", "-1", "x"),
        ("imprecision", "-1", "  "),
    ],
)
def test_a_rating_that_is_none_is_refused(
    stocked: Catalogue, claim: str, domain: str, level: str, reason: str
) -> None:
    with pytest.raises(BadInput):
        rate_domain(stocked, claim, domain, level, reason, "Sam")
    with pytest.raises(BadInput):
        take_back(stocked, claim, "imprecision", "Sam")
    with pytest.raises(NotFound):
        show_rating(stocked, "no-such-claim")


def test_rule_sets_are_compared_and_one_is_kept_with_the_claim(stocked: Catalogue, claim: str) -> None:
    rows = {row.rule_set: dict(row.levels) for row in compare_rule_sets(stocked, claim)}
    assert set(rows) == {"default", "pollock2016", "smo2023", "ashton2020", "narrative"}
    assert rows["pollock2016"]["imprecision"] == "−2"  # 28 people, below 100: Pollock 2016, Table 2
    assert rows["smo2023"]["risk_of_bias"] == "open"  # no PEDro totals are known
    assert [row.chosen for row in compare_rule_sets(stocked, claim)] == [True, False, False, False, False]
    assert "(kept)" in "\n".join(tell_rule_sets(compare_rule_sets(stocked, claim)))
    shown = choose_rules(stocked, claim, "Sam", "pollock2016")
    assert (shown.confidence.rule_set, shown.confidence.domain("imprecision").rule_id) == (
        "pollock2016",
        "PO-IM3",
    )
    assert show_rating(stocked, claim).confidence.rule_set == "pollock2016"
    assert choose_rules(stocked, claim, "Sam", "default").confidence.rule_set == "default"
    with pytest.raises(BadInput):
        choose_rules(stocked, claim, "Sam", "astrology")


def test_a_setting_is_kept_with_the_claim(stocked: Catalogue, claim: str) -> None:
    assert show_rating(stocked, claim).confidence.domain("inconsistency").proposed == 0
    shown = choose_rules(stocked, claim, "Sam", settings={"single_study": "kce"})
    assert shown.confidence.domain("inconsistency").rule_id == "IN1k"
    for settings in ({"single_study": "perhaps"}, {"alpha": "0.2"}):
        with pytest.raises(BadInput):
            choose_rules(stocked, claim, "Sam", settings=settings)


def test_a_rating_by_one_set_is_stale_under_another(stocked: Catalogue, claim: str) -> None:
    rate_domain(stocked, claim, "imprecision", "-1", "As the others.", "Sam")
    assert choose_rules(stocked, claim, "Sam", "pollock2016").confidence.choices[0].stale


def test_several_outcomes_take_the_lowest_critical_one(stocked: Catalogue, claim: str) -> None:
    other = state_claim(
        stocked,
        Statement("seated leg curl", "lying leg curl", "growth", region="hamstrings", key="curls"),
        "Sam",
    ).key
    rate_domain(stocked, other, "overall", "very low", "For the test.", "Sam")
    rate_domain(stocked, claim, "overall", "moderate", "For the test.", "Sam")
    assert rate_together(stocked, (claim, other)).level is Level.VERY_LOW
    assert rate_together(stocked, (claim, other), (claim,)).level is Level.MODERATE
    with pytest.raises(BadInput):
        rate_together(stocked, (claim,), (other,))
