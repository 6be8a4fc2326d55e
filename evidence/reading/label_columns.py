"""Label columns whose headers say what they hold: "Outcome | Group | Time" over rows in long form."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.body import Row
from evidence.reading.labels import (
    STUB,
    TIME,
    TIME_STUB,
    Kind,
    names_group,
    read_kind,
    read_phrase,
    tidy_label,
)

_GROUP_STUB = re.compile(
    r"(?:study |training )?(?:groups?|arms?|cohorts?|sex|gender|grupos?|groupes?|gruppen?|nhóm|giới tính|sexo|sexe"
    r"|geschlecht)",
    re.I,
)
_TIME_STUB = re.compile(
    r"(?:time|test|assessment|measurement)(?: ?-?points?| of test(?:ing)?| period)?s?"
    r"|(?:mess)?zeit(?:punkt)?e?|tempo|momento|tiempo|temps|thời điểm",
    re.I,
)
GROUP, TIMES, OTHER = "group", "time", "label"


def column_roles(stubs: Sequence[str], rows: Sequence[Row]) -> tuple[str, ...]:
    """What each label column holds, when its header names groups or times; () when no header does."""
    width = max((len(row.labels) for row in rows), default=0)
    names = list(stubs)
    if len(names) == 1 and width > 1:
        names = _part_stubs(names[0])
    if len(names) != width:
        return ()
    roles = tuple(
        GROUP if _GROUP_STUB.fullmatch(name.strip()) else TIMES if _is_time(name, rows, i) else OTHER
        for i, name in enumerate(names)
    )
    if roles.count(TIMES) > 1 or set(roles) == {OTHER} or roles == (TIMES,):
        return ()
    return roles


def _is_time(name: str, rows: Sequence[Row], column: int) -> bool:
    """Whether a header speaks of time and its labels are times ("Test" may head names of tests)."""
    if not (_TIME_STUB.fullmatch(name.strip()) or TIME_STUB.match(name.strip())):
        return False
    labels = [row.labels[column] for row in rows if column < len(row.labels) and row.labels[column]]
    named = name.strip().casefold() != "test" and not name.casefold().startswith(("assess", "measure"))
    return named or all(TIME.match(label) for label in labels)


def _part_stubs(text: str) -> list[str]:
    """A running header "Group Time" as its single words, when each is the name of a label column."""
    words = text.split()
    return words if all(STUB.fullmatch(w) or _TIME_STUB.fullmatch(w) for w in words) else [text]


def split_trailing_times(rows: Sequence[Row]) -> list[Row]:
    """ "Low load Pre", "Low load Post": the time at the end of each label becomes a label of its own."""
    if len(rows) < 4 or any(len(row.labels) != 1 or row.section for row in rows):
        return list(rows)
    parted = [_part_time(row.labels[0]) for row in rows]
    if any(part is None for part in parted):
        return list(rows)
    pairs = [part for part in parted if part]
    bases = Counter(base for base, _ in pairs)
    if len({time.casefold() for _, time in pairs}) < 2 or min(bases.values()) < 2 or len(bases) < 2:
        return list(rows)
    return [replace(row, labels=pair) for row, pair in zip(rows, pairs, strict=True)]


def _part_time(label: str) -> tuple[str, str] | None:
    words = label.split()
    for size in (1, 2):
        tail = " ".join(words[-size:])
        found = TIME.fullmatch(tail.strip("()"))
        if found and len(words) > size:
            return tidy_label(" ".join(words[:-size]).rstrip(",;:–- ")), tail.strip("()")
    return None


def groups_under_outcomes(
    inner: Sequence[str], outer: Sequence[str], units: Sequence[bool], *, timed: bool, counted: bool
) -> bool:
    """Whether the same rows under each outcome are groups of people.

    So they are when the columns are times or number the people of each row, the outcomes above carry units
    (`units`, one for each of `outer`) or the people are numbered, and no row is an outcome, a time or a statistic.
    """
    if not (timed or counted) or not all(outer) or len(set(outer)) < 2:
        return False
    sets: dict[str, list[str]] = {}
    for own, above in zip(inner, outer, strict=True):
        sets.setdefault(above, []).append(own)
    if len({tuple(labels) for labels in sets.values()}) != 1 or len(set(inner)) < 2:
        return False
    plain = all(read_kind(own) is Kind.PLAIN and read_phrase(own).timepoint is None for own in set(inner))
    return plain and (counted or all(units)) and not any(names_group(above) for above in set(outer))
