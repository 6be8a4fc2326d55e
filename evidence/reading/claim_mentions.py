"""Names of the vocabulary where they stand in a sentence: exercises, regions, outcomes.

Only whole names count ("leg curl" in "seated leg curl" does not), the longest first. A name with a word before it that
no exercise of that name has ("turbo lunge") is asked about. Abbreviations count only as they are written (AM, not am).
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal
from weakref import ref

from evidence.reading.plain_yaml import load_yaml
from evidence.vocabulary import Lookup, Vocabulary
from evidence.vocabulary.names import expand_words, is_abbreviation, words_of

Kind = Literal["exercise", "region", "construct"]
LONGEST = 8  # words of one name
_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a sentence, where it stands (`start` to `end`, in characters), and the same word in small letters."""

    text: str
    start: int
    end: int

    @property
    def low(self) -> str:
        """The word in small letters, with a straight apostrophe."""
        return self.text.lower().replace("’", "'")


@dataclass(frozen=True, slots=True)
class Mention:
    """A name of the vocabulary in a sentence: `first` to `last` count words, `start` to `end` characters."""

    kind: Kind
    text: str
    found: Lookup
    first: int
    last: int
    start: int
    end: int

    @property
    def id(self) -> str | None:
        """What it names, where that is one thing."""
        return self.found.match


@cache
def load_cues() -> Mapping[str, Any]:
    """The word lists of `claim_cues.yaml`."""
    text = files("evidence.reading").joinpath("claim_cues.yaml").read_text("utf-8")
    cues: Mapping[str, Any] = load_yaml(text, "claim_cues.yaml").data
    return cues


def split_words(text: str) -> tuple[Token, ...]:
    """The words of a text with their places."""
    return tuple(Token(m.group(), m.start(), m.end()) for m in _WORD.finditer(text))


def find_mentions(text: str, vocabulary: Vocabulary) -> tuple[Mention, ...]:
    """Every name of an exercise, region or outcome in `text`, in order, none inside another."""
    tokens = split_words(text)
    names = _names_of(vocabulary)
    taken: list[Mention] = []
    used: set[int] = set()
    spans = sorted(_spans(len(tokens)), key=lambda span: (span[0] - span[1], span[0]))
    for first, last in spans:
        if used & set(range(first, last)):
            continue
        part = text[tokens[first].start : tokens[last - 1].end]
        if _broken(text, tokens, first, last):
            continue
        kind = _kind_of(tokens[first:last], part, names, vocabulary)
        if kind is None or _is_plain_word(kind, tokens, first, last):
            continue
        mention = _widen(kind, text, tokens, first, last, used, vocabulary)
        taken.append(mention)
        used |= set(range(mention.first, mention.last))
    taken += list(_share_heads(text, tokens, taken, used, vocabulary))
    return tuple(sorted(taken, key=lambda m: m.first))


def _share_heads(
    text: str, tokens: tuple[Token, ...], taken: list[Mention], used: set[int], vocabulary: Vocabulary
) -> Iterator[Mention]:
    """ "Seated and standing calf raises": the first borrows the words it shares with the second."""
    for mention in taken:
        place = mention.first - 2
        if mention.kind != "exercise" or place < 0 or place in used:
            continue
        if tokens[place + 1].low not in ("and", "or", "vs", "versus", "than"):
            continue
        own, tail = tokens[place].text, [t.text for t in tokens[mention.first + 1 : mention.last]]
        found = vocabulary.find_exercise(" ".join([own, *tail])) if tail else None
        if found is not None and found.match and not found.unused and found.match != mention.id:
            yield _mention("exercise", own, found, tokens, place, place + 1)


def _spans(count: int) -> Iterator[tuple[int, int]]:
    for first in range(count):
        for last in range(first + 1, min(first + LONGEST, count) + 1):
            yield first, last


def _broken(text: str, tokens: tuple[Token, ...], first: int, last: int) -> bool:
    """Whether a comma, full stop or the like stands inside."""
    gaps = (
        text[a.end : b.start] for a, b in zip(tokens[first : last - 1], tokens[first + 1 : last], strict=True)
    )
    return any(re.search(r"[,.;:!?()]", gap) for gap in gaps)


def _kind_of(
    tokens: tuple[Token, ...],
    part: str,
    names: Mapping[tuple[str, ...], dict[Kind, bool]],
    vocabulary: Vocabulary,
) -> Kind | None:
    words = words_of(part)
    for key in (words, expand_words(words, vocabulary.words.expand)):
        kinds = names.get(key)
        for kind, only_capitals in (kinds or {}).items():
            # "am" is no muscle: a name that is an abbreviation counts only in capitals.
            if not only_capitals or is_abbreviation(part.rstrip("s")):
                return kind
    return None


def _is_plain_word(kind: Kind, tokens: tuple[Token, ...], first: int, last: int) -> bool:
    """A word that is a name and more often something else ("raises strength", "push it back")."""
    if last - first > 1:
        return False
    word = tokens[first].low
    if kind == "exercise":
        return word in load_cues()["not_exercises"]
    return kind == "region" and word in load_cues()["not_regions"]


def _widen(
    kind: Kind,
    text: str,
    tokens: tuple[Token, ...],
    first: int,
    last: int,
    used: set[int],
    vocabulary: Vocabulary,
) -> Mention:
    """The mention with the words before it that belong to its name: "turbo lunge" is no lunge that is known."""
    part = text[tokens[first].start : tokens[last - 1].end]
    if kind == "region":
        return _mention(kind, part, vocabulary.find_region(part), tokens, first, last)
    if kind == "construct":
        return _mention(kind, part, vocabulary.find_construct(part), tokens, first, last)
    start = first
    while start > 0 and start - 1 not in used and not is_small_word(tokens[start - 1]):
        if _broken(text, tokens, start - 1, start + 1) or first - start >= 3:
            break
        start -= 1
    whole = text[tokens[start].start : tokens[last - 1].end]
    found = vocabulary.find_exercise(part)
    wider = vocabulary.find_exercise(whole) if start < first else found
    return _mention(kind, whole, wider, tokens, start, last)


def _mention(
    kind: Kind, text: str, found: Lookup, tokens: tuple[Token, ...], first: int, last: int
) -> Mention:
    return Mention(kind, text, found, first, last, tokens[first].start, tokens[last - 1].end)


def is_small_word(token: Token) -> bool:
    """A word that belongs to no name: grammar, verbs and adjectives of the word lists, numbers."""
    return token.text.isdigit() or _small_pattern().fullmatch(token.low) is not None


@cache
def _small_pattern() -> re.Pattern[str]:
    cues = load_cues()
    lists = [*cues["verbs"].values(), *cues["direction"].values(), *cues["practice"].values()]
    lists += [
        cues["small_words"],
        cues["negations"],
        cues["sameness"],
        cues["superlative"],
        cues["mechanism"],
    ]
    lists += [cues["compare"]["links"], cues["association"], *(g["up"] for g in cues["graded"])]
    lists += [cues["people"]["groups"], cues["people"]["nouns"], cues["principle"]]
    words = {word for phrases in lists for phrase in phrases for word in str(phrase).lower().split()}
    words = {word for word in words if re.fullmatch(r"[\w'-]+\*?", word)}
    return re.compile(
        "|".join(re.escape(word).replace(r"\*", r"\w*") for word in sorted(words, key=len, reverse=True))
    )


_KNOWN: dict[int, tuple[ref[Vocabulary], Mapping[tuple[str, ...], dict[Kind, bool]]]] = {}


def _names_of(vocabulary: Vocabulary) -> Mapping[tuple[str, ...], dict[Kind, bool]]:
    """Words of a name -> what it may be, and whether only in capitals; gathered once for each vocabulary."""
    known = _KNOWN.get(id(vocabulary))
    if known is None or known[0]() is not vocabulary:
        known = ref(vocabulary), _gather_names(vocabulary)
        _KNOWN[id(vocabulary)] = known
    return known[1]


def _gather_names(vocabulary: Vocabulary) -> dict[tuple[str, ...], dict[Kind, bool]]:
    names: dict[tuple[str, ...], dict[Kind, bool]] = {}

    def add(kind: Kind, texts: list[str]) -> None:
        for text in texts:
            short = is_abbreviation(text)
            for words in {words_of(text), expand_words(words_of(text), vocabulary.words.expand)}:
                if words and len(words) <= LONGEST:
                    held = names.setdefault(words, {})
                    held[kind] = held.get(kind, True) and short

    for e in vocabulary.exercises.values():
        bare = re.sub(r"\s*\([^)]*\)", "", e.name)
        add("exercise", [e.id.replace("_", " "), e.name, bare, *e.names, *e.unsure_names])
    for r in vocabulary.regions.values():
        if r.kind == "muscle":
            add("region", [r.id.replace("_", " "), r.name, re.sub(r"\s*\([^)]*\)", "", r.name), *r.names])
    for kind in ("exercise", "region"):
        add(kind, [s.text for s in vocabulary.shared_names.get(kind, ())])
        own = (*vocabulary.extra_names, *vocabulary.own_names)
        add(kind, [n.name for n in own if n.kind == kind])
    for c in vocabulary.constructs.values():
        tools = [text for tool in c.instruments for text in (tool.name, *tool.names)]
        add("construct", [c.id.replace("_", " "), c.name, *c.names, *tools])
    return names
