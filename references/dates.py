"""Dates as far as they are known, and the ways in which bibliographic files write them.

`read_date` takes ISO 8601 and EDTF level 1 (biblatex), RIS (`2019/05/03/Spring`), MEDLINE (`2005 Oct-Dec`,
`1998 Winter`, `2019 Dec-2020 Jan`) and plain words (`3 May 2021`). Of words that it cannot read it takes the
one year they name, or keeps them as a literal.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Self


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
    raw: str | None = field(default=None, compare=False)

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
        if not start and raw and not literal and (read := read_date(str(raw))) is not None:
            known = {item.name: getattr(read, item.name) for item in fields(read)}
            return cls(**known | {"raw": str(raw), "circa": bool(data.get("circa")) or read.circa})
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
    sign = "-" if date.year < 0 else ""
    return f"{sign}{abs(date.year):04d}" + "".join(f"-{part:02d}" for part in date.parts[1:])


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

_MONTH_WORDS = (
    "january jan janvier januar enero janeiro gennaio januari",
    "february feb février fevrier februar febrero fevereiro febbraio fév februari",
    "march mar mars märz maerz marzo março marco mrz maart",
    "april apr avril abril aprile abr avr",
    "may mai mayo maio maggio mei",
    "june jun juin juni junio junho giugno",
    "july jul juillet juli julio julho luglio",
    "august aug août aout agosto ago augustus",
    "september sep sept septembre septiembre setembro settembre set",
    "october oct octobre oktober octubre outubro ottobre okt out",
    "november nov novembre noviembre novembro",
    "december dec décembre decembre dezember diciembre dezembro dicembre dez dic déc",
)
MONTHS = {word: number for number, words in enumerate(_MONTH_WORDS, 1) for word in words.split()}

_STATUS = re.compile(
    r"^\W*(in press|in print|forthcoming|in preparation|to appear|accepted(?: for publication)?|submitted|"
    r"under review|(?:epub |published )?ahead of print|online first|early view|early access|unpublished)\W*$",
    re.IGNORECASE,
)
_ISO = re.compile(r"(-?\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?(?:T[\d:.+Z-]*)?([~?%]?)")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_MONTH_FIRST = re.compile(r"(\d{1,2})[/.](\d{4})")
_YEAR = re.compile(r"(?<!\d)(?:1[4-9]|20)\d\d(?!\d)")
_SLASHED = re.compile(r"(\d{4})/(\d{0,2})(?:/(\d{0,2}))?(?:/(.*))?")
_TOKEN = re.compile(r"\d+|[^\W\d_]+", re.UNICODE)
_CIRCA = re.compile(r"^(?:c\.|ca\.?|circa|about)\s*(?=\d)", re.IGNORECASE)


def read_status(text: str) -> str | None:
    """The publication state that stands where a date should ("in press"), or None."""
    match = _STATUS.match(text)
    return match.group(1).lower() if match else None


def read_month(text: str) -> int | None:
    """A month by name in the languages of common exports, or by number."""
    word = text.strip().strip(".").lower()
    if word.isdecimal():
        return int(word) if 1 <= int(word) <= 12 else None
    return MONTHS.get(word)


def read_date(text: str) -> PartialDate | None:
    """A date from its written form; None for nothing, a literal for words that are no date."""
    text = text.strip().strip("[]{}").strip()
    if not text or text == "/":
        return None
    text = _COMPACT.sub(r"\1-\2-\3", text) if _COMPACT.fullmatch(text) else text
    text = _MONTH_FIRST.sub(r"\2/\1", text) if _MONTH_FIRST.fullmatch(text) else text
    for reader in (_read_iso_range, _read_slashed, _read_words):
        found = reader(text)
        if found is not None:
            return found
    years = set(_YEAR.findall(text))
    return PartialDate(year=int(years.pop()), raw=text) if len(years) == 1 else PartialDate(literal=text)


def _read_iso_range(text: str) -> PartialDate | None:
    """`2021-05-03`, `1988~`, `1997/2000`, `2004-02/..`; both sides must be ISO."""
    start_text, slash, end_text = text.partition("/")
    start = _read_iso(start_text.strip())
    if start is None:
        return None
    if not slash:
        return start
    end_text = end_text.strip()
    if end_text in ("", ".."):
        return replace(start, end=PartialDate())
    end = _read_iso(end_text) if re.match(r"-?\d{4}", end_text) else None
    return replace(start, end=end) if end is not None else None


def _read_iso(text: str) -> PartialDate | None:
    match = _ISO.fullmatch(text)
    if match is None:
        return None
    year, month, day, mark = match.groups()
    circa = bool(mark)
    if not month:
        return PartialDate(year=int(year), circa=circa)
    number = int(month)
    if 21 <= number <= 24:
        return PartialDate(year=int(year), season=number - 20, circa=circa)
    if not 1 <= number <= 12 or (day and not 1 <= int(day) <= 31):
        return None
    return PartialDate(year=int(year), month=number, day=int(day) if day else None, circa=circa)


def _read_slashed(text: str) -> PartialDate | None:
    """RIS: year/month/day/other, any of the last three empty; `other` may be a season or words."""
    match = _SLASHED.fullmatch(text)
    if match is None:
        return None
    year, month, day, other = match.groups()
    number = int(month) if month else None
    if number is not None and not 1 <= number <= 12:
        return None
    number_of_day = int(day) if day and number and 1 <= int(day) <= 31 else None
    season = _SEASON_WORDS.get((other or "").strip().lower())
    raw = text if other and season is None else None
    return PartialDate(year=int(year), month=number, day=number_of_day, season=season, raw=raw)


def _read_words(text: str) -> PartialDate | None:
    """`2005 Oct-Dec`, `May 3, 2021`, `c. 1850`, `1998 Winter`, `2019 Dec-2020 Jan`."""
    circa = _CIRCA.match(text) is not None
    body = _CIRCA.sub("", text)
    sides = [side for side in re.split(r"\s*(?:-|–|—|/|\bto\b)\s*", body) if side]
    if not 1 <= len(sides) <= 2:
        return None
    start = _read_tokens(sides[0], PartialDate())
    if len(sides) == 1:
        return replace(start, circa=circa, raw=None) if start and start.year is not None else None
    if start is None:
        return None
    end = _read_tokens(sides[1], start)
    if end is None or end.year is None:
        return None
    if start.year is None:  # "Oct-Dec 2005", "3-5 May 2021": the year stands at the end
        start = replace(start, year=end.year, month=start.month or (end.month if start.day else None))
    if (end.year, end.month or 0, end.day or 0) < (start.year, start.month or 0, start.day or 0):
        return None
    return replace(start, end=end, circa=circa, raw=text)


def _read_tokens(text: str, before: PartialDate) -> PartialDate | None:
    """One side of a range; what it leaves out is taken from the side before it."""
    year = month = day = season = None
    for token in _TOKEN.findall(text):
        lowered = token.lower()
        if token.isdecimal() and len(token) == 4 and year is None:
            year = int(token)
        elif token.isdecimal() and len(token) <= 2 and 1 <= int(token) <= 31 and day is None:
            day = int(token)
        elif lowered in MONTHS and month is None:
            month = MONTHS[lowered]
        elif lowered in _SEASON_WORDS and season is None:
            season = _SEASON_WORDS[lowered]
        elif lowered not in ("st", "nd", "rd", "th", "of", "de", "del"):
            return None
    if year is None and before.year is not None:
        year = before.year
        if month is None and season is None and day is not None:
            month = before.month
    if day is not None and month is None and year is not None and before.year is None and season is None:
        if not 1 <= day <= 12:
            return None
        month, day = day, None
    found = PartialDate(year=year, month=month, day=day, season=season)
    return None if found == PartialDate() else found


def write_iso(date: PartialDate) -> str:
    """The date in EDTF level 1, as biblatex and RIS readers take it; a literal stays as it is."""
    if date.year is None:
        return date.literal or ""
    text = _iso(date)
    if date.season is not None and date.month is None:
        text += f"-{20 + date.season}"
    if date.circa:
        text += "~"
    if date.end is not None:
        text += "/" + (write_iso(date.end) or "..")
    return text
