"""What each row and column of the table is: outcome, group, time point, statistic, number of people."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evidence.reading.body import Body, Row
from evidence.reading.cells import Shape
from evidence.reading.headers import Parts
from evidence.reading.label_columns import GROUP, OTHER, TIMES, column_roles, groups_under_outcomes
from evidence.reading.labels import (
    STUB,
    TIME,
    Kind,
    Phrase,
    names_group,
    read_kind,
    read_phrase,
    read_unit,
    strip_statistic,
    tidy_label,
)
from evidence.reading.legend import Notes
from evidence.reading.row_kinds import read_row_kind, stated_kind
from evidence.vocabulary.terms import Spread


@dataclass(frozen=True, slots=True)
class Column:
    """A column understood. `spanning`: one figure stands for all groups of an outcome (an interaction's p)."""

    label: str
    kind: Kind
    parts: Parts = ()
    timepoint: str | None = None
    group: str | None = None
    n: int | None = None
    spread: Spread | None = None
    level: float | None = None
    unit: str | None = None
    spanning: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """A row understood. `kind`: what its figures are when the row label says so ("P value", "% change")."""

    row: str
    section: str | None = None
    group: str | None = None
    timepoint: str | None = None
    n: int | None = None
    unit: str | None = None
    kind: Kind = Kind.PLAIN
    spread: Spread | None = None
    marks: tuple[str, ...] = ()


_SPANNING = re.compile(
    r"[×*]|\bx\b|interaction|between|\bgroup\b(?!s? ?\))|\bcondition\b|\btreatment\b", re.IGNORECASE
)


def describe_columns(
    parts: Sequence[Parts], shapes: Sequence[Shape | None], says_p: Sequence[bool]
) -> list[Column]:
    """Columns from their header parts; groups are settled later, when the rows are known."""
    columns = []
    for own, shape, is_p in zip(parts, shapes, says_p, strict=True):
        phrases = [read_phrase(text) for text in own]
        label = " / ".join(dict.fromkeys(p.name for p in phrases if p.name))
        kind = _column_kind(phrases, own, shape)
        if kind is Kind.PLAIN and (shape is Shape.P or is_p) and not any(p.timepoint for p in phrases):
            kind = Kind.P
        within = re.search(r"within", label, re.IGNORECASE)
        columns.append(
            Column(
                label=label,
                kind=kind,
                parts=tuple(own),
                timepoint=next((p.timepoint for p in reversed(phrases) if p.timepoint), None),
                n=next((p.n for p in reversed(phrases) if p.n is not None), None),
                spread=next((p.spread for p in reversed(phrases) if p.spread), None),
                level=next((p.level for p in reversed(phrases) if p.level), None),
                unit=next((u for p in reversed(phrases) if (u := read_unit(p.name))), None),
                spanning=kind is Kind.P and bool(_SPANNING.search(label)) and not within,
            )
        )
    return columns


_P_BEHIND = re.compile(r"[;,(\s]+p(?:[- ]values?)?\)?$", re.IGNORECASE)  # "Difference (95% CI; p)"


def _column_kind(phrases: Sequence[Phrase], own: Parts, shape: Shape | None) -> Kind:
    kinds = [p.kind for p in reversed(phrases)]
    joined = read_kind(" ".join(p.name for p in phrases))
    leaf = kinds[0] if kinds else Kind.PLAIN
    kind = leaf if leaf is not Kind.PLAIN else joined if joined is not Kind.PLAIN else Kind.PLAIN
    if leaf in (Kind.MEAN, Kind.INTERVAL) and joined in (Kind.CHANGE, Kind.DIFFERENCE, Kind.PERCENT_CHANGE):
        kind = joined if leaf is Kind.MEAN else leaf
    if kind is Kind.P and shape in (Shape.PAIR, Shape.INTERVAL):
        kind = read_kind(_P_BEHIND.sub("", own[-1])) if _P_BEHIND.search(own[-1]) else Kind.PLAIN
        kind = Kind.PLAIN if kind is Kind.P else kind  # "Time" over mean ± SD is a label, not a test
    if (
        kind is Kind.EFFECT_SIZE
        and shape is Shape.PAIR
        and not re.search(r"effect|cohen|hedges|SMD", " ".join(own), re.IGNORECASE)
    ):
        kind = Kind.PLAIN  # "ES" over mean ± SD may be erector spinae
    if kind in (Kind.TEST, Kind.CORRELATION, Kind.RATIO) and shape is Shape.PAIR:
        kind = Kind.PLAIN
    return kind


def split_repeating(rows: Sequence[Row]) -> list[Row]:
    """Labels that hold two things ("Leg press 1RM (kg) CONV", then "EB"): the part that comes again in every
    set of rows is cut off.

    Done only when single labels repeat with one period from the first row to the last.
    """
    if len(rows) < 4 or any(len(row.labels) != 1 or row.section for row in rows):
        return list(rows)
    labels = [row.labels[0] for row in rows]
    for period in range(2, len(rows) // 2 + 1):
        if len(rows) % period:
            continue
        heads = labels[::period]
        steady = all(labels[i] == labels[i % period] for i in range(len(labels)) if i % period)
        tail = _common_tail(heads)
        if (
            steady
            and tail
            and all(len(head) > len(tail) for head in heads)
            and len(set(heads)) > 1
            and len(set(labels[1:period])) == period - 1
        ):
            parted = []
            outer = ""
            for number, row in enumerate(rows):
                if number % period == 0:
                    outer = tidy_label(labels[number][: -len(tail)])
                inner = tail if number % period == 0 else labels[number]
                parted.append(replace(row, labels=(outer, tidy_label(inner))))
            return parted
    return list(rows)


def _common_tail(labels: Sequence[str]) -> str:
    words = [label.split() for label in labels]
    same = 0
    while all(len(w) > same + 1 and w[-1 - same] == words[0][-1 - same] for w in words):
        same += 1
    tail = words[0][len(words[0]) - same :] if same else []
    closed = max((i for i, word in enumerate(tail[:-1]) if word.endswith((")", "]"))), default=-1)
    return " ".join(tail[closed + 1 :])  # a unit in brackets ends the outcome's name


_LABEL_MARKS = re.compile(r"(?:\s|\^\{)((?:[a-h](?:\s?,\s?[a-h])*)|[*†‡§¶#]+)\}?\s*$|(?<=\S)([*†‡§¶#]+)\s*$")


def split_label_marks(labels: Sequence[str], notes: Notes) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Footnote letters after labels ("TG b,c,d"): cut off when no two labels become one by it that share a
    set of rows.
    """
    cut: dict[str, tuple[str, tuple[str, ...]]] = {}
    for label in set(labels):
        found = _LABEL_MARKS.search(label)
        if not found or not label[: found.start()].strip() or re.search(r"\d\s[a-h]$", label):
            cut[label] = (label, ())
            continue
        marks = tuple(re.findall(r"[a-h]|[*†‡§¶#]+", found[1] or found[2]))
        cut[label] = (label[: found.start()].strip(), marks)
    bare = Counter(text for text, marks in cut.values() if marks)
    letters = [label for label, (_, marks) in cut.items() if marks and marks[0].isalpha()]
    known = set(notes.legend.marks)
    for label in letters:
        text, marks = cut[label]
        alone = len(letters) == 1 and len(marks) == 1 and not known & set(marks)
        successive = bare[text] > 1 and all(
            len(cut[other][1]) == 1 for other in letters if cut[other][0] == text
        )
        if (alone or successive) and not label.endswith("}"):
            cut[label] = (label, ())
    return cut


def describe_rows(
    body: Body,
    notes: Notes,
    roles: Mapping[str, str],
    columns_have_groups: bool,
    columns: Sequence[Column] = (),
) -> list[Place]:
    """Rows from their labels and sections, and which of the two is the group of people."""
    rows = list(body.rows)
    texts = [text for row in rows for text in (*row.labels, row.section) if text]
    cut = split_label_marks(texts, notes)

    def bare(text: str) -> str:
        return cut.get(text, (text, ()))[0]

    inner = [bare(row.labels[-1]) if row.labels else "" for row in rows]
    outer = [_outer(row, bare, inner_label) for row, inner_label in zip(rows, inner, strict=True)]
    abbreviations = notes.legend.abbreviations
    by_column = () if "rows" in roles or "sections" in roles else column_roles(body.stubs, rows)
    group_at = _find_group_level(inner, outer, abbreviations, body.stubs, roles, columns_have_groups)
    if not group_at and not columns_have_groups and not {"rows", "sections"} & set(roles):
        times = {c.timepoint for c in columns if c.timepoint}
        units = [read_unit(text) is not None for text in outer]
        counted = any(c.kind is Kind.N for c in columns)
        if not any(map(read_unit, inner)) and groups_under_outcomes(
            inner, outer, units, timed=len(times) > 1, counted=counted
        ):
            group_at = "inner"
    places = []
    for row, own, above in zip(rows, inner, outer, strict=True):
        marks = tuple(m for text in (*row.labels, row.section) for m in cut.get(text, ("", ()))[1])
        if by_column and len(row.labels) == len(by_column):
            places.append(
                _place_by_columns([bare(text) for text in row.labels], by_column, bare(row.section), marks)
            )
            continue
        place = _describe_row(own, above, group_at, body.stubs, marks)
        places.append(replace(place, timepoint=own) if roles.get("rows") == "times" else place)
    return places


def _place_by_columns(
    labels: Sequence[str], roles: Sequence[str], section: str, marks: tuple[str, ...]
) -> Place:
    """A row whose label columns are named by their headers."""
    at = {
        role: " / ".join(t for t, r in zip(labels, roles, strict=True) if r == role and t) for role in roles
    }
    rest = [tidy_label(text) for text, role in zip(labels, roles, strict=True) if role == OTHER and text]
    people = read_phrase(at.get(GROUP, ""))
    row = " / ".join(rest) or section or people.name
    own = read_phrase(rest[-1]) if rest else Phrase("")
    return Place(
        row=row,
        section=section if rest and section else None,
        group=people.name or None,
        timepoint=strip_statistic(at[TIMES]) if at.get(TIMES) else None,
        n=people.n if people.n is not None else own.n,
        unit=read_unit(row),
        kind=stated_kind(own.name),
        spread=own.spread,
        marks=marks,
    )


def _outer(row: Row, bare: object, inner: str) -> str:
    """What stands over a row's own label: outer label columns, else the section, unless the row is an
    outcome of its own.
    """
    assert callable(bare)
    above = [bare(text) for text in row.labels[:-1] if text]
    if above:
        return " / ".join(dict.fromkeys([*([bare(row.section)] if row.section else []), *above]))
    section = bare(row.section) if row.section else ""
    of_its_own = read_row_kind(inner) is Kind.PLAIN and read_phrase(inner).n is None
    if section and read_unit(section) and read_unit(inner) and of_its_own:
        return ""
    return str(section)


def _find_group_level(
    inner: Sequence[str],
    outer: Sequence[str],
    abbreviations: Mapping[str, str],
    stubs: Sequence[str],
    roles: Mapping[str, str],
    columns_have_groups: bool,
) -> str:
    """ "inner", "outer" or "" : where the rows name groups of people."""
    if roles.get("rows") == "groups":
        return "inner"
    if roles.get("sections") == "groups":
        return "outer"
    named = [text for text in inner if text]
    are_groups = [names_group(text, abbreviations.get(read_phrase(text).name, "")) for text in named]
    with_n = sum(read_phrase(text).n is not None for text in named)
    if "rows" not in roles and named and (sum(are_groups) >= 0.5 * len(named) or with_n >= 0.5 * len(named)):
        return "inner"
    sections = [text for text in outer if text]
    if (
        "sections" not in roles
        and sections
        and all(names_group(t, abbreviations.get(t, "")) for t in sections)
    ):
        return "outer"
    if columns_have_groups or "rows" in roles or not sections:
        return ""
    outcomes = sum(read_unit(text) is not None for text in named) > 0.5 * len(named)
    some = any(names_group(t, abbreviations.get(t, "")) for t in sections)
    if outcomes:
        return (
            "outer"
            if "sections" not in roles
            and (some or _stub_says_group(stubs))
            and not any(map(read_unit, sections))
            else ""
        )
    return "inner" if _repeats_under(inner, outer) and _stub_says_group(stubs) else ""


def _stub_says_group(stubs: Sequence[str]) -> bool:
    return any(
        re.search(r"\b(?:group|condition|treatment|sex|gender)s?\b", stub, re.IGNORECASE) for stub in stubs
    )


def _repeats_under(inner: Sequence[str], outer: Sequence[str]) -> bool:
    """Whether every outcome has the same rows under it."""
    sets: dict[str, list[str]] = {}
    for own, above in zip(inner, outer, strict=True):
        sets.setdefault(above, []).append(own)
    return len(sets) > 1 and len({tuple(labels) for labels in sets.values()}) == 1


_LENGTHS = re.compile(
    r"rest\b|duration|interval|hold(?:ing)?\b|work\b|exposure", re.IGNORECASE
)  # "3 min" is no time


def _describe_row(own: str, above: str, group_at: str, stubs: Sequence[str], marks: tuple[str, ...]) -> Place:
    phrase, upper = read_phrase(own), read_phrase(above)
    kind = read_row_kind(phrase.name)
    when = TIME.match(phrase.name)
    timed = when is not None and len(phrase.name) <= when.end() + 8 and not read_unit(phrase.name)
    timed = timed and not any(_LENGTHS.match(stub) for stub in stubs)
    spread = phrase.spread
    stated = kind if kind is not Kind.PLAIN else stated_kind(phrase.name)
    if group_at == "inner":
        row, section = (upper.name, None) if above else (phrase.name, None)
        place = Place(
            row, section, phrase.name, n=phrase.n, unit=read_unit(row), kind=Kind.PLAIN, marks=marks
        )
    elif group_at == "outer":
        place = Place(
            phrase.name,
            None,
            upper.name,
            n=upper.n,
            unit=read_unit(own),
            kind=stated,
            spread=spread,
            marks=marks,
        )
    else:
        n, unit = phrase.n or upper.n, read_unit(own) or read_unit(above)
        place = Place(
            phrase.name, upper.name or None, None, n=n, unit=unit, kind=stated, spread=spread, marks=marks
        )
    if timed and group_at != "inner":
        outcome = above or next((s for s in stubs if not STUB.fullmatch(s) and read_unit(s)), "")
        place = replace(
            place,
            timepoint=strip_statistic(phrase.name),
            row=outcome or place.row,
            section=None if above else place.section,
        )
        place = replace(place, unit=read_unit(place.row))
    elif kind is not Kind.PLAIN and above and group_at == "":
        place = replace(place, row=above, section=None, unit=read_unit(above))
    return place
