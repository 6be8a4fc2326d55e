"""Read notices from PubMed records, Crossref-shaped JSON and the open retraction table, one at a time."""

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from references.errors import Problem, Severity, Unreadable
from references.folding import fold
from references.identifiers import find_doi
from references.notices import Notice, NoticeKind
from references.profiles import clean_doi, form_of
from references.record import PartialDate, Record
from references.rules import load_rules

# --- PubMed: publication types and links that the readers carry in `extra` ----------------------------------

# MEDLINE link tags (data/citation_state.yaml): on the work concerned, and on the notice itself
_ON_WORK = {
    "RIN": NoticeKind.RETRACTION,
    "PRIN": NoticeKind.PARTIAL_RETRACTION,
    "ECI": NoticeKind.CONCERN,
    "EIN": NoticeKind.CORRECTION,
    "CRI": NoticeKind.CORRECTION,
    "RRI": NoticeKind.RETRACTION,
    "RPI": NoticeKind.NEW_VERSION,
    "UIN": NoticeKind.NEW_VERSION,
}
_ON_NOTICE = {
    "ROF": NoticeKind.RETRACTION,
    "PROF": NoticeKind.PARTIAL_RETRACTION,
    "ECF": NoticeKind.CONCERN,
    "EFR": NoticeKind.CORRECTION,
    "CRF": NoticeKind.CORRECTION,
    "RPF": NoticeKind.NEW_VERSION,
    "UOF": NoticeKind.NEW_VERSION,
}
_ERRATUM_REMARK = "filed as an erratum; PubMed files partial retractions so too: read it"
_PMID = re.compile(r"PMID:?\s*(\d{1,8})")
_DATE = re.compile(r"\b((?:19|20)\d\d)\b(?:\s+([A-Z][a-z]{2})[a-z]*\b(?:\s+(\d{1,2})\b)?)?")
_MONTH_TEXT = "jan feb mar apr may jun jul aug sep oct nov dec"
_MONTHS = {name: number for number, name in enumerate(_MONTH_TEXT.split(), 1)}


def read_record_notices(record: Record, source: str = "PubMed record") -> tuple[Notice, ...]:
    """Notices that a record itself carries: links, publication types, `Retracted:` in its title, preprint
    server.

    Links on a notice (`retraction of`) give a notice about the other work, with this record as its notice.
    """
    doi, pmid = clean_doi(record.doi), record.pmid
    found: list[Notice] = []
    for tag, kind in _ON_WORK.items():
        for text in _texts(record.extra.get(tag)):
            remark = _ERRATUM_REMARK if tag == "EIN" else ""
            ids = find_doi(text), _pmid_in(text)
            found.append(Notice(kind, doi, pmid, _date_in(text), (), source, *ids, remark))
    for tag, kind in _ON_NOTICE.items():
        for text in _texts(record.extra.get(tag)):
            work = find_doi(text), _pmid_in(text)
            found.append(Notice(kind, *work, record.issued, (), source, doi, pmid))
    kinds = {notice.kind for notice in found if notice.doi == doi and notice.pmid == pmid}
    types = {fold(text) for text in _texts(record.extra.get("PT"))}
    retracted = "retracted publication" in types or _says_retracted(record.title)
    if retracted and NoticeKind.RETRACTION not in kinds:
        found.append(Notice(NoticeKind.RETRACTION, doi, pmid, None, (), source))
    if "preprint" in types or form_of(record) == "preprint":
        versions = [n for n in found if n.kind is NoticeKind.NEW_VERSION and n.doi == doi]
        published = versions[0].notice_doi if versions else None
        found.append(Notice(NoticeKind.PREPRINT, doi, pmid, record.issued, (), source, published))
    return tuple(found)


def _texts(value: Any) -> list[str]:
    if value is None:
        return []
    return [str(one) for one in value] if isinstance(value, list | tuple) else [str(value)]


def _says_retracted(title: str | None) -> bool:
    labels: list[str] = load_rules("duplicates")["retracted_labels"]
    start = fold((title or "").partition(":")[0]) if title and ":" in title[:24] else ""
    return start in labels


def _pmid_in(text: str) -> str | None:
    found = _PMID.search(text)
    return found[1] if found else None


def _date_in(text: str) -> PartialDate | None:
    found = _DATE.search(text)
    if not found:
        return None
    month = _MONTHS.get((found[2] or "").lower())
    return PartialDate(year=int(found[1]), month=month, day=int(found[3]) if found[3] and month else None)


# --- Crossref-shaped JSON
# -------------------------------------------------------------------------------------

_CROSSREF_KINDS = {
    **dict.fromkeys(
        ("addendum", "clarification", "correction", "corrigendum", "erratum"), NoticeKind.CORRECTION
    ),
    "expression_of_concern": NoticeKind.CONCERN,
    "concern": NoticeKind.CONCERN,
    "partial_retraction": NoticeKind.PARTIAL_RETRACTION,
    "retraction": NoticeKind.RETRACTION,
    "withdrawal": NoticeKind.WITHDRAWAL,
    "removal": NoticeKind.WITHDRAWAL,
    "reinstatement": NoticeKind.REINSTATEMENT,
    "new_edition": NoticeKind.NEW_VERSION,
    "new_version": NoticeKind.NEW_VERSION,
}


def read_crossref(document: Any) -> Iterator[Notice]:
    """Notices in a work, a list of works, or a service's answer that wraps them (`message`, `items`).

    `update-to` on a notice points at the work; `updated-by` on a work points at the notice. Both are read.
    Raises Unreadable where the document is no such JSON.
    """
    for work in _works_in(document):
        own = clean_doi(_text(work.get("DOI")))
        for update in _mappings(work.get("update-to")):
            yield _crossref_notice(update, work_doi=clean_doi(_text(update.get("DOI"))), notice_doi=own)
        for update in _mappings(work.get("updated-by")):
            yield _crossref_notice(update, work_doi=own, notice_doi=clean_doi(_text(update.get("DOI"))))
        yield from _crossref_preprints(work, own)


def _works_in(document: Any) -> Iterator[Mapping[str, Any]]:
    if isinstance(document, Mapping) and isinstance(document.get("message"), Mapping):
        document = document["message"]
    if isinstance(document, Mapping) and isinstance(document.get("items"), list):
        document = document["items"]
    works = document if isinstance(document, list) else [document]
    for work in works:
        if not isinstance(work, Mapping):
            raise Unreadable(
                "this is not JSON about works",
                hint="Expected a work, a list of works, or an answer with `message`.",
            )
        yield work


def _mappings(value: Any) -> Iterator[Mapping[str, Any]]:
    if isinstance(value, Mapping):
        value = [value]
    if isinstance(value, list):
        yield from (one for one in value if isinstance(one, Mapping))


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) and value else None


def _crossref_notice(update: Mapping[str, Any], *, work_doi: str | None, notice_doi: str | None) -> Notice:
    told = str(update.get("type") or update.get("label") or "")
    kind = _CROSSREF_KINDS.get(fold(told).replace(" ", "_"), NoticeKind.OTHER)
    updated = update.get("updated")
    when = PartialDate.from_csl(updated) if isinstance(updated, Mapping) else None
    source = f"Crossref ({update['source']})" if _text(update.get("source")) else "Crossref"
    remark = f"of a kind that is not known here: {told}" if kind is NoticeKind.OTHER else ""
    return Notice(
        kind, work_doi, None, when if when and when.year else None, (), source, notice_doi, None, remark
    )


def _crossref_preprints(work: Mapping[str, Any], own: str | None) -> Iterator[Notice]:
    relation = work.get("relation")
    relations = relation if isinstance(relation, Mapping) else {}
    published = [clean_doi(_text(one.get("id"))) for one in _mappings(relations.get("is-preprint-of"))]
    if published or work.get("subtype") == "preprint":
        yield Notice(
            NoticeKind.PREPRINT, own, None, None, (), "Crossref", published[0] if published else None
        )
    for preprint in _mappings(relations.get("has-preprint")):
        yield Notice(
            NoticeKind.PREPRINT, clean_doi(_text(preprint.get("id"))), None, None, (), "Crossref", own
        )


# --- the open retraction table
# --------------------------------------------------------------------------------

_NEEDED = ("OriginalPaperDOI", "OriginalPaperPubMedID", "RetractionNature", "RetractionDate")
_NATURES = {
    "retraction": NoticeKind.RETRACTION,
    "correction": NoticeKind.CORRECTION,
    "expression of concern": NoticeKind.CONCERN,
    "reinstatement": NoticeKind.REINSTATEMENT,
}
_ABSENT = frozenset({"", "0", "unavailable", "n/a", "na", "none", "null"})
_US_DATE = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_ISO_DATE = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")


def read_retraction_file(
    path: Path,
    source: str | None = None,
    on_problem: Callable[[Problem], None] | None = None,
    on_position: Callable[[int], None] | None = None,
) -> Iterator[Notice]:
    """The same from a file, streamed; `source` defaults to the file's name. Letters that are not UTF-8 are replaced.

    `on_position` hears how many bytes of the file have been gone through.
    Raises Unreadable where the file is binary or not the table, OSError where it cannot be opened.
    """
    with (
        path.open("rb") as file,
        io.TextIOWrapper(file, encoding="utf-8-sig", errors="replace", newline="") as lines,
    ):
        start = lines.read(4096)
        if "\0" in start or not start.strip():
            reason = "the file is empty" if not start.strip() else "the file is binary"
            raise Unreadable(reason, where=str(path), hint="Give the open retraction table as a CSV file.")
        lines.seek(0)
        for notice in read_retraction_table(lines, source or path.name, on_problem):
            if on_position is not None:
                on_position(file.tell())
            yield notice


def read_retraction_table(
    lines: Iterable[str],
    source: str = "retraction table",
    on_problem: Callable[[Problem], None] | None = None,
) -> Iterator[Notice]:
    """Notices of the open retraction CSV (20 named columns, in any order), row by row from any stream of
    lines.

    Rows that cannot be read go to `on_problem` and take no neighbour with them. Raises Unreadable where a
    needed
    column is missing.
    """
    tell = on_problem or (lambda problem: None)
    reader = csv.reader(lines)
    header = next(reader, [])
    columns = _find_columns(header)
    width = len(header)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            tell(Problem(f"not a row of the table: {error}", line=reader.line_num, severity=Severity.ERROR))
            continue
        if len(row) != width:
            if any(row):
                reason = f"{len(row)} cells where the table has {width} columns"
                tell(Problem(reason, line=reader.line_num, text=",".join(row)[:500], severity=Severity.ERROR))
            continue
        notice = _read_row(row, columns, source)
        if isinstance(notice, Notice):
            yield notice
        else:
            tell(Problem(notice, line=reader.line_num, text=",".join(row)[:500]))


def _find_columns(header: Sequence[str]) -> dict[str, int]:
    """Column positions by name, whatever the order, case and spacing."""
    places = {_column(name): at for at, name in enumerate(header)}
    missing = [name for name in _NEEDED if _column(name) not in places]
    if missing:
        raise Unreadable(
            f"this is not the open retraction table: no column {', '.join(missing)}",
            where="line 1",
            hint="Give the CSV file with its first line of column names.",
        )
    return {name: places[_column(name)] for name in _columns() if _column(name) in places}


@cache
def _columns() -> tuple[str, ...]:
    return tuple(load_rules("citation_state")["sources_of_state"]["retraction_csv"]["columns"])


def _column(name: str) -> str:
    return name.lstrip("\ufeff").strip().lower().replace(" ", "").replace("_", "")


def _read_row(row: Sequence[str], columns: Mapping[str, int], source: str) -> Notice | str:
    """A notice, or what is wrong with the row."""

    def cell(name: str) -> str:
        at = columns.get(name)
        value = row[at].strip() if at is not None else ""
        return "" if value.lower() in _ABSENT else value

    kind = _NATURES.get(cell("RetractionNature").lower())
    if kind is None:
        return f"unknown nature of notice: {cell('RetractionNature') or 'empty'}"
    doi, pmid = clean_doi(cell("OriginalPaperDOI")), cell("OriginalPaperPubMedID").split(".")[0] or None
    if not doi and not pmid:
        return "neither DOI nor PubMed number of the work: the row cannot be joined to anything"
    reasons = tuple(part.strip(" +") for part in cell("Reason").split(";") if part.strip(" +"))
    return Notice(
        kind=kind,
        doi=doi,
        pmid=pmid,
        date=_read_date(cell("RetractionDate")),
        reasons=reasons,
        source=source,
        notice_doi=clean_doi(cell("RetractionDOI")),
        notice_pmid=cell("RetractionPubMedID") or None,
    )


def _read_date(text: str) -> PartialDate | None:
    """Month/day/year, as the table writes it; day/month where the first cannot be a month; or ISO."""
    found = _US_DATE.match(text)
    if found:
        month, day, year = map(int, found.groups())
        if month > 12 >= day:
            month, day = day, month
        return PartialDate(year=year, month=month if month <= 12 else None, day=day if month <= 12 else None)
    found = _ISO_DATE.match(text)
    return PartialDate(year=int(found[1]), month=int(found[2]), day=int(found[3])) if found else None
