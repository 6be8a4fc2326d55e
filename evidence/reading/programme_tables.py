"""Programme tables: rows and headings (CSV, Markdown, workbook) to picks as written, session by session.

Three layouts are known: a row per exercise, a row per set, and a column per week.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise

from evidence.reading.plain_yaml import load_yaml
from evidence.reading.programme_cells import (
    Ledger,
    read_bare_effort,
    read_date_as_reps,
    read_load,
    read_reps,
    read_rest,
    read_sets,
    read_tempo,
)
from evidence.reading.programme_lines import Written, read_line
from evidence.reading.programme_model import Prescription, Range
from evidence.reading.programme_names import WrittenPick
from evidence.reading.programme_often import read_often_cell

Rows = Sequence[tuple[str, Sequence[str]]]  # (place in words, cells)

UNKNOWN = "unknown"  # the field of a column that nobody knows: its cells are kept as notes
_EMPTY = {"", "-", "–", "—", "n/a", "none", "nil"}
_WEEK = re.compile(r"(?:week|wk|w|woche|settimana|semana|semaine)\s*\.?\s*(\d+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Column:
    """What one column holds:

    its fields in the order to try, a unit or RPE/RIR from its heading, or a week.
    """

    heading: str
    fields: tuple[str, ...] = ()
    unit: str | None = None
    effort: str | None = None
    week: int | None = None


@dataclass(frozen=True, slots=True)
class DateCell:
    """A range that a spreadsheet turned into a date: the field it stood in, as written, as proposed, its place."""

    field: str
    text: str
    proposed: tuple[int, int]
    where: str


@dataclass(slots=True)
class TableRead:
    """The sessions of a table in order, with dates found in place of repetitions and headings nobody knows."""

    sessions: dict[str, list[WrittenPick]] = field(default_factory=dict)
    dates: list[DateCell] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    remarks: list[tuple[str, str]] = field(
        default_factory=list
    )  # (place, what stands there) that is no exercise


@lru_cache(maxsize=1)
def _headings() -> Mapping[str, str]:
    text = (files("evidence.reading") / "programme_columns.yaml").read_text("utf-8")
    known = load_yaml(text, "programme_columns.yaml").data
    return {_key(str(name)): kind for kind, names in known.items() for name in names}


def _key(heading: str) -> str:
    """A heading as compared: case, spaces and most punctuation aside; "set" and "sets" stay apart."""
    return re.sub(r"[^\w#%]+", "", heading.casefold().replace("×", "x"))


def read_heading(text: str) -> Column:
    """What a heading says its column holds; no fields where it is unknown."""
    plain = text.strip()
    if found := _WEEK.fullmatch(plain):
        return Column(plain, ("sets_reps",), week=int(found[1]))
    bracket = re.search(r"[(\[]([^)\]]*)[)\]]", plain)
    bare = re.sub(r"\s*[(\[][^)\]]*[)\]]", "", plain).strip()
    hint = (bracket[1] if bracket else plain).casefold()
    unit = (
        "kg" if "kg" in hint else "lb" if "lb" in hint else "%" if "%" in hint or "percent" in hint else None
    )
    named = [kind for kind in ("RPE", "RIR") if kind.casefold() in plain.casefold()]
    effort = named[0] if len(named) == 1 else None
    for candidate in (plain, bare):
        kind = _headings().get(_key(candidate))
        if kind:
            return Column(plain, (kind,), unit, effort)
    parts = [
        _headings().get(_key(part)) for part in re.split(r"\s*[/|&+×]\s*|\s+x\s+", bare, flags=re.IGNORECASE)
    ]
    if parts in (["sets", "reps"], ["set_number", "reps"]):
        return Column(plain, ("sets_reps",), unit, effort)
    if len(parts) > 1 and all(parts):
        return Column(plain, tuple(part for part in parts if part), unit, effort)
    return Column(plain)


def find_header(rows: Rows) -> int | None:
    """The index of the heading row: the first that names a column of exercises and one more."""
    for index, (_, cells) in enumerate(rows[:20]):
        fields = [field for cell in cells for field in read_heading(cell).fields]
        if "exercise" in fields and len(fields) > 1:
            return index
    return None


def read_table_rows(rows: Rows, default_session: str) -> TableRead | None:
    """The picks of a table; None where no row names its columns."""
    start = find_header(rows)
    if start is None:
        return None
    columns = _settle_sets(
        [read_heading(cell) for cell in rows[start][1]], [cells for _, cells in rows[start + 1 :]]
    )
    read = TableRead()
    used = [
        i for i, c in enumerate(columns) if any(len(r) > i and r[i].strip() for _, r in rows[start + 1 :])
    ]
    read.unknown = [columns[i].heading for i in used if not columns[i].fields and columns[i].heading]
    session = default_session
    last = ""
    for where, cells in rows[start + 1 :]:
        entry = _by_field(columns, cells)
        name = " ".join(text for _, text in entry.get("exercise", ()))
        filled = [cell for cell in cells if cell.strip()]
        if not filled or all(re.fullmatch(r":?-{2,}:?", cell.strip()) for cell in filled):
            continue
        if entry.get("session"):
            column, title = entry["session"][0]
            session = f"{column.heading.capitalize()} {title}" if title.isdigit() else title
        if len(filled) == 1 and not entry.get("session") and len(columns) > 2:
            session = filled[0].strip()
            continue
        if not name:
            if not last:
                read.problems.append(f"{where}: a row without an exercise was left out")
                continue
            name = last  # rows per set name the exercise once
        last = name
        read.sessions.setdefault(session, []).append(_read_row(name, entry, where, read))
    read.sessions = {title: _merge_sets(picks, columns) for title, picks in read.sessions.items()}
    return read


def _settle_sets(columns: list[Column], body: Sequence[Sequence[str]]) -> list[Column]:
    """A column headed "set" counts the sets where its figures run 1, 2, 3 down the rows; else it holds how many."""
    if any("sets" in column.fields for column in columns):
        return columns
    settled = []
    for index, column in enumerate(columns):
        if column.fields == ("set_number",):
            figures = [cells[index].strip() for cells in body if len(cells) > index]
            if not any(a == "1" and b == "2" for a, b in pairwise(figures)):
                column = replace(column, fields=("sets",))
        settled.append(column)
    return settled


def _by_field(columns: Sequence[Column], cells: Sequence[str]) -> dict[str, list[tuple[Column, str]]]:
    """The filled cells of a row by the field their column holds (the first field where several are possible)."""
    entry: dict[str, list[tuple[Column, str]]] = {}
    for column, cell in zip(columns, cells, strict=False):
        text = " ".join(cell.split())
        if text.casefold() not in _EMPTY:
            entry.setdefault(column.fields[0] if column.fields else UNKNOWN, []).append((column, text))
    return entry


def _read_row(
    name: str, entry: Mapping[str, list[tuple[Column, str]]], where: str, read: TableRead
) -> WrittenPick:
    ledger = Ledger()
    done = Prescription()
    notes = [text for _, text in entry.get("note", ())]
    notes += [
        f"{column.heading}: {text}" if column.heading else text for column, text in entry.get(UNKNOWN, ())
    ]
    weeks = [(c, t) for c, t in entry.get("sets_reps", ()) if c.week is not None]
    for kind in ("sets_reps", "sets", "reps", "load", "effort", "rest", "tempo", "side", "often"):
        for column, text in entry.get(kind, ()):
            if column.week is not None and column is not weeks[0][0]:
                notes.append(f"{column.heading}: {text}")
                continue
            filled = _fill(done, column, text, ledger, read, where)
            if filled is None:
                notes.append(f"{column.heading}: {text}")
                ledger.ask("cell", f'{name}, {column.heading} "{text}": what does it say?')
            else:
                done = filled
    if len({text for _, text in weeks}) > 1:
        ledger.assume(f"{weeks[0][0].heading} is counted; later weeks are kept as notes")
    group, order = _read_group(entry.get("group", ()))
    written = Written(name, done, group, order, note="; ".join(notes) or None)
    reason = "; ".join(text for _, text in entry.get("reason", ())) or None
    chosen_for = tuple(text for _, text in entry.get("for", ()))
    return WrittenPick(written, where, ledger, reason, _warm_up(entry.get("warm_up_sets", ())), chosen_for)


def _fill(
    done: Prescription, column: Column, text: str, ledger: Ledger, read: TableRead, where: str
) -> Prescription | None:
    """`done` with one cell read into it; None where the cell is of none of the kinds its column may hold."""
    for kind in column.fields:
        filled = _fill_kind(kind, done, column, text, ledger, read, where)
        if filled is not None:
            return filled
    return None


def _fill_kind(
    kind: str, done: Prescription, column: Column, text: str, ledger: Ledger, read: TableRead, where: str
) -> Prescription | None:
    if kind == "sets":
        return _fill_sets(done, text, ledger, read, where)
    if kind == "reps":
        return _fill_reps(done, text, ledger, read, where)
    if kind == "load" and (load := read_load(text, ledger, unit=column.unit)):
        return replace(done, load=load)
    if kind in ("load", "effort") and (effort := read_bare_effort(text, ledger, column.effort)):
        return replace(done, effort=effort)
    if kind == "effort" and (load := read_load(text, ledger, unit=column.unit)):
        return replace(done, load=load)
    if kind == "rest":
        minutes = "min" in column.heading.casefold() and re.fullmatch(r"[\d.,\s–-]+", text)
        rest = read_rest(f"{text} min" if minutes else text, ledger)
        return replace(done, rest_s=rest) if rest is not None or ledger.asked else None
    if kind == "tempo" and (tempo := read_tempo(text)):
        return replace(done, tempo=tempo)
    if kind == "often" and (often := read_often_cell(text)):
        return replace(done, often=often)
    if kind == "side":
        each = re.search(r"each|both|per|/|lato|seite", text, re.IGNORECASE)
        return replace(done, side="each") if each else None
    if kind == "sets_reps":
        return fill_scheme(done, text, ledger)
    return done if kind in ("skip", "note", "session", "set_number", "group") else None


def _fill_sets(
    done: Prescription, text: str, ledger: Ledger, read: TableRead, where: str
) -> Prescription | None:
    """Sets; a range that a spreadsheet turned into a date; or sets and repetitions together: "3x8"."""
    if (sets := read_sets(text)) is not None:
        return replace(done, sets=sets[0], sets_high=sets[1])
    if (proposed := read_date_as_reps(text)) is not None:
        read.dates.append(DateCell("sets", text, proposed, where))
        return replace(done, sets=proposed[0], sets_high=proposed[1])
    return fill_scheme(done, text, ledger)


def _fill_reps(
    done: Prescription, text: str, ledger: Ledger, read: TableRead, where: str
) -> Prescription | None:
    proposed = read_date_as_reps(text)
    if proposed is not None and read_reps(text, Ledger()) is None:
        read.dates.append(DateCell("reps", text, proposed, where))
        return replace(done, reps=(float(proposed[0]), float(proposed[1])))
    reps = read_reps(text, ledger)
    if reps is not None:
        if done.reps is not None and reps.reps != done.reps:
            ledger.ask("reps", f'"{text}" repetitions, or those beside the sets ({done.reps[0]:g})?')
        return replace(
            done,
            reps=reps.reps,
            reps_open=reps.reps_open,
            reps_total=reps.reps_total,
            time_s=reps.time_s,
            distance_m=reps.distance_m,
            side=reps.side or done.side,
            effort=done.effort or reps.effort,
        )
    return fill_scheme(done, text, ledger)


def fill_scheme(done: Prescription, text: str, ledger: Ledger) -> Prescription | None:
    """A cell with sets and repetitions together, or a whole prescription: "4 x 6-8 @ 75%"."""
    own = Ledger()
    lines = read_line(text, own)
    if len(lines) != 1 or lines[0].name:
        return None
    ledger.assumed += own.assumed
    ledger.asked += own.asked
    found = lines[0].prescription
    known = {
        name: getattr(found, name)
        for name in found.__dataclass_fields__
        if getattr(found, name) not in (None, False)
    }
    return replace(done, **known)


def _read_group(cells: Sequence[tuple[Column, str]]) -> tuple[str | None, int | None]:
    for _, text in cells:
        if found := re.fullmatch(r"([A-Za-z])\s*[-.)]?\s*(\d)?[.)]?", text):
            return found[1].upper(), int(found[2] or 1)
    return None, None


def _warm_up(cells: Sequence[tuple[Column, str]]) -> Range | None:
    sets = read_sets(cells[0][1]) if cells else None
    return (float(sets[0]), float(sets[1] or sets[0])) if sets else None


def _merge_sets(picks: list[WrittenPick], columns: Sequence[Column]) -> list[WrittenPick]:
    """Rows per set joined to one pick per exercise and prescription, where the table has no column of sets."""
    if any(field in ("sets", "sets_reps") for column in columns for field in column.fields):
        return picks
    merged: list[WrittenPick] = []
    for pick in picks:
        before = merged[-1] if merged else None
        done = pick.written.prescription
        same = before is not None and before.written.name == pick.written.name
        if (
            before is not None
            and same
            and replace(before.written.prescription, sets=None) == replace(done, sets=None)
        ):
            sets = (before.written.prescription.sets or 1) + 1
            grown = replace(before.written, prescription=replace(before.written.prescription, sets=sets))
            merged[-1] = replace(before, written=grown)
        else:
            merged.append(
                replace(pick, written=replace(pick.written, prescription=replace(done, sets=done.sets or 1)))
            )
    return merged
