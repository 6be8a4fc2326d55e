"""From placed figures to read cells: which statistic each is, what its spread is, whose it is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evidence.reading.alignment import Placed, place_row
from evidence.reading.body import Body, Slot
from evidence.reading.cells import Figure, Shape, Token
from evidence.reading.column_plan import Plan, count_for
from evidence.reading.labels import Kind, read_phrase
from evidence.reading.legend import Notes
from evidence.reading.places import Column, Place
from evidence.reading.spreads import set_spread
from evidence.reading.statistic_rows import join_statistic_rows
from evidence.reading.table import ReadCell, add_doubt
from evidence.vocabulary.terms import Spread, Statistic

STATISTICS = {
    Kind.MEAN: Statistic.MEAN,
    Kind.MEDIAN: Statistic.MEDIAN,
    Kind.CHANGE: Statistic.CHANGE,
    Kind.PERCENT_CHANGE: Statistic.PERCENT_CHANGE,
    Kind.DIFFERENCE: Statistic.DIFFERENCE,
    Kind.EFFECT_SIZE: Statistic.SMD,
    Kind.RATIO: Statistic.RATIO,
    Kind.CORRELATION: Statistic.CORRELATION,
    Kind.TEST: Statistic.TEST,
    Kind.COUNT: Statistic.COUNT,
}


_PARTS = (
    Kind.SPREAD,
    Kind.INTERVAL,
    Kind.RANGE,
    Kind.LOWER,
    Kind.UPPER,
    Kind.N,
    Kind.STUDIES,
)


@dataclass(frozen=True, slots=True)
class Context:
    """What all cells of one paste share."""

    columns: Sequence[Column]
    shapes: Sequence[Shape | None]
    plan: Plan
    notes: Notes
    has_pairs: bool
    uncertain: str = ""  # why the header is doubtful, if it is
    alternatives: Sequence[str] = ()


def build_cells(body: Body, places: Sequence[Place], context: Context) -> list[ReadCell]:
    """All cells of a table, row by row."""
    cells: list[ReadCell] = []
    seen: dict[tuple[int, int], int] = {}
    place_of: dict[str, Place] = {}
    for number, place in enumerate(places):
        placed = place_row(number, body, context.columns, context.shapes, places)
        by_column = {p.column: p for p in placed}
        for item in placed:
            if item.column in context.plan.extras and not item.others:
                continue
            if item.slot.token is None and not item.slot.piece.text.strip():
                continue
            cell = _build_cell(item, by_column, place, context)
            n = count_for(item.column, context.plan.counts, by_column, context.plan)
            between = context.columns[item.column].kind in (
                Kind.DIFFERENCE,
                Kind.EFFECT_SIZE,
                Kind.RATIO,
                Kind.P,
            )
            n = None if between and len(context.plan.counts) > 1 else n
            studies = count_for(item.column, context.plan.studies, by_column, context.plan)
            cell = replace(cell, n=cell.n if cell.n is not None else n, studies=studies)
            if body.rows[number].trouble:
                cell = add_doubt(
                    cell, body.rows[number].trouble, ("as read here", "otherwise: see the paste")
                )
            at = (item.slot.piece.line, item.slot.piece.column)
            if item.slot.piece.copy and at in seen and cell.missing is None:
                cells[seen[at]] = _join_rows(cells[seen[at]], cell)
                continue
            seen.setdefault(at, len(cells))
            place_of.setdefault(cell.id, place)
            cells.append(cell)
    return join_statistic_rows(cells, place_of)


def _join_rows(first: ReadCell, again: ReadCell) -> ReadCell:
    """A figure printed once over several rows (a rowspan): it stands for all of their groups."""
    spans = tuple(dict.fromkeys((*first.spans, *(g for g in (first.group, again.group) if g))))
    return replace(first, spans=spans, group=None if len(spans) > 1 else first.group, n=None)


def _build_cell(item: Placed, by_column: Mapping[int, Placed], place: Place, context: Context) -> ReadCell:
    column = context.columns[item.column]
    token, piece = item.slot.token, item.slot.piece
    group, spans = place.group or column.group, ()
    if column.spanning:
        group = column.group
    label = column.label
    if place.timepoint and not column.timepoint and place.row and place.timepoint not in label:
        label = f"{label} / {place.timepoint}" if label else place.timepoint
    cell = ReadCell(
        row=place.row,
        column=label,
        printed=piece.raw.strip() or piece.text,
        position=(piece.line, piece.column),
        group=group,
        timepoint=column.timepoint or place.timepoint,
        section=place.section,
        unit=place.unit or column.unit,
        n=column.n if column.n is not None else place.n,
        spans=spans,
    )
    cell = _fill(cell, token, column, place, context)
    cell = _complete(cell, item.column, by_column, context)
    if item.others:
        cell = _doubt_column(cell, item, place, context)
    if context.uncertain:
        cell = add_doubt(cell, context.uncertain, context.alternatives)
    return cell


def _doubt_column(cell: ReadCell, item: Placed, place: Place, context: Context) -> ReadCell:
    """The row is short: say every column the figure may stand in."""
    options = [context.columns[i] for i in (item.column, *item.others)]
    effects = tuple(
        (
            ("column", c.label),
            ("group", place.group or c.group),
            ("timepoint", c.timepoint or place.timepoint),
        )
        for c in options
    )
    names = tuple(c.label or f"column {i + 1}" for i, c in enumerate(options))
    return add_doubt(
        cell, "the row has fewer figures than there are columns: which column is it?", names, effects
    )


def _fill(cell: ReadCell, token: Token | None, column: Column, place: Place, context: Context) -> ReadCell:
    """Put the figures of the token into the cell."""
    if token is None:
        return _fill_words(cell)
    cell = replace(cell, marks=token.marks, n=token.n if token.n is not None else cell.n)
    kind = (
        place.kind
        if place.kind not in (Kind.PLAIN, Kind.SPREAD, Kind.N) and column.kind in (Kind.PLAIN, Kind.MEAN)
        else column.kind
    )
    if token.shape is Shape.MISSING:
        return replace(cell, missing=token.text, n=cell.n)
    if token.shape is Shape.P or (kind is Kind.P and token.shape is Shape.NUMBER):
        cell = replace(cell, p=read_p(token), value_kind=Statistic.TEST, n=None, unit=None)
        if token.value and token.value.value > 1 and token.shape is Shape.NUMBER:
            cell = add_doubt(
                cell, "the header says p, but the figure is above 1", (f"p = {cell.p}", "another figure")
            )
        return cell
    if token.shape is Shape.FRACTION and token.low and token.high:
        return replace(cell, value=token.low.value, n=int(token.high.value), value_kind=Statistic.COUNT)
    if token.shape is Shape.RANGE:
        return _fill_range(cell, token, column, kind, context)
    cell = replace(
        cell,
        value=_value(token.value),
        spread=_value(token.second),
        low=_value(token.low),
        high=_value(token.high),
        word=token.word,
    )
    statistic, doubt = choose_statistic(token, kind, column, context)
    cell = replace(cell, value_kind=statistic)
    share = statistic is Statistic.COUNT and token.second is not None and token.joint != "±"
    if token.second and (share or (token.second_percent and not token.percent)):
        cell = replace(cell, spread=None, word=f"{token.second.value:g}%")
    if token.word and token.shape is Shape.PAIR and _says_count(token.word, column, context):
        cell = replace(cell, n=int(token.word), word=None)
    elif token.word and token.shape is Shape.PAIR and not _explains_third(token.word, column, context):
        cell = add_doubt(
            cell, "a third figure in brackets", ("kept beside the figure as printed", "another reading")
        )
    if doubt:
        cell = add_doubt(cell, doubt, ("a mean", "another figure (p, effect size, n)"))
    return set_spread(cell, token, column, place, context.notes)


def _fill_words(cell: ReadCell) -> ReadCell:
    words = cell.printed
    if re.search(r"\d", words):
        cell = replace(cell, missing=words)
        return add_doubt(cell, f"the text {words!r} was not understood", ("a figure to type in", "no figure"))
    return replace(cell, missing=words)


def _fill_range(cell: ReadCell, token: Token, column: Column, kind: Kind, context: Context) -> ReadCell:
    """Two ends without an estimate."""
    cell = replace(cell, low=_value(token.low), high=_value(token.high))
    named = read_phrase(token.named).spread if token.named else None
    spread = named or column.spread or (Spread.RANGE if kind is Kind.RANGE else None)
    cell = replace(
        cell,
        spread_kind=spread or Spread.NOT_STATED,
        level=column.level or context.notes.level if spread is Spread.CI else None,
    )
    if spread is None:
        cell = add_doubt(
            cell,
            "two ends without a figure between them",
            ("a range", "a confidence interval", "two separate figures"),
        )
    if cell.low is not None and cell.high is not None and cell.low > cell.high:
        cell = add_doubt(
            cell, "the first end is larger than the second", ("a minus was lost", "two separate figures")
        )
    return cell


_THIRD = re.compile(
    r"(?:S\.?D|S\.?E\.?M?|deviation|error)s?\W{0,2}[(\[]\s*(?:%|[^\W\d_])"
    r"|\b(?:rank|CV|coefficient|percent|number)\b.{0,60}\b(?:in|within) (?:round |square )?(?:parenthes|bracket)"
)


_COUNT_THIRD = re.compile(r"(?:S\.?D|S\.?E\.?M?|deviation|error)s?\W{0,2}[(\[,;]\s*[nN]\s*[)\]]")


def _says_count(word: str, column: Column, context: Context) -> bool:
    """Whether the third figure is the number of people: "mean ± SD (n)"."""
    texts = (*column.parts, *context.notes.legend.notes)
    return word.isdecimal() and any(_COUNT_THIRD.search(text) for text in texts)


def _explains_third(word: str, column: Column, context: Context) -> bool:
    """Whether the cell, its header or the notes say what stands in the bracket behind a spread: "mean ± SD (CV)"."""
    texts = (column.label, *column.parts, *context.notes.legend.notes)
    return bool(re.match(r"[^\W\d_]", word)) or any(_THIRD.search(text) for text in texts)


def _value(figure: Figure | None) -> float | None:
    return figure.value if figure else None


def read_p(token: Token) -> str:
    """p as printed, without marks."""
    found = re.search(r"[<>≤≥]?\s?(?:\d*[.,·]\d+|\d+)", token.text)
    return found.group().replace(" ", "") if found and token.value else token.text


def choose_statistic(
    token: Token, kind: Kind, column: Column, context: Context
) -> tuple[Statistic | None, str]:
    """What the figure is, and the doubt when nothing says so."""
    if kind in STATISTICS:
        return STATISTICS[kind], ""
    if token.second_percent and not token.percent:
        return Statistic.COUNT, ""
    if token.shape is Shape.WORDED:
        return None, "a figure with a word in brackets under a header that does not say what it is"
    if token.shape is Shape.NUMBER and kind is Kind.PLAIN and column.spread in (Spread.SD, Spread.SE):
        return Statistic.MEAN, "the header names a spread over a bare figure"
    if token.shape is Shape.NUMBER and kind in _PARTS:
        return Statistic.MEAN, f"the label says {kind.value}, and there is no figure that it belongs to"
    notes = context.notes
    if notes.says_median and (
        not notes.says_mean or (token.low is not None and Spread.IQR in set().union(*notes.spreads.values()))
    ):
        return Statistic.MEDIAN, ""
    if column.spread is Spread.IQR:
        return Statistic.MEDIAN, ""
    if token.shape is Shape.NUMBER and context.has_pairs and context.shapes and kind is Kind.PLAIN:
        return Statistic.MEAN, "a bare figure in a table of figures with spread"
    return Statistic.MEAN, ""


def _complete(cell: ReadCell, index: int, by_column: Mapping[int, Placed], context: Context) -> ReadCell:
    """Add the spread or interval that stands in a column of its own."""
    plan = context.plan
    if index in plan.spread_of and plan.spread_of[index] in by_column:
        extra = by_column[plan.spread_of[index]].slot
        column = context.columns[plan.spread_of[index]]
        cell = _add_slot(cell, extra, context.columns[index])
        if extra.token and extra.token.value:
            cell = replace(
                cell, spread=extra.token.value.value, spread_kind=column.spread or Spread.NOT_STATED
            )
    if index in plan.ends_of:
        cell = _add_ends(cell, index, by_column, context)
    if index in plan.interval_of and plan.interval_of[index] in by_column:
        extra = by_column[plan.interval_of[index]].slot
        column = context.columns[plan.interval_of[index]]
        own = context.columns[index]
        leaf = " and ".join([own.parts[-1] if own.parts else "", column.parts[-1] if column.parts else ""])
        cell = _add_slot(cell, extra, own)
        cell = replace(cell, column=" / ".join([*own.parts[:-1], leaf]))
        if extra.token and extra.token.low and extra.token.high:
            cell = replace(
                cell, low=extra.token.low.value, high=extra.token.high.value,
                spread_kind=column.spread or Spread.NOT_STATED, level=column.level or context.notes.level,
            )  # fmt: skip
    return cell


def _add_ends(cell: ReadCell, index: int, by_column: Mapping[int, Placed], context: Context) -> ReadCell:
    """Lower and upper end from two columns."""
    ends = context.plan.ends_of[index]
    if not all(i in by_column for i in ends):
        return cell
    low, high = (by_column[i].slot for i in ends)
    column = context.columns[ends[0]]
    if not (low.token and high.token and low.token.value and high.token.value):
        return add_doubt(
            cell, "an end of the interval could not be read", ("no interval", "an interval to type in")
        )
    printed = f"{cell.printed} {low.piece.raw.strip()} {high.piece.raw.strip()}"
    least = bool(re.search(r"\bmin", column.label, re.IGNORECASE))
    level = column.level or context.notes.level
    kind = column.spread or (Spread.RANGE if least else Spread.CI if level else Spread.NOT_STATED)
    return _set_ends(
        replace(cell, printed=printed), low.token.value.value, high.token.value.value, kind, level
    )


def _set_ends(cell: ReadCell, low: float, high: float, kind: Spread, level: float | None) -> ReadCell:
    """Two ends of a kind beside a figure; where it has a spread already they are an interval besides."""
    cell = replace(cell, low=low, high=high, level=level if kind is Spread.CI else None)
    if cell.spread is None:
        return replace(cell, spread_kind=kind)
    if kind is not Spread.NOT_STATED:
        return replace(cell, interval_kind=kind)
    kinds = (Spread.CI, Spread.RANGE)
    shown = ("ends of a confidence interval", "ends of the range")
    return add_doubt(
        cell, "two ends that nothing explains", shown, tuple((("interval_kind", k),) for k in kinds)
    )


def _add_slot(cell: ReadCell, extra: Slot, own: Column) -> ReadCell:
    upper = " / ".join(dict.fromkeys(read_phrase(p).name for p in own.parts[:-1] if p))
    marks = extra.token.marks if extra.token else ()
    label = upper or cell.column
    return replace(
        cell, printed=f"{cell.printed} {extra.piece.raw.strip()}", column=label, marks=cell.marks + marks
    )
