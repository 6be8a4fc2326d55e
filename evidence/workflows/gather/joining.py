"""Joining two records that are one work: each field's origin, and what was not taken, are kept with the record.

They stand in the record's carried fields: `other_keys` (keys under which the work came in), and `joined` with
`origins` (by CSL variable, the keys of the entries that say so) and `set_aside` (values that were not taken).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from references.merging import Merged, VetoedMerge, merge
from references.record import CSL_NAMES, Record

OTHER_KEYS, JOINED = "other_keys", "joined"


@dataclass(frozen=True, slots=True)
class Difference:
    """A field in which two records differed: the value that was taken and the one that was set aside."""

    field: str
    taken: str
    set_aside: str
    from_key: str  # the entry whose value was set aside


def join(known: Record, incoming: Record) -> Record | None:
    """The known record with what the incoming one adds, both source texts kept; None when they may not be joined."""
    if incoming.raw and known.raw and incoming.raw in known.raw:
        return known
    try:
        return join_records(known, incoming)
    except VetoedMerge:
        return None


def join_records(kept: Record, other: Record, *, force: bool = False) -> Record:
    """One record under the first one's key. Raises VetoedMerge where identifiers conflict, unless forced."""
    merged = merge(without_joined(kept), without_joined(other), force=force)
    raw = "\n\n".join(dict.fromkeys(text for text in (kept.raw, other.raw) if text)) or None
    keys = [*kept.extra.get(OTHER_KEYS, []), other.key, *other.extra.get(OTHER_KEYS, [])]
    others = [key for key in dict.fromkeys(keys) if key and key != kept.key]
    extra = {**merged.record.extra, **({OTHER_KEYS: others} if others else {})}
    extra[JOINED] = {
        "origins": trace_origins(merged, kept, other),
        "set_aside": [*joined_of(kept)["set_aside"], *joined_of(other)["set_aside"], *list_set_aside(merged)],
    }
    return replace(merged.record, key=kept.key, raw=raw, extra=extra)


def without_joined(record: Record) -> Record:
    """The record without what earlier joinings noted."""
    extra = {name: value for name, value in record.extra.items() if name not in (OTHER_KEYS, JOINED)}
    return replace(record, extra=extra)


def joined_of(record: Record) -> dict[str, Any]:
    """What earlier joinings noted; empty where somebody changed it to something else."""
    noted = record.extra.get(JOINED)
    noted = noted if isinstance(noted, Mapping) else {}
    origins, aside = noted.get("origins"), noted.get("set_aside")
    return {
        "origins": dict(origins) if isinstance(origins, Mapping) else {},
        "set_aside": list(aside) if isinstance(aside, list) else [],
    }


def trace_origins(merged: Merged, kept: Record, other: Record) -> dict[str, list[str]]:
    """By CSL variable the keys of the entries that its value came from, through earlier joinings too."""
    ours, theirs = joined_of(kept)["origins"], joined_of(other)["origins"]
    origins: dict[str, list[str]] = {}
    for attribute, key in merged.origins.items():
        name = CSL_NAMES.get(attribute, attribute)
        from_kept, from_other = ours.get(name, [kept.key]), theirs.get(name, [other.key])
        found = {"both": [*from_kept, *from_other], other.key: from_other}.get(key, from_kept)
        origins[name] = list(dict.fromkeys(found))
    return origins


def list_set_aside(merged: Merged) -> list[dict[str, Any]]:
    """The values that were not taken, as CSL-JSON has them."""
    found = []
    for attribute, lost in merged.set_aside.items():
        name = CSL_NAMES.get(attribute, attribute)
        if name.startswith("extra."):
            loser, value = merged.b, lost
        else:
            loser = merged.a if getattr(merged.a, attribute) == lost else merged.b
            value = loser.to_csl().get(name, lost)
        found.append({"field": name, "from": loser.key, "value": value})
    return found
