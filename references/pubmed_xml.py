"""PubMed XML read article by article: titles with markup, abstracts in sections, links to notices.

Entities and external references are refused (defusedxml). Links to corrections, retractions and comments are
carried under the tags that MEDLINE text has for them, so that both formats read alike.
"""

import re
from collections.abc import Iterable, Iterator
from itertools import chain, islice, pairwise
from typing import Any
from xml.etree.ElementTree import Element, ParseError, tostring

from references.dates import PartialDate, read_date, read_month
from references.errors import Problem, Severity
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.keys import KeyChooser, invent_key
from references.medline import TABLES, strip_final_stop
from references.names import Name, read_parts
from references.noted import take_noted
from references.record import Record
from references.serials import normalise_numbers
from references.tagged import carry
from references.text import squeeze, unescape

_ARTICLES = ("PubmedArticle", "PubmedBookArticle")
_OPENING = re.compile(rb"<Pubmed(?:Book)?Article[\s>]")
_CLOSING = re.compile(rb"</Pubmed(?:Book)?Article\s*>")
_BETWEEN = re.compile(
    rb"<\?xml[^>]*>|<!DOCTYPE[^>\[]*>|</?PubmedArticleSet[^>]*>"
)  # what stands round articles
_LONGEST_ARTICLE = 1 << 24  # bytes; a longer piece without an opening is no article
_KEPT_OF_REFUSED = 100_000


class _ChunkReader:
    """The byte chunks as the file object that the parser asks for. What is not yet read as an article is held."""

    def __init__(self, chunks: Iterable[bytes]) -> None:
        self._chunks = iter(chunks)
        self._held = b""
        self._closings_dropped = 0
        self.count = 0  # articles that the parser has given

    def read(self, size: int = -1) -> bytes:
        self._drop_read()
        chunk = next(self._chunks, b"")
        self._held += chunk
        return chunk

    def _drop_read(self) -> None:
        """Let go of the bytes of articles that were given."""
        position = 0
        while self._closings_dropped < self.count:
            closing = _CLOSING.search(self._held, position)
            if closing is None:
                break
            position = closing.end()
            self._closings_dropped += 1
        self._held = self._held[position:]

    def rest(self) -> Iterator[bytes]:
        """What was not given as an article, in pieces that begin where an article does, but for the first."""
        self._drop_read()
        held = self._held
        for chunk in chain(self._chunks, [b""]):
            *pieces, held = _cut_before_openings(held + chunk)
            yield from pieces
            if len(held) > _LONGEST_ARTICLE:
                yield held
                held = b""
        yield held


def _cut_before_openings(data: bytes) -> list[bytes]:
    places = [0, *(match.start() for match in _OPENING.finditer(data)), len(data)]
    return [data[start:end] for start, end in pairwise(places)]


def read_pubmed_xml(chunks: Iterable[bytes]) -> Iterator[Record | Problem]:
    """Records and problems of a PubMed XML file, one by one. Where the XML breaks, the rest is read by articles."""
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    keys = KeyChooser()
    source = _ChunkReader(chunks)
    root: Element | None = None
    try:
        for event, element in iterparse(source, events=("start", "end")):
            if event == "start":
                root = element if root is None else root
            elif element.tag in _ARTICLES or (element.tag == "MedlineCitation" and root is element):
                source.count += 1
                yield from _make(element, keys, source.count)
                if root is not None and root is not element:
                    root.clear()
    except ParseError as error:
        line, _ = getattr(error, "position", (None, 0))
        yield Problem(f"the XML breaks off or is malformed here ({error})", line=line)
        yield from _read_pieces(source, keys)
    except DefusedXmlException as error:
        reason = (
            f"the XML defines entities or asks for other files, which is refused ({type(error).__name__})"
        )
        text = b"".join(islice(source.rest(), 100))[:_KEPT_OF_REFUSED].decode("utf-8", "replace")
        yield Problem(reason, text=text, severity=Severity.ERROR)


def _read_pieces(source: _ChunkReader, keys: KeyChooser) -> Iterator[Record | Problem]:
    """Articles of a broken file, each parsed by itself; what cannot be parsed is kept as text."""
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    for piece in source.rest():
        closing = _CLOSING.search(piece) if _OPENING.match(piece) else None
        after = piece
        if closing is not None:
            source.count += 1
            article, after = piece[: closing.end()], piece[closing.end() :]
            try:
                yield from _make(fromstring(article), keys, source.count)
            except (ParseError, DefusedXmlException, ValueError) as error:
                reason = f"article {source.count} is malformed XML: {error}"
                text = article.decode("utf-8", "replace")
                yield Problem(reason, entry=str(source.count), text=text, severity=Severity.ERROR)
        if left := _BETWEEN.sub(b"", after).strip():
            cut = _OPENING.match(left) is not None
            reason = "an article breaks off" if cut else "text outside articles of a broken file"
            severity = Severity.ERROR if cut else Severity.WARNING
            yield Problem(reason, text=left.decode("utf-8", "replace"), severity=severity)


def _make(article: Element, keys: KeyChooser, number: int) -> Iterator[Record | Problem]:
    maker = _Maker(article)
    try:
        record = maker.make(keys)
    except (ValueError, KeyError, AttributeError, RecursionError) as error:
        text = tostring(article, encoding="unicode")
        yield Problem(
            f"article {number} could not be read: {error}",
            entry=str(number),
            text=text,
            severity=Severity.ERROR,
        )
        return
    yield from maker.problems
    yield record


def _text(element: Element | None) -> str:
    """The words of an element with all below it, CSL tags kept."""
    return squeeze(unescape(_rich(element))) if element is not None else ""


def _rich(element: Element) -> str:
    pieces = [element.text or ""]
    for child in element:
        inner = _rich(child)
        tag = child.tag.lower() if isinstance(child.tag, str) else ""
        pieces.append(f"<{tag}>{inner}</{tag}>" if tag in ("i", "b", "sub", "sup") and inner else inner)
        pieces.append(child.tail or "")
    return "".join(pieces)


class _Maker:
    """One article element on its way to a record."""

    def __init__(self, article: Element) -> None:
        self.root = article
        self.book = article.find(".//BookDocument")
        self.article = self._find_article()
        self.known: dict[str, Any] = {}
        self.extra: dict[str, Any] = {}
        self.problems: list[Problem] = []

    def _find_article(self) -> Element:
        if self.book is not None:
            return self.book
        found = self.root.find(".//Article")
        return found if found is not None else self.root

    def make(self, keys: KeyChooser) -> Record:
        self._take_titles()
        self._take_people()
        self._take_journal()
        self._take_identifiers()
        self._take_abstracts()
        self._take_words()
        self._take_links()
        pmid = self.known.get("pmid")
        wanted = f"pmid{pmid}" if pmid else invent_key(self.known.get("author", ()), self.known.get("issued"))
        notes = [_text(note) for note in self.root.iterfind(".//GeneralNote")]
        if any(notes):
            self.known["note"] = "\n".join(note for note in notes if note)
        kind, wanted = take_noted(self.known, self.extra, self._choose_type(), wanted)
        key, complaint = keys.choose(wanted)
        if complaint:
            self.problems.append(Problem(complaint, entry=key))
        raw = tostring(self.root, encoding="unicode").strip()
        known = {name: value for name, value in self.known.items() if value}
        return Record(key=key, type=kind, extra=self.extra, raw=raw, **known)

    def _choose_type(self) -> str:
        kinds = [_text(item).lower() for item in self.article.iterfind(".//PublicationType")]
        for kind in self.article.iterfind(".//PublicationType"):
            carry(self.extra, "PT", _text(kind))
        if "preprint" in kinds:
            return "article"
        if self.book is not None:
            return "chapter" if self.article.find("ArticleTitle") is not None else "book"
        return "article-journal"

    def _take_titles(self) -> None:
        title = _text(self.article.find("ArticleTitle")) or _text(self.article.find("./Book/BookTitle"))
        self.known["title"] = strip_final_stop(title)
        self.known["original_title"] = strip_final_stop(_text(self.article.find("VernacularTitle")))
        if self.book is not None and self.article.find("ArticleTitle") is not None:
            self.known["container_title"] = strip_final_stop(_text(self.article.find("./Book/BookTitle")))
        self.known["collection_title"] = _text(self.article.find("./Book/CollectionTitle"))
        self.known["publisher"] = _text(self.article.find("./Book/Publisher/PublisherName"))
        self.known["publisher_place"] = _text(self.article.find("./Book/Publisher/PublisherLocation"))

    def _take_people(self) -> None:
        for people in self.article.iter("AuthorList"):
            names = tuple(_read_author(author) for author in people.iterfind("Author"))
            attribute = "editor" if people.get("Type") == "editors" else "author"
            if people.get("CompleteYN") == "N" and names:
                names = (*names, Name(literal="others"))
            self.known[attribute] = (*self.known.get(attribute, ()), *names)
        for author in self.article.iterfind("./AuthorList/Author"):
            for place in author.iterfind(".//Affiliation"):
                carry(self.extra, "AD", _text(place))

    def _take_journal(self) -> None:
        find = self.article.find
        if self.book is None:
            self.known["container_title"] = strip_final_stop(_text(find("./Journal/Title")))
            self.known["container_title_short"] = _text(find("./Journal/ISOAbbreviation")) or _text(
                self.root.find(".//MedlineTA")
            )
        self.known["volume"] = _text(find("./Journal/JournalIssue/Volume")) or _text(find("./Book/Volume"))
        self.known["issue"] = _text(find("./Journal/JournalIssue/Issue"))
        self.known["page"] = _text(find("./Pagination/MedlinePgn"))
        if not self.known["page"]:
            ends = [_text(find("./Pagination/StartPage")), _text(find("./Pagination/EndPage"))]
            self.known["page"] = "-".join(end for end in ends if end)
        for number in self.article.iterfind("./ELocationID[@EIdType='pii']"):
            if not self.known["page"]:
                self.known["number"] = _text(number)
            else:
                carry(self.extra, "LID", f"{_text(number)} [pii]")
        when = find("./Journal/JournalIssue/PubDate")
        when = when if when is not None else find("./Book/PubDate")
        self.known["issued"] = _read_date(when) or _read_date(find("./ArticleDate"))
        online = _read_date(find("./ArticleDate"))
        if online is not None and online != self.known["issued"]:
            self.known["available_date"] = online
        languages = [_text(item) for item in self.article.iterfind("./Language")]
        self.known["language"] = ", ".join(TABLES["languages"].get(item.lower(), item) for item in languages)

    def _take_identifiers(self) -> None:
        identifiers = [
            (item.get("IdType"), _text(item))
            for item in self.root.iterfind("./PubmedData/ArticleIdList/ArticleId")
        ]
        identifiers += [(item.get("EIdType"), _text(item)) for item in self.article.iterfind("./ELocationID")]
        own = self.root.find(".//PMID") if self.root.tag != "MedlineCitation" else self.root.find("PMID")
        self.known["pmid"] = normalise_pmid(_text(own))
        for kind, value in identifiers:
            if kind == "doi" and "doi" not in self.known:
                self.known["doi"] = normalise_doi(value)
            elif kind == "pmc" and "pmcid" not in self.known:
                self.known["pmcid"] = normalise_pmcid(value)
            elif kind == "pubmed" and not self.known["pmid"]:
                self.known["pmid"] = normalise_pmid(value)
        for kind, tag in (("issn", "ISSN"), ("isbn", "Isbn"), ("issn", "ISSNLinking")):
            for item in self.root.iter(tag):
                found, complaint = normalise_numbers(kind, _text(item))
                before = self.known.get(kind)
                self.known[kind] = f"{before}, {found}" if before and found not in before else before or found
                if complaint:
                    self.problems.append(Problem(complaint, entry=self.known["pmid"], text=_text(item)))

    def _take_abstracts(self) -> None:
        sections = []
        for section in self.article.iterfind("./Abstract/AbstractText"):
            label = section.get("Label")
            sections.append(f"{label}: {_text(section)}" if label else _text(section))
        self.known["abstract"] = " ".join(section for section in sections if section)
        for other in self.root.iter("OtherAbstract"):
            carry(self.extra, "OAB", " ".join(_text(part) for part in other.iterfind("AbstractText")))
        if rights := _text(self.article.find("./Abstract/CopyrightInformation")):
            carry(self.extra, "CI", rights)

    def _take_words(self) -> None:
        self.known["keyword"] = "; ".join(filter(None, (_text(word) for word in self.root.iter("Keyword"))))
        for heading in self.root.iter("MeshHeading"):
            parts = [_text(part) for part in heading]
            carry(self.extra, "MH", "/".join(part for part in parts if part))
        state = _text(self.root.find("./PubmedData/PublicationStatus"))
        if state:
            carry(self.extra, "PST", state)
        if state in TABLES["status"]:
            self.known["status"] = TABLES["status"][state]

    def _take_links(self) -> None:
        for link in self.root.iter("CommentsCorrections"):
            kind = link.get("RefType") or "link"
            pmid = _text(link.find("PMID"))
            source = _text(link.find("RefSource"))
            carry(self.extra, TABLES["links"].get(kind, kind), f"{source} PMID: {pmid}" if pmid else source)


def _read_author(author: Element) -> Name:
    body = _text(author.find("CollectiveName"))
    family = _text(author.find("LastName"))
    if body or not family:
        return Name(literal=body or _text(author.find("ForeName")) or "?")
    given = (
        _text(author.find("ForeName")) or _text(author.find("FirstName")) or _text(author.find("Initials"))
    )
    name = read_parts(family, given, _text(author.find("Suffix")) or None)
    numbers = [(item.get("Source") or "", _text(item)) for item in author.iterfind("Identifier")]
    extra = tuple((source, number) for source, number in numbers if source and number)
    return Name(
        name.family, name.given, name.dropping_particle, name.non_dropping_particle, name.suffix, extra=extra
    )


def _read_date(element: Element | None) -> PartialDate | None:
    if element is None:
        return None
    free = _text(element.find("MedlineDate"))
    if free:
        return read_date(free)
    year, month = _text(element.find("Year")), _text(element.find("Month"))
    season, day = _text(element.find("Season")), _text(element.find("Day"))
    if not year.isdecimal():
        return read_date(year) if year else None
    if season:
        return read_date(f"{year} {season}")
    number = read_month(month) if month else None
    return PartialDate(
        year=int(year),
        month=number,
        day=int(day) if day.isdecimal() and number and 1 <= int(day) <= 31 else None,
    )
