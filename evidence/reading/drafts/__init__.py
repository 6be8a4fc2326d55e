"""Drafts: Markdown, timed captions, DOCX and plain text, read to sentences with their places.

`read_draft` takes a file or a text and gives a `Draft`: blocks of plain text that know where each character
stood in the source, sentences, citations, ties to claims and accepted findings. Nothing is judged here.
"""

from evidence.reading.drafts.model import (
    Acceptance,
    Block,
    Citation,
    CitedKey,
    Cue,
    Draft,
    Place,
    Sentence,
    Tie,
)
from evidence.reading.drafts.reading import FORMATS, read_draft, read_draft_bytes, read_draft_text

__all__ = [
    "FORMATS",
    "Acceptance",
    "Block",
    "Citation",
    "CitedKey",
    "Cue",
    "Draft",
    "Place",
    "Sentence",
    "Tie",
    "read_draft",
    "read_draft_bytes",
    "read_draft_text",
]
