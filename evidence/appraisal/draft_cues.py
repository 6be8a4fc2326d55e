"""Cues in a sentence of a draft: words and phrases of `rules/draft_words.yaml` and `rules/safety_words.yaml`.

A plain list tells causal strength right in about 0.70 of sentences (Yu 2019; see wording_check): what is built
on these cues asks a person, and never blocks.
"""

import re
from dataclasses import dataclass
from functools import cache

from evidence.appraisal.cue_index import CueIndex, Phrase
from evidence.appraisal.rulebook import load_rules

AROUND = 80  # characters about a phrase in which an exception to it may begin and end


@dataclass(frozen=True, slots=True)
class Cue:
    """A word or phrase found in a text, with its place in it."""

    text: str
    start: int
    end: int


def find_cue(family: str, text: str, *, rules: str = "draft_words") -> Cue | None:
    """The first phrase of a family in a text that none of its exceptions (`family_not`) covers."""
    index = _index(rules)
    exceptions = _exceptions(rules, family)
    at = 0
    while (found := index.find(family, text, at)) is not None:
        if exceptions is None or not _covered(found, exceptions, text):
            return Cue(found.group().strip(), found.start(), found.end())
        at = max(found.end(), found.start() + 1)
    return None


def find_safety_cue(family: str, text: str) -> Cue | None:
    """The first phrase of a family of the safety words."""
    return find_cue(family, text, rules="safety_words")


def read_addressed(text: str) -> str | None:
    """The words for whom a sentence speaks to ("Ladies", "if you're over seventy"); None: nobody named."""
    for pattern in _addressed():
        found = pattern.search(text)
        if found:
            return found.group(1)
    return None


def draft_strength(text: str) -> str:
    """The strength class of a sentence in a draft: wording_check's classes, with the further cues of drafts."""
    from evidence.appraisal.wording_check import read_strength

    for strength in ("very_uncertain", "may", "probably"):
        if _weakening(strength).search(text):
            return strength
    read = read_strength(_without_modals(text))
    if read in ("very_uncertain", "may", "probably"):
        return read
    return "boosted" if find_cue("settled", text) else "plain"


def _without_modals(text: str) -> str:
    """`will`, `must`, `never`, `always` boost a claim of science, not an instruction: not counted in a draft."""
    return re.sub(r"\b(will|must|never|always)\b", " ", text, flags=re.IGNORECASE)


def _covered(found: re.Match[str], exceptions: re.Pattern[str], text: str) -> bool:
    window = max(found.start() - AROUND, 0)
    for other in exceptions.finditer(text, window, min(found.end() + AROUND, len(text))):
        if other.start() < found.end() and other.end() > found.start():
            return True
    return False


@cache
def _index(rules: str) -> CueIndex:
    lists = load_rules(rules)
    return CueIndex(
        {name: tuple(map(_phrase, held)) for name, held in lists.items() if isinstance(held, list)}
    )


def _phrase(pattern: str) -> Phrase:
    return Phrase(pattern, _bounded(pattern), bool(_lead(pattern)))


@cache
def _exceptions(rules: str, family: str) -> re.Pattern[str] | None:
    listed = load_rules(rules).get(f"{family}_not")
    return _compile(tuple(listed)) if listed else None


@cache
def _weakening(strength: str) -> re.Pattern[str]:
    return _compile(tuple(load_rules("draft_words")["weakening"].get(strength, ["(?!)"])))


@cache
def _addressed() -> tuple[re.Pattern[str], ...]:
    return tuple(re.compile(p, re.IGNORECASE) for p in load_rules("draft_words")["addressed"])


@cache
def notice_words(state: str) -> re.Pattern[str]:
    """The words by which a text itself names the state of a source."""
    return _compile(tuple(load_rules("draft_words")["names_notice"].get(state, ["(?!)"])))


@cache
def _compile(patterns: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile("|".join(map(_bounded, patterns)), re.IGNORECASE)


def _bounded(pattern: str) -> str:
    """A pattern between the bounds of whole words."""
    tail = "" if pattern.endswith(("$", "]", ")*")) else r"(?!\w)"
    return f"{_lead(pattern)}(?:{pattern}){tail}"


def _lead(pattern: str) -> str:
    """What must stand before a pattern: the start of a word, unless it begins with a mark or an anchor."""
    return "" if pattern[:1] in "^\\[(" and not re.match(r"\([\w(?]", pattern) else r"(?<![\w-])"
