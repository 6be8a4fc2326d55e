"""Our own full reference line, the style "plain": deterministic, no outside program, tags of CSL kept.

Names as indexes print them (`Lehman GJ`), then year, title, container in italics, volume(issue), pages,
publisher, identifiers. It follows no house's style: it says what a reader needs to find the work.
"""

import re

from references.record import Name, PartialDate, Record
from references.text import plain

_END = re.compile(r"[.?!…]\s*(?:</\w+>)*$")


def format_plain(record: Record, suffix: str = "") -> str:
    """One reference as a line with CSL tags. `suffix` is the year letter."""
    names = _format_names(record.author) or _format_names(record.editor, editors=True)
    title = _sentence(record.title or record.title_short or "[no title]")
    date = f"({_format_date(record)}{suffix})"
    pieces = [f"{names} {date}", title] if names else [f"{title} {date}"]
    pieces += [_format_container(record), _format_publisher(record)]
    if record.status and record.year is not None:
        pieces.append(record.status[:1].upper() + record.status[1:])
    pieces.append(_format_identifiers(record))
    return " ".join(_close(piece) for piece in pieces if piece)


def _close(piece: str) -> str:
    return piece if _END.search(piece) or re.search(r"(?:https?:|doi:)\S+$", piece) else f"{piece}."


def _sentence(title: str) -> str:
    return title.strip().rstrip(".") if not title.strip().endswith("...") else title.strip()


def format_name(name: Name) -> str:
    """`Lehman GJ`, `van der Berg J Jr`, `World Movement Council`."""
    if not name.family:
        return name.literal or name.given or ""
    given = plain(name.given)
    initials = (
        "".join(_initials(given)) if given[:1].isupper() else given
    )  # scripts without capitals stay whole
    parts = [name.non_dropping_particle, name.family, initials, name.dropping_particle, name.suffix]
    return " ".join(part for part in parts if part)


def _initials(given: str) -> list[str]:
    if re.fullmatch(r"[^\W\d_]{1,3}", given) and given.isupper():
        return [given]
    letters = []
    for part in re.split(r"[\s.]+", given):
        if part:
            letters.append("-".join(piece[0].upper() for piece in part.split("-") if piece))
    return letters


def _format_names(names: tuple[Name, ...], *, editors: bool = False) -> str:
    shown = [format_name(name) if name != Name(literal="others") else "et al" for name in names]
    if len(shown) > 20:
        shown = [*shown[:19], "…", shown[-1]]
    text = ", ".join(name for name in shown if name).replace(", et al", " et al")
    if text and editors:
        text += " (editor)" if len(names) == 1 else " (editors)"
    return text


def _format_date(record: Record) -> str:
    issued = record.issued
    if issued is None or issued.year is None:
        return record.status or (issued.literal if issued is not None and issued.literal else "n.d.")
    text = _format_year(issued)
    if issued.end is not None and issued.end.year not in (issued.year, None):
        text += f"–{issued.end.year}"
    elif issued.end is not None and issued.end.year is None:
        text += "–"
    return f"c. {text}" if issued.circa else text


def _format_year(date: PartialDate) -> str:
    year = date.year or 0
    return str(year) if year > 0 else f"{-year} BC"


def _format_container(record: Record) -> str:
    """`<i>Journal</i> 33(2): 101-110`, or `In: Olsen K (editor). <i>Handbook</i>, pages 10-20`."""
    name = record.container_title or record.container_title_short
    place = record.volume or ""
    if record.issue:
        place += f"({record.issue})"
    pages = record.page or (record.number if record.type.startswith("article") else None)
    if not name:
        return f"Pages {pages}" if pages else ""
    title = f"<i>{name}</i>"
    if record.type in ("chapter", "paper-conference", "entry"):
        editors = _format_names(record.editor, editors=True) if record.author and record.editor else ""
        parts = [f"In: {editors}. {title}" if editors else f"In: {title}"]
        parts += [f"volume {place}"] if place else []
        parts += [f"pages {pages}"] if pages else []
        return ", ".join(parts)
    line = f"{title} {place}".strip()
    return f"{line}: {pages}" if pages and place else f"{line}, {pages}" if pages else line


def _format_publisher(record: Record) -> str:
    edition = record.edition or ""
    if edition.isdecimal():
        ends = {1: "st", 2: "nd", 3: "rd"}
        number = int(edition)
        edition += "th" if number % 100 in (11, 12, 13) else ends.get(number % 10, "th")
    if edition and "ed" not in edition.lower():
        edition += " edition"
    house = ": ".join(part for part in (record.publisher_place, record.publisher) if part)
    if record.type == "article-journal":
        house = ""
    return ". ".join(part for part in (edition, record.genre if house or record.genre else "", house) if part)


def _format_identifiers(record: Record) -> str:
    if record.doi:
        return f"doi:{record.doi}"
    if record.pmid:
        return f"PMID {record.pmid}"
    if record.pmcid:
        return record.pmcid
    if record.url:
        return record.url
    return f"ISBN {record.isbn}" if record.isbn else ""
