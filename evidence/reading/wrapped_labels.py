"""Row labels that go on below their figures: "Knee extensors at | 182.4" over "60°/s (N·m)"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evidence.reading.labels import TIME, read_phrase
from evidence.reading.legend import is_caption, is_note

OPEN_END = re.compile(
    r"(?:\b(?:at|of|with|and|or|the|in|on|for|to|per|from|by|during|after|before|vs\.?)|[-–/,&+])$",
    re.IGNORECASE,
)
LONGEST = 5  # words in the rest of a label; more is a heading or a note


_KEPT = re.compile(
    r"(?:single|double|one|two|non|pre|post|mid|long|short|high|low|self|full|half|multi|upper|lower|knee|hip|side)-$",
    re.IGNORECASE,
)


def glue(label: str, rest: str) -> str:
    """A label with its rest from the next line; a word that was parted by a hyphen is put together."""
    if re.search(r"[a-z]{2}-$", label) and re.match(r"[a-z]{2}", rest):
        return f"{label}{rest}" if _KEPT.search(label) else f"{label[:-1]}{rest}"
    return f"{label} {rest}"


def goes_on(label: str, text: str) -> bool:
    """Whether a text alone on its line is the rest of the label above it, by how the two end and begin."""
    text = text.strip()
    if (
        not label
        or not text
        or len(text.split()) > LONGEST
        or is_caption(text)
        or read_phrase(text).n is not None
    ):
        return False
    if label.count("(") > label.count(")"):
        return True
    if is_note(text):
        return False
    if OPEN_END.search(label) and not TIME.fullmatch(label):
        return True
    return bool(re.match(r"[a-z(\[]", text)) and read_phrase(text).timepoint is None


def all_go_on(kinds: Sequence[str]) -> bool:
    """Whether a text alone follows each row of figures, the last one too: a heading would stand above its rows.

    `kinds`: "values" or "section" for each row, from the first row of figures on.
    """
    return (
        len(kinds) >= 4
        and len(kinds) % 2 == 0
        and all(k == ("values", "section")[i % 2] for i, k in enumerate(kinds))
    )
