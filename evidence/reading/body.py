"""The rows of a table, whatever its outer shape: labels, cells in order, header texts above, notes below.

A row keeps its cells in the order printed. Whether a row has lost a cell is seen later, when the columns are
known; nothing is ever moved left to fill a gap.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.reading.cells import FILLER, Shape, Token, read_cell
from evidence.reading.grid import EMPTY, PAD, Grid, Layout, Piece, is_blank
from evidence.reading.header_rows import join_wrapped, place_headers
from evidence.reading.labels import PERSON_STUB, STUB, TIME_STUB, Kind, read_kind
from evidence.reading.legend import is_caption, is_note
from evidence.reading.wrapped_labels import all_go_on, glue, goes_on


@dataclass(frozen=True, slots=True)
class Slot:
    """One place of a row: the piece of text and the cell read from it (None: blank, or words)."""

    piece: Piece
    token: Token | None


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its label parts from the outermost inwards, the section line above it, its places."""

    labels: tuple[str, ...]
    slots: tuple[Slot, ...]
    line: int
    section: str = ""
    trouble: str = ""  # why the whole row is doubtful
    loose: bool = False  # cells in order only, although the table's columns are fixed

    @property
    def tokens(self) -> tuple[Token | None, ...]:
        return tuple(slot.token for slot in self.slots)


@dataclass(frozen=True, slots=True)
class Body:
    """A table apart from its header, and the header as it came.

    `headers`: header rows, one text per column (positions known), outermost first. `units`: header texts
    already apart but without positions, outermost line first. `header_lines`: running text still to be
    divided. Only one of the three is filled. `stubs`: header texts over the label columns.
    """

    rows: tuple[Row, ...]
    width: int
    headers: tuple[tuple[str, ...], ...] = ()
    units: tuple[tuple[str, ...], ...] = ()
    header_lines: tuple[str, ...] = ()
    stubs: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    fixed: bool = True  # every slot's column is known


def body_from_grid(layout: Layout, decimal: str) -> Body | None:
    """Rows and header rows of a grid; None when no row holds a figure."""
    assert layout.grid is not None
    grid = [[replace(p, text=p.text.replace(FILLER, "")) for p in row] for row in layout.grid]
    grid = [row for row in grid if not all(is_blank(p) for p in row)]
    tokens = [[read_cell(p.text, decimal) for p in row] for row in grid]
    kinds = [_row_kind(row, cells) for row, cells in zip(grid, tokens, strict=True)]
    _mark_number_headers(grid, tokens, kinds)
    if "values" not in kinds:
        return None
    first = kinds.index("values")
    stub = _count_stubs(grid, tokens, kinds, first)
    grid, tokens, kinds = _join_wrapped_labels(grid, tokens, kinds, first)
    last = len(kinds) - 1 - kinds[::-1].index("values")
    caption, heads, first_sections = _split_head(grid[:first])
    heads = join_wrapped(heads)
    used = _used_columns(grid, kinds, stub, heads)
    again = _heads_again(grid, kinds, heads, first)
    if again:
        kinds = ["section" if i in again else kind for i, kind in enumerate(kinds)]
        first_sections = [heads[-1][0].text]
        heads = [*heads[:-1], [replace(heads[-1][0], text=""), *heads[-1][1:]]]
    rows, unread = _read_rows(grid, tokens, kinds, first, last, stub, used, first_sections)
    rows, below = _take_rest(rows, layout.after)
    headers, units = place_headers(heads, stub, used)
    after = [" ".join(dict.fromkeys(p.text for p in row if not is_blank(p))) for row in grid[last + 1 :]]
    stubs = tuple(dict.fromkeys(row[i].text for row in heads for i in range(stub) if not is_blank(row[i])))
    return Body(
        rows=tuple(rows),
        width=len(used),
        headers=headers,
        units=units,
        stubs=stubs if not units else (),
        before=layout.before + tuple(caption),
        after=tuple(after) + below,
        unread=tuple(unread),
    )


def _join_wrapped_labels(
    grid: Grid, tokens: list[list[Token | None]], kinds: list[str], first: int
) -> tuple[Grid, list[list[Token | None]], list[str]]:
    """The rows without those that only finish the label of the row above."""
    always = all_go_on(kinds[first:]) and all(is_blank(p) for row in grid[first + 1 :: 2] for p in row[1:])
    kept: list[int] = []
    for number, row in enumerate(grid):
        above = grid[kept[-1]][0] if kept and kinds[kept[-1]] == "values" else None
        alone = kinds[number] == "section" and not is_blank(row[0]) and not any(p.copy for p in row)
        if number > first and alone and above and (always or goes_on(above.text, row[0].text)):
            grid[kept[-1]][0] = replace(above, text=glue(above.text, row[0].text))
        else:
            kept.append(number)
    return [grid[i] for i in kept], [tokens[i] for i in kept], [kinds[i] for i in kept]


def _heads_again(grid: Grid, kinds: Sequence[str], heads: Grid, first: int) -> set[int]:
    """Rows within the table that are its lowest head once more, each with another name in front: headings."""
    if not heads or is_blank(heads[-1][0]):
        return set()
    texts = [piece.text for piece in heads[-1]]
    again = {
        i
        for i in range(first, len(grid))
        if kinds[i] == "texts" and [p.text for p in grid[i]][1:] == texts[1:] and not is_blank(grid[i][0])
    }
    return again if all(grid[i][0].text != texts[0] for i in again) else set()


def _take_rest(rows: list[Row], after: tuple[str, ...]) -> tuple[list[Row], tuple[str, ...]]:
    """The rest of the last label may stand among the lines under the table."""
    if after and rows and rows[-1].labels and goes_on(rows[-1].labels[-1], after[0]):
        label = glue(rows[-1].labels[-1], after[0])
        return [*rows[:-1], replace(rows[-1], labels=(*rows[-1].labels[:-1], label))], after[1:]
    return rows, after


_FIGURES = re.compile(
    r"[<>~≈]?\W?\d[\d.,:·/\s]*[±(\[:][\d.,:·/\s±()\[\]–−%-]*\W*[a-h]?"
)  # figures, read or not


def _row_kind(row: Sequence[Piece], cells: Sequence[Token | None]) -> str:
    """ "values", "section" (one text only) or "texts"."""
    texts = {(p.line, p.column) for p in row if not is_blank(p)}
    figures = [
        cell is not None or bool(_FIGURES.fullmatch(p.text)) for p, cell in zip(row, cells, strict=True)
    ]
    values = sum(figures[1:])
    others = sum(
        not is_blank(p) and not p.copy for p, own in zip(row[1:], figures[1:], strict=True) if not own
    )
    if values and values >= others - 1:
        return "values"
    if (
        len(row)
        and cells[0] is not None
        and cells[0].shape is not Shape.MISSING
        and not others
        and len(texts) >= 2
    ):
        return "values"
    return "section" if len(texts) == 1 else "texts"


def _mark_number_headers(grid: Grid, tokens: list[list[Token | None]], kinds: list[str]) -> None:
    """A line of bare whole numbers over rows of richer cells is a header ("Week | 0 | 12 | 24")."""
    for number, kind in enumerate(kinds):
        if kind != "values":
            continue
        cells = [c for c in tokens[number][1:] if c is not None]
        bare = all(
            c.shape is Shape.NUMBER and c.value and c.value.decimals == 0 and not c.marks for c in cells
        )
        later = [c for row in tokens[number + 1 :] for c in row[1:] if c is not None]
        rich = sum(c.shape in (Shape.PAIR, Shape.INTERVAL) for c in later) >= len(later) / 2 > 0
        named = (
            is_blank(grid[number][0])
            or TIME_STUB.match(grid[number][0].text)
            or STUB.fullmatch(grid[number][0].text)
        )
        if bare and len(cells) >= 2 and rich and named:
            kinds[number] = "texts"
            continue
        return


def _count_stubs(grid: Grid, tokens: list[list[Token | None]], kinds: Sequence[str], first: int) -> int:
    """How many leading columns hold labels."""
    rows = [i for i, kind in enumerate(kinds) if kind == "values"]
    stub = 0
    for column in range(len(grid[0])):
        filled = [i for i in rows if not is_blank(grid[i][column])]
        numbers = [i for i in filled if (t := tokens[i][column]) is not None and t.shape is not Shape.MISSING]
        missing = [i for i in filled if (t := tokens[i][column]) is not None and t.shape is Shape.MISSING]
        head = " ".join(grid[i][column].text for i in range(first))
        labels = len(numbers) < max(1, 0.5 * (len(filled) - len(missing)))
        if column and missing and len(numbers) + len(missing) == len(filled):
            labels = False  # "NR" and dashes name no row
        if not filled and column == 0 and not head:
            labels = True
        if column == 0 and not labels:
            plain = all(
                (t := tokens[i][0]) is not None and t.shape is Shape.NUMBER and set(t.marks) <= {"°"}
                for i in filled
            )
            rich = any(
                (t := tokens[i][1]) is not None and t.shape is not Shape.NUMBER
                for i in rows
                if len(grid[i]) > 1
            )
            named = STUB.match(head) or TIME_STUB.match(head) or PERSON_STUB.fullmatch(head.strip())
            labels = plain and (bool(named) or (rich and read_kind(head) is Kind.PLAIN))
        if not labels or (column and not filled):
            break
        stub += 1
    return min(stub, len(grid[0]) - 1)


def _split_head(rows: Grid) -> tuple[list[str], Grid, list[str]]:
    """Caption lines, header rows, and section lines that stand directly over the first row of figures."""
    caption: list[str] = []
    heads: Grid = []
    sections: list[str] = []
    for row in rows:
        texts = list(dict.fromkeys(p.text for p in row if not is_blank(p)))
        alone = len({(p.line, p.column) for p in row if not is_blank(p)}) == 1
        if alone and not heads and (is_caption(texts[0]) or len(texts[0].split()) > 3):
            caption.append(texts[0])
        elif alone and heads and not is_blank(row[0]):
            sections.append(texts[0])
        else:
            heads.append(row)
            sections = []
    return caption, heads, sections


def _used_columns(grid: Grid, kinds: Sequence[str], stub: int, heads: Grid) -> list[int]:
    rows = [row for row, kind in zip(grid, kinds, strict=True) if kind == "values"]
    return [c for c in range(stub, len(grid[0])) if any(not is_blank(row[c]) for row in rows)]


def _read_rows(
    grid: Grid,
    tokens: list[list[Token | None]],
    kinds: Sequence[str],
    first: int,
    last: int,
    stub: int,
    used: Sequence[int],
    sections: Sequence[str],
) -> tuple[list[Row], list[str]]:
    rows: list[Row] = []
    unread: list[str] = []
    section = " ".join(sections)
    outer = [""] * stub
    trouble = ""
    for number in range(first, last + 1):
        row = grid[number]
        if kinds[number] == "section":
            section, outer = next(p.text for p in row if not is_blank(p)), [""] * stub
            continue
        if kinds[number] == "texts":
            if [p.text for p in row] not in ([q.text for q in other] for other in grid[:first]):
                unread.append(" ".join(dict.fromkeys(p.text for p in row if not is_blank(p))))
                trouble = "a second header line stands in the middle of the table"
            continue
        labels = [row[i].text for i in range(stub)]
        why = trouble
        for i in range(stub):
            if labels[i]:
                outer = outer[:i] + [labels[i]] + [""] * (stub - i - 1)
            elif i < stub - 1 or (stub == 1 and outer[0]):
                labels[i] = outer[i]
                if stub == 1:
                    why = why or "the row has no label of its own"
        slots = tuple(Slot(row[c], tokens[number][c]) for c in used)
        loose = any(slot.piece == PAD for slot in slots)
        if loose:
            slots = tuple(slot for slot in slots if not is_blank(slot.piece))
        line = next((p.line for p in row if p.line > 0), 0)
        rows.append(Row(tuple(labels), slots, line, section, why, loose))
    return rows, unread


def is_note_row(text: str) -> bool:
    """Whether a lone text is a note and not a section."""
    return is_note(text) or len(text.split()) > 9


__all__ = ["EMPTY", "Body", "Row", "Slot", "body_from_grid", "is_note_row"]
