"""Phrases of word lists found by the first letters of a text's words, so that few patterns are tried at few places.

What is found is what one pattern of all phrases would find: the leftmost, and of those the one listed first.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

LETTERS = 3  # of a word's start, at most, by which phrases are looked up
_WORD_START = re.compile(r"(?<![\w-])\w")
_LITERAL = re.compile(r"[a-z0-9']")
_REPEATED = re.compile(r"[?*]|\{0")


@dataclass(frozen=True)
class Phrase:
    """One entry of a list. `bounded`: as whole words; `starts_words`: it begins where a word does."""

    source: str
    bounded: str
    starts_words: bool

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Compiled when first tried: most phrases start with letters that a short text does not hold."""
        return re.compile(self.bounded, re.IGNORECASE)


class CueIndex:
    """Families of phrases, each phrase under the letters a match of it can start with."""

    def __init__(self, families: Mapping[str, tuple[Phrase, ...]]) -> None:
        self._by_start: dict[str, list[tuple[str, int, Phrase]]] = {}
        self._anywhere: dict[str, list[tuple[int, Phrase]]] = {name: [] for name in families}
        for name, phrases in families.items():
            for number, phrase in enumerate(phrases):
                starts = first_letters(phrase.source) if phrase.starts_words else None
                if starts is None:
                    self._anywhere[name].append((number, phrase))
                for start in sorted(starts or ()):
                    self._by_start.setdefault(start, []).append((name, number, phrase))
        self._likely = lru_cache(maxsize=512)(self._look_up)

    def find(self, family: str, text: str, at: int = 0) -> re.Match[str] | None:
        """The first match of a family at or after a place of a text. Raises KeyError for a family there is none of."""
        anywhere = self._anywhere[family]
        best: tuple[int, int] | None = None
        found: re.Match[str] | None = None
        for place, number, phrase in self._likely(text).get(family, ()):
            if best is not None and place > best[0]:
                break
            if place < at or (best is not None and number > best[1]):
                continue
            match = phrase.pattern.match(text, place)
            if match is not None:
                best, found = (place, number), match
        for number, phrase in anywhere:
            match = phrase.pattern.search(text, at)
            if match is not None and (best is None or (match.start(), number) < best):
                best, found = (match.start(), number), match
        return found

    def _look_up(self, text: str) -> dict[str, list[tuple[int, int, Phrase]]]:
        """By family, the phrases that may match, each with its place, in order of places."""
        likely: dict[str, list[tuple[int, int, Phrase]]] = {}
        small = text.lower()
        if len(small) != len(text):  # a letter whose small form is longer: places would not agree
            small = "".join(c.lower()[:1] for c in text)
        for word in _WORD_START.finditer(text):
            place = word.start()
            for size in range(1, LETTERS + 1):
                for family, number, phrase in self._by_start.get(small[place : place + size], ()):
                    likely.setdefault(family, []).append((place, number, phrase))
        return likely


def first_letters(pattern: str) -> frozenset[str] | None:
    """What a match of a pattern can start with, up to LETTERS letters each; None where that cannot be told."""
    found: set[str] = set()
    for branch in split_branches(pattern):
        starts = _starts_of(branch)
        if starts is None:
            return None
        found |= starts
    return frozenset(found)


def split_branches(pattern: str) -> list[str]:
    """A pattern at the bars that stand in no bracket."""
    branches, depth, start, at = [], 0, 0, 0
    while at < len(pattern):
        mark = pattern[at]
        if mark == "\\":
            at += 1
        elif mark == "[":
            at = pattern.index("]", at + 2)
        elif mark in "()":
            depth += 1 if mark == "(" else -1
        elif mark == "|" and not depth:
            branches.append(pattern[start:at])
            start = at + 1
        at += 1
    return [*branches, pattern[start:]]


def _starts_of(branch: str) -> set[str] | None:
    if branch.startswith("("):
        end = closing(branch)
        inside, rest = branch[1:end], branch[end + 1 :]
        if inside.startswith("?"):
            if not inside.startswith("?:"):
                return None
            inside = inside[2:]
        starts = first_letters(inside)
        if starts is None or not _REPEATED.match(rest):
            return None if starts is None else set(starts)
        if rest[0] == "{":
            return None
        after = _starts_of(rest[1:])
        return None if after is None else {*starts, *after}
    if branch.startswith("\\d") and not re.match(r"[?*{]", branch[2:]):
        return set("0123456789")
    letters = ""
    for at, mark in enumerate(branch.lower()):
        if not _LITERAL.match(mark) or _REPEATED.match(branch, at + 1):
            break
        letters += mark
    return {letters[:LETTERS]} if letters and letters[0] != "'" else None


def closing(branch: str) -> int:
    """Where the bracket that opens a branch is closed."""
    depth, at = 0, 0
    while at < len(branch):
        if branch[at] == "\\":
            at += 1
        elif branch[at] == "[":
            at = branch.index("]", at + 2)
        elif branch[at] in "()":
            depth += 1 if branch[at] == "(" else -1
            if not depth:
                return at
        at += 1
    return at
