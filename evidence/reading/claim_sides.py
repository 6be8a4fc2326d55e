"""The exercises of a sentence and which side each stands on."""

import re
from dataclasses import replace

from evidence.reading.claim_kind import Reading
from evidence.reading.claim_mentions import Mention, is_small_word, load_cues, split_words
from evidence.reading.claim_phrases import search_phrase
from evidence.reading.claim_proposal import Part, part_of
from evidence.vocabulary import Vocabulary

TWO_SIDED = ("comparison", "sameness", "rate")
ONE_NEEDED = ("superlative", "level")


def read_sides(reading: Reading, vocabulary: Vocabulary) -> list[Part]:
    """Exercise and comparator, asked where the kind needs them and the sentence lacks them."""
    found = list(reading.of_kind("exercise"))
    if reading.kind in TWO_SIDED:
        return _read_two(reading, found, vocabulary)
    parts = [_side("exercise", found[0])] if found else []
    if reading.kind in ONE_NEEDED and not parts:
        parts = [_missing("exercise", _words_before(reading), vocabulary)]
    if reading.kind == "practice":
        parts = [replace(part, state="unsure") if part.state == "asked" else part for part in parts]
        if len(found) > 1:
            parts.append(_side("comparator", found[1]))
    return parts


def _read_two(reading: Reading, found: list[Mention], vocabulary: Vocabulary) -> list[Part]:
    if len(found) >= 2:
        first, second = (found[1], found[0]) if reading.leading else (found[0], found[1])
        parts = [_side("exercise", first), _side("comparator", second)]
        return _same_on_both(parts)
    cut = _cut(reading)
    if found and (cut is None or (found[0].start < cut) != reading.leading):
        return [_side("exercise", found[0]), _missing("comparator", _words_after(reading), vocabulary)]
    if found:
        return [_missing("exercise", _words_before(reading), vocabulary), _side("comparator", found[0])]
    return [
        _missing("exercise", _words_before(reading), vocabulary),
        _missing("comparator", _words_after(reading), vocabulary),
    ]


def _same_on_both(parts: list[Part]) -> list[Part]:
    one, other = parts
    if one.value is not None and one.value == other.value:
        how = "both sides are the same exercise: which detail sets them apart (stance, angle, load)?"
        return [one, other, Part("details", None, "", "asked", how)]
    return parts


def _side(name: str, mention: Mention) -> Part:
    return part_of(name, mention.text, mention.found)


def _missing(name: str, words: str, vocabulary: Vocabulary) -> Part:
    """A side that no known exercise fills, with the nearest names where words stand in its place."""
    if not words:
        what = "compared with what?" if name == "comparator" else "which exercise?"
        return Part(name, None, "", "asked", what)
    return part_of(name, words, vocabulary.find_exercise(words))


def _cut(reading: Reading) -> int | None:
    """Where the first side ends."""
    return reading.link.start() if reading.link else None


def _words_before(reading: Reading) -> str:
    """The words before the first verb or link that may name an exercise."""
    text = reading.text
    ends = [m.start() for m in (reading.link, _first_verb(text)) if m]
    return _content(text[: min(ends)] if ends else text)


def _words_after(reading: Reading) -> str:
    """The words after the link that may name an exercise, up to "for", "in" or the like."""
    if reading.link is None:
        return ""
    rest = reading.text[reading.link.end() :]
    return _content(re.split(r"\b(?:for|in|on|over|after|when|among|at)\b|,", rest)[0])


def _first_verb(text: str) -> "re.Match[str] | None":
    cues = load_cues()
    return search_phrase(
        text, [*(w for words in cues["verbs"].values() for w in words), *cues["direction"]["more"]]
    )


def _content(text: str) -> str:
    tokens = split_words(text)
    kept = [t for t in tokens if not is_small_word(t)]
    return text[kept[0].start : kept[-1].end] if kept else ""
