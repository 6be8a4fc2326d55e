"""Take a mention apart: years, sample sizes, kind of work, part, whether a person is only quoted, and its
words.
"""

import re
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from references.folding import count_from, fold
from references.rules import load_rules

_TOKEN = re.compile(r"[^\W\d_]+(?:[-’'][^\W\d_]+)*|\d+(?:[.,]\d+)?%?", re.UNICODE)
_UNIT_TEXT = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
)
_UNITS = {word: number for number, word in enumerate(_UNIT_TEXT.split())}
_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80}
_TENS |= {"ninety": 90}
_PEOPLE = re.compile(
    r"^(?:trained|untrained|healthy|young|older|elderly|recreational|male|female|adolescent|active|resistance)$"
)
_PERSON_TEXT = (
    "women men people participants subjects adults athletes lifters players students soldiers girls boys persons "
    "volunteers patients runners males females folks guys"
)
_PERSONS = frozenset(_PERSON_TEXT.split())


@dataclass(frozen=True, slots=True)
class Token:
    """A word of a mention as folded words (a hyphen splits), and what stood around it.

    `possessive`: ended in 's or s'. `comma`: a comma, stop or bracket follows. `capital`: began with a
    capital.
    """

    words: tuple[str, ...]
    possessive: bool
    comma: bool
    capital: bool
    raw: str


@dataclass(frozen=True, slots=True)
class Mention:
    """What a mention says. `used` holds the indices of tokens that are spoken for (years, counts, kinds).

    `practice`: it tells what somebody does or should do, and no word of it speaks of a work. `denied`: kinds of work
    that are not meant ("not the review").
    """

    text: str
    tokens: tuple[Token, ...]
    folded: str
    years: tuple[int, ...]
    hedged: bool
    sample_sizes: tuple[int, ...]
    kinds: tuple[str, ...]
    part: int | None
    et_al: bool
    quoting: bool
    general: bool
    practice: bool
    denied: tuple[str, ...]
    used: frozenset[int]


def read_mention(text: str) -> Mention:
    """Take a mention apart. Any text is accepted; there may be nothing in it."""
    tokens = tuple(_split(text))
    folded = " ".join(word for token in tokens for word in token.words)
    used: set[int] = set()
    years = _find_years(text, tokens, used)
    part = _find_part(tokens, used)
    sizes = _find_sizes(tokens, used)
    rules = load_rules("mentions")
    et_al = bool(re.search(r"\bet al\b", folded)) or "colleagues" in folded or "co workers" in folded
    studied = _has_any(folded, rules["study_words"]) or bool(years)
    denied = _find_denied(tokens, rules["denying"], used)
    affirmed = " ".join(word for at, token in enumerate(tokens) if at not in used for word in token.words)
    kinds = _find_kinds(affirmed, rules)
    return Mention(
        text=text,
        tokens=tokens,
        folded=folded,
        years=years,
        hedged=_has_any(folded, rules["hedges"]),
        sample_sizes=sizes,
        kinds=kinds,
        part=part,
        et_al=et_al,
        quoting=_has_any(folded, rules["quoting"]) and not studied,
        general=_has_any(folded, rules["general_words"]),
        practice=not (studied or kinds or sizes or denied) and _tells_practice(folded, rules),
        denied=denied,
        used=frozenset(used),
    )


def _split(text: str) -> list[Token]:
    tokens = []
    for found in _TOKEN.finditer(text):
        raw = found.group()
        after = text[found.end() : found.end() + 1]
        bare, possessive = _take_possessive(raw, after)
        words = tuple(fold(bare.replace("-", " ")).split())
        if words:
            tokens.append(
                Token(words, possessive, after in ",.;:()—–" and bool(after), raw[:1].isupper(), raw)
            )
    return tokens


def _take_possessive(raw: str, after: str) -> tuple[str, bool]:
    for ending in ("'s", "’s"):
        if raw.lower().endswith(ending):
            return raw[:-2], True
    return raw, after in ("'", "’") and raw.lower().endswith("s")


def _has_any(folded: str, phrases: list[str]) -> bool:
    return any(f" {phrase} " in f" {folded} " for phrase in phrases)


def _tells_practice(folded: str, rules: dict[str, Any]) -> bool:
    """Whether it speaks of what people do (`we rest three minutes`), hedges such as `I think` aside."""
    rest = f" {folded} "
    for hedge in rules["hedges"]:
        rest = rest.replace(f" {hedge} ", " ")
    return _has_any(rest.strip(), rules["practice"])


def _find_denied(tokens: tuple[Token, ...], denying: list[str], used: set[int]) -> tuple[str, ...]:
    """Kinds of work that are ruled out: `not the meta-analysis`. The tokens that say so are marked as used."""
    flat = _words(tokens)
    words = [word for word, _ in flat]
    found: list[str] = []
    for start in range(len(words)):
        taken = next((n for n in (2, 1) if " ".join(words[start : start + n]) in denying), 0)
        if not taken:
            continue
        at = start + taken
        while at < len(words) and words[at] in _DETERMINERS:
            at += 1
        for phrase, kind in _kind_phrases():
            length = len(phrase.split())
            if " ".join(words[at : at + length]) == phrase:
                found.append(kind)
                used.update(index for _, index in flat[start : at + length])
                break
    return tuple(dict.fromkeys(found))


_DETERMINERS = frozenset({"the", "a", "an", "his", "her", "their", "that"})


def _words(tokens: tuple[Token, ...]) -> list[tuple[str, int]]:
    return [(word, index) for index, token in enumerate(tokens) for word in token.words]


def _find_years(text: str, tokens: tuple[Token, ...], used: set[int]) -> tuple[int, ...]:
    """Years in digits (`2017`, `2017b`, `'17`) or spoken; the tokens they take are marked as used."""
    years: list[int] = []
    short = set(re.findall(r"(?<!\w)['’](\d\d)\b", text))
    for index, token in enumerate(tokens):
        if re.fullmatch(r"(?:18|19|20)\d\d", token.words[0]):
            years.append(int(token.words[0]))
            used.add(index)
        elif token.raw in short:
            years.append(1900 + int(token.raw) if int(token.raw) > 40 else 2000 + int(token.raw))
            used.add(index)
    flat = _words(tokens)
    start = 0
    while start < len(flat):
        year, length = spoken_year([word for word, _ in flat[start : start + 6]])
        if year:
            years.append(year)
            used.update(index for _, index in flat[start : start + length])
            start += length
        else:
            start += 1
    return tuple(dict.fromkeys(years))


def spoken_year(words: list[str]) -> tuple[int | None, int]:
    """A year at the start of some words (`twenty twenty one`, `two thousand and five`, `nineteen ninety`),
    and how
    many of them it takes; (None, 0) if there is none."""
    if not words:
        return None, 0
    if words[:2] == ["two", "thousand"]:
        rest = words[3:] if words[2:3] == ["and"] else words[2:]
        taken = 3 if words[2:3] == ["and"] else 2
        value, length = spoken_number(rest)
        if value is not None and 0 < value < 100:
            return 2000 + value, taken + length
        return 2000, 2
    if words[0] in ("nineteen", "twenty"):
        century = 1900 if words[0] == "nineteen" else 2000
        if words[1:2] in (["oh"], ["o"], ["hundred"]) and words[2:3] and words[2] in _UNITS:
            return century + _UNITS[words[2]], 3
        value, length = spoken_number(words[1:])
        if value is not None and 10 <= value < 100:
            year = century + value
            return (year, 1 + length) if year <= 2035 or century == 1900 else (None, 0)
    return None, 0


def spoken_number(words: list[str]) -> tuple[int | None, int]:
    """A number below 1,000 at the start of some words, and how many of them it takes."""
    if not words:
        return None, 0
    first = words[0]
    if words[1:2] == ["hundred"] and first in _UNITS and 0 < _UNITS[first] < 10:
        rest = words[3:] if words[2:3] == ["and"] else words[2:]
        value, length = spoken_number(rest)
        taken = 3 if words[2:3] == ["and"] else 2
        if value is not None and value < 100:
            return _UNITS[first] * 100 + value, taken + length
        return _UNITS[first] * 100, 2
    if first in _TENS:
        if len(words) > 1 and 0 < _UNITS.get(words[1], 0) < 10:
            return _TENS[first] + _UNITS[words[1]], 2
        return _TENS[first], 1
    return (_UNITS[first], 1) if first in _UNITS else (None, 0)


def _find_part(tokens: tuple[Token, ...], used: set[int]) -> int | None:
    flat = _words(tokens)
    for (word, index), (following, at) in pairwise(flat):
        number = count_from(following)
        if word == "part" and number is not None and following not in ("a", "first"):
            used.update((index, at))
            return number
        if following == "part" and word in ("first", "second", "third", "fourth"):
            used.update((index, at))
            return count_from(word)
    return None


def _find_sizes(tokens: tuple[Token, ...], used: set[int]) -> tuple[int, ...]:
    """Numbers of people: `47 trained women`, `n = 47`, `with forty-seven lifters`."""
    flat = _words(tokens)
    sizes = []
    for start, (word, index) in enumerate(flat):
        if index in used:
            continue
        if re.fullmatch(r"\d{1,6}", word):
            value, length = int(word), 1
        else:
            spoken, length = spoken_number([w for w, _ in flat[start : start + 5]])
            if spoken is None:
                continue
            value = spoken
        before = flat[start - 1][0] if start else ""
        following = [w for w, _ in flat[start + length : start + length + 3]]
        while following and _PEOPLE.match(following[0]) and len(following) > 1:
            del following[0]
        if before == "n" or (following and following[0] in _PERSONS):
            sizes.append(value)
            used.update(at for _, at in flat[start : start + length])
    return tuple(sizes)


def _find_kinds(folded: str, rules: dict[str, Any]) -> tuple[str, ...]:
    """Kinds of work named, the longest phrase first, so that a conference abstract is no review."""
    found: list[str] = []
    rest = f" {folded} "
    for phrase, kind in _kind_phrases():
        if f" {phrase} " in rest:
            rest = rest.replace(f" {phrase} ", " ")
            found.append(kind)
    return tuple(dict.fromkeys(found))


@cache
def _kind_phrases() -> tuple[tuple[str, str], ...]:
    kinds: dict[str, list[str]] = load_rules("mentions")["kinds"]
    pairs = [(phrase, kind) for kind, phrases in kinds.items() for phrase in phrases]
    return tuple(sorted(pairs, key=lambda pair: -len(pair[0])))
