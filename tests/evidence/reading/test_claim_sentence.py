"""Claims in plain words: what each part is read as, what is asked, and that no text at all breaks the reader."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.claim_proposal import Proposal
from evidence.reading.claim_sentence import propose_claim
from evidence.vocabulary import OwnName, Vocabulary, load_vocabulary

DATA = Path(__file__).parent / "data"
SHOWN_APART = {"percent"}  # told beside the size
FIRST_RUN_UNSEEN = 33  # of 34: what the reader scored the first time it saw them
FIRST_RUN_HARDER = 12  # of 20


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return load_vocabulary()


def as_expected(proposal: Proposal) -> dict[str, Any]:
    got: dict[str, Any] = {"kind": proposal.kind}
    for part in proposal:
        if part.value is not None and part.name not in SHOWN_APART:
            name = "says" if part.name == "direction" else part.name
            got[name] = list(part.value) if isinstance(part.value, tuple) else part.value
    if proposal.asked:
        got["asks"] = sorted(part.name for part in proposal.asked)
    return got


def read_cases(name: str) -> list[dict[str, Any]]:
    cases: list[dict[str, Any]] = yaml.safe_load((DATA / name).read_text("utf-8"))
    return cases


def fits(case: dict[str, Any], vocabulary: Vocabulary) -> bool:
    wanted = dict(case["is"])
    if "asks" in wanted:
        wanted["asks"] = sorted(wanted["asks"])
    return as_expected(propose_claim(case["text"], vocabulary)) == wanted


@pytest.mark.parametrize("case", read_cases("claim_sentences_seen.yaml"), ids=lambda c: c["text"][:50])
def test_a_sentence_looked_at_while_building_is_read(case: dict[str, Any], vocabulary: Vocabulary) -> None:
    wanted = dict(case["is"])
    if "asks" in wanted:
        wanted["asks"] = sorted(wanted["asks"])
    assert as_expected(propose_claim(case["text"], vocabulary)) == wanted


def test_unseen_sentences_are_read_no_worse_than_at_first(vocabulary: Vocabulary) -> None:
    cases = read_cases("claim_sentences_unseen.yaml")
    assert sum(fits(case, vocabulary) for case in cases) >= FIRST_RUN_UNSEEN


def test_looser_sentences_are_read_no_worse_than_at_first(vocabulary: Vocabulary) -> None:
    cases = read_cases("claim_sentences_harder.yaml")
    assert sum(fits(case, vocabulary) for case in cases) >= FIRST_RUN_HARDER


@pytest.mark.parametrize("name", ["seen", "unseen", "harder"])
def test_what_is_misread_is_asked_about_and_not_stored(name: str, vocabulary: Vocabulary) -> None:
    for case in read_cases(f"claim_sentences_{name}.yaml"):
        if not fits(case, vocabulary):
            assert propose_claim(case["text"], vocabulary).asked, case["text"]


def test_an_unknown_exercise_is_asked_with_the_nearest_names(vocabulary: Vocabulary) -> None:
    part = propose_claim("Turbo lunges beat step-ups for quad growth", vocabulary).part("exercise")
    assert part is not None and part.state == "asked"
    assert part.text == "Turbo lunges"
    assert "forward_lunge" in {candidate.id for candidate in part.candidates}


def test_a_name_of_two_things_is_asked_with_both(vocabulary: Vocabulary) -> None:
    part = propose_claim("The hip thrust activates the glutes more than the squat", vocabulary).part("region")
    assert part is not None and part.state == "asked"
    assert {c.id for c in part.candidates} >= {"gluteals", "gluteus_maximus"}


def test_a_users_own_name_settles_it(vocabulary: Vocabulary) -> None:
    own = vocabulary.with_own(aliases=[OwnName("region", "glutes", "gluteus_maximus")])
    assert (
        propose_claim("The hip thrust activates the glutes more than the squat", own).value("region")
        == "gluteus_maximus"
    )


def test_percent_without_a_word_is_relative_and_said_to_be_unsure(vocabulary: Vocabulary) -> None:
    proposal = propose_claim("Sissy squats grow the quads 20% more than hack squats", vocabulary)
    assert proposal.value("percent") == "relative"
    assert "size" in {part.name for part in proposal.unsure}


@pytest.mark.parametrize(
    ("words", "way"),
    [
        ("twice as much as", "more"),
        ("2.5 times as much as", "more"),
        ("half as much as", "less"),
        ("as much as", "same"),
    ],
)
def test_a_multiple_is_no_sameness(words: str, way: str, vocabulary: Vocabulary) -> None:
    proposal = propose_claim(f"The hip thrust activates the gluteus maximus {words} the squat", vocabulary)
    assert proposal.value("direction") == way


def test_percentage_points_stay_points(vocabulary: Vocabulary) -> None:
    proposal = propose_claim(
        "Sissy squats grow the quads 5 percentage points more than hack squats", vocabulary
    )
    assert proposal.value("percent") == "points"


def test_months_are_told_as_weeks_and_as_unsure(vocabulary: Vocabulary) -> None:
    part = propose_claim("Leg presses grow the quads more than lunges over 3 months", vocabulary).part(
        "weeks"
    )
    assert part is not None
    assert (part.value, part.state) == ((13, 13), "unsure")


def test_words_that_no_part_accounts_for_are_told(vocabulary: Vocabulary) -> None:
    text = "Leg presses grow the quads more than lunges, zealously"
    assert propose_claim(text, vocabulary).unread == ("zealously",)


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text: str) -> None:
    proposal = propose_claim(text, LOADED)
    assert proposal.text == text
    assert proposal.kind


PIECES = [
    "the",
    "squat",
    "RDL",
    "leg curl",
    "more",
    "than",
    "beats",
    "not",
    "glutes",
    "12 weeks",
    "40 %",
    "best",
    "deeper",
    ",",
    "because",
]


@given(st.lists(st.sampled_from(PIECES), max_size=14))
def test_no_order_of_words_breaks_the_reader(words: list[str]) -> None:
    proposal = propose_claim(" ".join(words), LOADED)
    assert all(part.state == "asked" or part.value is not None or part.state == "unsure" for part in proposal)


LOADED = load_vocabulary()
