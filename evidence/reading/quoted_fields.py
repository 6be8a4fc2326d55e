"""Fields divided by a comma or a semicolon, some in quotes: where a table saved as CSV is cut, and whether it is one.

A comma is a decimal sign, parts thousands and stands in labels; a semicolon stands in notes. They divide only where
the lines have as many fields each, the first line names them and the fields below are whole cells.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from evidence.reading.cells import read_cell

FIELD_SIGNS = (";", ",")
FEWEST = 3  # lines, and fields in a line
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


def without_quotes(text: str) -> str:
    """A field as it is meant: no quotes around it, none doubled inside."""
    bare = text.strip()
    quoted = len(bare) >= 2 and bare[0] == bare[-1] == '"'
    return bare[1:-1].replace('""', '"') if quoted else text


def find_field_sign(lines: Sequence[str]) -> str:
    """The sign that divides the lines into fields; "" when none does."""
    if any("\t" in line for line in lines):
        return ""
    return next((sign for sign in FIELD_SIGNS if _is_divided(lines, sign)), "")


def take_commas_out(lines: Sequence[str]) -> list[str]:
    """The lines without the commas that divide fields: what is left may be decimal signs."""
    if find_field_sign(lines) != ",":
        return list(lines)
    return ["\t".join(line[a:b] for a, b in field_spans(line, ",")) for line in lines]


def _is_divided(lines: Sequence[str], sign: str) -> bool:
    fields = [
        [without_quotes(line[a:b]).strip() for a, b in field_spans(line, sign)]
        for line in lines
        if line.count(sign) >= FEWEST - 1
    ]
    counts = Counter(len(own) for own in fields)
    width, times = counts.most_common(1)[0] if counts else (0, 0)
    if width < FEWEST or times < FEWEST or times < 0.7 * len(fields):
        return False
    head, *rows = [own for own in fields if len(own) == width]
    names = [text for text in head[1:] if text]
    named = all(re.search(r"[^\W\d_]|^\d+$|^[%Δ]$", text) for text in names) and len(names) > 0
    cells = [text for own in rows for text in own[1:] if text]
    read = sum(read_cell(text) is not None or read_cell(text, ",") is not None for text in cells)
    return named and read >= 0.5 * len(cells) > 0
