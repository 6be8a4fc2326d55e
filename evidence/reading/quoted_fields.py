"""Fields divided by a comma or a semicolon, some in quotes: where a table saved as CSV is cut, and whether it is one.

A comma is a decimal sign, parts thousands and stands in labels; a semicolon stands in notes. They divide only where
the lines have as many fields each, the first line names them and the fields below are whole cells.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from evidence.reading.cells import FILLER, read_cell

FIELD_SIGNS = (";", ",")
FEWEST = 3  # lines, and fields in a line
SAMPLE = 12  # rows whose fields are looked at
_DAMAGED = re.compile(r"\W?\d+(?:[.,]\d+)?(?:\s?[^\d\s]{1,3}\s?|\s\d\s)\d+(?:[.,]\d+)?(?:[^\w\s]|[a-h])*")
_QUOTED = re.compile(r'\s*"(?:[^"]|"")*"\s*')


def field_spans(line: str, sign: str) -> list[tuple[int, int]]:
    """Where each field of a line stands, its quotes included."""
    spans: list[tuple[int, int]] = []
    place = 0
    while place <= len(line):
        quoted = _QUOTED.match(line, place)
        end = line.find(sign, quoted.end() if quoted else place)
        end = len(line) if end < 0 else end
        spans.append((place, end))
        place = end + 1
    return spans


def find_field_sign(lines: Sequence[str]) -> str:
    """The sign that divides the lines into fields; "" when none does."""
    if any("\t" in line for line in lines):
        return ""
    return next((sign for sign in FIELD_SIGNS if _is_divided(lines, sign)), "")


def with_tabs(line: str, sign: str) -> str:
    """A line as long as before with tabs between its fields, and blanks for the quotes around them."""
    if line.count(sign) < FEWEST - 1:
        return line
    return "\t".join(_without_quotes(line[a:b]) for a, b in field_spans(line, sign))


def _without_quotes(text: str) -> str:
    bare = text.strip()
    if len(bare) < 2 or not bare[0] == bare[-1] == '"':
        return text
    at = text.index('"')
    inner = text[at + 1 : text.rindex('"')].replace('""', f'{FILLER}"')
    return " ".join((text[:at], inner, text[text.rindex('"') + 1 :]))


def _is_divided(lines: Sequence[str], sign: str) -> bool:
    fields = [
        [_without_quotes(line[a:b]).strip() for a, b in field_spans(line, sign)]
        for line in lines
        if line.count(sign) >= FEWEST - 1
    ]
    counts = Counter(len(own) for own in fields)
    width, times = counts.most_common(1)[0] if counts else (0, 0)
    if width < FEWEST or times < FEWEST or times < 0.7 * len(fields):
        return False
    head, *rows = [own for own in fields if len(own) == width][: SAMPLE + 1]
    names = [text for text in head[1:] if text]
    named = all(re.search(r"[^\W\d_]|^\d+$|^[%Δ]$", text) for text in names) and len(names) > 0
    cells = [text for own in rows for text in own[1:] if text]
    read = sum(_may_be_cell(text) for text in cells)
    return named and read >= 0.5 * len(cells) > 0


def _may_be_cell(text: str) -> bool:
    """Whether a field is a cell, or figures with a sign between them that a copy may have changed."""
    return any(read_cell(text, decimal) is not None for decimal in ".,") or bool(_DAMAGED.fullmatch(text))
