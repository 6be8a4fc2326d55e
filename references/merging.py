"""Merge two references that a person, or a shared identifier, found to be one: every field keeps its
origin.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from references.distance import measure_distance
from references.errors import ReferencesError
from references.record import Record

_OWN = frozenset({"key", "extra", "raw", "source_line"})


class VetoedMerge(ReferencesError):
    """The two records carry conflicting identifiers: merging them would lose one registered work."""


@dataclass(frozen=True, slots=True)
class Merged:
    """A merged record, under the first record's key.

    `origins`: for each field that has a value, the key of the record it came from ("both" where they agree).
    `set_aside`: for each field in which they differed, the value that was not taken. `a`, `b`: the records as
    they were, so that the merge can be undone.
    """

    record: Record
    origins: Mapping[str, str]
    set_aside: Mapping[str, Any]
    a: Record = field(repr=False)
    b: Record = field(repr=False)

    def undo(self) -> tuple[Record, Record]:
        """The two records as they were before."""
        return self.a, self.b


def merge(a: Record, b: Record, *, prefer: Mapping[str, str] | None = None, force: bool = False) -> Merged:
    """Merge `b` into `a`: a's value where it has one, else b's; the fuller author list, abstract and date
    win.

    `prefer` names the record (by key) whose value to take for a field. Raises VetoedMerge where identifiers
    conflict, unless `force`: then the losing identifier is in `set_aside`.
    """
    distance = measure_distance(a, b)
    if distance.vetoes and not force:
        raise VetoedMerge(
            f"{a.key} and {b.key} must not be merged: {'; '.join(distance.vetoes)}.",
            hint="Link them as related, or merge with force if one identifier is known to be wrong.",
        )
    chosen = dict(prefer or {})
    values: dict[str, Any] = {}
    origins: dict[str, str] = {}
    set_aside: dict[str, Any] = {}
    for item in fields(Record):
        name = item.name
        if name in _OWN:
            continue
        one, other = getattr(a, name), getattr(b, name)
        if not one and not other:
            continue
        take_b = _takes_second(name, one, other, chosen.get(name), b.key)
        values[name] = other if take_b else one
        if one == other:
            origins[name] = "both"
            continue
        origins[name] = b.key if take_b else a.key
        if one and other:
            set_aside[name] = one if take_b else other
    extra = _merge_extra(a, b, origins, set_aside)
    return Merged(replace(a, **values, extra=extra), origins, set_aside, a, b)


def _takes_second(name: str, one: Any, other: Any, preferred: str | None, second_key: str) -> bool:
    if preferred is not None:
        return preferred == second_key
    if not one or not other:
        return not one
    if name == "type":
        return bool(one == "document")
    if isinstance(one, tuple):
        return _fullness(other) > _fullness(one)
    if name == "issued":
        return len(other.parts) > len(one.parts)
    return name in _LONGER_IS_BETTER and len(str(other)) > len(str(one))


_LONGER_IS_BETTER = frozenset({"title", "abstract", "container_title", "page", "keyword"})


def _fullness(names: tuple[Any, ...]) -> tuple[int, int]:
    """Names that are there, then letters in them: full given names beat initials."""
    letters = sum(len(getattr(name, "given", None) or "") for name in names)
    return len(names), letters


def _merge_extra(a: Record, b: Record, origins: dict[str, str], set_aside: dict[str, Any]) -> dict[str, Any]:
    extra = dict(b.extra) | dict(a.extra)
    for name in extra:
        label = f"extra.{name}"
        if name in a.extra and name in b.extra:
            same = a.extra[name] == b.extra[name]
            origins[label] = "both" if same else a.key
            if not same:
                set_aside[label] = b.extra[name]
        else:
            origins[label] = a.key if name in a.extra else b.key
    return extra
