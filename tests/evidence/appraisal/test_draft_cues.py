"""Cues of drafts: each list compiles, says where it came from, and lets its exceptions pass."""

from importlib import resources

import pytest

from evidence.appraisal.draft_cues import draft_strength, find_cue, find_safety_cue, read_addressed
from evidence.appraisal.rulebook import load_rules


@pytest.mark.parametrize("rules", ["draft_words", "safety_words"])
def test_every_list_compiles_and_the_file_says_where_its_words_come_from(rules: str) -> None:
    families = [
        name for name, value in load_rules(rules).items() if isinstance(value, list) and name != "addressed"
    ]
    assert len(families) > 6
    for family in families:
        find_cue(family, "A sentence with nothing much in it.", rules=rules)
    text = resources.files("evidence.appraisal").joinpath("rules", f"{rules}.yaml").read_text("utf-8")
    assert "common practice,\n# no source" in text or "common practice, no source" in text


@pytest.mark.parametrize(
    ("family", "said", "not_said"),
    [
        ("superlative", "The squat is the best quad exercise.", "I'll do my best on the last set."),
        ("superlative", "Optimal rest is three minutes.", "Optimal for whom?"),
        ("appeal", "Studies show it works.", "Which studies show it?"),
        ("settled", "Case closed on depth.", "It's proven popular with our class."),
        ("sameness", "Both give the same growth.", "There was no clear difference in growth."),
        ("cause", "It lowers knee pain.", "It may lower knee pain."),
        ("lasting", "It stays switched on.", "We train three times a week."),
        ("left_open", "The trial couldn't separate them.", "The trial separated them."),
    ],
)
def test_a_cue_is_found_and_its_look_alike_is_not(family: str, said: str, not_said: str) -> None:
    assert find_cue(family, said) is not None
    assert find_cue(family, not_said) is None


@pytest.mark.parametrize(
    ("text", "strength"),
    [
        ("It may well grow more.", "may"),
        ("It probably grows more.", "probably"),
        ("It grows more.", "plain"),
        ("There's no doubt that it grows more.", "boosted"),
        ("Whether it grows more is very uncertain.", "very_uncertain"),
        ("The jury's still out.", "very_uncertain"),
        ("Never load the bar before the collars are on.", "plain"),
    ],
)
def test_strength_is_read_with_the_weakest_word_counting(text: str, strength: str) -> None:
    assert draft_strength(text) == strength


def test_who_is_spoken_to_is_read_from_the_start_or_from_you() -> None:
    assert read_addressed("Ladies, lift.") == "Ladies"
    assert read_addressed("If you're over seventy, lift.") == "over seventy"
    assert read_addressed("In women over 65, lifting may help.") == "women over 65"
    assert read_addressed("Lifting may help.") is None


@pytest.mark.parametrize(
    "text", ["It cures your back pain.", "Safe for your back.", "Train through the pain."]
)
def test_words_that_could_get_somebody_hurt_are_found(text: str) -> None:
    assert find_safety_cue("promise", text) or find_safety_cue("through_pain", text)
