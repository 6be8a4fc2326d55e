"""What a read table is: cells as printed and as understood, doubts, questions, repairs.

Nothing here computes. A `ReadCell` states only what the paste says; whatever more than one reading fits
carries a `Doubt` with the candidate readings. A `Question` is asked once for the whole paste (what ± is,
what a character stands for).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from evidence.vocabulary.terms import Spread, Statistic


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a cell is doubtful, its candidate readings in words, and what each candidate would set in the
    cell.
    """

    text: str
    candidates: tuple[str, ...] = ()
    effects: tuple[tuple[tuple[str, object], ...], ...] = ()


@dataclass(frozen=True, slots=True)
class ReadCell:
    """One figure of the table.

    `row`, `column`: labels as printed ("Women / Pre" when headers are stacked). `value`: mean, median or
    estimate in `unit`; `low`, `high`: ends of an interval of kind `spread_kind`, at `level` percent when it
    is a CI. `interval_of`: the statistic the interval belongs to when it is not that of `value`;
    `interval_kind`: what the ends are when a spread is printed as well. `p`: as printed ("<0.001", "ns").
    `word`: a verbal label in brackets. `printed`: the token as it stands in the paste. `position`: line and
    column, from 1. `missing`: what stands where a value should be. `spans`: groups one figure stands for
    together.
    """

    row: str
    column: str
    printed: str
    position: tuple[int, int]
    group: str | None = None
    timepoint: str | None = None
    section: str | None = None
    unit: str | None = None
    value: float | None = None
    value_kind: Statistic | None = None
    spread: float | None = None
    spread_kind: Spread = Spread.NONE
    low: float | None = None
    high: float | None = None
    level: float | None = None
    interval_of: Statistic | None = None
    interval_kind: Spread | None = None
    n: int | None = None
    studies: int | None = None
    p: str | None = None
    word: str | None = None
    marks: tuple[str, ...] = ()
    missing: str | None = None
    spans: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    @property
    def id(self) -> str:
        """A name for the cell that stays the same when the same paste is read again."""
        return f"L{self.position[0]}C{self.position[1]}"


def add_doubt(
    cell: ReadCell,
    text: str,
    candidates: Sequence[str],
    effects: Sequence[tuple[tuple[str, object], ...]] = (),
) -> ReadCell:
    """The cell with one more doubt."""
    return replace(cell, doubts=(*cell.doubts, Doubt(text, tuple(candidates), tuple(effects))))


@dataclass(frozen=True, slots=True)
class Question:
    """Something to settle once for the whole paste. `cells` are the ids of the cells it touches."""

    id: str
    text: str
    candidates: tuple[str, ...] = ()
    cells: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Repair:
    """A change made to the text before reading: what, from, to, and what in the paste supports it."""

    text: str
    before: str
    after: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Legend:
    """What the paper's own notes say: abbreviations in full and the meaning of marks."""

    abbreviations: Mapping[str, str] = field(default_factory=dict)
    marks: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answers:
    """What the user has said about a paste; reading it again with the same answers gives the same table.

    `spread`: what ± or the bracket is, everywhere. `spread_by_column`: the same for single columns, by
    column label. `characters`: what a damaged character stands for ("6" -> "±"), or "" to leave it as it is.
    `roles`: what "rows", "sections", "columns" or "headers" (the upper line of stacked headers) are:
    exercises, regions, groups, times, outcomes, conditions. `cells`: cell id -> the candidate chosen, as
    worded in the doubt (several doubts: one choice a line). `decimal`: "," or ".". `n`: people, by group name
    ("" for everyone). `statistic`: what bare figures are where the paste does not say.
    """

    spread: Spread | None = None
    spread_by_column: Mapping[str, Spread] = field(default_factory=dict)
    characters: Mapping[str, str] = field(default_factory=dict)
    roles: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, str] = field(default_factory=dict)
    decimal: str | None = None
    n: Mapping[str, int] = field(default_factory=dict)
    statistic: Statistic | None = None


@dataclass(frozen=True, slots=True)
class TableReading:
    """A paste as understood. `refused` says why nothing was read; `raw` is the paste unchanged, control
    characters too.
    """

    raw: str
    title: str = ""
    cells: tuple[ReadCell, ...] = ()
    questions: tuple[Question, ...] = ()
    repairs: tuple[Repair, ...] = ()
    warnings: tuple[str, ...] = ()
    legend: Legend = field(default_factory=Legend)
    mapping: Mapping[str, str] = field(default_factory=dict)
    spread_stated: Spread = Spread.NOT_STATED
    unread: tuple[str, ...] = ()
    refused: str | None = None

    @property
    def doubtful(self) -> tuple[ReadCell, ...]:
        """The cells a person must look at before anything is stored."""
        return tuple(cell for cell in self.cells if cell.doubts)
