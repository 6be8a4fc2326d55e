"""Header texts to columns: a running header line is divided into as many units as the rows have cells.

Every way of dividing is weighed: time points, statistic words, "(n = 12)", capitals and the kind of cell
below say where one header ends and the next begins. When a second way is nearly as good the columns are
doubtful, and said to be.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from evidence.reading.cells import Shape
from evidence.reading.flat_headers import is_crossed
from evidence.reading.labels import STUB, TIME, TIME_STUB, Kind, read_phrase, tidy_label
from evidence.reading.names import is_name

Parts = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Atom:
    """A piece of header that is never cut."""

    text: str
    kind: str  # time, p, statistic, bracket, people, name, stub, word


_ATOMS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (kind, re.compile(pattern, re.IGNORECASE))
    for kind, pattern in (
        ("people", r"[(\[]\s*n\s*[=:]?\s*\d+\s*[)\]]|n\s?=\s?\d+"),
        ("bracket", r"[(\[][^()\[\]]*[)\]]"),
        ("p", r"p[ -]?values?(?![\w-])|p(?=\s|$|\()|(?:group|condition|sex|leg|treatment|time"
              r"|exercise)s?(?:\s?[×*]\s?|\s(?:x|by)\s)\w+(?: interaction| effect)?"
              r"|(?:time|group|interaction|main) effects?(?!\w)|interaction(?!\w)|effects?(?!\w)(?! size)"
              r"|time(?! ?points?)(?=\s|$)"),
        ("load", r"(?:\d+\s?%\s?(?:of\s)?)?\d?-?RM(?!\w)|ROM(?!\w)|\d+\s?%(?!\w)(?!\s?(?:CI|change|diff|Δ))"),
        ("statistic", r"(?:means?|(?-i:M))\s?(?:±|\(\s?±?)\s?(?:SDs?|SEM?|standard (?:deviation|error))(?:\s?\))?"
                      r"|means?(?! diff)(?!\w)|medians?(?!\w)"
                      r"|(?:mean )?(?:Δ|∆)\s?%?|%\s?(?:change|difference|diff\.?|Δ|gain|increase)(?!\w)"
                      r"|(?:mean |percent |percentage )?(?:changes?(?![- ]of[- ]dir)|differences?|diff)(?!\w)"
                      r"(?:\s?\(?%\)?)?"
                      r"|\d\d\s?%\s?CI|effect size|ES(?!\w)|cohen['’]?s d|hedges['’]? g|SDs?(?!\w)|SEM?(?!\w)|IQR"
                      r"|(?-i:[dgrF])(?=\s|$)"
                      r"|range(?! of)(?!\w)"),
        ("time", TIME.pattern),
        ("numbered", r"(?:set|trial|rep|bout|round|attempt|phase|block|condition|group)\s\d{1,2}(?![\w.])"),
        ("stub", STUB.pattern),
        ("word", r"\S+"),
    )
)  # fmt: skip


@lru_cache(maxsize=512)
def split_atoms(text: str) -> tuple[Atom, ...]:
    """Cut a header line into atoms."""
    week = re.match(r"^\s*([A-Za-z]+\.?:?)((?:\s+\d+(?:\.\d+)?)+)\s*$", text)
    if week and TIME_STUB.match(week[1]):
        return tuple(Atom(f"{week[1].rstrip('.:')} {number}", "time") for number in week[2].split())
    atoms: list[Atom] = []
    place = 0
    while place < len(text):
        if text[place].isspace():
            place += 1
            continue
        for kind, pattern in _ATOMS:
            found = pattern.match(text, place)
            if found and found.end() > place and _ends_word(text, found.end(), kind):
                atoms.append(Atom(found.group().strip(), kind))
                place = found.end()
                break
    return tuple(_join_names(atoms))


def _ends_word(text: str, end: int, kind: str) -> bool:
    return (
        kind in ("word", "bracket", "people")
        or end >= len(text)
        or not (text[end].isalnum() or text[end] in "'’")
    )


def _join_names(atoms: list[Atom]) -> list[Atom]:
    """Words that together are a known exercise or muscle become one atom, the longest first."""
    joined: list[Atom] = []
    place = 0
    while place < len(atoms):
        for length in range(min(5, len(atoms) - place), 1, -1):
            run = atoms[place : place + length]
            text = " ".join(a.text for a in run)
            if all(a.kind in ("word", "stub") for a in run) and is_name(text):
                joined.append(Atom(text, "name"))
                place += length
                break
        else:
            joined.append(atoms[place])
            place += 1
    return joined


@lru_cache(maxsize=8192)
def unit_cost(atoms: tuple[Atom, ...], shape: Shape | None) -> float:
    """How unlikely these atoms are one header over a column of this kind of cell."""
    first = atoms[0]
    cost = {"bracket": 3.0, "people": 3.0, "load": 0.7, "name": 0.05, "stub": 0.8, "word": 0.15}.get(
        first.kind, 0.0
    )
    if first.kind == "word" and _is_small(first.text):
        cost = 1.5
    for before, atom in pairwise(atoms):
        cost += _joint_cost(before, atom)
    times = sum(a.kind == "time" for a in atoms)
    cost += 3.0 * max(0, times - 1, sum(a.kind == "people" for a in atoms) - 1)
    cost += 2.5 * max(0, sum(a.kind == "p" for a in atoms) - 1)
    statistics = [a.text for a in atoms if a.kind == "statistic"]
    cost += 3.0 * (len(statistics) - len(set(statistics)))
    return cost + _shape_cost(" ".join(a.text for a in atoms), atoms, shape)


def _is_small(word: str) -> bool:
    """Whether a word neither begins like a name nor holds a capital or a digit."""
    return not re.search(r"[\d%]", word) and word == word.lower()


_WHICH = re.compile(
    r"(?:upp|low|inn|out)er|mid(?:dle)?|left|right|medial|lateral|proximal|distal|anterior|posterior|superior|inferior"
    r"|superficial|deep|(?:non-?)?dominant|uni-?lateral|bi-?lateral|single-leg|barbell|dumbbell|machine|smith",
    re.IGNORECASE,
)
_JOINTS = {
    "bracket": 0.0,
    "people": 0.0,
    "time": 0.6,
    "statistic": 0.35,
    "p": 1.5,
    "name": 0.6,
    "stub": 0.9,
    "numbered": 0.9,
}


def _joint_cost(before: Atom, atom: Atom) -> float:
    if before.kind == "people":
        return 0.15 if atom.kind == "time" else 3.0
    if atom.kind == "load":
        return 0.05
    if atom.text.casefold().strip(",") == "group" and before.kind in ("word", "name"):
        return 0.05  # "Strength Group"
    if atom.kind == "word" or (atom.kind == "stub" and _is_small(atom.text)):
        base = 0.05 if _is_small(atom.text) else 0.2 if re.fullmatch(r"[\dA-Z]{2,5}", atom.text) else 0.6
        return base + (0.2 if before.kind in ("time", "p", "name", "statistic") else 0.0)
    if atom.kind == "statistic" and before.kind != "statistic" and re.search(r"[(±]", atom.text):
        return 0.05  # "Pre M (SD)": what names the spread closes a header
    if atom.kind == "name" and before.kind == "word" and _WHICH.fullmatch(before.text):
        return 0.05  # "Upper gluteus maximus"
    if before.kind == "statistic" and atom.kind == "statistic":
        return 0.3 if re.search(r"CI", atom.text) else 1.5
    if before.kind == "statistic" and atom.kind == "time":
        return 1.0
    if before.kind == "p" and atom.kind in ("p", "time", "statistic"):
        return 1.2
    return _JOINTS[atom.kind]


def _shape_cost(text: str, atoms: Sequence[Atom], shape: Shape | None) -> float:
    kind = read_phrase(text).kind
    if shape is None:
        return 0.0
    if kind is Kind.P:
        return 4.0 if shape in (Shape.PAIR, Shape.INTERVAL, Shape.WORDED) else 0.0
    if shape is Shape.P:
        return 3.0
    if shape is Shape.WORDED:
        return 0.0 if kind is Kind.EFFECT_SIZE else 1.0
    if shape is Shape.PAIR and kind in (Kind.EFFECT_SIZE, Kind.N, Kind.STUDIES, Kind.RANGE):
        return 3.0
    if shape is Shape.NUMBER and any(a.kind == "time" for a in atoms) and kind is Kind.PLAIN:
        return 0.4
    if shape is Shape.NUMBER and any(a.kind == "statistic" and "±" in a.text for a in atoms):
        return 3.0
    return 0.0


Cut = tuple[float, tuple[str, ...], tuple[str, ...]]


def divide(text: str, shapes: Sequence[Shape | None], keep: int = 2) -> tuple[Cut, ...]:
    """The best ways to cut a line into one header per shape: (cost, headers, label headers before them)."""
    return _divide(text, tuple(shapes), keep)


@lru_cache(maxsize=2048)
def _divide(text: str, shapes: tuple[Shape | None, ...], keep: int) -> tuple[Cut, ...]:
    atoms = split_atoms(text)
    found: list[Cut] = []
    for skip in range(min(len(atoms) - len(shapes), 4) + 1):
        ahead = atoms[:skip]
        if skip and not all(
            a.kind in ("stub", "word", "bracket") or _heads_times(atoms, i) for i, a in enumerate(ahead)
        ):
            break
        cost = sum(0.0 if a.kind in ("stub", "p") else 0.2 if a.kind == "bracket" else 0.9 for a in ahead)
        before = (" ".join(a.text for a in ahead),) if ahead else ()
        cuts = [*_best_cuts(atoms[skip:], shapes, keep + 3), *_cut_by_times(atoms[skip:], shapes)]
        for price, units in dict(zip((units for _, units in cuts), cuts, strict=True)).values():
            crossed = CROSSED if is_crossed(units, shapes) else 0.0
            found.append((cost + price + _unevenness(units, shapes) - crossed, units, before))
    return tuple(sorted(found, key=lambda item: item[0])[:keep])


def _cut_by_times(
    atoms: tuple[Atom, ...], shapes: Sequence[Shape | None]
) -> list[tuple[float, tuple[str, ...]]]:
    """The cuts behind, and in front of, each time, as many as there are columns, but for some at the end."""
    times = [i for i, atom in enumerate(atoms) if atom.kind == "time"]
    timed = len(times)
    if not 2 <= timed <= len(shapes):
        return []
    ways = []
    for ends in ([i + 1 for i in times], [*times[1:], len(atoms)] if times[0] == 0 else []):
        if not ends or (ends[-1] < len(atoms)) != (timed < len(shapes)):
            continue
        starts = [0, *ends[:-1]]
        own = [atoms[a:b] for a, b in zip(starts, ends, strict=True)]
        price = sum(unit_cost(unit, shape) for unit, shape in zip(own, shapes, strict=False))
        rest = _best_cuts(atoms[ends[-1] :], shapes[timed:], 1) if timed < len(shapes) else [(0.0, ())]
        ways += [(price + cost, (*_texts(atoms, ends), *units)) for cost, units in rest]
    return ways


CROSSED = 1.0  # what speaks for a division in which each of several names stands with the same times


def _heads_times(atoms: Sequence[Atom], place: int) -> bool:
    """Whether "Time" stands behind the name of another label column ("Group Time"): it heads one, and is no test."""
    return place > 0 and atoms[place].text.casefold() == "time" and atoms[place - 1].kind == "stub"


def _unevenness(units: Sequence[str], shapes: Sequence[Shape | None]) -> float:
    """Headers over the same kind of cell are usually built alike."""
    builds: dict[Shape | None, set[tuple[str, ...]]] = {}
    for unit, shape in zip(units, shapes, strict=True):
        builds.setdefault(shape, set()).add(tuple(atom.kind for atom in split_atoms(unit)))
    return 0.12 * sum(len(kinds) - 1 for kinds in builds.values())


LONGEST = 8  # atoms in one header


def _best_cuts(
    atoms: tuple[Atom, ...], shapes: Sequence[Shape | None], keep: int
) -> list[tuple[float, tuple[str, ...]]]:
    """The cheapest cuts by dynamic programming over (atoms used, columns filled)."""
    total, width = len(atoms), len(shapes)
    if not shapes or not width <= total <= min(LONGEST * width, 160):
        return []
    table: dict[int, list[tuple[float, tuple[int, ...]]]] = {0: [(0.0, ())]}
    for number, shape in enumerate(shapes):
        left = width - number - 1
        following: dict[int, list[tuple[float, tuple[int, ...]]]] = {}
        for start, ways in table.items():
            for end in range(start + 1, min(total, start + LONGEST) + 1):
                if left <= total - end <= LONGEST * left:
                    price = unit_cost(atoms[start:end], shape)
                    following.setdefault(end, []).extend((cost + price, (*cuts, end)) for cost, cuts in ways)
        table = {end: sorted(ways)[:keep] for end, ways in following.items()}
    return [(cost, _texts(atoms, cuts)) for cost, cuts in table.get(total, [])]


def _texts(atoms: Sequence[Atom], cuts: Sequence[int]) -> tuple[str, ...]:
    bounds = pairwise((0, *cuts))
    return tuple(tidy_label(" ".join(a.text for a in atoms[left:right])) for left, right in bounds)
