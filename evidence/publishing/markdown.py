"""Markdown out: what people typed is escaped so that it shows as typed and starts nothing."""

import re
from collections.abc import Iterable, Sequence

from evidence.publishing.templating import clean_text, safe_url

SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~$])")
ENTITY = re.compile(r"&(?=#?\w+;)")  # only there does Markdown see more in an ampersand than itself
LINE_START = re.compile(r"^(\s*)([-+=:]|\d+[.)])(?=\s|$)")


def escape(text: str) -> str:
    """Text on one line with every character that Markdown would read as markup escaped."""
    flat = " ".join(clean_text(text).split())
    flat = ENTITY.sub(r"\\&", SPECIAL.sub(r"\\\1", flat))
    return LINE_START.sub(
        lambda m: f"{m.group(1)}\\{m.group(2)}" if not m.group(2)[0].isdigit() else _dot(m), flat
    )


def _dot(match: re.Match[str]) -> str:
    number = match.group(2)
    return f"{match.group(1)}{number[:-1]}\\{number[-1]}"


def heading(level: int, text: str) -> str:
    """A heading; `text` is escaped."""
    return f"{'#' * level} {escape(text)}"


def bullets(items: Iterable[str]) -> str:
    """A list; items are given escaped."""
    return "\n".join(f"- {item}" for item in items)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; cells are escaped here."""
    lines = [_row(headings), "|" + " --- |" * len(headings)]
    lines += [_row(row) for row in rows]
    return "\n".join(lines)


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(escape(cell) or " " for cell in cells) + " |"


def link(text: str, url: str) -> str:
    """A link where the address is an ordinary web address, else the text alone; `text` is escaped."""
    address = safe_url(url)
    return f"[{escape(text)}](<{address}>)" if address else escape(text)


def code_block(text: str) -> str:
    """Preformatted text in a fence longer than any in it."""
    longest = max((len(run) for run in re.findall(r"`+", text)), default=0)
    fence = "`" * max(3, longest + 1)
    return f"{fence}text\n{clean_text(text).rstrip()}\n{fence}"


def join_blocks(blocks: Iterable[str]) -> str:
    """Blocks with an empty line between them; empty ones dropped; a newline at the end."""
    return "\n\n".join(block for block in blocks if block.strip()) + "\n"
