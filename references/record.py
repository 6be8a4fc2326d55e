"""One bibliographic record, shaped like the variables of the Citation Style Language (CSL 1.0.2).

Attribute names are the CSL names in snake case (`container-title` is `container_title`, `DOI` is `doi`). Text
variables may hold the few tags CSL keeps (`<i> <b> <sub> <sup>`, small caps, nocase); `references.text.plain`
takes them out. Source: Citation Style Language 1.0.2 specification, appendices III and IV, and its CSL-JSON
schema.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Self


@dataclass(frozen=True, slots=True)
class Name:
    """A person (family, given, particles, suffix) or, with `literal`, a body or an undivided name."""

    family: str | None = None
    given: str | None = None
    dropping_particle: str | None = None
    non_dropping_particle: str | None = None
    suffix: str | None = None
    literal: str | None = None
    comma_suffix: bool = False
    static_ordering: bool = False
    extra: tuple[tuple[str, Any], ...] = field(default=(), hash=False)

    @property
    def sort_family(self) -> str:
        """The family name with the particle that stays with it, or the literal name, or what there is."""
        parts = [self.non_dropping_particle, self.family]
        return " ".join(part for part in parts if part) or self.literal or self.given or ""

    def to_csl(self) -> dict[str, Any]:
        """The name as CSL-JSON, empty parts left out."""
        result: dict[str, Any] = {}
        for attribute in _NAME_PARTS:
            value = getattr(self, attribute)
            if value:
                result[attribute.replace("_", "-")] = value
        return result | dict(self.extra)

    @classmethod
    def from_csl(cls, data: Mapping[str, Any] | str) -> Self:
        """A name from CSL-JSON; a bare string is taken as a literal; unknown keys are carried in `extra`."""
        if not isinstance(data, Mapping):
            return cls(literal=str(data))
        known: dict[str, Any] = {}
        extra: list[tuple[str, Any]] = []
        for key, value in data.items():
            attribute = key.replace("-", "_")
            if attribute in ("comma_suffix", "static_ordering"):
                known[attribute] = bool(value)
            elif attribute in _NAME_PARTS and isinstance(value, str | int):
                known[attribute] = str(value) or None
            else:
                extra.append((key, value))
        return cls(**known, extra=tuple(extra))


_NAME_PARTS = (
    *("family", "given", "dropping_particle", "non_dropping_particle", "suffix", "literal"),
    *("comma_suffix", "static_ordering"),
)


@dataclass(frozen=True, slots=True)
class PartialDate:
    """A date as far as it is known. `season`: 1 spring to 4 winter. `end` closes a range (empty: open range).

    `literal` is a date that is only words; `raw` keeps the source's own wording beside the parts read.
    """

    year: int | None = None
    month: int | None = None
    day: int | None = None
    season: int | None = None
    literal: str | None = None
    circa: bool = False
    end: "PartialDate | None" = None
    raw: str | None = None

    def __str__(self) -> str:
        if self.year is None:
            return self.literal or ""
        start = _iso(self)
        return f"{start}/{_iso(self.end)}" if self.end is not None else start

    @property
    def parts(self) -> tuple[int, ...]:
        """Year, month, day as far as known without a gap."""
        known = []
        for part in (self.year, self.month, self.day):
            if part is None:
                break
            known.append(part)
        return tuple(known)

    def to_csl(self) -> dict[str, Any]:
        """The date as CSL-JSON; an open range ends in a zero year, as CSL processors expect."""
        result: dict[str, Any] = {}
        if self.year is not None:
            result["date-parts"] = [list(self.parts)]
            if self.end is not None:
                result["date-parts"].append(list(self.end.parts) or [0])
        if self.season is not None:
            result["season"] = self.season
        if self.circa:
            result["circa"] = True
        if self.literal:
            result["literal"] = self.literal
        if self.raw:
            result["raw"] = self.raw
        return result

    @classmethod
    def from_csl(cls, data: Any) -> Self:
        """A date from CSL-JSON: numbers or strings, partial parts, months 13-24 as seasons."""
        if not isinstance(data, Mapping):
            return cls._from_parts([data]) if _is_integer(data) else cls(literal=str(data))
        parts = data.get("date-parts")
        start, end = {}, None
        if isinstance(parts, list) and parts:
            start = _date_parts(parts[0])
            if len(parts) > 1:
                end = cls(**_date_parts(parts[1]))
        literal, raw = data.get("literal"), data.get("raw")
        season = _season(data.get("season"), start.get("season"))
        return cls(
            **start | {"season": season},
            end=end,
            circa=bool(data.get("circa")),
            literal=str(literal) if literal else None,
            raw=str(raw) if raw else None,
        )

    @classmethod
    def _from_parts(cls, parts: list[Any]) -> Self:
        return cls(**_date_parts(parts))


def _iso(date: PartialDate) -> str:
    if date.year is None:
        return ""
    sign, width = ("-", 4) if date.year < 0 else ("", 4)
    text = f"{sign}{abs(date.year):0{width}d}"
    return text + "".join(f"-{part:02d}" for part in date.parts[1:])


def _is_integer(value: Any) -> bool:
    try:
        int(value)
    except (TypeError, ValueError):
        return False
    return True


def _date_parts(parts: Any) -> dict[str, Any]:
    """Year, month, day, season out of one CSL `date-parts` list; zero and empty parts mean unknown."""
    if not isinstance(parts, list):
        parts = [parts]
    numbers = [int(part) if _is_integer(part) else None for part in parts[:3]]
    year, month, day = [*numbers, None, None, None][:3]
    found: dict[str, Any] = {"year": year or None}
    if month and 13 <= month <= 24:
        found["season"] = (month - 1) % 4 + 1
    elif month and 1 <= month <= 12:
        found["month"] = month
        found["day"] = day if day and 1 <= day <= 31 else None
    return found


def _season(*values: Any) -> int | None:
    for value in values:
        if _is_integer(value) and 1 <= int(value) <= 4:
            return int(value)
        word = _SEASON_WORDS.get(str(value).strip().lower())
        if word:
            return word
    return None


_SEASON_WORDS = {"spring": 1, "summer": 2, "autumn": 3, "fall": 3, "winter": 4}

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
