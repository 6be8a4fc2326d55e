"""Cues found by the first letters of words are those that one pattern of the whole list finds."""

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal import draft_cues
from evidence.appraisal.cue_index import CueIndex, Phrase, first_letters
from evidence.appraisal.rulebook import load_rules

CASES = Path(__file__).parents[2] / "cases" / "drafts"
LISTS = [
    (r, f) for r in ("draft_words", "safety_words") for f, v in load_rules(r).items() if isinstance(v, list)
]


def slow(rules: str, family: str, text: str, at: int) -> tuple[int, int] | None:
    pattern = draft_cues._compile(tuple(load_rules(rules)[family]))
    found = pattern.search(text, at)
    return found.span() if found else None


def quick(rules: str, family: str, text: str, at: int) -> tuple[int, int] | None:
    found = draft_cues._index(rules).find(family, text, at)
    return found.span() if found else None


@pytest.mark.parametrize(
    "name", ["own_sentences.yaml", "fresh_sentences.yaml", "third_sentences.yaml", "fourth_sentences.yaml"]
)
def test_every_family_finds_in_the_labelled_sentences_what_a_plain_search_finds(name: str) -> None:
    texts = [i["text"] for i in yaml.safe_load((CASES / name).read_text("utf-8"))["items"]]
    differing = [
        (family, text)
        for rules, family in LISTS
        for text in texts
        for at in (0, 17)
        if slow(rules, family, text, at) != quick(rules, family, text, at)
    ]
    assert not differing


@pytest.mark.parametrize(
    ("pattern", "starts"),
    [
        ("beats?", {"bea"}),
        ("(as|so) (good|well)", {"as", "so"}),
        ("(the )?best", {"the", "bes"}),
        ("an? egg", {"a"}),
        ("out-?grow", {"out"}),
        ("(?:one|two(?: more)?) legs", {"one", "two"}),
        (r"(\w+ )?best", None),
        (r"(\d+|ten) x", {*"0123456789", "ten"}),
        ("(?!best)b", None),
        ("[ab]c", None),
    ],
)
def test_the_letters_a_phrase_can_start_with_are_read_off_it(pattern: str, starts: set[str] | None) -> None:
    assert first_letters(pattern) == starts


@given(st.lists(st.sampled_from(["a", "an", "ant", "(an)? ox", "(a|the) cow", "ox", r"\w+ox", "cow-?ox"]), min_size=1),
       st.text("antoxcwhe -ſ", max_size=30))  # fmt: skip
def test_the_leftmost_and_of_those_the_first_listed_is_found(sources: list[str], text: str) -> None:
    index = CueIndex({"f": tuple(draft_cues._phrase(s) for s in sources)})
    found, plain = index.find("f", text), draft_cues._compile(tuple(sources)).search(text)
    assert (found and found.span()) == (plain and plain.span())


def test_a_family_there_is_none_of_is_an_error() -> None:
    with pytest.raises(KeyError):
        CueIndex({"a": (Phrase("b", "b", True),)}).find("c", "b")
