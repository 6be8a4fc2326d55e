"""A correction note as a document: what it said, what holds now, why, what to do; hostile text stays text."""

from datetime import UTC, datetime

import pytest

from evidence.publishing.correction_pages import correction_document
from evidence.publishing.corrections import Correction, CorrectionNote
from evidence.publishing.formats import Wanted, write_as_text, write_document
from evidence.publishing.sources import Made

AT = datetime(2026, 11, 25, tzinfo=UTC)
ITEM = Correction(
    "curl", "claim", "Seated beats #strong[lying] <b>curl</b>", "It grows more.", "+0.4 (0.1 to 0.7)", "moderate",
    "It is unclear.", "+0.1 (−0.3 to 0.5)", "low", ("verdict",), ("a study was retracted",), "Take the sentence back.",
)  # fmt: skip
NOTE = CorrectionNote("article", "legs.html", "legs.html", "html", AT, AT, (ITEM,), invented=True)


@pytest.mark.parametrize("kind", ["html", "md", "txt"])
def test_a_note_tells_before_and_now_why_and_what_to_do(kind):
    text = write_as_text(correction_document(NOTE, Made("abc", "2026-11-25")), kind)
    for said in (
        "It grows more.",
        "It is unclear.",
        "a study was retracted",
        "Take the sentence back.",
        "2026-11-25",
    ):
        assert said in text
    assert "invented data" in text.lower()
    assert "<b>curl" not in text.replace("\\<b\\>curl", "") or kind == "txt"


def test_a_note_can_be_set_as_pdf():
    made = correction_document(NOTE, Made("abc", "2026-11-25"))
    assert write_document(made, Wanted("pdf")) == write_document(made, Wanted("pdf"))
