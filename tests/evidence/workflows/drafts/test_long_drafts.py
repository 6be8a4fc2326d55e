"""Drafts that no person would write: one word of 100,000 letters, a sentence without an end, all on one line."""

import time

import pytest

from evidence.reading.drafts import read_draft_text
from evidence.reading.drafts.sentences import LONGEST, cut, without_endless_words
from evidence.workflows.drafts.checking import check_draft
from evidence.workflows.drafts.knowledge import Knowledge

# Seconds: it took 32 s and more while time grew with the square of the length; now a few tenths. Cores are shared.
ALLOWED = 6.0


@pytest.mark.parametrize("piece", ["a", "A", "1", "a-", "A-", "_", "é", "漢", "Aa, ", "A. ", "twenty "])
@pytest.mark.parametrize("format", ["markdown", "text"])
def test_a_word_of_100000_letters_is_checked_at_once(piece: str, format: str, knowledge: Knowledge) -> None:
    text = f"The squat {piece * (100_000 // len(piece))} grows."
    started = time.process_time()
    check_draft(read_draft_text(text, format), knowledge)
    assert time.process_time() - started < ALLOWED


def test_a_slip_beside_an_endless_word_is_found_in_its_place(knowledge: Knowledge) -> None:
    draft = read_draft_text(f"{'x' * 5_000} [@nobody2020] said so.\nTrain through the pain.\n", "markdown")
    found = check_draft(draft, knowledge).findings
    assert [(f.kind, f.place.line) for f in found if f.kind in ("unknown-citation", "safety")] == [
        ("unknown-citation", 1),
        ("safety", 2),
    ]
    assert found[0].line.startswith("xxxx")


def test_a_sentence_without_an_end_is_cut_at_spaces_and_nothing_is_lost() -> None:
    text = "word " * 2_000
    pieces = [text[a:b] for a, b in cut(text)]
    assert all(len(p) <= LONGEST for p in pieces)
    assert " ".join(pieces).split() == text.split()
    assert all(set(p.split()) == {"word"} for p in pieces)


def test_places_hold_in_a_text_whose_endless_words_are_dots() -> None:
    text = f"before {'y' * 300} after 12 %"
    assert len(without_endless_words(text)) == len(text)
    assert without_endless_words(text).split("·")[-1] == " after 12 %"
