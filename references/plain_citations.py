"""A citation in plain words, as a list of references prints it: what can be read of it, for a person to mend.

Two orders are known: the year in brackets after the authors (`Vik, O., & Dahl, E. (2019). Title. Journal, 5(2), 1-9.`)
and the authors first with the year at the end (`Vik O, Dahl E. Title. Journal. 2019;5(2):1-9.`). Common practice of
journals, no source. A part that is not found stays empty: nothing is guessed that the text does not hold.
"""

import re
from dataclasses import dataclass

from references.identifiers import find_doi
from references.names import (
    Name,
    is_body,
    read_direct,
    read_indexed,
    read_inverted,
    read_parts,
    split_comma_list,
)

_YEAR_IN_BRACKETS = re.compile(r"\(\s*((?:19|20)\d\d)[a-z]?\s*(?:,[^)]*)?\)\.?")
_YEAR = re.compile(r"\b((?:19|20)\d\d)\b")
_PLACE = re.compile(
    r"(?P<volume>\d{1,4})\s*(?:\(\s*(?P<issue>[\w./-]{1,12})\s*\))?\s*[:,]\s*(?:pp?\.?\s*)?"
    r"(?P<page>[A-Za-z]?\d[\w.]*(?:\s*[-\u2013\u2014]\s*[A-Za-z]?\d\w*)?)"
)
_LINK = re.compile(
    r"(?:https?://\S+|\bdoi\s*[:=]?\s*\S+|\b10\.\d{4,9}/\S+|\bPMID\s*[:=]?\s*\d+\.?)", re.IGNORECASE
)
_PMID = re.compile(r"\bPMID\s*[:=]?\s*([1-9]\d{0,7})\b", re.IGNORECASE)
_SENTENCE = re.compile(r"(?<=[^\s.][^\s.])[.?!](?=\s|$)")  # an initial's stop ends no sentence
_NAMES_END = re.compile(r"(?<=.{4})\.\s+(?=[^&\s])")  # names end in a stop, the last initial's or their own
_NUMBERING = re.compile(r"^\s*(?:\[\d{1,4}\]|\d{1,4}[.)])\s+")
_PAIR = re.compile(r"[^\W\d_][\w'’ -]*,\s*(?:[^\W\d_]\.?[-\s]*){1,4}(?=$|,|;|&)")


@dataclass(frozen=True, slots=True)
class PlainCitation:
    """What a citation says, as far as it could be read; empty where it could not."""

    authors: tuple[Name, ...] = ()
    year: int | None = None
    title: str = ""
    container: str = ""
    volume: str = ""
    issue: str = ""
    page: str = ""
    doi: str = ""
    pmid: str = ""


def read_plain_citation(text: str) -> PlainCitation:
    """The parts of one citation. Never raises; what is no citation gives empty parts."""
    whole = " ".join(text.split())[:2000]
    pmid = _PMID.search(whole)
    doi = find_doi(whole) or ""
    plain = _NUMBERING.sub("", _LINK.sub("", whole)).strip()
    year: int | None
    bracketed = _YEAR_IN_BRACKETS.search(plain)
    if bracketed and bracketed.start() > 0:
        names, rest, year = plain[: bracketed.start()], plain[bracketed.end() :], int(bracketed.group(1))
    else:
        years = _YEAR.findall(plain)
        year = int(years[-1]) if years else None
        end = _NAMES_END.search(plain)
        names, rest = (plain[: end.start()], plain[end.end() :]) if end else ("", plain)
    title, after = _cut(rest)
    container, numbers = _container(after)
    place = _PLACE.search(numbers)
    return PlainCitation(
        read_authors(names),
        year,
        title.strip(" .,;\"“”'"),
        container,
        place["volume"] if place else "",
        (place["issue"] or "") if place else "",
        re.sub(r"\s*[\u2013\u2014-]\s*", "-", place["page"]).rstrip(".") if place else "",
        doi,
        pmid.group(1) if pmid else "",
    )


def read_authors(text: str) -> tuple[Name, ...]:
    """The people of a list as citations print it: `Vik, O., & Dahl, E.`, `Vik O, Dahl E`, or one name a line."""
    plain = re.sub(r",?\s*\bet al\b\.?|…", "", text)
    if "\n" in plain.strip() or ";" in plain:
        parts = [part.strip(" ,") for part in re.split(r"[\n;]", plain) if part.strip(" ,")]
        return tuple(_one(part) for part in parts)
    plain = re.sub(r"\s*,?\s*(?:&|\band\b)\s*", ", ", plain).strip(" ,.")
    if not plain:
        return ()
    if _PAIR.match(plain):  # family and initials in turn
        parts = [part.strip() for part in plain.split(",") if part.strip()]
        if len(parts) % 2 == 0:
            return tuple(read_parts(f, g) for f, g in zip(parts[::2], parts[1::2], strict=True))
    listed = split_comma_list(plain)
    if listed is not None:
        return listed
    return tuple(_one(part.strip()) for part in plain.split(",") if part.strip())


def _one(text: str) -> Name:
    """One name, whichever way it is written."""
    if "," in text:
        return read_inverted(text)
    indexed = read_indexed(text.rstrip("."))
    if indexed.family:
        return indexed
    return Name(literal=text) if is_body(text) else read_direct(text)


def _cut(text: str) -> tuple[str, str]:
    """The first sentence, and what follows it."""
    found = _SENTENCE.search(text)
    if found is None:
        return text.strip(), ""
    end = found.start() if found.group() == "." else found.end()
    return text[:end].strip(), text[found.end() :].strip()


def _container(text: str) -> tuple[str, str]:
    """The journal or book that follows a title: up to the first figure; and the rest with the figures."""
    figures = re.search(r"\d", text)
    if figures is None:
        return text.strip(" .,;:"), ""
    return text[: figures.start()].strip(" .,;:("), text[figures.start() :].strip()
