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
from evidence.reading.labels import STUB, TIME, TIME_STUB, Kind, read_phrase, tidy_label
from evidence.reading.legend import is_caption
from evidence.reading.names import is_name

Parts = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Division:
    """A way to read a header: the parts of each column, the label headers before them, the lines that were
    caption.
    """

    columns: tuple[Parts, ...]
    cost: float
    stubs: tuple[str, ...] = ()
    caption: int = 0
    unplaced: tuple[str, ...] = ()


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
        ("statistic", r"(?:means?|(?-i:M))\s?(?:±|\(\s?±?)\s?(?:SDs?|SEM?|standard (?:deviation|error))(?:\s?\))?"
                      r"|means?(?! diff)(?!\w)|medians?(?!\w)"
                      r"|(?:mean )?(?:Δ|∆)\s?%?|%\s?(?:change|difference|diff\.?|Δ|gain|increase)(?!\w)"
                      r"|(?:mean |percent |percentage )?(?:changes?(?![- ]of[- ]dir)|differences?|diff)(?!\w)"
                      r"(?:\s?\(?%\)?)?"
                      r"|\d\d\s?%\s?CI|effect size|ES(?!\w)|cohen['’]?s d|hedges['’]? g|SDs?(?!\w)|SEM?(?!\w)|IQR"
                      r"|range(?! of)(?!\w)"),
        ("time", TIME.pattern),
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
    cost = {"bracket": 3.0, "people": 3.0, "name": 0.05, "stub": 0.8, "word": 0.15}.get(first.kind, 0.0)
    if first.kind == "word" and _is_small(first.text):
        cost = 1.5
    for before, atom in pairwise(atoms):
        cost += _joint_cost(before, atom)
    times = sum(a.kind == "time" for a in atoms)
    cost += 3.0 * max(0, times - 1) + 2.5 * max(0, sum(a.kind == "p" for a in atoms) - 1)
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
}


def _joint_cost(before: Atom, atom: Atom) -> float:
    if before.kind == "people":
        return 3.0
    if atom.text.casefold() == "group" and before.kind in ("word", "name"):
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
        for price, units in _best_cuts(atoms[skip:], shapes, keep + 3):
            found.append((cost + price + _unevenness(units, shapes), units, before))
    return tuple(sorted(found, key=lambda item: item[0])[:keep])


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


def plain(label: str) -> str:
    """A header for comparing: no n, no case."""
    return read_phrase(label).name.casefold()


def place_upper(text: str | Sequence[str], leaf: Sequence[str]) -> tuple[list[str], float, bool]:
    """Spread an upper header line over the columns: (text per column, cost, whether it could be placed)."""
    width = len(leaf)
    blocks = _blocks([plain(label) for label in leaf])
    options: list[tuple[float, list[str]]] = []
    for spans, price in blocks:
        if isinstance(text, str):
            for cost, units, _ in divide(text, [None] * len(spans), keep=1):
                if len(units) == len(text.split()):
                    cost = min(cost, 0.3 * len(units))
                options.append((cost + price, _spread(units, spans, width)))
        elif len(text) == len(spans) or (len(text) == len(spans) + 1 and STUB.match(text[0])):
            options.append((price, _spread(list(text)[-len(spans) :], spans, width)))
    if not options:
        return [""] * width, 1.0, False
    cost, placed = min(options, key=lambda option: option[0])
    return (placed, cost, True) if cost < 0.9 * max(1, len(set(placed))) + 0.5 else ([""] * width, 1.0, False)


def _blocks(leaf: Sequence[str]) -> list[tuple[list[range], float]]:
    """How an upper line may span the columns: whole blocks of repeated headers, blocks and single columns,
    or one to one.
    """
    width = len(leaf)
    options: list[tuple[list[range], float]] = []
    for period in range(1, width // 2 + 1):
        repeats = 1
        while (repeats + 1) * period <= width and all(
            leaf[repeats * period + i] == leaf[i] for i in range(period)
        ):
            repeats += 1
        if repeats < 2 or (period == 1 and repeats < width):
            continue
        spans = [range(i * period, (i + 1) * period) for i in range(repeats)]
        rest = [range(i, i + 1) for i in range(repeats * period, width)]
        if period > 1:
            options.append((spans + rest, 0.0 if not rest else 0.1))
            if rest:
                options.append((rest, 0.4))
            if len(rest) > 1:
                options.append(([*spans, range(repeats * period, width)], 0.05))
    if not any(price == 0.0 for _, price in options):
        options.append(([range(i, i + 1) for i in range(width)], 0.2))
    return options


def _spread(units: Sequence[str], spans: Sequence[range], width: int) -> list[str]:
    placed = [""] * width
    for unit, span in zip(units, spans, strict=True):
        for column in span:
            placed[column] = unit
    return placed


def read_header_lines(lines: Sequence[str], shapes: Sequence[Shape | None]) -> list[Division]:
    """The ways to read running header lines, the best first; a caption may stand before them."""
    found: list[Division] = []
    for caption in range(len(lines)):
        dropped = _caption_cost(lines[:caption])
        if dropped >= 4.0 or (caption == 0 and is_caption(lines[0])):
            continue
        rest = lines[caption:]
        if len(rest) > 40:
            continue
        for start in range(len(rest)):
            for cost, units, stubs in divide(" ".join(rest[start:]), shapes):
                found.append(
                    _stack(
                        rest[:start], units, stubs, cost + dropped + 0.02 * (len(rest) - start - 1), caption
                    )
                )
    unique: dict[tuple[Parts, ...], Division] = {}
    for division in sorted(found, key=lambda d: d.cost):
        unique.setdefault(division.columns, division)
    return list(unique.values())[:3]


def _stack(
    upper: Sequence[str], leaf: Sequence[str], stubs: tuple[str, ...], cost: float, caption: int
) -> Division:
    """Put upper lines over the lowest headers."""
    layers: list[list[str]] = []
    unplaced: list[str] = []
    for line in upper:
        if all(a.kind in ("stub", "bracket") for a in split_atoms(line)):
            stubs = (*stubs, line)
            continue
        placed, price, done = place_upper(line, leaf)
        cost += price
        if done:
            layers.append(placed)
        else:
            unplaced.append(line)
    columns = tuple(tuple(layer[i] for layer in [*layers, list(leaf)] if layer[i]) for i in range(len(leaf)))
    repeated = len(leaf) - len(set(columns))
    return Division(columns, cost + (0.2 if unplaced else 0.5) * repeated, stubs, caption, tuple(unplaced))


def _caption_cost(lines: Sequence[str]) -> float:
    """How unlikely it is that these lines are caption and not header."""
    cost = 0.0
    for number, line in enumerate(lines):
        if not is_caption(line) and sum(a.kind == "people" for a in split_atoms(line)) > 1:
            cost += 3.0  # two groups with their numbers are a header
        if number == 0:
            cost += 0.0 if is_caption(line) else 0.6 if len(line.split()) > 3 else 1.5
        elif re.search(r"[.:]\s*$", lines[number - 1]):
            cost += 2.5
        else:
            cost += 0.1 if re.match(r"[a-z(]", line) or line.rstrip().endswith(".") else 0.5
    return cost
