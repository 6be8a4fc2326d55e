"""Documents as plain text, wrapped for reading and for pasting into a box."""

import textwrap
from collections.abc import Iterator

from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Code,
    Columns,
    Document,
    Figure,
    Heading,
    Items,
    Mark,
    Notice,
    PageBreak,
    Paragraph,
    Prose,
    Table,
    settle_levels,
)
from evidence.publishing.mark import beam_text
from evidence.publishing.templating import clean_text

WIDTH = 78
NARROWEST = 11  # where columns would be narrower than this, rows are told line by line instead


def write_text(document: Document) -> str:
    """The document as plain text."""
    parts = [_show(b, WIDTH) for b in (*document.opening, *settle_levels(document.blocks))]
    footing = "\n".join(line for said in document.footing for line in _wrap(said, WIDTH))
    return "\n\n".join(part for part in (*parts, "-" * WIDTH, footing) if part.strip()) + "\n"


def _say(text: Prose) -> str:
    parts = []
    for part in text:
        if isinstance(part, Mark):
            parts.append(f" {beam_text(part.level, part.low, part.high)}")
        else:
            address = f" ({part.url})" if part.url and part.url != part.text else ""
            parts.append(f"{part.text}{address}")
    return " ".join(clean_text("".join(parts)).split())


def _wrap(text: str, width: int, *, anywhere: bool = False) -> list[str]:
    """Lines of a width; words stay whole (addresses can be copied) unless they may be broken `anywhere`."""
    return textwrap.wrap(text, max(width, 8), break_long_words=anywhere, break_on_hyphens=False) or [""]


def _show(block: Block, width: int) -> str:
    match block:
        case Heading():
            return _heading(block, width)
        case Paragraph():
            return "\n".join(_wrap(_say(block.text), width))
        case Notice():
            said = _say(block.text)
            return "\n".join(_wrap(said.upper() if block.kind == "invented" else f"Caution. {said}", width))
        case Items():
            return "\n".join(_items(block, width))
        case Table():
            return _table(block, width)
        case Figure():
            drawn = clean_text(block.drawn).rstrip() or "\n".join(_wrap(f"[Figure: {block.alt}]", width))
            return "\n\n".join(filter(None, [drawn, "\n".join(_wrap(_say(block.caption), width))]))
        case Columns():
            return "\n\n".join(_joined(part, width) for part in block.parts)
        case Box():
            quoted = block.role in ("quote", "evidence")
            inner = _joined(block.blocks, width - 2 if quoted else width)
            return textwrap.indent(inner, "  ") if quoted else inner
        case Code():
            return clean_text(block.text)
        case PageBreak():
            return ""


def _joined(blocks: tuple[Block, ...], width: int) -> str:
    return "\n\n".join(filter(None, (_show(b, width) for b in blocks)))


def _heading(block: Heading, width: int) -> str:
    lines = _wrap(_say(block.text), width)
    if block.level > 2:
        return "\n".join(lines)
    sign = "=" if block.level == 1 else "-"
    return "\n".join([*lines, sign * max(map(len, lines))])


def _items(block: Items, width: int) -> Iterator[str]:
    for number, item in enumerate(block.items, 1):
        sign = f"{number}. " if block.ordered else "- "
        body = _joined(item, width - len(sign))
        yield sign + textwrap.indent(body, " " * len(sign))[len(sign) :]


def _flat(lines: Cell) -> str:
    return " / ".join(_say(line) for line in lines)


def _table(block: Table, width: int) -> str:
    rows = [[_flat(c) for c in row] for row in block.rows]
    caption = "\n".join(_wrap(_say(block.caption), width)) if block.caption else ""
    widths = _widths([list(block.head), *rows], width)
    if widths is None:
        body = "\n\n".join(_told_in_lines(block.head, row, width) for row in rows)
    else:
        lines = [*_set(list(block.head), widths, block.numeric), "  ".join("-" * w for w in widths)]
        lines += [line for row in rows for line in _set(row, widths, block.numeric)]
        body = "\n".join(line.rstrip() for line in lines)
    return "\n\n".join(filter(None, [caption, body]))


def _widths(rows: list[list[str]], width: int) -> list[int] | None:
    """Widths of columns that fit, the widest narrowed first; None where they would be too narrow to read."""
    room = width - 2 * (len(rows[0]) - 1)
    sizes = [min(max(len(row[i]) for row in rows), room) for i in range(len(rows[0]))]
    while sum(sizes) > room:
        widest = max(range(len(sizes)), key=lambda i: sizes[i])
        if sizes[widest] <= NARROWEST:
            return None
        sizes[widest] -= 1
    return sizes


def _set(row: list[str], widths: list[int], numeric: tuple[int, ...]) -> list[str]:
    wrapped = [_wrap(text, w, anywhere=True) for text, w in zip(row, widths, strict=True)]
    lines = []
    for index in range(max(map(len, wrapped))):
        cells = [lines_[index] if index < len(lines_) else "" for lines_ in wrapped]
        set_ = [
            c.rjust(w) if i in numeric else c.ljust(w)
            for i, (c, w) in enumerate(zip(cells, widths, strict=True))
        ]
        lines.append("  ".join(set_))
    return lines


def _told_in_lines(head: tuple[str, ...], row: list[str], width: int) -> str:
    lines = _wrap(row[0], width)
    for name, said in zip(head[1:], row[1:], strict=True):
        if said:
            lines += textwrap.wrap(f"{name}: {said}", width, initial_indent="  ", subsequent_indent="    ")
    return "\n".join(lines)
