"""A BibTeX or biblatex file as records: macros, crossref, repeated fields and keys."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from references.bibtex_names import read_names
from references.bibtex_record import NOTED, TABLES, make_record
from references.bibtex_split import Macro, RawEntry, split_entries
from references.bibtex_values import MONTH_MACROS, Value, evaluate, resolve
from references.dates import read_date
from references.errors import Problem, Severity
from references.keys import KeyChooser, invent_key
from references.latex import decode
from references.noted import load_rest
from references.record import Record

_NO_RECORD = frozenset(TABLES["no_record"]["types"])
_NO_PARENT = frozenset(TABLES["no_parent"]["types"])
_NEVER_INHERITED = frozenset(TABLES["never_inherited"]["fields"])


def read_bibtex(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Records and problems of a BibTeX file, as they come; entries with a crossref come last.

    Children wait for their parents, wherever those stand; everything else is passed on at once.
    """
    macros = dict(MONTH_MACROS)
    keys = KeyChooser()
    parents: dict[str, dict[str, Value]] = {}
    waiting: list[tuple[RawEntry, str, dict[str, Value]]] = []
    for piece in split_entries(lines):
        if isinstance(piece, Problem):
            yield piece
        elif isinstance(piece, Macro):
            macros[piece.name], leftover, _ = evaluate(piece.value, macros)
            if leftover.strip():
                yield Problem(f"macro {piece.name}: text after its value", line=piece.line, text=piece.text)
        elif piece.type in _NO_RECORD:
            if piece.type == "xdata":
                parents[piece.key] = dict(_collect(piece, macros, []))
            reason = f"@{piece.type} is no reference: kept as text"
            yield Problem(reason, line=piece.line, entry=piece.key, text=piece.text, severity=Severity.NOTE)
        else:
            problems: list[Problem] = []
            values = _collect(piece, macros, problems)
            key = _choose_key(piece, values, keys, problems)
            yield from problems
            if piece.type not in _NO_PARENT:
                parents.setdefault(piece.key, values)
            if "crossref" in values or "xdata" in values:
                waiting.append((piece, key, values))
            else:
                yield from make_record(piece, key, values)
    for entry, key, values in waiting:
        problems = []
        inherited = _inherit(entry, key, values, parents, problems)
        yield from problems
        yield from make_record(entry, key, inherited)


def _choose_key(entry: RawEntry, values: dict[str, Value], keys: KeyChooser, problems: list[Problem]) -> str:
    """The entry's own key if it is free, else one made from it or from name and year."""
    noted = str(load_rest(values[NOTED].text).get("id") or "") if NOTED in values else ""
    if noted or entry.key:
        key, complaint = keys.choose(noted or entry.key)
        if complaint:
            problems.append(Problem(complaint, line=entry.line, entry=key))
        return key
    author, year = values.get("author") or values.get("editor"), values.get("date") or values.get("year")
    issued = read_date(decode(year.text)) if year else None
    key, _ = keys.choose(invent_key(read_names(author.text)[0] if author else (), issued))
    reason = "entry without a key: one was made"
    problems.append(Problem(reason, line=entry.line, entry=key, severity=Severity.NOTE))
    return key


def _collect(entry: RawEntry, macros: dict[str, str], problems: list[Problem]) -> dict[str, Value]:
    """The entry's fields by name. Of a repeated field the first value counts; others are carried."""
    values: dict[str, Value] = {}
    for field in entry.fields:
        for value in resolve(field, macros):
            if value.complaint:
                problems.append(Problem(value.complaint, line=value.line, entry=entry.key))
            first = values.setdefault(value.name, value)
            if first is not value:
                same = _compare(first) == _compare(value)
                reason = f"repeated field {value.name}" + (
                    "" if same else ": the values differ, the first is kept"
                )
                severity = Severity.NOTE if same else Severity.WARNING
                text = None if same else value.text
                problems.append(
                    Problem(reason, line=value.line, entry=entry.key, text=text, severity=severity)
                )
                if not same:
                    values[f"{value.name}-repeated"] = replace(value, name=f"{value.name}-repeated")
    return values


def _compare(value: Value) -> str:
    return " ".join(value.text.split()).strip("{}").lower()


def _inherit(
    entry: RawEntry,
    key: str,
    values: dict[str, Value],
    parents: dict[str, dict[str, Value]],
    problems: list[Problem],
) -> dict[str, Value]:
    """The entry's own fields, then those of its parents and of theirs."""
    found = dict(values)
    seen = {entry.key}
    pending = _parent_keys(values)
    while pending:
        parent_key = pending.pop(0)
        parent = parents.get(parent_key)
        if parent_key in seen:
            continue
        seen.add(parent_key)
        if parent is None:
            problems.append(
                Problem(f"crossref to {parent_key}, which is not in the file", line=entry.line, entry=key)
            )
            continue
        container = TABLES["inherited_title"].get(entry.type)
        whole = parent_key in _names_in(values.get("xdata"))
        for name, value in parent.items():
            if whole or name not in _NEVER_INHERITED:
                found.setdefault(name, value)
            elif container and container not in values and name in ("title", "subtitle"):
                found.setdefault(
                    container if name == "title" else container.replace("title", "subtitle"), value
                )
        pending += _parent_keys(parent)
    return found


def _parent_keys(values: dict[str, Value]) -> list[str]:
    return _names_in(values.get("crossref")) + _names_in(values.get("xdata"))


def _names_in(value: Value | None) -> list[str]:
    return [item.strip() for item in value.text.split(",") if item.strip()] if value else []
