"""Markdown that people wrote, as blocks of a document: emphasis, links, lists, tables; HTML stays text."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from evidence.publishing.document import (
    Block,
    Box,
    Code,
    Heading,
    Inline,
    Items,
    Paragraph,
    Prose,
    Span,
    Table,
)
from evidence.publishing.templating import safe_url

Resolve = Callable[[str], Prose]  # prose for a text between HOLD and RELEASE
HOLD, RELEASE = "\ue000", "\ue001"  # private-use characters: around what is to be filled in later
_COMMENT = re.compile(r"<!--.*?(?:-->|\Z)", re.DOTALL)
_FOOTNOTE = re.compile(r"\[\^[^\]\n]{1,80}\]:?")


def read_marked_text(text: str, resolve: Resolve) -> Iterator[Block]:
    """The blocks of a Markdown text, one by one; what stands between HOLD and RELEASE is given to `resolve`."""
    from markdown_it import MarkdownIt

    parser = MarkdownIt("commonmark", {"html": False, "maxNesting": 60}).enable("table")
    tokens = parser.parse(_FOOTNOTE.sub("", _COMMENT.sub("", text)))
    reader = _Reader(tokens, resolve)
    while reader.at < len(tokens):
        token = tokens[reader.at]
        reader.at += 1
        yield from reader.block(token, len(tokens))


class _Reader:
    """Goes through the parser's tokens once."""

    def __init__(self, tokens: Sequence[Any], resolve: Resolve) -> None:
        self.tokens = tokens
        self.resolve = resolve
        self.at = 0

    def read(self, stop: int, closing: str = "") -> tuple[Block, ...]:
        """Blocks until the token that closes them."""
        blocks: list[Block] = []
        while self.at < stop:
            token = self.tokens[self.at]
            self.at += 1
            if token.type == closing:
                break
            blocks += self.block(token, stop)
        return tuple(blocks)

    def block(self, token: Any, stop: int) -> tuple[Block, ...]:
        match token.type:
            case "heading_open":
                return (Heading(self.line(), int(token.tag[1])),)
            case "paragraph_open":
                found = self.line()
                return (Paragraph(found),) if found else ()
            case "bullet_list_open" | "ordered_list_open":
                return (self.list(token, stop),)
            case "blockquote_open":
                return (Box(self.read(stop, "blockquote_close"), "quote"),)
            case "table_open":
                return (self.table(),)
            case "fence" | "code_block":
                return (Code(token.content.rstrip("\n")),)
        return ()

    def line(self) -> Prose:
        """The inline content of the block that was just opened; its closing token is passed over."""
        found = _Line(self.resolve).read(self.tokens[self.at].children or ())
        self.at += 2
        return found

    def list(self, token: Any, stop: int) -> Items:
        items = []
        closing = token.type.replace("_open", "_close")
        while self.at < stop and self.tokens[self.at].type != closing:
            self.at += 1  # the item's opening
            items.append(self.read(stop, "list_item_close"))
        self.at += 1
        return Items(tuple(items), ordered=token.type.startswith("ordered"))

    def table(self) -> Table:
        rows: list[list[Prose]] = []
        while (token := self.tokens[self.at]).type != "table_close":
            self.at += 1
            if token.type == "tr_open":
                rows.append([])
            elif token.type in ("th_open", "td_open"):
                rows[-1].append(self.line())
        self.at += 1
        head = tuple("".join(p.text for p in c if isinstance(p, Span)) for c in rows[0])
        body = tuple(tuple((c,) if c else () for c in row) for row in rows[1:])
        return Table(head, body, "Table")


class _Line:
    """Inline tokens to prose, with the manner that holds where each text stands."""

    def __init__(self, resolve: Resolve) -> None:
        self.resolve = resolve
        self.manner = Span("")
        self.parts: list[Inline] = []

    def read(self, tokens: Sequence[Any]) -> Prose:
        for token in tokens:
            match token.type:
                case "strong_open" | "strong_close":
                    self.manner = replace(self.manner, strong=token.nesting > 0)
                case "em_open" | "em_close":
                    self.manner = replace(self.manner, emphasis=token.nesting > 0)
                case "link_open":
                    self.manner = replace(self.manner, url=safe_url(str(token.attrGet("href") or "")))
                case "link_close":
                    self.manner = replace(self.manner, url="")
                case "softbreak" | "hardbreak":
                    self.add(" ")
                case "image":
                    self.add(f"[Picture: {token.content}]" if token.content else "[Picture]")
                case _:
                    self.add(token.content)
        return tuple(self.parts)

    def add(self, text: str) -> None:
        for place, piece in enumerate(re.split(f"{HOLD}([^{RELEASE}]*){RELEASE}", text)):
            if place % 2:
                self.parts += self.resolve(piece)
            elif piece:
                self.parts.append(replace(self.manner, text=piece))
