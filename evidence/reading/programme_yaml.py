"""Programmes in YAML (`programme/1`): everything a programme can say, with line numbers for what is wrong."""

from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

from evidence.errors import BadInput
from evidence.reading.plain_yaml import Document, Path, load_yaml, written
from evidence.reading.programme_cells import (
    Ledger,
    read_bare_effort,
    read_load,
    read_reps,
    read_rest,
    read_sets,
    read_tempo,
)
from evidence.reading.programme_limits import LIMITS
from evidence.reading.programme_lines import Written, read_line
from evidence.reading.programme_model import Audience, Prescription
from evidence.reading.programme_names import WrittenPick
from evidence.reading.programme_often import read_often_cell
from evidence.reading.programme_tables import TableRead, fill_scheme
from evidence.reading.study_entries import number_of, text_of, whole_of

_TOP = (
    "steelyard",
    "title",
    "audience",
    "equipment",
    "weeks",
    "goal",
    "priorities",
    "sessions",
    "note",
    "cautions",
)
_SESSION = ("name", "picks", "times_per_week", "note")
_PICK = (
    "exercise", "sets", "reps", "time", "load", "effort", "rest", "tempo", "side", "times_per_week", "group", "order",
    "warm_up", "set_kind", "note", "reason", "for",
)  # fmt: skip
_AUDIENCE = ("training_status", "sex", "age", "health")


class YamlProgramme:
    """A YAML programme taken apart; the parts are read as properties once `read` has run."""

    def __init__(self, text: str, name: str) -> None:
        self._document: Document = load_yaml(text, name)
        if not isinstance(self._document.data, dict) or "sessions" not in self._document.data:
            raise BadInput(
                'this is no programme: it has no "sessions".',
                where=name,
                hint="A programme holds sessions, each with picks.",
            )
        self.data: dict[str, Any] = self._document.data
        version = self.data.get("steelyard", "programme/1")
        if version != "programme/1":
            where = self._document.where(("steelyard",))
            raise BadInput(f'this is no programme of version 1: it says "{version}".', where=where)
        self.read = TableRead()
        self.times: dict[str, float] = {}
        self._check_entries((), self.data, _TOP)
        self._read_sessions()
        weeks = self._figure((), self.data, "weeks", whole=True)
        self.weeks = None if weeks is None else int(weeks)

    def audience(self) -> Audience:
        """For whom it is, as written."""
        entry = self.data.get("audience")
        if isinstance(entry, dict):
            self._check_entries(("audience",), entry, _AUDIENCE)
            return Audience(**{name: text_of(entry, name) for name in _AUDIENCE})
        return Audience(text=text_of(self.data, "audience"))

    def listed(self, key: str) -> tuple[str, ...]:
        """The entries of a list, or of one text with commas."""
        return listed_in(self.data, key)

    def cautions(self) -> tuple[str, ...]:
        """The writer's own cautions: a list, or one text, whose commas part nothing."""
        entry = self.data.get("cautions")
        if isinstance(entry, list):
            return listed_in(self.data, "cautions")
        said = text_of(self.data, "cautions")
        return (said,) if said else ()

    def text(self, key: str) -> str | None:
        """The text at `key`."""
        return text_of(self.data, key)

    def _figure(self, path: Path, entry: Mapping[str, Any], key: str, *, whole: bool) -> float | None:
        """A figure within its limits; told with its line, and left out, where it is none."""
        if entry.get(key) is None:
            return None
        value = number_of(entry, key)
        low, high = LIMITS[key]
        if value is not None and low <= value <= high and (not whole or value == int(value)):
            return value
        where, said = self._document.where((*path, key)), _text(entry[key]) or "what stands there"
        kind = "a whole number" if whole else "a number"
        self.read.problems.append(
            f'{where}: "{key}: {said}" was left out: it should be {kind} from {low:g} to {high:g}'
        )
        return None

    def where(self, *path: str | int) -> str:
        """The place of a part in words."""
        return self._document.where(path)

    def _check_entries(self, path: Path, entry: Mapping[str, Any], known: tuple[str, ...]) -> None:
        for key in entry:
            if key not in known:
                near = get_close_matches(key, known, n=1, cutoff=0.6)
                hint = f' (did you mean "{near[0]}"?)' if near else ""
                self.read.problems.append(
                    f'{self._document.where((*path, key))}: "{key}" is not known here{hint}'
                )

    def _read_sessions(self) -> None:
        sessions = self.data["sessions"]
        if isinstance(sessions, dict):  # sessions by name
            sessions = [{"name": name, "picks": picks} for name, picks in sessions.items()]
        if not isinstance(sessions, list):
            self.read.problems.append(f'{self._document.where(("sessions",))}: "sessions" should be a list')
            return
        for number, session in enumerate(sessions):
            path: Path = ("sessions", number)
            if not isinstance(session, dict):
                self.read.problems.append(
                    f"{self._document.where(path)}: a session should have a name and picks"
                )
                continue
            self._check_entries(path, session, _SESSION)
            name = text_of(session, "name") or f"Session {number + 1}"
            while name in self.read.sessions:
                name += " (again)"
            times = self._figure(path, session, "times_per_week", whole=False)
            self.times |= {} if times is None else {name: times}
            picks = session.get("picks")
            if not isinstance(picks, list):
                self.read.problems.append(
                    f'{self._document.where(path)}: session "{name}" has no list of picks'
                )
                picks = []
            self.read.sessions[name] = [
                pick
                for place, entry in enumerate(picks)
                for pick in self._read_pick((*path, "picks", place), entry)
            ]

    def _read_pick(self, path: Path, entry: Any) -> list[WrittenPick]:
        where = self._document.where(path)
        ledger = Ledger()
        if isinstance(entry, str):
            lines = [line for line in read_line(entry, ledger) if line.name] or [
                Written(entry, Prescription())
            ]
            return [WrittenPick(line, where, ledger) for line in lines]
        name = text_of(entry, "exercise") if isinstance(entry, dict) else None
        if not name:
            self.read.problems.append(f"{where}: a pick without an exercise was left out")
            return []
        self._check_entries(path, entry, _PICK)
        done = Prescription(set_kind=text_of(entry, "set_kind"))
        unread: list[str] = []
        for kind in ("sets", "reps", "time", "load", "effort", "rest", "tempo", "side", "times_per_week"):
            text = _text(entry.get(kind))
            if text is None:
                continue
            filled = _fill(done, kind, text, ledger)
            if filled is None:
                unread.append(f"{kind}: {text}")
                ledger.ask("cell", f'{name}, {kind} "{text}": what does it say?')
            else:
                done = filled
        group = text_of(entry, "group")
        warm_up = entry.get("warm_up") in (True, "yes")
        note = "; ".join(filter(None, (text_of(entry, "note"), *unread))) or None
        line = Written(name, done, group, whole_of(entry, "order"), None, warm_up, note)
        chosen_for = listed_in(entry, "for")
        return [WrittenPick(line, where, ledger, text_of(entry, "reason"), None, chosen_for)]


def listed_in(entry: Mapping[str, Any], key: str) -> tuple[str, ...]:
    """The entries of a list, or of one text with commas."""
    value = entry.get(key)
    if isinstance(value, list):
        return tuple(
            written(item) for item in value if item is not None and not isinstance(item, (dict, list))
        )
    text = text_of(entry, key)
    return tuple(part.strip() for part in text.split(",") if part.strip()) if text else ()


def _text(value: Any) -> str | None:
    """A scalar as written, or a list of two as a range."""
    if value is None or isinstance(value, dict):
        return None
    if isinstance(value, list):
        return "-".join(written(item) for item in value)
    return written(value)


def _fill(done: Prescription, kind: str, text: str, ledger: Ledger) -> Prescription | None:
    """`done` with one entry read into it; None where the text is not of its kind."""
    if kind == "sets":
        sets = read_sets(text)
        return replace(done, sets=sets[0], sets_high=sets[1]) if sets else fill_scheme(done, text, ledger)
    if kind in ("reps", "time"):
        bare = kind == "time" and text.replace("-", "").replace(".", "").isdigit()
        reps = read_reps(f"{text} s" if bare else text, ledger)
        if reps is None:
            return None
        changed = {
            n: getattr(reps, n)
            for n in ("reps", "reps_open", "reps_total", "time_s", "distance_m", "side", "effort")
            if getattr(reps, n) not in (None, False)
        }
        return replace(done, **changed)
    if kind == "load":
        load = read_load(text, ledger)
        if load is not None:
            return replace(done, load=load)
        effort = read_bare_effort(text, Ledger(), None)
        return replace(done, effort=effort) if effort else None
    if kind == "effort":
        effort = read_bare_effort(text, ledger, None)
        return replace(done, effort=effort) if effort or ledger.asked else None
    if kind == "rest":
        rest = read_rest(text, ledger)
        return replace(done, rest_s=rest) if rest is not None or ledger.asked else None
    if kind == "tempo":
        tempo = read_tempo(text)
        return replace(done, tempo=tempo) if tempo else None
    if kind == "times_per_week":
        often = read_often_cell(text)
        return replace(done, often=often) if often else None
    return replace(
        done,
        side="each" if text.casefold() in ("each", "both", "per side", "each side", "each leg") else text,
    )
