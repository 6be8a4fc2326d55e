"""One bibliographic record, shaped like the variables of the Citation Style Language (CSL 1.0.2).

Attribute names are the CSL names in snake case (`container-title` is `container_title`, `DOI` is `doi`). Text
variables may hold the few tags CSL keeps (`<i> <b> <sub> <sup>`, small caps, nocase); `references.text.plain`
takes them out. Source: Citation Style Language 1.0.2 specification, appendices III and IV, and its CSL-JSON
schema.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Self

from references.dates import PartialDate
from references.names import Name

__all__ = ["CSL_NAMES", "DATE_VARIABLES", "NAME_VARIABLES", "Name", "Names", "PartialDate", "Record"]

Names = tuple[Name, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A reference. Every CSL variable has an attribute; other fields are carried in `extra`, own names kept.

    `raw` is the source text of the entry and `source_line` its first line, where the reader knows them.
    """

    key: str
    type: str = "document"
    # names
    author: Names = ()
    chair: Names = ()
    collection_editor: Names = ()
    compiler: Names = ()
    composer: Names = ()
    container_author: Names = ()
    contributor: Names = ()
    curator: Names = ()
    director: Names = ()
    editor: Names = ()
    editorial_director: Names = ()
    editor_translator: Names = ()
    executive_producer: Names = ()
    guest: Names = ()
    host: Names = ()
    illustrator: Names = ()
    interviewer: Names = ()
    narrator: Names = ()
    organizer: Names = ()
    original_author: Names = ()
    performer: Names = ()
    producer: Names = ()
    recipient: Names = ()
    reviewed_author: Names = ()
    script_writer: Names = ()
    series_creator: Names = ()
    translator: Names = ()
    # dates
    issued: PartialDate | None = None
    accessed: PartialDate | None = None
    available_date: PartialDate | None = None
    event_date: PartialDate | None = None
    original_date: PartialDate | None = None
    submitted: PartialDate | None = None
    # titles
    title: str | None = None
    title_short: str | None = None
    container_title: str | None = None
    container_title_short: str | None = None
    collection_title: str | None = None
    event_title: str | None = None
    original_title: str | None = None
    part_title: str | None = None
    reviewed_title: str | None = None
    volume_title: str | None = None
    # numbers (text: "12-13", "S1", "e1261" are all numbers of this trade)
    volume: str | None = None
    issue: str | None = None
    page: str | None = None
    page_first: str | None = None
    number: str | None = None
    number_of_pages: str | None = None
    number_of_volumes: str | None = None
    chapter_number: str | None = None
    citation_number: str | None = None
    collection_number: str | None = None
    edition: str | None = None
    first_reference_note_number: str | None = None
    locator: str | None = None
    part_number: str | None = None
    printing_number: str | None = None
    section: str | None = None
    supplement_number: str | None = None
    version: str | None = None
    # where and by whom
    publisher: str | None = None
    publisher_place: str | None = None
    original_publisher: str | None = None
    original_publisher_place: str | None = None
    event_place: str | None = None
    archive: str | None = None
    archive_collection: str | None = None
    archive_location: str | None = None
    archive_place: str | None = None
    authority: str | None = None
    call_number: str | None = None
    division: str | None = None
    jurisdiction: str | None = None
    source: str | None = None
    # identifiers
    doi: str | None = None
    pmid: str | None = None
    pmcid: str | None = None
    isbn: str | None = None
    issn: str | None = None
    url: str | None = None
    # about the work
    abstract: str | None = None
    annote: str | None = None
    categories: tuple[str, ...] = ()
    citation_key: str | None = None
    citation_label: str | None = None
    dimensions: str | None = None
    genre: str | None = None
    keyword: str | None = None
    language: str | None = None
    license: str | None = None
    medium: str | None = None
    note: str | None = None
    references: str | None = None
    reviewed_genre: str | None = None
    scale: str | None = None
    status: str | None = None
    year_suffix: str | None = None
    # carried
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)
    raw: str | None = field(default=None, compare=False)
    source_line: int | None = field(default=None, compare=False)

    @property
    def year(self) -> int | None:
        """The year of `issued`, where known."""
        return self.issued.year if self.issued is not None else None

    def to_csl(self) -> dict[str, Any]:
        """The record as one CSL-JSON item. Fields that CSL does not know go under `custom`."""
        result: dict[str, Any] = {"id": self.key, "type": self.type}
        for attribute, csl_name in CSL_NAMES.items():
            value = getattr(self, attribute)
            if not value:
                continue
            if attribute in NAME_VARIABLES:
                result[csl_name] = [name.to_csl() for name in value]
            elif attribute in DATE_VARIABLES:
                result[csl_name] = value.to_csl()
            else:
                result[csl_name] = list(value) if isinstance(value, tuple) else value
        if self.extra:
            result["custom"] = dict(self.extra)
        return result

    @classmethod
    def from_csl(cls, data: Mapping[str, Any]) -> Self:
        """A record from one CSL-JSON item. Unknown keys and what `custom` holds are carried in `extra`."""
        known: dict[str, Any] = {}
        extra: dict[str, Any] = {}
        for key, value in data.items():
            attribute = _CSL_ATTRIBUTES.get(key)
            if key in ("id", "type") or value is None or value == "":
                continue
            if key == "custom" and isinstance(value, Mapping):
                extra.update(value)
            elif attribute is None:
                extra[key] = value
            else:
                _read_variable(attribute, key, value, known, extra)
        return cls(
            key=_as_text(data.get("id")) or "",
            type=_as_text(data.get("type")) or "document",
            extra=extra,
            **known,
        )


def _read_variable(
    attribute: str, key: str, value: Any, known: dict[str, Any], extra: dict[str, Any]
) -> None:
    """Put one CSL variable where it belongs; a value of the wrong shape is carried, not bent."""
    if attribute in NAME_VARIABLES:
        names = value if isinstance(value, list) else [value]
        known[attribute] = tuple(Name.from_csl(name) for name in names)
    elif attribute in DATE_VARIABLES:
        known[attribute] = PartialDate.from_csl(value)
    elif attribute == "categories":
        known[attribute] = tuple(str(item) for item in value) if isinstance(value, list) else (str(value),)
    elif isinstance(value, list) and value and all(isinstance(item, str | int | float) for item in value):
        known[attribute] = ", ".join(str(item) for item in value)
    elif isinstance(value, str | int | float):
        known[attribute] = _as_text(value)
    else:
        extra[key] = value


def _as_text(value: Any) -> str | None:
    return None if value is None else str(value)


def _attributes_of(annotation: Any) -> frozenset[str]:
    return frozenset(item.name for item in fields(Record) if item.type == annotation)


def _csl_name(attribute: str) -> str:
    if attribute in ("doi", "pmid", "pmcid", "isbn", "issn", "url"):
        return attribute.upper()
    if attribute in ("archive_collection", "archive_location"):
        return attribute  # CSL itself writes these two with an underscore
    if attribute == "title_short":
        return "title-short"
    return attribute.replace("_", "-")


NAME_VARIABLES = _attributes_of(Names)
DATE_VARIABLES = _attributes_of(PartialDate | None)
CSL_NAMES: dict[str, str] = {
    item.name: _csl_name(item.name)
    for item in fields(Record)
    if item.name not in ("key", "type", "extra", "raw", "source_line")
}
_CSL_ATTRIBUTES = {csl_name: attribute for attribute, csl_name in CSL_NAMES.items()} | {
    # older spellings that CSL-JSON files in use still carry
    "shortTitle": "title_short",
    "journalAbbreviation": "container_title_short",
    "event": "event_title",
    "archive-collection": "archive_collection",
    "archive-location": "archive_location",
}
