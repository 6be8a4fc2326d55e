"""A table that arrived with one cell a line, as a word processor or a viewer of PDFs copies it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.body import Body, Row, Slot
from evidence.reading.cells import FILLER, Token, read_cell
from evidence.reading.grid import Piece
from evidence.reading.header_rows import stack_texts
from evidence.reading.legend import is_caption, is_note

_TAIL = re.compile(r"[(\[][^()\[\]]*[)\]][*†‡§¶#a-h,]*|±\s*[\d.,]+[*†‡§¶#]*")


def body_from_single_lines(pieces: Sequence[Piece], decimal: str) -> Body | None:
    """A table that arrived one cell per line; None when it did not."""
    items: list[tuple[Piece, Token | None]] = []
    for piece in pieces:
        text = piece.text.replace(FILLER, "").strip()
        before = items[-1] if items else None
        if before and before[1] is not None and _TAIL.fullmatch(text):
            joined = replace(
                before[0], text=f"{before[0].text} {text}", raw=f"{before[0].raw}\n{piece.raw.strip()}"
            )
            token = read_cell(joined.text, decimal)
            if token is not None:
                items[-1] = (joined, token)
                continue
        items.append((replace(piece, text=text, raw=piece.raw.strip()), read_cell(text, decimal)))
    values = sum(token is not None for _, token in items)
    texts = [piece.text for piece, token in items if token is None]
    rich = any(len(text.split()) > 12 and not is_caption(text) and not is_note(text) for text in texts)
    if values < 4 or values < 0.3 * len(items) or (rich and values < 8):
        return None
    groups, after = _group_items(items)
    return _rows_from_groups(groups, after)


Items = list[tuple[Piece, "Token | None"]]


def _group_items(items: Items) -> tuple[list[tuple[Items, Items]], list[str]]:
    """Runs of texts, each followed by its run of values; texts after the last value are notes."""
    groups: list[tuple[Items, Items]] = []
    texts: Items = []
    for item in items:
        if item[1] is None:
            texts.append(item)
        elif texts or not groups:
            groups.append((texts, [item]))
            texts = []
        else:
            groups[-1][1].append(item)
    return groups, [piece.text for piece, _ in texts]


def _rows_from_groups(groups: list[tuple[Items, Items]], after: list[str]) -> Body | None:
    width = Counter(len(values) for _, values in groups).most_common(1)[0][0]
    depths = Counter(len(texts) for texts, _ in groups[1:]) or Counter([1])
    depth = min(size for size, times in depths.items() if times == max(depths.values()))
    head = [piece.text for piece, _ in groups[0][0]]
    if depth > 2 or len(head) < depth:
        return None
    before = []
    while head and (is_caption(head[0]) or (is_note(head[0]) and len(head) > width)):
        before.append(head.pop(0))
    sections = _find_sections(groups, len(head), width)
    deep = 2 if sections else depth
    head, first = head[: len(head) - deep], head[len(head) - deep :]
    rows: list[Row] = []
    section = ""
    for number, (texts, values) in enumerate(groups):
        labels = first if number == 0 else [piece.text for piece, _ in texts]
        section = labels[-2] if len(labels) > 1 else section if sections or depth > 1 else ""
        trouble = "" if len(labels) <= deep else "several texts stand before these values"
        if len(values) % width == 0 and len(values) > width:
            trouble = "more values than columns follow this label"
        line = values[0][0].line
        rows.append(
            Row((labels[-1] if labels else "",), tuple(Slot(p, t) for p, t in values), line, section, trouble)
        )
    stacked = stack_texts(head, width)
    units: list[tuple[str, ...]] = []
    if head and stacked is None:
        units = (
            [tuple(head[:-width]), tuple(head[-width:])] if len(head) > width + 1 else [tuple(head[-width:])]
        )
    headers, stubs = stacked or ((), ())
    notes = [text for text in after if text]
    return Body(
        tuple(rows),
        width,
        headers=headers,
        units=tuple(units),
        stubs=stubs,
        before=tuple(before),
        after=tuple(notes),
        fixed=False,
    )


def _find_sections(groups: list[tuple[Items, Items]], ahead: int, width: int) -> bool:
    """Whether some rows have a heading before their label, over the same labels each time.

    `ahead`: texts before the first values, which are the headers, perhaps one over the labels, a heading and a label.
    """
    sets: list[list[str]] = []
    for number, (texts, _) in enumerate(groups):
        own = [piece.text for piece, _ in texts]
        if number == 0 or len(own) == 2:
            sets.append([])
        elif len(own) != 1:
            return False
        sets[-1].append(own[-1] if own else "")
    alike = len(sets) > 1 and len(sets[0]) > 1 and all(labels == sets[0] for labels in sets)
    return alike and ahead - 2 in (width, width + 1)
