"""Captions: WebVTT and SubRip, with cues that are out of order, overlap, or are broken."""

import pytest

from evidence.errors import BadInput
from evidence.reading.drafts import read_draft_text

VTT = """WEBVTT

NOTE a note that
runs on

STYLE
::cue { color: red }

intro
00:01.000 --> 00:03.000 align:start
Nordics probably raise
<v Ann>eccentric strength</v>

00:00:03.000 --> 00:00:05.000
more than lying curls. Next one.

NOTE accept superlative: a joke

00:05.000 --> 00:06.000
It is the best.
"""


def test_a_sentence_may_run_over_cues_and_is_placed_by_the_time_of_its_first() -> None:
    draft = read_draft_text(VTT, "webvtt")
    assert [(str(draft.place(s.start)), s.text) for s in draft.sentences] == [
        ("00:00:01.000", "Nordics probably raise eccentric strength more than lying curls."),
        ("00:00:03.000", "Next one."),
        ("00:00:05.000", "It is the best."),
    ]
    assert draft.sentences[2].accepted[0].reason == "a joke"
    assert not draft.notes


def test_subrip_is_read_with_its_numbers_commas_and_position_marks() -> None:
    text = "1\n00:00:01,000 --> 00:00:02,500\n{\\an8}<i>One</i> line.\n\n2\n00:00:03,000 --> 00:00:04,000\nTwo.\n"
    draft = read_draft_text(text, "srt")
    assert [s.text for s in draft.sentences] == ["One line.", "Two."]
    assert [c.label for c in draft.cues] == ["00:00:01.000", "00:00:03.000"]


def test_cues_out_of_order_overlapping_or_unreadable_are_told_and_the_rest_is_read() -> None:
    text = (
        "WEBVTT\n\n00:05.000 --> 00:07.000\nFive.\n\n00:06.000 --> 00:08.000\nSix.\n\n00:01.000 --> 00:02.000\nOne.\n\n"
        "00:09.000 -> 00:10.000\nNot a time.\n\n0:0x --> 00:11.000\nNor this.\n\n00:20.000 --> 00:19.000\nBack.\n"
    )
    draft = read_draft_text(text, "webvtt")
    assert [s.text for s in draft.sentences] == ["Five.", "Six.", "One.", "Back."]
    assert [n.split(": ")[1].split(" ")[2] for n in draft.notes] == ["overlaps", "starts", "cannot", "ends"]


def test_cues_with_no_empty_line_between_are_still_apart() -> None:
    draft = read_draft_text(
        "1\n00:00:01,000 --> 00:00:02,000\nOne.\n2\n00:00:02,000 --> 00:00:03,000\nTwo.\n", "srt"
    )
    assert [s.text for s in draft.sentences] == ["One.", "Two."]


def test_a_file_with_no_cue_is_refused_with_what_a_cue_looks_like() -> None:
    with pytest.raises(BadInput, match="no caption"):
        read_draft_text("Just text.\n", "webvtt")
