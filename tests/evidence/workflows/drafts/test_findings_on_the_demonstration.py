"""Findings on people recruited and analysed, on verdicts that depend on an assumption, on claims with nothing found."""

import re
from collections.abc import Callable

import pytest

from evidence.appraisal.draft_cues import find_safety_cue
from evidence.vocabulary import load_vocabulary
from evidence.workflows.drafts.checking import Checked
from evidence.workflows.drafts.findings import Finding

Check = Callable[..., Checked]
CAUTIONS = load_vocabulary().cautions


def only(checked: Checked, kind: str) -> Finding:
    (found,) = (f for f in checked.findings if f.kind == kind)
    return found


def test_a_verdict_that_depends_on_the_correlation_says_so_in_a_draft_too(check_demo: Check) -> None:
    said = "[Seated curls activate the hamstrings more than lying curls [@anvil2019].]{claim=seated-curl-activation}"
    found = only(check_demo(said), "stronger-than-confidence")
    assert found.figures[0] == (
        "verdict: no clear difference, but this depends on the correlation that is assumed; confidence: low"
    )


def test_where_nothing_was_found_nobody_was_studied(check_demo: Check) -> None:
    text = "[Leg extensions activate the rectus femoris more than the leg press [@sleeve2015].]"
    tied = check_demo(text + "{claim=extension-activation}", "women over 60")
    assert "other-people" not in {f.kind for f in tied.findings}
    assert only(tied, "stronger-than-confidence").why == "where nothing was found, nothing can be said"
    other = "[Seated curls may activate the hamstrings more than lying curls.]{claim=seated-curl-activation}"
    assert only(check_demo(other, "women over 60"), "other-people").why == "studied up to 34 years"


@pytest.mark.parametrize(
    ("text", "first", "written"),
    [
        # chalk-2021: 40 recruited, 35 analysed, 18 and 17 in its conditions.
        ("In 90 people seated curls grew the hamstrings [@chalk2021].", "35 people: analysed for", "35 people"),
        ("Ninety people did seated or lying curls [@chalk2021].", "35 people: analysed", "35 people"),
        ("They recruited 90 people for seated and lying curls [@chalk2021].", "40 people: recruited", "40 people"),
        ("There were 90 people per group of curls [@chalk2021].", "18 people: in seated leg curl", None),
        # One sex of a study of both is not all of its people.
        ("In 90 women seated curls grew the hamstrings [@chalk2021].", "35 people: analysed", None),
        # A second number tells another of its sizes: which is meant is not sure.
        ("Of 40 people recruited, 90 people did their curls [@chalk2021].", "35 people: analysed", None),
        (
            "[Seated leg curls may grow the hamstrings more than lying curls in 90 people.]{claim=seated-curl-growth}",
            "80 people: analysed for this claim, 3 studies",
            "80 people",
        ),
    ],
)  # fmt: skip
def test_a_wrong_number_of_people_is_told_with_each_number_named_for_what_it_is(
    check_demo: Check, text: str, first: str, written: str | None
) -> None:
    found = only(check_demo(text), "figure-differs")
    assert found.figures[0].startswith(first)
    assert (found.replacement.text if found.replacement else None) == written
    assert all(re.match(r"\d+ people: (analysed|recruited|in |behind )", figure) for figure in found.figures)


@pytest.mark.parametrize("said", ["40", "35", "18", "about 36"])
def test_any_number_that_a_study_has_may_be_told(check_demo: Check, said: str) -> None:
    checked = check_demo(f"In {said} people seated curls grew the hamstrings [@chalk2021].")
    assert "figure-differs" not in {f.kind for f in checked.findings}


@pytest.mark.parametrize(
    ("text", "caution"),
    [
        ("Train through the pain.", "pain_or_injury"),
        ("Squats are safe for your back.", "pain_or_injury"),
        ("Torn meniscus? Keep squatting.", "clinical"),
        ("When pregnant you can squat heavy twice a week.", "pregnancy"),
    ],
)
def test_the_wording_offered_for_an_unsafe_sentence_is_one_sentence(
    check_demo: Check, text: str, caution: str
) -> None:
    found = only(check_demo(text), "safety")
    assert [s.text for s in found.suggestions] == [CAUTIONS[caution].sentence]


@pytest.mark.parametrize("caution", CAUTIONS.values(), ids=lambda c: c.id)
def test_the_sentence_of_a_caution_is_one_and_counts_as_a_caution(caution) -> None:
    assert re.fullmatch(r"[^.!?]+\.", caution.sentence)
    assert find_safety_cue("caution", caution.sentence)
