"""What a sentence speaks of: exercises, regions and outcomes of the vocabulary, found in one pass over its words."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from evidence.appraisal.draft_cues import find_cue
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.names import words_of
from evidence.workflows.drafts.words import load_words, word_set

LONGEST = 6  # words of one name
SHORTEST = 4  # letters of a name of one word: shorter ones are abbreviations, and count in capitals only
_CAPITALS = re.compile(r"\b[A-Z]{2,3}s?\b")
_WORD = re.compile(r"[^\W_]+(?:['’]\w+)?")


@dataclass(frozen=True, slots=True)
class Topic:
    """What a sentence speaks of. `exercises`: each with all ids its name may mean; `words`: its words, folded."""

    words: tuple[str, ...]
    exercises: tuple[frozenset[str], ...]
    regions: frozenset[str]
    constructs: frozenset[str]

    @property
    def training(self) -> bool:
        """Whether it speaks of an exercise, a region or an outcome at all."""
        return bool(self.exercises or self.regions or self.constructs)


class TopicFinder:
    """Finds topics by the names of one vocabulary. Built once, then quick."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self._around: dict[str, frozenset[str]] = {}
        self._families: dict[str, frozenset[str]] = {}
        self.names: dict[str, list[tuple[tuple[str, ...], str, frozenset[str]]]] = {}
        gathered: dict[tuple[tuple[str, ...], str], set[str]] = {}
        for e in vocabulary.exercises.values():
            for text in (e.name, *e.names, *e.unsure_names, *elided(e.name, *e.names)):
                gathered.setdefault((words_of(re.sub(r"\([^)]*\)", "", text)), "exercise"), set()).add(e.id)
        own = (*vocabulary.own_names, *vocabulary.extra_names)
        for n in own:
            gathered.setdefault((words_of(n.name), n.kind), set()).add(n.target)
        for r in vocabulary.regions.values():
            if r.kind == "muscle":
                for text in (re.sub(r"\([^)]*\)", "", r.name), r.latin, *r.names):
                    gathered.setdefault((words_of(text), "region"), set()).add(r.id)
        for text, region in load_words()["extra_regions"].items():
            gathered.setdefault((words_of(text), "region"), set()).add(region)
        self.abbreviations: dict[str, frozenset[str]] = {}
        for (words, kind), ids in gathered.items():
            if len(words) == 1 and len(words[0]) < SHORTEST:
                if kind == "exercise":
                    self.abbreviations[words[0]] = frozenset(ids)
                continue
            if not words or len(words) > LONGEST:
                continue
            if len(words) == 1 and words[0] in word_set(
                "not_regions" if kind == "region" else "not_exercises"
            ):
                continue
            self.names.setdefault(words[0], []).append((words, kind, frozenset(ids)))
        for held in self.names.values():
            held.sort(key=lambda entry: -len(entry[0]))

    def find(self, text: str) -> Topic:
        """What a sentence speaks of."""
        words = fold_words(text)
        short = {word for found in _CAPITALS.finditer(text) for word in fold_words(found.group())}
        exercises: list[frozenset[str]] = []
        regions: set[str] = set()
        at = 0
        while at < len(words):
            match = self._match(words, at)
            if match is None:
                if words[at] in short and words[at] in self.abbreviations:
                    exercises.append(self.abbreviations[words[at]])
                at += 1
                continue
            name, kind, ids = match
            following = words[at + len(name)] if at + len(name) < len(words) else ""
            if kind == "exercise":
                exercises.append(ids)
            elif following not in word_set("exercise_tails"):
                also = load_words()["also"]
                regions |= ids | {also[i] for i in ids if i in also}
            at += len(name)
        return Topic(words, tuple(exercises), frozenset(regions), find_constructs(text))

    def around(self, region: str) -> frozenset[str]:
        """A region and what holds it."""
        if region not in self._around:
            above = self.vocabulary.ancestors(region) if region in self.vocabulary.regions else ()
            self._around[region] = frozenset({region, *above})
        return self._around[region]

    def family(self, exercise: str) -> frozenset[str]:
        """An exercise with its variants and what it is a variant of; empty for one there is none of."""
        if exercise not in self._families:
            known = self.vocabulary
            near = (
                {exercise, *known.exercise_ancestors(exercise), *known.exercise_descendants(exercise)}
                if exercise in known.exercises
                else ()
            )
            self._families[exercise] = frozenset(near)
        return self._families[exercise]

    def bears_on(self, measured: str | None, said: Iterable[str]) -> bool:
        """Whether a region that was measured is one that is spoken of, or lies inside it."""
        return measured is None or not self.around(measured).isdisjoint(said)

    def related(self, one: str | None, ids: Iterable[str]) -> bool:
        """Whether an exercise is one of those named, a variant of one, or what one is a variant of."""
        return one is not None and not self.family(one).isdisjoint(ids)

    def _match(self, words: tuple[str, ...], at: int) -> tuple[tuple[str, ...], str, frozenset[str]] | None:
        for entry in self.names.get(words[at], ()):
            if words[at : at + len(entry[0])] == entry[0]:
                return entry
        return None


def elided(*names: str) -> Iterable[str]:
    """Names as people shorten them: "hip thrust" is said "thrust", "lying leg curl" is said "lying curl"."""
    for name in names:
        words = words_of(name)
        if len(words) >= 3 and words[-2] in ("leg", "calf", "hip", "back", "ham"):
            yield " ".join((*words[:-2], words[-1]))
        if words[-1:] == ("thrust",):
            yield "thrust"


FAMILIES = {"activation": "activation", "growth": "hypertrophy", "strength_gain": "strength"}
_OTHER = {
    "performance": re.compile(
        r"\b(sprint\w*|jump\w*|speed|10 m|ten[- ]met(re|er)s?|metres?)\b", re.IGNORECASE
    ),
    "injury": re.compile(r"\b(injur\w+|torn|tear|tears|protection|got hurt|were hurt)\b", re.IGNORECASE),
    "pain": re.compile(r"\b(pain\w*|sore\w*|ache\w*|hurts?|easier on)\b", re.IGNORECASE),
}


def find_constructs(text: str) -> frozenset[str]:
    """The outcomes that a sentence's words speak of."""
    found = {construct for family, construct in FAMILIES.items() if find_cue(family, text)}
    found |= {construct for construct, pattern in _OTHER.items() if pattern.search(text)}
    return frozenset(found)


@lru_cache(maxsize=20_000)
def _fold(word: str) -> tuple[str, ...]:
    return words_of(word)


def fold_words(text: str) -> tuple[str, ...]:
    """The words of a text in small letters and singular."""
    joined = re.sub(r"\bout-(grow|perform|do)", r"out\1", text, flags=re.IGNORECASE)
    return tuple(part for found in _WORD.finditer(joined) for part in _fold(found.group()))


def same_words(words: Iterable[str]) -> tuple[str, ...]:
    """Words with synonyms brought to one."""
    known = load_words()["same_word"]
    return tuple(known.get(word, word) for word in words)
