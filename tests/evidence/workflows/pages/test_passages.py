"""A draft is shown whole and in order, each sentence with what was found of it right below."""

import time

from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.drafts.model import Place, Sentence
from evidence.workflows.drafts.findings import Finding, Severity
from evidence.workflows.pages.passages import cut_passages

TEXT = "# Curls\n\nOne is best. Two has 90 % more.\n\nThree is plain.\n"


def sentence(text: str) -> Sentence:
    start = TEXT.index(text)
    return Sentence(text, 0, 0, len(text), start, start + len(text))


def finding(number: int, words: str) -> Finding:
    start = TEXT.index(words)
    return at(number, start, start + len(words))


def at(number: int, start: int, end: int) -> Finding:
    place = Place(1, 1)
    return Finding(
        number, "no-source", Severity.WARNING, place, place, start, end, "", "", "", (), (), None, None, (), None, 0
    )  # fmt: skip


SENTENCES = [sentence(text) for text in ("Curls", "One is best.", "Two has 90 % more.", "Three is plain.")]


def test_what_was_found_of_a_sentence_stands_below_it_and_before_the_next():
    passages = cut_passages(TEXT, SENTENCES, [finding(1, "best"), finding(2, "90 %"), finding(3, "90 %")])
    shown = [
        ("".join(p.text for p in passage.pieces), [f.number for f in passage.findings])
        for passage in passages
    ]
    assert shown == [
        ("# Curls", []),
        ("One is best.", [1]),
        ("Two has 90 % more.", [2, 3]),
        ("Three is plain.", []),
    ]


def test_the_words_meant_are_marked_and_two_findings_of_the_same_words_share_a_place():
    (passage,) = [
        p for p in cut_passages(TEXT, SENTENCES, [finding(2, "90 %"), finding(3, "90 %")]) if p.findings
    ]
    assert [(p.text, p.begins) for p in passage.pieces if p.marked] == [("90 %", (2, 3))]
    assert [passage.first_at(f) for f in passage.findings] == [2, 2]


@given(st.lists(st.tuples(st.integers(0, len(TEXT)), st.integers(0, 12)), max_size=5))
def test_wherever_findings_stand_none_is_lost_and_no_word_is(places):
    found = [at(n, start, min(start + length, len(TEXT))) for n, (start, length) in enumerate(places, 1)]
    passages = cut_passages(TEXT, SENTENCES, found)
    assert sorted(f.number for p in passages for f in p.findings) == [f.number for f in found]
    words = "".join(p.text for passage in passages for p in passage.pieces)
    assert "".join(words.split()) == "".join(TEXT.split())


def test_a_draft_of_200000_characters_with_a_finding_in_every_sentence_is_cut_at_once():
    size, many = 40, 5_000
    text = "x" * size * many
    sentences = [Sentence("", 0, 0, 0, i * size, (i + 1) * size) for i in range(many)]
    found = [at(i + 1, i * size + 3, i * size + 9) for i in range(many)]
    started = time.process_time()
    passages = cut_passages(text, sentences, found)
    assert [f.number for p in passages for f in p.findings] == list(range(1, many + 1))
    assert time.process_time() - started < 2.0  # seconds: it took ten while each looked at all findings
