"""One line of plain text: an exercise with its prescription, in whatever order the writer put them.

Pieces that are recognised are cut out of the line one after another, the surest first; what is left is the
name of the exercise, an implement, or a note. A line may hold several prescriptions of one exercise ("3x3,
1x3+"; "then rest-pause 3x4").
"""

import re
from dataclasses import dataclass, replace

from evidence.reading.programme_cells import Ledger, read_reps
from evidence.reading.programme_model import Prescription
from evidence.reading.programme_pieces import (
    REPS,
    Clause,
    keep_increases,
    take_kind,
    take_main,
    take_often,
    take_special,
    take_trimmings,
)

_SPLIT = re.compile(
    r",?\s*\b(?:last set|final set)\s*(?::\s*|(?=amrap|max|\d+\s*drop))|[,;]?\s+(?:then|followed by)\s+"
    r"|\s+\+\s+(?=\d+\s*(?:x|×|back|drop|sets?)|amrap|max)|[,;]\s*(?!\d\d(?-i:X)\d\b)(?!2\s*[x×]\s*\d+(?:[.,]\d+)?\s*(?:kg|kilo|lb|pound))"
    r"(?=\d+(?:[.,]\d+)?\s*(?:%|kgs?|lbs?)?\s*[x×]\s*(?:\d|amrap|max))",
    re.IGNORECASE,
)
_ARROW = r"\s+(?:[-=]+>|→)\s+(?=[^\W\d_])"  # before words: the next exercise, or a remark
_LABEL = re.compile(r"(finisher|main(?:\s+lift)?|accessory|assistance|cool[- ]?down)\s*:\s*", re.IGNORECASE)
_LIMIT = 400  # a longer line is prose


@dataclass(frozen=True, slots=True)
class Written:
    """A pick as a line gives it: the name as written, and everything else that was understood."""

    name: str
    prescription: Prescription
    group: str | None = None
    order: int | None = None
    implement: str | None = None
    warm_up: bool = False
    note: str | None = None


def read_line(text: str, ledger: Ledger) -> list[Written]:
    """The picks of one line; none where it holds no prescription."""
    if len(text) > _LIMIT:
        return []
    line = re.sub(r"^\s*(?:[-*•–]\s+|\d{1,2}[.)]\s+)", "", without_emphasis(text)).strip()
    warm_up = re.match(r"(?:warm[- ]?up|wu)\s*:\s*", line, re.IGNORECASE)
    line = line[warm_up.end() :] if warm_up else line
    label = _LABEL.match(line)
    if label and label.end() < len(line):
        labelled = read_line(line[label.end() :], ledger)
        named = label[1].capitalize()
        return [replace(item, note="; ".join(filter(None, (named, item.note)))) for item in labelled]
    group, order, line = _take_group(line)
    block = re.fullmatch(r"(amrap|emom)\s*(?:in\s*)?(\d+)\s*(?:min\w*|')?\s*:\s*(.+)", line, re.IGNORECASE)
    if block:
        return _read_block(f"{block[1].lower()}-{block[2]}min", block[3], None, ledger)
    rounds = re.fullmatch(r"(\d+)\s*rounds?(?:\s+of)?\s*:\s*(.+)", line, re.IGNORECASE)
    if rounds:
        ledger.assume(f"{rounds[1]} rounds = {rounds[1]} sets of each")
        return _read_block(f"rounds-{rounds[1]}", rounds[2], int(rounds[1]), ledger)
    parts = [part for part in re.split(rf"\s*;\s*|{_ARROW}(?=.*\d\s*[x×]\s*\d)", line) if part]
    if len(parts) > 1:
        several = [read_line(part, Ledger()) for part in parts]
        if all(picks and picks[0].name for picks in several):
            return [
                replace(pick, group=group, order=order) for part in parts for pick in read_line(part, ledger)
            ]
    line = re.sub(_ARROW, ", ", line)
    read: list[Written] = []
    name = ""  # set apart from its figures by a comma: "Step-up, 3 x 10"
    for clause in _SPLIT.split(line):
        found = _read_clause(f"{name} {clause}".strip(), ledger, first=read[0] if read else None)
        name = clause if found is None and not read and not re.search(r"\d", clause) else ""
        if found is not None:
            read.append(replace(found, group=group, order=order, warm_up=warm_up is not None))
    return _open_last_set(line, _share_often(read), ledger)


def _share_often(read: list[Written]) -> list[Written]:
    """How often a week is said of the whole line, wherever in it."""
    often = next((item.prescription.often for item in read if item.prescription.often), None)
    return [replace(item, prescription=replace(item.prescription, often=often)) for item in read]


def without_emphasis(text: str) -> str:
    """A line without the marks of Markdown that make words bold, slanted or code."""
    plain = re.sub(r"\*\*|__|`", "", text)
    return re.sub(r"(?<![\w*])([*_])(?=\S)([^*_\n]{1,200}?\S)\1(?![\w*])", r"\2", plain)


def _open_last_set(line: str, read: list[Written], ledger: Ledger) -> list[Written]:
    """Where the last of the sets is an open one, it is not one more: "3x10, last set AMRAP" is 2 and 1."""
    if len(read) != 2 or not re.search(r"\b(?:last|final) set\s*:?\s*(?:amrap|max)", line, re.IGNORECASE):
        return read
    sets = read[0].prescription.sets
    if sets is None or sets < 2:
        return read
    ledger.assume(f"the last of {sets} sets is the open one: {sets - 1} and 1")
    return [replace(read[0], prescription=replace(read[0].prescription, sets=sets - 1)), read[1]]


def _take_group(line: str) -> tuple[str | None, int | None, str]:
    """The label of a superset in front of the line: "A1 ", "B2) ", "C: "."""
    found = re.match(r"([A-Ha-h])(\d)[.):]?\s+|([A-H])[.):]\s+", line)
    if not found:
        return None, None, line
    return (found[1] or found[3]).upper(), int(found[2] or 1), line[found.end() :]


def _read_block(group: str, text: str, sets: int | None, ledger: Ledger) -> list[Written]:
    """The items of a circuit: "10 goblet squats, 10 step-ups"."""
    if group.startswith("amrap"):
        ledger.assume("AMRAP after sets x = reps; AMRAP with minutes = rounds")
    picks = []
    circuit = Clause(text)
    often = take_often(circuit, ledger)
    for place, item in enumerate(filter(None, map(str.strip, re.split(r"[,;\x1f]", circuit.text))), 1):
        found = re.fullmatch(rf"(?P<reps>{REPS})\s+(?P<name>.+)", item, re.IGNORECASE)
        reps = read_reps(found["reps"], ledger) if found else None
        name = found["name"] if found else item
        clause = Clause(name)
        done = take_trimmings(replace(reps or Prescription(), sets=sets, often=often), clause, ledger)
        name, *others = clause.left() or [name]
        picks.append(Written(name, done, group, place, note=_note([*others, *clause.remarks], ledger)))
    return picks


def _read_clause(text: str, ledger: Ledger, first: Written | None) -> Written | None:
    """One prescription. `first`: the one before it in the line, whose exercise it goes on with."""
    clause = Clause(text)
    keep_increases(clause)
    often = take_often(clause, ledger)
    kind, kind_sets = take_kind(clause)
    done = take_main(clause, ledger, goes_on=first is not None)
    if kind_sets is not None and done.sets is None:
        done = replace(done, sets=kind_sets)
    done = take_trimmings(replace(done, set_kind=kind), clause, ledger)
    if kind:
        done = take_special(done, kind, ledger)
    if done == Prescription() or (first is None and not _says_how_much(done)):
        return None  # a remark ("rest 3 minutes between sets") is no pick
    left = clause.left()
    done = replace(done, often=often)
    if done.load is not None and done.load.kind == "relative" and done.load.of is None:
        ledger.ask("load of", f"{done.load.low:g}%: of which load?")
    if first is not None:
        note = _note([*left, *clause.remarks], ledger)
        return Written(first.name, done, implement=first.implement, note=note)
    if not left:
        return Written("", done)
    name = left[0] if not _implement_of(left[0]) or len(left) == 1 else left[1]
    others = [part for part in left if part != name]
    implement = next((word for word in map(_implement_of, [*others, name]) if word), None)
    notes = [part for part in others if _implement_of(part) is None]
    note = _note([*notes, *clause.remarks], ledger)
    return Written(_full_name(name, text), done, implement=implement, note=note)


def _note(parts: list[str], ledger: Ledger) -> str | None:
    """What is left of a line, kept; figures in it are asked about, for they may be part of the prescription."""
    for part in parts:
        if re.search(r"\d\s*(?:[x×%]|reps?\b|sets?\b|kg\b|lbs?\b)|[x×]\s*\d", part, re.IGNORECASE):
            ledger.ask("remark", f'"{part}": what does it say?')
    return "; ".join(parts) or None


def _says_how_much(done: Prescription) -> bool:
    amounts = (done.sets, done.reps, done.reps_total, done.time_s, done.distance_m, done.load)
    return done.reps_open or any(amount is not None for amount in amounts)


def _full_name(name: str, text: str) -> str:
    """The name with a bracket that stands behind it: "Step-up (DB)"."""
    found = re.search(rf"{re.escape(name)}(?P<rest>\s*\((?=[A-Za-z][^)\d]*\))[^)]*\))", text)
    tail = (
        found["rest"]
        if found and not re.match(r"\s*\((?:leave|to |rpe|rir)", found["rest"], re.IGNORECASE)
        else ""
    )
    return name + tail


def _implement_of(text: str) -> str | None:
    """The implement that a bit of text names, where it names nothing else or stands in brackets."""
    plain = text.casefold().strip()
    words = {
        "db": "dumbbell", "dbs": "dumbbell", "dumbbell": "dumbbell", "dumbbells": "dumbbell", "bb":
        "barbell", "barbell": "barbell", "kb": "kettlebell", "kbs": "kettlebell", "kettlebell":
        "kettlebell", "cable": "cable", "machine": "machine", "smith": "Smith machine", "band": "band",
    }  # fmt: skip
    return words.get(plain)
