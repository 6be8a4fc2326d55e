"""Rows of single people ("P01", "Participant 3"): what one person did is no result of a group."""

from __future__ import annotations

import re
from dataclasses import replace

from evidence.reading.body import Body, Row
from evidence.reading.cells import Shape
from evidence.reading.labels import PERSON_STUB

FEWEST = 3
_WHO = r"(?:participant|subject|person|athlete|player|patient|volunteer|runner|lifter|proband|teilnehmer|sujeto|sujet)"
_NAMED = re.compile(rf"(?:{_WHO}|subj?|part|pt|id|[ps])[ .:#_-]*0*\d{{1,3}}", re.IGNORECASE)
_CODE = re.compile(r"[A-Z]{0,3}[ .-]?\d{1,3}|[A-Z]\.? ?[A-Z]?\.?")


def set_people_aside(body: Body) -> tuple[Body, str]:
    """The table without the rows of single people, and in words what was left out; "" when there are none."""
    stub = bool(body.stubs) and bool(PERSON_STUB.fullmatch(body.stubs[0].strip()))
    people = [row for row in body.rows if _is_person(row, stub)]
    if len(people) < FEWEST or len({row.labels[0] for row in people}) < len(people):
        return body, ""
    told = (
        f"The rows {people[0].labels[0]} to {people[-1].labels[0]} are single people, not results of a group: enter "
        "their figures as individual data (steelyard results individuals)."
    )
    return replace(body, rows=tuple(row for row in body.rows if row not in people)), told


def _is_person(row: Row, stub: bool) -> bool:
    if not row.labels or not (_NAMED.fullmatch(row.labels[0]) or (stub and _CODE.fullmatch(row.labels[0]))):
        return False
    return all(token is None or token.shape in (Shape.NUMBER, Shape.MISSING) for token in row.tokens)
