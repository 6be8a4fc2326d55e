"""Fields divided by a comma, some in quotes: where a table saved as CSV may be cut, and whether it is one.

A comma is a decimal sign, parts thousands and stands in labels; so commas divide only where every line has as many
fields, the first line names them and the fields below are whole cells.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from evidence.reading.cells import read_cell

_FIELD = re.compile(r'\s*"(?:[^"]|"")*"\s*|[^,]*')
FEWEST = 3  # lines, and fields in a line


def field_spans(line: str) -> list[tuple[int, int]]:
    """Where each field of a line stands, its quotes included."""
    spans: list[tuple[int, int]] = []
    place = 0
    while place <= len(line):
        found = _FIELD.match(line, place)
        assert found is not None  # the pattern takes nothing, too
        end = (
            found.end()
            if found.end() == len(line) or line[found.end()] == ","
            else _next_comma(line, found.end())
        )
        spans.append((place, end))
        place = end + 1
    return spans


def _next_comma(line: str, place: int) -> int:
    at = line.find(",", place)
    return len(line) if at < 0 else at


def without_quotes(text: str) -> str:
    """A field as it is meant: no quotes around it, none doubled inside."""
    bare = text.strip()
    quoted = len(bare) >= 2 and bare[0] == bare[-1] == '"'
    return bare[1:-1].replace('""', '"') if quoted else text


def is_comma_divided(lines: Sequence[str]) -> bool:
    """Whether the lines are a table divided by commas."""
    fields = [
        [without_quotes(line[a:b]) for a, b in field_spans(line)]
        for line in lines
        if line.count(",") >= FEWEST - 1
    ]
    if len(fields) < FEWEST:
        return False
    width, times = Counter(len(own) for own in fields).most_common(1)[0]
    if width < FEWEST or times < FEWEST or times < 0.8 * len(fields):
        return False
    head, *rows = [own for own in fields if len(own) == width]
    named = sum(bool(re.search(r"[^\W\d_]", text)) for text in head[1:])
    cells = [text for own in rows for text in own[1:] if text.strip()]
    read = sum(read_cell(text) is not None for text in cells)
    spaced = sum(bool(re.match(r"\s", text)) for own in rows for text in own[1:])
    return named >= 0.7 * (width - 1) and read >= 0.6 * len(cells) > 0 and spaced < 0.5 * len(cells)
