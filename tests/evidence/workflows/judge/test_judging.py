"""Risk of bias of a study judged by people: what is proposed, chosen, kept, weighed; the study is invented."""

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.history import list_changes, undo
from evidence.catalogue.queries import study_by_key
from evidence.catalogue.queries.judgement import ratings_of_study
from evidence.errors import BadInput, NotFound
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.judge.agreeing import agreement_on_studies
from evidence.workflows.judge.judging import Choice, ask_about, judge_study, settle_study
from evidence.workflows.weigh.weighing import weigh

FAULTLESS = {
    "q1_1": "Y", "q1_2": "Y", "q1_3": "N", "q2_1": "N", "q2_2": "PN", "q2_6": "Y", "q3_1": "Y", "q4_1": "N",
    "q4_2": "N", "q4_3": "N", "q5_1": "Y", "q5_2": "N", "q5_3": "N",
}  # fmt: skip
STUDY = "rack-2016"


def bias_of(catalogue: Catalogue, study: str = STUDY) -> dict:
    with catalogue.reading() as session:
        return study_by_key(session, study).bias


def ratings(catalogue: Catalogue, study: str = STUDY) -> list:
    with catalogue.reading() as session:
        return ratings_of_study(session, study_by_key(session, study))


def test_the_prompts_are_those_for_the_design(stocked: Catalogue) -> None:
    assert ask_about(stocked, "rack-2016", "Sam").tool.id == "parallel"
    assert ask_about(stocked, "kettle-2018", "Sam").tool.id == "emg_within_person"
    assert ask_about(stocked, "rack-2016", "Sam", "pedro").tool.id == "pedro"
    with pytest.raises(BadInput):
        ask_about(stocked, "rack-2016", "Sam", "palmistry")
    with pytest.raises(NotFound):
        ask_about(stocked, "rack-2061", "Sam")


def test_a_full_judgement_is_weighed_and_the_same_one_twice_stores_nothing(stocked: Catalogue) -> None:
    done = judge_study(stocked, STUDY, "Sam", FAULTLESS)
    assert (done.before, done.now, done.stored) == ("not assessed", "low", True)
    assert bias_of(stocked)["tool"] == "RoB 2"
    kept = len(ratings(stocked))
    again = judge_study(stocked, STUDY, "Sam", FAULTLESS)
    assert not again.stored
    assert len(ratings(stocked)) == kept


def test_answers_given_later_are_laid_over_the_earlier_ones(stocked: Catalogue) -> None:
    first = judge_study(stocked, STUDY, "Sam", {"q1_1": "Y", "q1_2": "Y", "q1_3": "N"})
    assert first.now == "not assessed"
    assert "q3_1" in first.judged.missing
    rest = {key: value for key, value in FAULTLESS.items() if not key.startswith("q1")}
    assert judge_study(stocked, STUDY, "Sam", rest).now == "low"


def test_confidence_of_a_claim_reacts(stocked: Catalogue) -> None:
    from evidence.workflows.claims.claiming import Statement, state_claim

    key = state_claim(
        stocked,
        Statement("standing calf raise", "seated calf raise", "growth", region="gastrocnemius"),
        "Sam",
    ).key
    assert weigh(stocked, key).confidence.domain("risk_of_bias").proposed == -1
    before = weigh(stocked, key).inputs_hash
    judge_study(stocked, STUDY, "Sam", FAULTLESS)
    after = weigh(stocked, key)
    assert after.confidence.domain("risk_of_bias").proposed == 0
    assert after.inputs_hash != before


def test_a_choice_over_a_proposal_needs_a_reason_and_can_be_taken_back(stocked: Catalogue) -> None:
    judge_study(stocked, STUDY, "Sam", FAULTLESS)
    with pytest.raises(BadInput):
        judge_study(stocked, STUDY, "Sam", {}, [Choice("measurement", "high")])
    chosen = judge_study(stocked, STUDY, "Sam", {}, [Choice("measurement", "high", "Read by the trainer.")])
    assert chosen.now == "high"
    assert next(d for d in bias_of(stocked)["domains"] if d["domain"] == "measurement")["reason"].startswith(
        "Sam"
    )
    assert bias_of(stocked)["high_domains"] == 1
    kept = judge_study(stocked, STUDY, "Sam", {"q5_1": "PY"})
    assert kept.now == "high"
    assert judge_study(stocked, STUDY, "Sam", {}, [Choice("D4", "proposed")]).now == "low"


def test_the_overall_judgement_can_be_chosen(stocked: Catalogue) -> None:
    done = judge_study(
        stocked, STUDY, "Sam", FAULTLESS | {"q5_2": "NI", "q2_6": "N", "q2_7": "N"},
        [Choice("overall", "high", "Several concerns together.")],
    )  # fmt: skip
    assert done.judged.judgement.proposed == "some concerns"
    assert done.now == "high"


def test_two_people_are_both_kept_and_the_more_cautious_counts_until_it_is_settled(
    stocked: Catalogue,
) -> None:
    judge_study(stocked, STUDY, "Sam", FAULTLESS)
    second = judge_study(stocked, STUDY, "Kim", FAULTLESS | {"q4_1": "Y"})
    assert second.now == "high"
    assert second.not_settled == ("measurement",)
    assert {r.person for r in ratings(stocked)} == {"Sam", "Kim"}
    found = agreement_on_studies(stocked)
    [(_, two)] = found.pairs
    assert (two.measured.agreed, two.measured.n) == (4, 5)
    assert any("measurement: high" in line for line in found.lines)
    with pytest.raises(BadInput):
        settle_study(stocked, STUDY, "measurement", "low", " ", "Kim")
    with pytest.raises(BadInput):
        settle_study(stocked, STUDY, "randomisation", "low", "x", "Kim")
    settled = settle_study(
        stocked, STUDY, "measurement", "low", "The ultrasound was read blind, p. 4.", "Kim"
    )
    assert settled.now == "low"
    assert not settled.not_settled
    assert len({r.person for r in ratings(stocked) if "settles" not in r.answers}) == 2
    judge_study(stocked, STUDY, "Sam", {"q4_1": "PY"})
    assert bias_of(stocked)["overall"] == "high"  # now both say high, and that counts over what was settled


def test_what_a_study_file_said_is_kept_beside_what_people_judge(stocked: Catalogue, tmp_path) -> None:
    from evidence.workflows.pages.browsing import show_study, study_as_file

    text = study_as_file(stocked, STUDY)
    file = tmp_path / "rack.yaml"
    file.write_text(text.rstrip() + "\nbias: {tool: RoB 2, overall: high}\n", "utf-8")
    load_study(stocked, file, "Sam", replace=True)
    done = judge_study(stocked, STUDY, "Sam", FAULTLESS)
    assert (done.before, done.now) == ("high", "low")
    assert any("study file said: high" in line for line in show_study(stocked, STUDY).lines)


def test_a_study_file_loaded_again_takes_no_judgement_away(stocked: Catalogue, tmp_path) -> None:
    from evidence.workflows.claims.claiming import Statement, leave_study_out, state_claim
    from evidence.workflows.pages.browsing import study_as_file

    claim = state_claim(
        stocked,
        Statement("standing calf raise", "seated calf raise", "growth", region="gastrocnemius"),
        "Sam",
    ).key
    leave_study_out(stocked, claim, STUDY, "Told apart.", "Sam")
    judge_study(stocked, STUDY, "Sam", FAULTLESS)
    judge_study(stocked, STUDY, "Kim", FAULTLESS | {"q4_1": "Y"})
    before = [(r.person, r.domain, r.value, r.answers, r.at) for r in ratings(stocked)]
    file = tmp_path / "rack.yaml"
    file.write_text(study_as_file(stocked, STUDY).replace("21.9 (2.7)", "21.8 (2.7)"), "utf-8")
    load_study(stocked, file, "Sam", replace=True)
    assert [(r.person, r.domain, r.value, r.answers, r.at) for r in ratings(stocked)] == before
    assert bias_of(stocked)["not_settled"] == ["measurement"]
    assert [item.reason for item in weigh(stocked, claim).left_out] == ["Told apart."]


def test_judging_is_undone_like_anything_else(stocked: Catalogue) -> None:
    judge_study(stocked, STUDY, "Sam", FAULTLESS)
    with stocked.reading() as session:
        number = list_changes(session, 1)[0].number
    undo(stocked, number, "Sam")
    assert bias_of(stocked) == {}
    assert ratings(stocked) == []


def test_points_are_kept_beside_and_never_in_place_of_a_judgement(stocked: Catalogue) -> None:
    # Chaouachi 2014 as scored in PMC10105022 Table 3: 6 of 10 (from the project's design material: scale_examples.csv)
    points = dict(
        zip(map(str, range(1, 12)), ["1", "1", "0", "1", "0", "0", "0", "1", "1", "1", "1"], strict=True)
    )
    done = judge_study(stocked, STUDY, "Sam", points, tool="pedro")
    assert (done.judged.points.total, done.judged.from_points, done.now) == (
        6,
        "some concerns",
        "not assessed",
    )
    assert bias_of(stocked)["score"] == 6
    judge_study(stocked, STUDY, "Sam", FAULTLESS, tool="parallel")
    assert (bias_of(stocked)["overall"], bias_of(stocked)["score"]) == ("low", 6)


def test_a_body_without_random_groups_takes_a_word_per_domain(stocked: Catalogue) -> None:
    words = {f"D{n}": "low" for n in range(1, 8)} | {"D1": "serious"}
    assert judge_study(stocked, STUDY, "Sam", words, tool="nonrandomised").now == "serious"
    assert bias_of(stocked)["tool"] == "ROBINS-I"


@pytest.mark.parametrize("answers", [{"q9_9": "Y"}, {"q1_1": "perhaps"}, {}])
def test_what_answers_nothing_is_refused_and_nothing_is_stored(stocked: Catalogue, answers: dict) -> None:
    with pytest.raises(BadInput):
        judge_study(stocked, STUDY, "Sam", answers)
    assert ratings(stocked) == []
