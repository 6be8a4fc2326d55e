"""Whatever stands in a draft: it is read, every place is right, and the work grows with its length."""

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.drafts import Draft, read_draft_text

PIECES = st.sampled_from([
    "Full squats grow more. ", "[@a2020]", "[x @b2019; @c]", "[", "]", "]{claim=k}", "{", "}", "<!-- ", "-->", "<b>",
    "<script>", "</script>", "`", "```\n", "*", "**", "_", "\n", "\n\n", "> ", "- ", "1. ", "\\[", "&amp;", "\ufeff",
    "| a | b |\n|---|---|\n| c | d |\n", "🏋️", "e\u0301", "שלום. ", "\u202e", "\t", "  ", "(2020)", "# ", "=== \n",
    "a@b.c ", "et al. ", "![i](u)", "[l](http://x.y)", "\x0b", "\u2028", "{{7*7}}",
    "10.5555/a.b", "doi:", "https://doi.org/", "(see ", ", p. 4)", ")", "[l](https://doi.org/10.5555/c(05)6)",
    "@10.5555/d",
    "#set text(red)", "=cmd|' /C calc'!A0",
    "00:01.000 --> 00:02.000\n", "WEBVTT\n\n",
])  # fmt: skip
TEXTS = st.lists(PIECES, max_size=40).map("".join)


def assert_places(draft: Draft) -> None:
    """Each character of the text stands in the source where its segment says, and sentences lie in order."""
    for block in draft.blocks:
        for segment in block.segments:
            plain = block.text[segment.plain : segment.plain + segment.length]
            source = draft.source[segment.source : segment.source + segment.length]
            assert plain == source or (segment.length == 1 and source == "&")
        starts = [s.plain for s in block.segments]
        assert starts == sorted(starts)
    lines = draft.source.split("\n")
    for sentence in draft.sentences:
        place = draft.place(sentence.start)
        assert lines[place.line - 1][place.column - 1 :].startswith(
            draft.source[sentence.start : sentence.start + 1].strip("\n")
        )
        assert draft.line_text(place.line) == lines[place.line - 1]
        assert sentence.start <= sentence.end <= len(draft.source)
        if not sentence.text:  # a block of nothing but citations
            assert sentence.citations
            continue
        first, last = sentence.text[:1], sentence.text[-1:]
        assert draft.source[sentence.start] == first or draft.source[sentence.start] == "&"
        assert draft.source[sentence.end - 1] == last or draft.source[sentence.end - 1] in "&"
        for citation in sentence.citations:
            assert ("10." if citation.address else "@") in draft.source[citation.start : citation.end]


@given(TEXTS)
@settings(max_examples=300, deadline=None)
def test_markdown_places_are_right_whatever_stands_in_the_text(text: str) -> None:
    assert_places(read_draft_text(text, "markdown"))


@given(TEXTS)
@settings(max_examples=150, deadline=None)
def test_plain_text_and_docx_places_are_right(text: str) -> None:
    assert_places(read_draft_text(text, "text"))
    assert_places(read_draft_text(text, "docx"))


@given(TEXTS)
@settings(max_examples=150, deadline=None)
def test_caption_places_are_right_or_the_file_is_refused(text: str) -> None:
    try:
        draft = read_draft_text(f"WEBVTT\n\n00:01.000 --> 00:02.000\n{text}", "webvtt")
    except BadInput:
        return
    assert_places(draft)


@given(st.text(max_size=200))
@settings(max_examples=200, deadline=None)
def test_any_text_at_all_is_read(text: str) -> None:
    assert_places(read_draft_text(text, "markdown"))


@given(TEXTS)
@settings(max_examples=60, deadline=None)
def test_an_edit_elsewhere_moves_no_place_but_by_its_lines(text: str) -> None:
    tail = "\n\nThe last sentence stands here."
    before, after = read_draft_text("A.\n\n" + tail, "text"), read_draft_text("A.\n\n" + text + tail, "text")
    columns = {str(d.place(d.sentences[-1].start)).split(":")[1] for d in (before, after)}
    assert columns == {"1"}


@pytest.mark.parametrize(
    "piece",
    [
        "[",
        "<!--",
        "a`",
        "*a_",
        "[@a",
        "<script>",
        "Squats grow the quads more [@a2020]. ",
        "{",
        "&am",
        "](",
        "[a]{b=",
        "[a](https://doi.org/10.5555/(",
        "10.5555/a)",
        "(10.5555/a; ",
        "10.5555/<1",
        "](10.5555/a",
    ],
)
def test_the_work_grows_with_the_length(piece: str) -> None:
    def once(text: str) -> float:
        started = time.process_time()
        read_draft_text(text, "markdown")
        return time.process_time() - started

    def took(
        size: int,
    ) -> float:  # the best of three: a collection of garbage or a full machine is not the reader's
        return min(once(piece * (size // len(piece))) for _ in range(3))

    small, large = max(took(20_000), 0.01), took(160_000)
    assert large < 8 * small * 4  # eight times the text; four times over for noise, and far from 64 times
