"""Addresses in running text: a DOI, bare or as a link, cites its source; the digits of any address are no figures."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from evidence.reading.drafts.model import CitedKey, Setting
from references.identifiers import drop_closing_marks, normalise_doi

_DOI = re.compile(
    r"(?<![\w./:@-])<?(?:doi\s?[:=]?\s?)?(?:(?:https?:)?//)?(?:(?:dx|www)\.)?(?:doi\.org/)?(?:doi:\s?)?"
    r"(10\.\d{4,9}(?:\.\d+)*/(?:(?![,;](?:10\.|doi|http))[^\s<>\[\]\"*`|{}]|<\d[^\s<>]{0,50}>){1,300})",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"\s*[;,]\s*|[^\S\n]+")  # each line of a list is a citation of its own
_OPENING = re.compile(r"(?P<sign>[(\[])(?P<prefix>[^()\[\]]{0,80})\Z")
_PREFIX = re.compile(r"[^\d*_`<>{}@|\n]*")
_CLOSING = re.compile(
    r"(?:\s*[,;]?\s+(?P<locator>[a-z]{1,8}\.?\s?[\d–-]{1,12}))?\s*(?P<sign>[)\]])", re.IGNORECASE
)
_STOP = re.compile(
    r"\s*(?:[.,;:!?]|\Z)|\s+(?=[A-Z]|10\.\d|https?:|doi)"
)  # the sentence does not go on with the source as a word of it
_LINK = re.compile(r"<?(?:(?:https?:)?//)?(?:(?:dx|www)\.)?(?:doi\.org/|doi:)\s*10\.", re.IGNORECASE)
_ADDRESS = re.compile(r"(?:https?://|www\.)[^\s<>]+", re.IGNORECASE)
_NUMBER_ALONE = re.compile(r"\W*\d{0,3}\W*")


@dataclass(frozen=True, slots=True)
class Address:
    """One or several DOIs as they stand in a text, with the brackets that hold nothing else."""

    start: int
    end: int
    keys: tuple[CitedKey, ...]
    running: bool = False
    setting: Setting = "here"


def find_addresses(text: str) -> list[Address]:
    """Every DOI of a text that stands in words, not behind a link. Those in one pair of brackets are one citation."""
    if "10." not in text:
        return []
    found = list(_find_dois(text))
    made: list[Address] = []
    at = 0
    while at < len(found):
        last = at
        while last + 1 < len(found) and _BETWEEN.fullmatch(text, found[last][1], found[last + 1][0]):
            last += 1
        keys = tuple(CitedKey(doi) for _, _, doi in found[at : last + 1])
        made.append(_place(text, found[at][0], found[last][1], keys))
        at = last + 1
    return made


def _find_dois(text: str) -> Iterator[tuple[int, int, str]]:
    """Start, end and normal form of each DOI."""
    for match in _DOI.finditer(text):
        doi = normalise_doi(match[1])
        if doi is None:
            continue
        start, end = match.start(), match.start(1) + len(drop_closing_marks(match[1]).rstrip("_"))
        if text[start] == "<" and text[end : end + 1] == ">":
            end += 1
        elif text[start] == "<":
            start += 1
        yield start, end, doi.rstrip("_")


def _place(text: str, start: int, end: int, keys: tuple[CitedKey, ...]) -> Address:
    """DOIs with the brackets around them: `(see 10.5555/a, p. 4)` is read as `[see @a, p. 4]` is."""
    opening = _OPENING.search(text, max(start - 81, 0), start)
    if opening is None:
        return Address(start, end, keys, running=_STOP.match(text, end) is None)
    closing = _CLOSING.match(text, end)
    linked = text[closing.end() : closing.end() + 1] in ("(", "{") if closing else False
    fits = closing is not None and opening["sign"] + closing["sign"] in ("()", "[]")
    if not fits or closing is None or linked or not _PREFIX.fullmatch(opening["prefix"]):
        return Address(start, end, keys, setting="nowhere")  # "(Oak 2021, 10.5555/a)" names its source itself
    first = CitedKey(keys[0].key, prefix=" ".join(opening["prefix"].split()))
    last = CitedKey(keys[-1].key, closing["locator"] or "", first.prefix if len(keys) == 1 else "")
    held = (last,) if len(keys) == 1 else (first, *keys[1:-1], last)
    return Address(opening.start(), closing.end(), held)


def read_link(words: str, target: str) -> tuple[str, Setting | None] | None:
    """The DOI that a link leads to, and where its citation is set; None for words that are themselves no more than it.

    None for a link that leads elsewhere.
    """
    doi = normalise_doi(target.split()[0]) if _LINK.match(target.strip()) else None
    if doi is None:
        return None
    if normalise_doi(words) or _NUMBER_ALONE.fullmatch(words):
        return doi, None
    return doi, "nowhere" if any(c.isdigit() for c in words) else "behind"


def end_of_link(text: str, start: int, close: int) -> int:
    """Where a link's target really ends, whose first closing bracket is at `close`: a DOI may hold brackets itself."""
    for _ in range(3):
        if text.count("(", start, close) <= text.count(")", start, close):
            break
        further = text.find(")", close + 1, close + 200)
        if further < 0:
            break
        close = further
    return close


def without_addresses(text: str) -> str:
    """A text in which what is an address is dots, of the same length: places hold, and its digits are no figures."""
    if "://" not in text and "www." not in text.lower():
        return text

    def dotted(found: re.Match[str]) -> str:
        address = drop_closing_marks(found.group())
        return "·" * len(address) + found.group()[len(address) :]

    return _ADDRESS.sub(dotted, text)
