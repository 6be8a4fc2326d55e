"""Checking a sentence against the record of its claim: flags W1 to W11, as prompts for a person.

Word lists and texts are in `rules/wording.yaml`. A plain rule list tells causal strength right in about
0.70 of sentences (3,061 labelled conclusions, Yu 2019), so that a flag asks and never blocks.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from evidence.appraisal.levels import Level
from evidence.appraisal.metrics import Size
from evidence.appraisal.rulebook import load_rules


@dataclass(frozen=True, slots=True)
class WordingRecord:
    """What is known of the claim a sentence makes.

    `ci_includes_mid`: the interval holds a difference that matters. `support`: empty, `emg_only`
    (activation behind a claim about something else) or `nonrandomised`. `has_figures`: size and interval
    are on record. `margin_met`: the interval lies inside an equivalence margin. `people`: words for who
    was studied; empty: not checked.
    """

    level: Level
    size: Size | None = None
    ci_includes_mid: bool = False
    support: str = ""
    has_figures: bool = True
    margin_met: bool = False
    people: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WordingFlag:
    """One thing to look at in a wording. `severity`: error, warning or info."""

    id: str
    severity: str
    text: str


def check_wording(text: str, record: WordingRecord) -> tuple[WordingFlag, ...]:
    """Flags on one sentence (or a few that belong together), in the order W1 to W11."""
    checks = (
        *_check_strength(text, record),
        _check_absence(text, record),
        _check_significance(text, record),
        _check_cause(text, record),
        _check_boosters(text, record),
        _check_size(text, record),
        _check_comparator(text),
        _check_people(text, record),
        _check_equivalence(text, record),
        _check_hedges(text),
    )
    return tuple(flag for flag in checks if flag is not None)


def read_strength(text: str) -> str:
    """The strength class of a text: very_uncertain, may, probably, plain or boosted (the weakest hedge
    counts).
    """
    words = _words()
    if _find(text, words["hedges"]["very_uncertain"]):
        return "very_uncertain"
    if _find(text, words["boosters"]):
        return "boosted"
    for strength in ("may", "probably"):
        if _find(text, words["hedges"][strength]):
            return strength
    return "plain"


def says_open(text: str) -> bool:
    """Whether the text says that the answer is open, which is right at every level."""
    return _find(text, _words()["open_phrases"]) is not None


def _check_strength(text: str, record: WordingRecord) -> Iterable[WordingFlag]:
    if says_open(text):
        return
    order = _words()["strength_order"]
    found = read_strength(text)
    allowed = _words()["frames"][str(record.level)]["strength"]
    gap = order.index(found) - order.index(allowed)
    if gap > 0:
        named = {"plain": "a plain statement", "boosted": "boosted"}.get(found, f'"{found}"')
        yield _flag(
            "W1", found=named, level=record.level, allowed=_words()["allowed_words"][str(record.level)]
        )
    if gap <= -2:
        yield _flag("W2", level=record.level)


def _check_absence(text: str, record: WordingRecord) -> WordingFlag | None:
    bare = text
    for phrase in _words()["not_no_difference"]:
        bare = re.sub(re.escape(phrase), " ", bare, flags=re.IGNORECASE)
    return _flag("W3") if record.ci_includes_mid and _find(bare, _words()["no_difference"]) else None


def _check_significance(text: str, record: WordingRecord) -> WordingFlag | None:
    said = re.search(r"\b(non-?)?significan(t|tly|ce)\b", text, re.IGNORECASE)
    return _flag("W4") if said and not record.has_figures else None


def _check_cause(text: str, record: WordingRecord) -> WordingFlag | None:
    if record.support not in ("emg_only", "nonrandomised"):
        return None
    softeners = set(_words()["causal"]["softened_by"])
    for match in _pattern(tuple(_words()["causal"]["direct"])).finditer(text):
        before = re.findall(r"[\w']+", text[: match.start()].lower())[-3:]
        if not softeners & set(before):
            return _flag("W5", found=match.group())
    return None


def _check_boosters(text: str, record: WordingRecord) -> WordingFlag | None:
    found = _find(text, _words()["boosters"])
    return _flag("W6", found=found, level=record.level) if found and record.level is not Level.HIGH else None


def _check_size(text: str, record: WordingRecord) -> WordingFlag | None:
    if record.size is None or says_open(text) or read_strength(text) == "boosted":
        return None
    bands = {size: _find_stem(text, row["words"]) for size, row in _words()["sizes"].items()}
    own = bands.pop(str(record.size))
    fits = own is not None if record.size is not Size.MODERATE else not any(bands.values())
    return None if fits else _flag("W7", size=record.size)


def _check_comparator(text: str) -> WordingFlag | None:
    found = _find(text, _words()["comparatives"])
    return _flag("W8", found=found) if found and not _find(text, _words()["comparators"]) else None


def _check_people(text: str, record: WordingRecord) -> WordingFlag | None:
    if not record.people:
        return None
    studied = " ".join(record.people).lower()
    for match in _pattern(tuple(_words()["people"])).finditer(text):
        word = match.group().lower()
        if word in _words()["everyone"] or not re.search(rf"\b{re.escape(word)}\b", studied):
            return _flag("W9", found=match.group(), people=", ".join(record.people))
    return None


def _check_equivalence(text: str, record: WordingRecord) -> WordingFlag | None:
    if record.margin_met:
        return None
    bare = re.sub(
        r"\b(not|isn't|is not) the same\b|\bsame (people|study|studies|sample)\b",
        " ",
        text,
        flags=re.IGNORECASE,
    )
    found = _find(bare, _words()["equivalence"])
    return _flag("W10", found=found) if found else None


def _check_hedges(text: str) -> WordingFlag | None:
    found = [m.group() for m in _pattern(tuple(_words()["hedges"]["counted"])).finditer(text)]
    return _flag("W11", found=", ".join(found)) if len(found) >= 2 else None


def _flag(rule: str, **values: object) -> WordingFlag:
    row = _words()["rules"][rule]
    return WordingFlag(rule, row["severity"], row["text"].format(**values))


def _words() -> Any:
    return load_rules("wording")


@cache
def _pattern(words: tuple[str, ...], ending: str = r"\b") -> re.Pattern[str]:
    longest_first = sorted(words, key=len, reverse=True)
    return re.compile(r"\b(?:" + "|".join(map(re.escape, longest_first)) + ")" + ending, re.IGNORECASE)


def _find(text: str, words: Iterable[str]) -> str | None:
    match = _pattern(tuple(words)).search(text)
    return match.group() if match else None


def _find_stem(text: str, words: Iterable[str]) -> str | None:
    kept = tuple(words)
    match = _pattern(kept, r"\w*").search(text) if kept else None
    return match.group() if match else None
