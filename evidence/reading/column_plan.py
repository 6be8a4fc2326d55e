"""Columns that only complete another: a spread, an interval or its ends, numbers of people and of studies."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evidence.reading.alignment import Placed
from evidence.reading.cells import Shape
from evidence.reading.labels import Kind
from evidence.reading.places import Column


@dataclass(frozen=True, slots=True)
class Plan:
    """How columns go together: extra columns of spread or interval belong to the value column on their left."""

    spread_of: Mapping[int, int]  # value column -> its spread column
    interval_of: Mapping[int, int]
    ends_of: Mapping[int, tuple[int, int]]
    counts: tuple[int, ...] = ()
    studies: tuple[int, ...] = ()

    @property
    def extras(self) -> set[int]:
        ends = {i for pair in self.ends_of.values() for i in pair}
        return {*self.spread_of.values(), *self.interval_of.values(), *ends, *self.counts, *self.studies}


_OF_MEASUREMENT = re.compile(r"\b(?:ICC|MDC|MDD|SDC|SWC|TEM?|CV)\b|of (?:the )?measurement|[Tt]ypical error")


def settle_measurement_errors(columns: Sequence[Column], abbreviations: Mapping[str, str]) -> list[Column]:
    """A column "SEM" beside ICC or MDC, or so explained, is the standard error of measurement, no spread."""
    beside = any(c.kind is Kind.TEST and _OF_MEASUREMENT.search(c.label) for c in columns)
    explained = _OF_MEASUREMENT.search(abbreviations.get("SEM", ""))
    return [
        replace(c, kind=Kind.TEST, spread=None)
        if c.kind is Kind.SPREAD and re.search(r"\bSEM\b", c.label) and (beside or explained)
        else c
        for c in columns
    ]


def plan_columns(columns: Sequence[Column], shapes: Sequence[Shape | None]) -> Plan:
    """Find the columns that only complete another."""
    spreads: dict[int, int] = {}
    intervals: dict[int, int] = {}
    ends: dict[int, tuple[int, int]] = {}
    value: int | None = None
    for i, column in enumerate(columns):
        if column.kind is Kind.SPREAD and value is not None and shapes[i] in (Shape.NUMBER, None):
            bare = shapes[value] in (Shape.NUMBER, None) and columns[value].kind is not Kind.TEST
            if bare and _same_block(columns, value, i):
                spreads[value] = i
        elif column.kind is Kind.INTERVAL and value is not None and shapes[i] is Shape.RANGE:
            if _same_block(columns, value, i) and shapes[value] in (Shape.NUMBER, Shape.PAIR):
                intervals[value] = i
        elif column.kind is Kind.LOWER and value is not None and i + 1 < len(columns):
            if columns[i + 1].kind is Kind.UPPER and _same_block(columns, value, i):
                ends[value] = (i, i + 1)
        elif column.kind not in (
            Kind.P,
            Kind.N,
            Kind.STUDIES,
            Kind.SPREAD,
            Kind.INTERVAL,
            Kind.LOWER,
            Kind.UPPER,
        ):
            value = i
        elif column.kind is not Kind.UPPER:
            value = None
    return Plan(
        spreads,
        intervals,
        ends,
        tuple(i for i, c in enumerate(columns) if c.kind is Kind.N),
        tuple(i for i, c in enumerate(columns) if c.kind is Kind.STUDIES),
    )


def _same_block(columns: Sequence[Column], value: int, extra: int) -> bool:
    """Whether two columns stand under the same upper headers (an interval's ends may have one of their own)."""
    upper = columns[value].parts[:-1]
    return columns[extra].parts[: len(upper)] == upper


def count_for(column: int, wanted: Sequence[int], by_column: Mapping[int, Placed], plan: Plan) -> int | None:
    """The number of people (or studies) that a row states for a column: from the nearest such column on the
    side they stand on.
    """
    if not wanted:
        return None
    first_value = min((i for i in by_column if i not in plan.extras), default=0)
    if len(wanted) == 1:
        chosen = wanted[0]
    elif wanted[0] < first_value:
        chosen = max((i for i in wanted if i < column), default=wanted[0])
    else:
        chosen = min((i for i in wanted if i > column), default=wanted[-1])
    token = by_column[chosen].slot.token if chosen in by_column else None
    whole = (
        token is not None
        and token.value is not None
        and token.shape is Shape.NUMBER
        and token.value.decimals == 0
    )
    return int(token.value.value) if whole and token and token.value else None
