"""A table that goes on over a page: "(continued)", the head once more and the page's own lines are left out."""

from __future__ import annotations

import re
from collections.abc import Sequence

_CONTINUED = re.compile(
    r"\s*(?:table|tab\.|tabelle|tableau|tabla|tabela|bảng)\s*[A-Z]?\d*\W*\(?\W*"
    r"(?:continued|continuation|cont(?:inued|['’]?d)?\b|fortsetzung|suite|continuación|continuação)",
    re.IGNORECASE,
)
_PAGE = re.compile(r"\s*(?:p(?:age|\.)?\s*)?\d{1,4}\s*")
_RUNNING_TITLE = re.compile(
    r"[^±\t|]*\b(?:19|20)\d\d\)?\W{1,4}(?:Vol\.? ?)?\d+\s?(?:\([\w ]+\))?\s?:\s?e?\d+[^±\t|]{0,14}"
    r"|\s*(?:https?://|www\.|doi\b)\S*.{0,40}",
    re.IGNORECASE,
)


def join_pages(lines: Sequence[str]) -> list[int]:
    """The numbers of the lines to leave out: running titles, and what stands about a caption that goes on."""
    breaks = [i for i, line in enumerate(lines) if _CONTINUED.match(line)]
    out = [i for i, line in enumerate(lines) if _RUNNING_TITLE.fullmatch(line)]
    for at in breaks:
        out.append(at)
        above = at - 1
        while above >= 0 and _is_furniture(lines[above]):
            out.append(above)
            above -= 1
        before = {line.strip() for line in lines[: above + 1] if line.strip()}
        below = at + 1
        while below < len(lines) and (not lines[below].strip() or lines[below].strip() in before):
            out.append(below)
            below += 1
    return out


def _is_furniture(line: str) -> bool:
    return not line.strip() or bool(_PAGE.fullmatch(line) or _RUNNING_TITLE.fullmatch(line))
