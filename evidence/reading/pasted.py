"""Read a table copied out of a paper: the public entry.

`read_table` takes the paste as it arrived and gives cells as printed and as understood; whatever more than
one reading fits is doubtful and names its candidates. Nothing is stored here. Reading the same paste with
the same `Answers` gives the same result.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from evidence.errors import BadInput
from evidence.reading.alignment import column_shapes
from evidence.reading.arithmetic import (
    assign_intervals,
    check_changes,
    check_spreads,
    check_wholes,
    doubt_digit_marks,
    repair_intervals,
)
from evidence.reading.arrows import part_arrows
from evidence.reading.assembly import Context, build_cells
from evidence.reading.body import Body, body_from_grid
from evidence.reading.broken_cells import join_broken
from evidence.reading.cells import FILLER, Shape
from evidence.reading.column_groups import settle_column_groups
from evidence.reading.column_plan import plan_columns, settle_measurement_errors
from evidence.reading.damage import MINUS, Damage, infer_damage, keep_controls, restore, unify_variants
from evidence.reading.decimals import infer_decimal
from evidence.reading.flat_headers import part_flat
from evidence.reading.grid import Layout, clean_piece, take_apart
from evidence.reading.header_lines import Division, place_upper, read_header_lines
from evidence.reading.label_columns import split_trailing_times
from evidence.reading.labels import TIME, Kind, drop_superscripts
from evidence.reading.legend import Notes, read_notes
from evidence.reading.lines import body_from_lines
from evidence.reading.lost_signs import put_signs_back
from evidence.reading.page_breaks import join_pages
from evidence.reading.people_rows import set_people_aside
from evidence.reading.places import (
    Column,
    describe_columns,
    describe_rows,
    split_repeating,
)
from evidence.reading.preview import preview
from evidence.reading.questions import apply_answers, ask_questions, tell_notes
from evidence.reading.quoted_fields import find_field_sign, with_tabs
from evidence.reading.refusal import refuse, refuse_size
from evidence.reading.second_look import look_again
from evidence.reading.several_tables import part_tables, read_each
from evidence.reading.single_lines import body_from_single_lines
from evidence.reading.stacked_spreads import join_stacked
from evidence.reading.table import Answers, Doubt, Question, ReadCell, Repair, TableReading, add_doubt
from evidence.vocabulary.terms import Spread, Statistic

MAX_CHARACTERS = 400_000
MARGIN = 0.3  # a header is taken when the next best way to divide it costs this much more
DEAR = 0.7  # cost per column above which no division is trusted

__all__ = ["Answers", "Doubt", "Question", "ReadCell", "Repair", "TableReading", "preview", "read_table"]


def read_table(text: str, *, answers: Answers | None = None) -> TableReading:
    """Read one pasted table.

    Returns a `TableReading`; one that holds no table of results comes back with `refused` saying why. Raises
    `BadInput` when the text is larger than any table (400 000 characters).
    """
    answers = answers or Answers()
    if len(text) > MAX_CHARACTERS:
        raise BadInput(
            f"the paste has {len(text)} characters; a table has fewer than {MAX_CHARACTERS}.",
            hint="Paste one table at a time.",
        )
    whole = unicodedata.normalize("NFC", text)  # letters whose accents a PDF sets apart ("u" + horn + grave)
    raw_lines = whole.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if size := refuse_size(raw_lines):
        return TableReading(raw=text, refused=size)
    for number in join_pages(raw_lines):
        raw_lines[number] = ""
    if sign := find_field_sign(raw_lines):
        raw_lines = [with_tabs(line, sign) for line in raw_lines]
    raw_lines, broken = join_broken(raw_lines)
    raw_lines, lost = put_signs_back(raw_lines)
    kept = [unify_variants(keep_controls(line)) for line in raw_lines]
    damage = infer_damage(kept, answers.characters)
    damage = replace(damage, repairs=(*broken, *lost, *damage.repairs))
    lines = [restore(line, damage) for line in kept]
    decimal, unsure = infer_decimal(lines, answers.decimal)

    def read(part: range) -> TableReading:
        own = [line if i in part else "" for i, line in enumerate(lines)]
        own_raw = [line if i in part else "" for i, line in enumerate(raw_lines)]
        return _read_lines(text, own, own_raw, damage, (decimal, unsure), answers)

    parts = part_tables(lines)
    return read_each(parts, read, lambda: read(range(len(lines))))


def _read_lines(
    text: str,
    lines: Sequence[str],
    raw_lines: Sequence[str],
    damage: Damage,
    commas: tuple[str, str],
    answers: Answers,
) -> TableReading:
    """One table in restored lines; lines that belong to another table of the paste are blank."""
    decimal, unsure = commas
    layout = part_arrows(join_stacked(take_apart(lines, raw_lines, clean_piece), decimal), decimal)
    body = _find_body(layout, decimal)
    body, people = set_people_aside(body) if body is not None else (None, "")
    why = refuse(lines, body) if body is None or body.rows or not people else people
    if why or body is None:
        return TableReading(
            raw=text,
            refused=why or "No row with figures was found.",
            mapping=damage.mapping,
            repairs=damage.repairs,
        )
    reading = _read_body(text, body, damage, decimal, unsure, answers)
    return replace(reading, warnings=(people, *reading.warnings)) if people else reading


def _find_body(layout: Layout, decimal: str) -> Body | None:
    if layout.grid is not None:
        return body_from_grid(layout, decimal)
    return body_from_single_lines(layout.lines, decimal) or body_from_lines(layout.lines, decimal)


def _read_body(
    text: str, body: Body, damage: Damage, decimal: str, unsure: str, answers: Answers
) -> TableReading:
    body = replace(body, rows=tuple(split_trailing_times(split_repeating(body.rows))))
    shapes = column_shapes(body)
    division, uncertain, alternatives = _divide_header(body, shapes)
    caption = [*body.before, *body.header_lines[: division.caption]]
    notes_lines = [line.replace(FILLER, "") for line in (*caption, *division.unplaced, *body.after)]
    notes = read_notes(notes_lines)
    division = replace(division, columns=part_flat(division.columns, shapes))
    body = replace(body, stubs=body.stubs or division.stubs)
    body, division = _without_marks(body, division, frozenset(notes.legend.marks))
    columns = describe_columns(division.columns, shapes, [False] * body.width)
    columns = settle_measurement_errors(columns, notes.legend.abbreviations)
    with_n = any(c.n is not None for c in columns if c.kind.value != "p")
    places = describe_rows(body, notes, answers.roles, with_n, columns)
    row_groups = any(place.group for place in places)
    columns = settle_column_groups(columns, answers.roles, row_groups, notes.legend.abbreviations)
    columns = _within_group_changes(columns)
    has_pairs = any(s in (Shape.PAIR, Shape.INTERVAL) for s in shapes)
    context = Context(
        columns, shapes, plan_columns(columns, shapes), notes, has_pairs, uncertain, alternatives
    )
    cells = [_set_n(cell, notes, answers) for cell in build_cells(body, places, context)]
    cells = assign_intervals(cells)
    cells, repairs = repair_intervals(cells, bool(damage.stands_for(MINUS)))
    cells, warnings = check_changes(cells)
    warnings += check_wholes(cells) + check_spreads(cells)
    cells = doubt_digit_marks(_doubt_characters(cells, damage, unsure), notes)
    cells = _doubt_duplicates(cells)
    cells = list(look_again(cells, text.split("\n"), " ".join(caption)))
    cells = apply_answers(cells, answers, says_mean=notes.says_mean)
    reading = TableReading(
        raw=text,
        title=" ".join(caption).replace(FILLER, "").strip(),
        cells=tuple(cells),
        repairs=(*damage.repairs, *repairs),
        warnings=tuple(dict.fromkeys(warnings)),
        legend=notes.legend,
        mapping=damage.mapping,
        spread_stated=_spread_stated(cells),
        unread=(*body.unread, *division.unplaced),
    )
    reading = replace(reading, warnings=(*reading.warnings, *tell_notes(reading, decimal)))
    return replace(reading, questions=tuple(ask_questions(reading, notes, unsure, answers)))


def _without_marks(body: Body, division: Division, known: frozenset[str]) -> tuple[Body, Division]:
    """Labels and headers without superscript marks that the notes explain ("Clam²", "GMax¹")."""

    def bare(texts: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(drop_superscripts(text, known) for text in texts)

    rows = tuple(replace(r, labels=bare(r.labels), section=bare((r.section,))[0]) for r in body.rows)
    columns = tuple(bare(parts) for parts in division.columns)
    return replace(body, rows=rows, stubs=bare(body.stubs)), replace(division, columns=columns)


def _divide_header(body: Body, shapes: Sequence[Shape | None]) -> tuple[Division, str, tuple[str, ...]]:
    """Headers for each column; with why they are doubtful and the readings, when they are."""
    blank = Division(tuple(() for _ in range(body.width)), 9.0)
    if body.headers:
        parts = tuple(
            tuple(dict.fromkeys(row[i] for row in body.headers if row[i])) for i in range(body.width)
        )
        return Division(parts, 0.0), "", ()
    if body.units:
        return _stack_units(body, blank)
    if not body.header_lines:
        return (
            blank,
            "no header was found over the columns",
            ("column 1, 2, 3 ... as they stand", "another order"),
        )
    stub, lines = _cut_time_stub(body)
    ways = [replace(way, stubs=(*stub, *way.stubs)) for way in read_header_lines(lines, shapes)]
    if not ways:
        return replace(blank, unplaced=body.header_lines), "the header could not be divided into columns", (
            "the columns in the order of the header", "another order",
        )  # fmt: skip
    best = replace(ways[0], columns=_tell_apart(ways[0].columns, shapes))
    rivals = [way for way in ways[1:] if way.cost - best.cost < MARGIN]
    if not rivals and best.cost <= DEAR * body.width + 1.0:
        return best, "", ()
    shown = tuple(" | ".join(" ".join(c) for c in way.columns) for way in (best, *rivals))
    return (
        best,
        "the header can be divided in more than one way",
        (*shown, "another way") if len(shown) < 2 else shown,
    )


def _cut_time_stub(body: Body) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Over rows that are times "Time" heads the labels, and is no test of time: it is taken off the header lines."""
    times = all(row.labels and TIME.fullmatch(row.labels[-1]) for row in body.rows)
    first = re.compile(r"\s*(time(?: ?points?)?|weeks?|tests?|zeit(?:punkt)?)\s+(?=\S)", re.IGNORECASE)
    found = next((m for line in body.header_lines if (m := first.match(line))), None) if times else None
    if found is None:
        return (), body.header_lines
    return (found[1],), tuple(first.sub("", line) for line in body.header_lines)


def _tell_apart(
    columns: Sequence[tuple[str, ...]], shapes: Sequence[Shape | None]
) -> tuple[tuple[str, ...], ...]:
    """A header that comes again is named after the figure with spread before it ("Follow up / Time")."""
    told: list[tuple[str, ...]] = []
    lead = ""
    for number, parts in enumerate(columns):
        if shapes[number] is Shape.PAIR:
            lead = " ".join(parts)
        again = parts in columns[:number] and bool(parts)
        told.append((lead, *parts) if again and lead and (lead, *parts) not in told else tuple(parts))
    return tuple(told)


def _stack_units(body: Body, blank: Division) -> tuple[Division, str, tuple[str, ...]]:
    leaf = body.units[-1]
    if len(leaf) != body.width:
        whole = replace(blank, unplaced=tuple(" ".join(u) for u in body.units))
        options = ("the headers in their order", "another order")
        return whole, "there are not as many headers as columns", options
    layers: list[Sequence[str]] = []
    unplaced: list[str] = []
    for upper in body.units[:-1]:
        placed, _, done = place_upper(upper, leaf)
        if done:
            layers.append(placed)
        else:
            unplaced.append(" ".join(upper))
    columns = tuple(tuple(layer[i] for layer in [*layers, leaf] if layer[i]) for i in range(body.width))
    return Division(columns, 0.0, body.stubs, 0, tuple(unplaced)), "", ()


_OF_A_GROUP = (Kind.DIFFERENCE, Kind.CHANGE, Kind.PERCENT_CHANGE, Kind.EFFECT_SIZE, Kind.P)


def _within_group_changes(columns: Sequence[Column]) -> list[Column]:
    """A "mean difference" beside pre and post of one group is that group's change.

    A column that closes every block of time points belongs to the group of its block.
    """
    timed = {c.group for c in columns if c.timepoint and c.group}
    blocks: list[str | None] = []
    block: str | None = None
    for column in columns:
        block = column.group if column.timepoint and column.group else block
        blocks.append(block)
    result: list[Column] = []
    for column in columns:
        if column.kind in _OF_A_GROUP and column.group is None and not column.spanning and len(timed) > 1:
            own = [
                b for c, b in zip(columns, blocks, strict=True) if c.label == column.label and c.group is None
            ]
            if len(own) == len(timed) and set(own) == timed:
                group = blocks[len(result)]
                column = replace(column, group=group, label=f"{group} / {column.label}")
        if column.kind is Kind.DIFFERENCE and column.group in timed:
            column = replace(column, kind=Kind.CHANGE)
        result.append(column)
    return result


def _set_n(cell: ReadCell, notes: Notes, answers: Answers) -> ReadCell:
    """n from the notes or the user, where header and row do not say."""
    if cell.p is not None and cell.value is None:
        return cell
    known = {**notes.n_by_name, **{k: v for k, v in answers.n.items() if k}}
    if cell.n is None and cell.group:
        match = [n for name, n in known.items() if name.casefold() == cell.group.casefold()]
        cell = replace(cell, n=match[0]) if len(match) == 1 else cell
    everyone = answers.n.get("", notes.n_for_all)
    return replace(cell, n=everyone) if cell.n is None and cell.group is None and everyone else cell


def _doubt_characters(cells: Sequence[ReadCell], damage: Damage, unsure: str) -> list[ReadCell]:
    """Cells that rest on a character whose meaning only its place says, or on a comma that may be either."""
    result = []
    for cell in cells:
        for char, why in damage.unsure.items():
            if char in keep_controls(cell.printed):
                text = f"± arrives as {char!r} ({why})"
                cell = replace(
                    cell, doubts=(*cell.doubts, Doubt(text, ("mean ± spread", "separate figures")))
                )
        if unsure and re.search(r"\d,\d{3}(?!\d)", cell.printed):
            cell = replace(
                cell,
                doubts=(
                    *cell.doubts,
                    Doubt(unsure, ("the comma parts thousands", "the comma is the decimal sign")),
                ),
            )
        if "°" in cell.marks:
            cell = replace(
                cell,
                doubts=(*cell.doubts, _misread_star(cell)),
            )
        result.append(cell)
    return result


def _misread_star(cell: ReadCell) -> Doubt:
    stars = tuple("*" if mark == "°" else mark for mark in cell.marks)
    effects = ((("marks", cell.marks),), (("marks", stars),))
    return Doubt("the mark ° may be a misread *", ("the mark °", "the mark *"), effects)


def _doubt_duplicates(cells: Sequence[ReadCell]) -> list[ReadCell]:
    """Cells with the same labels cannot be told apart: they are asked. When many are, labels were lost: all
    are asked.
    """
    counts = Counter(_place_of(cell) for cell in cells)
    doubled = [cell for cell in cells if counts[_place_of(cell)] > 1 and cell.missing is None]
    every = len(doubled) > 0.25 * len(cells)
    options = ("as read here", "another place")
    return [
        add_doubt(cell, "another cell has the same row and column labels", options)
        if counts[_place_of(cell)] > 1 and cell.missing is None
        else add_doubt(cell, "rows or columns of this table cannot be told apart", options)
        if every
        else cell
        for cell in cells
    ]


def _place_of(cell: ReadCell) -> tuple[object, ...]:
    return cell.row, cell.section, cell.column, cell.group, cell.timepoint


def _spread_stated(cells: Sequence[ReadCell]) -> Spread:
    """The kind of spread the paste states, when it is one."""
    kinds = {
        c.spread_kind
        for c in cells
        if c.value_kind in (Statistic.MEAN, Statistic.MEDIAN) and c.spread_kind is not Spread.NONE
    }
    return kinds.pop() if len(kinds) == 1 else Spread.NOT_STATED
