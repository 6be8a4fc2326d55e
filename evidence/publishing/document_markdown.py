"""Documents as Markdown (CommonMark with tables): what people typed is escaped and starts nothing."""

import textwrap

from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Code,
    Columns,
    Document,
    Figure,
    Heading,
    Inline,
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
from evidence.publishing.markdown import code_block, escape, join_blocks, link
from evidence.publishing.templating import safe_url


def write_markdown(document: Document) -> str:
    """The document as Markdown."""
    blocks = [_show(b) for b in (*document.opening, *settle_levels(document.blocks))]
    footing = [escape(line) for line in document.footing]
    return join_blocks([*blocks, "---", *footing])


def _prose(text: Prose) -> str:
    said = "".join(_inline(part) for part in text)
    return escape_start(said)


def escape_start(said: str) -> str:
    """Prose that cannot be taken for the start of a list, a heading or a line under one."""
    head = said[:1]
    return f"\\{said}" if head in ("-", "+", "=") and said[1:2] in ("", " ", head) else said


def _inline(part: Inline) -> str:
    if isinstance(part, Mark):
        return f" {beam_text(part.level, part.low, part.high)}"
    lead = part.text[: len(part.text) - len(part.text.lstrip())] and " "
    trail = part.text[len(part.text.rstrip()) :] and " "
    said = link(part.text, part.url) if part.url and safe_url(part.url) else escape(part.text)
    if not said.strip():
        return " " if part.text else ""
    said = said.strip()
    if part.emphasis:
        said = f"*{said}*"
    if part.strong:
        said = f"**{said}**"
    return f"{lead}{said}{trail}"


def _cell(lines: Cell) -> str:
    return " / ".join(_prose(line) for line in lines)


def _joined(blocks: tuple[Block, ...]) -> str:
    return "\n\n".join(filter(None, map(_show, blocks)))


def _show(block: Block) -> str:
    match block:
        case Heading():
            return f"{'#' * block.level} {_prose(block.text)}"
        case Paragraph():
            return _prose(block.text)
        case Notice():
            said = _prose(block.text)
            return f"**{said}**" if block.kind == "invented" else f"> **Caution.** {said}"
        case Items():
            return _items(block)
        case Table():
            return _table(block)
        case Figure():
            drawn = code_block(block.drawn) if block.drawn else f"[Figure: {escape(block.alt)}]"
            return "\n\n".join(filter(None, [drawn, _prose(block.caption)]))
        case Columns():
            return "\n\n".join(_joined(part) for part in block.parts)
        case Box():
            inner = _joined(block.blocks)
            quoted = block.role in ("quote", "evidence")
            return textwrap.indent(inner, "> ", lambda _: True).replace("> \n", ">\n") if quoted else inner
        case Code():
            return code_block(block.text)
        case PageBreak():
            return ""


def _items(block: Items) -> str:
    shown = []
    for number, item in enumerate(block.items, 1):
        sign = f"{number}. " if block.ordered else "- "
        body = _joined(item)
        shown.append(sign + textwrap.indent(body, " " * len(sign))[len(sign) :])
    return "\n".join(shown)


def _table(block: Table) -> str:
    aligns = ["---:" if i in block.numeric else "---" for i in range(len(block.head))]
    lines = [_row([escape(h) for h in block.head]), _row(aligns)]
    lines += [_row([_cell(c) for c in row]) for row in block.rows]
    return "\n\n".join(filter(None, [_prose(block.caption), "\n".join(lines)]))


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(c or " " for c in cells) + " |"
