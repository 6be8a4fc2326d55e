"""Markdown (CommonMark and tables): blocks found by the standard parser, running text read with its places."""

import re
from collections.abc import Iterator
from typing import Any

from evidence.reading.drafts.inline import Inline
from evidence.reading.drafts.model import Block

_KINDS = {"heading_open": "heading", "paragraph_open": "paragraph", "th_open": "cell", "td_open": "cell"}


def read_markdown(source: str, start: int) -> Iterator[Block]:
    """The blocks of a Markdown text that begins at offset `start` (behind the front matter)."""
    from markdown_it import MarkdownIt

    parser = MarkdownIt("commonmark", {"maxNesting": 100}).enable("table")
    parser.disable("inline")  # only blocks are wanted: our own pass keeps the places
    body = source[start:]
    lines = _Lines(body, start)
    kind, depth = "paragraph", {"item": 0, "quote": 0}
    row: tuple[int, int] = (-1, 0)  # line of the table row being read, and where its next cell begins
    for token in parser.parse(body):
        if token.type in ("list_item_open", "list_item_close"):
            depth["item"] += token.nesting
        elif token.type in ("blockquote_open", "blockquote_close"):
            depth["quote"] += token.nesting
        elif token.type in _KINDS:
            kind = _KINDS[token.type]
        elif token.type == "inline" and token.map:
            if kind == "cell":
                block, row = _read_cell(token, lines, row)
            else:
                shown = "quote" if depth["quote"] else "item" if depth["item"] else kind
                block = _read_lines(token, lines, kind if kind == "heading" else shown)
            yield block
            kind = "paragraph"
        elif token.type == "html_block" and token.map:
            out = Inline("html")
            first, last = token.map
            begin = lines.starts[first] - start
            end = lines.starts[last] - start if last < len(lines.starts) else len(body)
            out.scan(body[begin:end], lines.starts[first])
            yield out.finish()


class _Lines:
    """The lines of a text with their offsets in the source."""

    def __init__(self, body: str, start: int) -> None:
        self.texts = body.split("\n")
        self.starts: list[int] = []
        at = start
        for text in self.texts:
            self.starts.append(at)
            at += len(text) + 1


def _read_lines(token: Any, lines: _Lines, kind: str) -> Block:
    """A paragraph or heading: each of its lines is found again in the line it stands on.

    The whole content is scanned at once, as a span may reach over a line end, through a copy of the source
    in which what stands before each line (list marks, quote marks) is blank.
    """
    first, last = token.map
    begin, pieces = lines.starts[first], []
    content = iter(token.content.split("\n"))
    for number in range(first, last):
        text = lines.texts[number]
        wanted = next(content, None)
        at = text.rfind(wanted) if wanted is not None else -1
        if wanted is None:
            pieces.append(" " * len(text))
        elif at >= 0:
            pieces.append(" " * at + wanted + " " * (len(text) - at - len(wanted)))
        else:  # tabs turned into blanks by the parser: the text as it stands, without its marks
            stripped = re.sub(r"^[\s>#*+\-\d.)]+", lambda m: " " * len(m.group()), text)
            pieces.append(stripped)
    out = Inline(kind)
    joined = "\n".join(pieces)
    lead = len(joined) - len(joined.lstrip())
    out.scan(joined[lead:].rstrip(), begin + lead)
    return out.finish()


def _read_cell(token: Any, lines: _Lines, row: tuple[int, int]) -> tuple[Block, tuple[int, int]]:
    number = token.map[0]
    at = row[1] if row[0] == number else 0
    text = lines.texts[number]
    content = token.content
    raw = content if text.find(content, at) >= 0 else content.replace("|", "\\|")
    found = text.find(raw, at)
    out = Inline("cell")
    if found >= 0 and raw:
        out.scan(raw, lines.starts[number] + found)
        at = found + len(raw)
    return out.finish(), (number, at)
