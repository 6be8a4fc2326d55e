"""The pieces of a line, cut out one after another: sets and repetitions, load, effort, rest, tempo, special sets."""

import re
from dataclasses import replace

from evidence.reading.programme_cells import (
    BODYWEIGHT,
    MASS_UNIT,
    NUMBER,
    OTHER_LOAD,
    SIDE,
    Ledger,
    note_bare_each,
    number,
    read_effort,
    read_load,
    read_reps,
    read_rest,
    read_tempo,
    read_time,
)
from evidence.reading.programme_model import Effort, Load, Prescription, Range
from evidence.reading.programme_often import OFTEN, often_of

_CUT = "\x1f"  # stands where a piece was taken out
_TIMES = r"\s*[x×*]\s*"
_SPAN = rf"{NUMBER}(?:\s*(?:-|–|—|to)\s*{NUMBER})?"
_TIME = r"(?:s|secs?|seconds?|\"|″|mins?|minutes?)(?![a-z])"
REPS = (
    rf"(?:amrap|amap|max(?:imum)?|failure|\d+\s*/\s*\d+(?![/\d])|{_SPAN}\s*(?:{_TIME}|m(?![a-z]))?\+?)"
    rf"(?:\s*reps?)?(?:\s*(?:{SIDE}|/s\b))?(?:\s*\b(?:total|in total)\b)?"
)
_JOINING = {"at", "with", "w", "x", "×", "and", "for", "of", "a"}
_PAIR = rf"@?\s*(?<![\w.])2\s*[x×]\s*{NUMBER}\s*{MASS_UNIT}(?![a-z])"
_KINDS = {
    "back": "back-off",
    "drop": "drop",
    "rest": "rest-pause",
    "myo": "rest-pause",
    "clus": "cluster",
    "top": "top",
}
_WORDS = {
    "one": 1,
    "two": 2,
    "three": 3,
    "four": 4,
    "five": 5,
    "six": 6,
    "seven": 7,
    "eight": 8,
    "nine": 9,
    "ten": 10,
}


class Clause:
    """A clause with the pieces cut out so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.remarks: list[str] = []

    def take(self, pattern: str) -> re.Match[str] | None:
        """Cut the first match of `pattern` out of the text."""
        found = re.search(pattern, self.text, re.IGNORECASE)
        if found:
            self.text = f"{self.text[: found.start()]}{_CUT}{self.text[found.end() :]}"
        return found

    def keep(self, pattern: str) -> None:
        """Cut the first match of `pattern` out of the text and keep it as a remark."""
        if found := self.take(pattern):
            self.remarks.append(found[0].strip(" \t:@.+-–—/&→>"))

    def left(self) -> list[str]:
        """What is left, in pieces; words that only joined what was taken out are none."""
        parts = re.split(rf"[{_CUT},;()\[\]|]+", self.text)
        return [
            p for p in (part.strip(" \t:@.+-–—/&→>") for part in parts) if p and p.casefold() not in _JOINING
        ]


def take_kind(clause: Clause) -> tuple[str | None, int | None]:
    """The kind of set named in a clause (drop, back-off, ...) and how many; None where none is named."""
    found = clause.take(
        r"(?:(?P<n>\d+)\s+)?(?P<kind>back[- ]?offs?(?:\s+sets?)?|drop(?:s|\s?sets?)?\b(?!\s*jump)|rest[- ]?pause"
        r"|myo[- ]?reps?|clusters?|top\s+sets?)"
    )
    if not found:
        return None, None
    kind = next(kind for start, kind in _KINDS.items() if found["kind"].lower().startswith(start))
    return kind, int(found["n"]) if found["n"] else None


def keep_increases(clause: Clause) -> None:
    """What is to be added from week to week is a remark: no load of the pick, and no open set."""
    clause.keep(r"\b(?:add|increase|reduce)(?:ing)?\s+(?:by\s+)?(?:\d|weight|load)(?:[^,;\x1f]|,(?=\d))*")
    clause.keep(
        r"\+\s*\d[\d.,]*\s*(?:kgs?|lbs?|%|reps?)\s*(?:(?:an?|per|each|every)\s+|/\s*)(?:week|session|workout)\b"
    )


def take_often(clause: Clause, ledger: Ledger) -> Range | None:
    """How often a week; words for it that cannot be stay as a remark, and are asked about."""
    found = clause.take(OFTEN)
    if found is None:
        return None
    often, said = often_of(found), found[0].strip()
    if often is None:
        clause.remarks.append(said)
        ledger.ask("often", f'"{said}": how often a week?')
    return often


def _holds_a_pair(text: str) -> bool:
    """Whether "2x20 kg" is one in each hand: sets and repetitions are said beside it."""
    found = re.search(_PAIR, text, re.IGNORECASE)
    rest = text[: found.start()] + text[found.end() :] if found else ""
    return re.search(r"\d\s*[x×]\s*\d|\d\s*sets?\b|\d\s*reps?\b", rest, re.IGNORECASE) is not None


def take_main(clause: Clause, ledger: Ledger, *, goes_on: bool) -> Prescription:
    """Sets, repetitions and, where it stands among them, the load."""
    load = None
    if _holds_a_pair(clause.text) and (found := clause.take(_PAIR)):
        load = read_load(found[0].strip(), ledger)
    if found := clause.take(rf"@?\s*({NUMBER}){_TIMES}{BODYWEIGHT}\b"):
        load = Load("bodyweight-multiple", number(found[1]), number(found[1]))
    number_unit = rf"({NUMBER})\s*{MASS_UNIT}?"
    triple = rf"(?<![\w.]){number_unit}{_TIMES}{number_unit}{_TIMES}{number_unit}(?![\w.]*\s*{BODYWEIGHT})"
    if found := clause.take(re.sub(r"\?P<unit>", "", triple)):
        return _read_triple(found, ledger)
    if found := clause.take(rf"(?<![\w.])(?P<reps>\d+){_TIMES}(?P<load>{NUMBER})\s*{MASS_UNIT}(?![a-z])"):
        ledger.assume("a number with a mass unit is the load wherever it stands")
        times = float(found["reps"])
        done = Prescription(reps=(times, times), load=read_load(f"{found['load']}{found['unit']}", ledger))
        return _take_sets(done, clause)
    if found := clause.take(
        rf"(?<![\w.])(?P<sets>\d+)(?:\s*[-–]\s*(?P<more>\d+))?"
        rf"\s*(?:(?:sets?\s*)?[x×*]|(?:sets?|(?P<rounds>rounds?))\s+(?:of|à)?)\s*(?P<reps>{REPS})"
    ):
        if found["rounds"]:
            ledger.assume(f"{found['sets']} rounds = {found['sets']} sets of each")
        done = _read_double(found, ledger)
        return replace(done, load=done.load or load)
    if found := clause.take(
        rf"@?\s*(?P<load>{_SPAN}\s*%)\s*[x×]\s*(?P<reps>{REPS})(?:\s*[x×]\s*(?P<sets>\d+))?"
    ):
        done = read_reps(found["reps"], ledger) or Prescription()
        return replace(done, sets=int(found["sets"] or 1), load=read_load(found["load"], ledger))
    if found := clause.take(
        rf"@?\s*(?<![\w.])(?P<load>{NUMBER}\s*{MASS_UNIT})\s*[x×]\s*(?P<reps>{REPS})(?:\s*[x×]\s*(?P<sets>\d+))?"
    ):
        done = read_reps(found["reps"], ledger) or Prescription()
        return replace(done, sets=int(found["sets"] or 1), load=read_load(found["load"], ledger))
    if found := clause.take(r"(?<![\w.])(?P<reps>\d+(?:\s*[/,]\s*\d+){2,7}\+?)(?![\w.])"):
        return _read_ladder(found["reps"], ledger)
    done = _take_sets(Prescription(load=load), clause)
    if goes_on and (found := clause.take(rf"(?:[x×]\s*)(?P<reps>{REPS})|\b(?P<open>amrap|max)\b")):
        reps = read_reps(found["reps"] or found["open"], ledger)
        done = replace(reps or Prescription(), sets=done.sets if done.sets is not None else 1, load=load)
    elif found := clause.take(rf"(?<![\w.])(?P<reps>{REPS})\s*reps?\b"):
        done = replace(read_reps(found["reps"], ledger) or Prescription(), sets=done.sets, load=load)
    return done


def _take_sets(done: Prescription, clause: Clause) -> Prescription:
    """Sets that stand by themselves: "three sets", "3 sets"."""
    found = clause.take(rf"(?<![\w.])(?P<n>\d+|{'|'.join(_WORDS)})\s+sets?\b")
    if not found:
        return done
    return replace(done, sets=_WORDS.get(found["n"].lower()) or int(found["n"]))


def _read_triple(found: re.Match[str], ledger: Ledger) -> Prescription:
    """Three numbers:

    the load is the one with a mass unit, else the largest; the other two are sets and reps by place.
    """
    figures, units = [found[1], found[3], found[5]], [found[2], found[4], found[6]]
    place = next((i for i, unit in enumerate(units) if unit), None)
    if place is None:
        sizes = [number(f) for f in figures]
        place = 0 if sizes[0] >= sizes[2] else 2
    shown = " x ".join(figures)
    a, b = (figures[i] for i in range(3) if i != place)
    sets, reps = (b, a) if place == 0 else (a, b)  # load x reps x sets, or sets x reps x load
    if "." in sets + reps or "," in sets + reps:
        ledger.ask("order", f'"{shown}": which is load, reps, sets?')
        return Prescription()
    unit = units[place]
    if unit:
        load = read_load(f"{figures[place]}{unit}", ledger)
        ledger.assume("a number with a mass unit is the load wherever it stands")
    else:
        weight = number(figures[place])
        load = Load("mass", weight, weight)
        ledger.ask("load unit", f"{figures[place]} x {reps} reps x {sets} sets? and kg or lb?")
    return Prescription(sets=int(sets), reps=(float(reps), float(reps)), load=load)


def _read_double(found: re.Match[str], ledger: Ledger) -> Prescription:
    """Sets x reps; or reps x load, where the second figure is too large for repetitions."""
    text = found["reps"].strip()
    sets, more = int(found["sets"]), int(found["more"]) if found["more"] else None
    if re.fullmatch(r"\d+(?:[.,]\d+)?", text):
        size = number(text)
        if size > 60 or (sets > 8 and size >= 25) or not size.is_integer():
            ledger.ask("load unit", f"one set of {sets} at {text}? and kg or lb?")
            return Prescription(sets=1, reps=(float(sets), float(sets)), load=Load("mass", size, size))
        if size > 30:
            ledger.ask("reps", f"{sets} x {text}: {text} repetitions, or a load?")
    text = re.sub(r"/s$", "/side", text)
    if re.match(r"max", text, re.IGNORECASE):
        ledger.ask("max", f'"{sets} x max": as many reps as possible, or a max effort?')
        return Prescription(sets=sets, sets_high=more, reps_open=True)
    if re.match(r"amr?ap", text, re.IGNORECASE):
        ledger.assume("AMRAP after sets x = reps; AMRAP with minutes = rounds")
    reps = read_reps(text, ledger) or Prescription()
    return replace(reps, sets=sets, sets_high=more)


def _read_ladder(text: str, ledger: Ledger) -> Prescription:
    """ "12/10/8": a set of each; "5/3/1+": the last one open."""
    figures = [float(f) for f in re.findall(r"\d+", text)]
    shown = text.replace(" ", "")
    ledger.assume(f"{shown} = {len(figures)} sets of {', '.join(f'{f:g}' for f in figures)}")
    opened = text.endswith("+")
    return Prescription(sets=len(figures), reps=(min(figures), max(figures)), reps_open=opened)


def take_trimmings(done: Prescription, clause: Clause, ledger: Ledger) -> Prescription:
    """Tempo, rest, effort, load, side: whatever still stands in the clause."""
    tempo = clause.take(r"\btempo\s*[:=]?\s*[\dX](?:[-/.]?[\dX]){2,3}\b") or clause.take(
        r"\b(?-i:(?=[0-9]*X)[0-9X]{4}|\d\dx0)\b|\b\d-\d-[\dX]-\d\b"
    )
    if tempo:
        done = replace(done, tempo=read_tempo(tempo[0]))
    done = _take_effort(done, clause, ledger)
    span_time = rf"\d{{1,2}}:[0-5]\d(?:\s*min)?|~?\s*{_SPAN}\s*(?:{_TIME}|')?"
    if found := clause.take(
        rf"\b(?:rest|r:|pause(?!\s*[0-9]\s*s))\s*[:=]?\s*({span_time})|({_SPAN}\s*(?:{_TIME}|'))\s*(?:rest|pause)\b"
    ):
        done = replace(done, rest_s=read_rest(found[1] or found[2], ledger))
        if done.rest_s is None:
            clause.remarks.append(found[0].strip())
    done = _take_load(done, clause, ledger)
    clause.keep(
        rf"\bpause\s*{_SPAN}\s*{_TIME}[^,;]*|[^,;\x1f]*\bhold\b[^,;]*"
    )  # a pause within the repetition
    if found := clause.take(rf"(?<![\w.]){_SPAN}\s*{_TIME}"):
        seconds = read_time(found[0])
        timed = done.reps is None and done.time_s is None and not done.reps_open
        done = replace(done, time_s=seconds) if timed else replace(done, rest_s=done.rest_s or seconds)
    if done.side is None and (found := clause.take(rf"\s*(?:{SIDE})")):
        note_bare_each(found[0], ledger)
        done = replace(done, side="each")
    return done


def _take_effort(done: Prescription, clause: Clause, ledger: Ledger) -> Prescription:
    found = clause.take(
        rf"@?\s*(?:RPE|RIR)\s*[:=@]?\s*{_SPAN}|@?\s*{_SPAN}\s*(?:RPE|RIR|(?:reps? )?in reserve)\b"
        rf"|\bleave\s+{_SPAN}(?:\s+in the tank)?"
        rf"|\bto\s+failure\b|@\s*(?>{_SPAN})(?!\s*(?:%|x|×|kg|kilo|lb|pound|#|pood|k\b|/\s*\d|[\d.]))"
    )
    if not found:
        return done
    effort = read_effort(found[0], ledger)
    if effort is not None:
        return replace(done, effort=effort)
    load = read_load(found[0], ledger) if done.load is None else None
    if load is None:
        clause.remarks.append(found[0].strip())
        return done
    return replace(done, load=load)


def _take_load(done: Prescription, clause: Clause, ledger: Ledger) -> Prescription:
    # A load for each set has no place of its own: kept as it is written.
    clause.keep(rf"@?\s*(?<![\w.])\d+(?:[.,]\d+)?(?:\s*/\s*\d+(?:[.,]\d+)?){{2,9}}\s*{MASS_UNIT}(?![a-z])")
    per = r"(?:\s*(?:each hand|per hand|/\s*hand|/\s*side|per side|each side))?"
    patterns = (
        rf"@?\s*[-−–]?\s*(?<![\w.]){_SPAN}\s*%(?:\s*(?:of\s+)?(?:1\s?-?RM\b|e1RM\b|TM\b|training max|{BODYWEIGHT})"
        rf"|\s*of\s+{OTHER_LOAD}(?=\s*(?:[,;()\x1f]|$)))?{per}",
        rf"@?\s*(?<![\w.])\d{{2,3}}(?:[.,]\d+)?\s*/\s*\d{{2,3}}(?:[.,]\d+)?(?:\s*{MASS_UNIT})?(?![\w/])",
        rf"@?\s*(?<![\w.]){_SPAN}\s*{MASS_UNIT}(?![a-z]){per}",
        r"@?\s*(?<![\w.])\d{1,2}\s?-?RM\b",
        rf"@?\s*\b{BODYWEIGHT}\b",
    )
    for pattern in patterns:
        if done.load is None and (found := clause.take(pattern)):
            done = replace(done, load=read_load(found[0].strip(), ledger))
            if done.load is None:
                clause.remarks.append(found[0].strip())
    if (
        done.load is None
        and done.sets is not None
        and (found := clause.take(r"(?<=[\x1f\s])\d{2,3}(?:[.,]\d+)?(?=\s*$)"))
    ):
        done = replace(done, load=read_load(found[0], ledger))
    return done


def take_special(done: Prescription, kind: str, ledger: Ledger) -> Prescription:
    """What a special set implies: to what its load relates, and that its counting is open."""
    if done.load is not None and done.load.kind == "relative":
        of = "set before" if kind == "drop" else "top set"
        done = replace(done, load=replace(done.load, of=of))
        if kind == "drop":
            ledger.assume(f"{done.load.low:g}% each time, of the load before" if done.load else "")
    if done.effort == Effort("RIR", 0, 0) and done.reps is None:
        done = replace(done, reps_open=True)
    if kind in ("drop", "rest-pause"):
        ledger.ask("counting", "drops and rest-pause bouts: own sets, or counted with the set they follow?")
    return done
