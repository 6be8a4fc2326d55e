"""Records as PubMed XML that reads back to the same."""

import re
from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement, tostring

from references.medline import TABLES
from references.noted import LABEL, find_rest
from references.pubmed_xml import read_pubmed_xml
from references.record import Name, PartialDate, Record

_LANGUAGES = {short: long for long, short in TABLES["languages"].items()}
_LINKS = {tag: kind for kind, tag in TABLES["links"].items()}
_NOT_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_TAG = re.compile(r"(</?(?:i|b|sub|sup)>)")


def write_pubmed_xml(records: Iterable[Record]) -> str:
    """The records as a PubmedArticleSet. Variables without an element stand in a GeneralNote, `csl-json: ...`."""
    root = Element("PubmedArticleSet")
    for record in records:
        root.append(_write(record))
        root[-1].tail = "\n"  # no other white space: it would count inside titles with markup
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"


def _write(record: Record) -> Element:
    article = _build(record)
    source = b"<PubmedArticleSet>" + tostring(article, encoding="utf-8") + b"</PubmedArticleSet>"
    back = next((item for item in read_pubmed_xml([source]) if isinstance(item, Record)), None)
    rest = find_rest(record, back)
    citation = article.find("MedlineCitation")
    if rest and citation is not None:
        _add(citation, "GeneralNote", LABEL + rest)
    return article


def _build(record: Record) -> Element:
    root = Element("PubmedArticle")
    citation = SubElement(root, "MedlineCitation")
    _add(citation, "PMID", record.pmid)
    article = SubElement(citation, "Article")
    journal = SubElement(article, "Journal")
    for number in (record.issn or "").split(", "):
        _add(journal, "ISSN", number)
    issue = SubElement(journal, "JournalIssue")
    _add(issue, "Volume", record.volume)
    _add(issue, "Issue", record.issue)
    _add_date(issue, record.issued)
    _add(journal, "Title", record.container_title)
    _add(journal, "ISOAbbreviation", record.container_title_short)
    _add_rich(article, "ArticleTitle", f"{record.title}." if record.title else None)
    if record.page:
        _add(SubElement(article, "Pagination"), "MedlinePgn", record.page)
    if record.abstract:
        _add_rich(SubElement(article, "Abstract"), "AbstractText", record.abstract)
    _add_people(article, "authors", record.author)
    _add_people(article, "editors", record.editor)
    for language in (record.language or "").split(", "):
        _add(article, "Language", _LANGUAGES.get(language, language))
    kinds = record.extra.get("PT", [])
    for kind in kinds if isinstance(kinds, list) else [kinds]:
        _add(article, "PublicationType", str(kind))
    _add_rich(article, "VernacularTitle", f"{record.original_title}." if record.original_title else None)
    for word in (record.keyword or "").split("; "):
        _add(citation, "Keyword", word)
    for tag, kind in _LINKS.items():
        links = record.extra.get(tag, [])
        for link in links if isinstance(links, list) else [links]:
            source, _, pmid = str(link).partition(" PMID: ")
            element = SubElement(citation, "CommentsCorrections", RefType=kind)
            _add(element, "RefSource", source)
            _add(element, "PMID", pmid)
    for line in (record.note or "").split("\n"):
        _add(citation, "GeneralNote", line)
    data = SubElement(root, "PubmedData")
    identifiers = SubElement(data, "ArticleIdList")
    for kind, value in (("pubmed", record.pmid), ("doi", record.doi), ("pmc", record.pmcid)):
        if value:
            _add(identifiers, "ArticleId", value).set("IdType", kind)
    return root


def _add(parent: Element, tag: str, text: str | None) -> Element:
    if not text:
        return parent
    element = SubElement(parent, tag)
    element.text = _NOT_XML.sub("\ufffd", text)
    return element


def _add_rich(parent: Element, tag: str, text: str | None) -> None:
    """Text whose CSL tags become elements."""
    if not text:
        return
    stack = [SubElement(parent, tag)]
    last: Element | None = None
    for piece in _TAG.split(_NOT_XML.sub("\ufffd", text)):
        if re.fullmatch(r"<(i|b|sub|sup)>", piece):
            stack.append(SubElement(stack[-1], piece[1:-1]))
            last = None
        elif piece.startswith("</") and len(stack) > 1 and piece == f"</{stack[-1].tag}>":
            last = stack.pop()
        elif last is not None:
            last.tail = (last.tail or "") + piece
        else:
            stack[-1].text = (stack[-1].text or "") + piece


def _add_people(article: Element, kind: str, names: tuple[Name, ...]) -> None:
    if not names:
        return
    people = SubElement(article, "AuthorList", Type=kind)
    for name in names:
        author = SubElement(people, "Author")
        if not name.family:
            _add(author, "CollectiveName", name.literal or name.given or "?")
            continue
        _add(author, "LastName", " ".join(filter(None, (name.non_dropping_particle, name.family))))
        _add(author, "ForeName", " ".join(filter(None, (name.given, name.dropping_particle))))
        _add(author, "Suffix", name.suffix)


def _add_date(issue: Element, date: PartialDate | None) -> None:
    if date is None or date.year is None:
        return
    element = SubElement(issue, "PubDate")
    if date.raw:
        _add(element, "MedlineDate", date.raw)
        return
    _add(element, "Year", str(date.year))
    _add(element, "Month", f"{date.month:02d}" if date.month else None)
    _add(element, "Day", str(date.day) if date.day else None)
