"""Taking values out of a document without tripping over what the schema has already complained about."""

from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

from evidence.reading.plain_yaml import Document, Path, written
from evidence.reading.study_draft import Details, Problem
from evidence.vocabulary import Lookup

_Word = TypeVar("_Word", bound=StrEnum)


class Notes:
    """Collects problems and warnings with their places."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self.problems: list[Problem] = []
        self.warnings: list[Problem] = []

    def problem(self, path: Path, message: str, hint: str = "") -> None:
        """Note something that stops the study from being stored."""
        self.problems.append(Problem(message, self._document.where(path), hint, path))

    def warn(self, path: Path, message: str, hint: str = "") -> None:
        """Note something to look at."""
        self.warnings.append(Problem(message, self._document.where(path), hint, path))


def text_of(entry: Mapping[str, Any], key: str) -> str | None:
    """The text at `key` as written; None where it is absent or no scalar."""
    value = entry.get(key)
    return None if value is None or isinstance(value, (dict, list)) else written(value)


def number_of(entry: Mapping[str, Any], key: str) -> float | None:
    """The number at `key`; None where it is absent or no number."""
    value = entry.get(key)
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def whole_of(entry: Mapping[str, Any], key: str) -> int | None:
    """The whole number at `key`; None where it is absent or no whole number."""
    value = number_of(entry, key)
    return int(value) if value is not None and value == int(value) else None


def word_of(entry: Mapping[str, Any], key: str, words: type[_Word]) -> _Word | None:
    """The member of `words` at `key`; None where it is absent or not one of them."""
    value = entry.get(key)
    return words(value) if isinstance(value, str) and value in {w.value for w in words} else None


def date_of(entry: Mapping[str, Any], key: str) -> date | None:
    """The date at `key`; None where it is absent or no date."""
    try:
        return date.fromisoformat(str(entry[key])) if entry.get(key) else None
    except ValueError:
        return None


def pair_of(entry: Mapping[str, Any], key: str) -> tuple[float, float] | None:
    """The two numbers at `key`."""
    value = entry.get(key)
    if not isinstance(value, list) or len(value) != 2:
        return None
    low, high = (number_of({"x": item}, "x") for item in value)
    return None if low is None or high is None else (low, high)


def details_of(entry: Mapping[str, Any], key: str) -> Details:
    """The named scalars at `key`, as plain values."""
    value = entry.get(key)
    if not isinstance(value, dict):
        return {}
    return {k: _plain(v) for k, v in value.items() if isinstance(v, (str, int, float))}


def _plain(value: str | int | float) -> str | int | float | bool:
    if isinstance(value, (str, bool)):
        return value
    return int(value) if isinstance(value, int) else float(value)


def entries_of(data: Mapping[str, Any], key: str) -> list[tuple[Path, dict[str, Any]]]:
    """The list of named entries at `key`, each with its path; what is none is left out."""
    value = data.get(key)
    if not isinstance(value, list):
        return []
    return [((key, number), item) for number, item in enumerate(value) if isinstance(item, dict)]


def candidates_in_words(found: Lookup, limit: int = 7) -> str:
    """The candidates of a look-up as a hint."""
    names: Sequence[str] = [f"{c.id} ({c.name})" for c in found.candidates[:limit]]
    if not names:
        return "See the vocabulary for what is known, or add your own."
    several = found.outcome == "ambiguous" and len(found.candidates) > 1
    return f"{'Which of' if several else 'Nearest'}: {', '.join(names)}."


def fault_in_words(found: Lookup) -> str:
    """Why a look-up names no one thing."""
    return (
        "may mean several things" if found.outcome == "ambiguous" and found.candidates[1:] else "is not known"
    )
