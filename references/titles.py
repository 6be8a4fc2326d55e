"""How far two folded titles are apart: as text, by words that replace each other, and by numbers."""

from dataclasses import dataclass
from functools import cache, lru_cache

from rapidfuzz import fuzz

from references.folding import content_words, count_from, words_of
from references.rules import load_rules
from references.venues import abbreviates


@dataclass(frozen=True, slots=True)
class TitleGap:
    """Amounts from 0 to 1 for text, replaced words and numbers, with the reason for each."""

    amount: float
    reason: str = ""
    words: float = 0.0
    word_reason: str = ""
    numbers: float = 0.0
    number_reason: str = ""


_SAME = TitleGap(0.0)


def compare_titles(a: str, b: str) -> TitleGap:
    """Compare two folded titles; word order, a dropped subtitle and joined words cost little."""
    if a == b or a.replace(" ", "") == b.replace(" ", ""):
        return _SAME
    likeness = max(fuzz.ratio(a, b), fuzz.token_sort_ratio(a, b) - 2.0) / 100
    reason = f"{likeness:.0%} of the letters agree"
    likeness, reason = _allow_dropped_words(a, b, likeness, reason)
    amount = min(1.0, max(0.0, (1.0 - likeness) / 0.45))
    if amount >= 1.0:
        return TitleGap(1.0, reason)
    only_a, only_b = _differing_words(a, b)
    numbers, number_reason = _compare_numbers(only_a, only_b)
    words, word_reason = _compare_words(only_a, only_b)
    return TitleGap(amount, reason, words, word_reason, numbers, number_reason)


def _allow_dropped_words(a: str, b: str, likeness: float, reason: str) -> tuple[float, str]:
    short, long = sorted((a, b), key=len)
    if len(short) < 12 or short.count(" ") < 1 or f" {short} " not in f" {long} ":
        return likeness, reason
    # the more of the longer title is missing, the less the shorter one says
    share = len(short) / len(long)
    allowed = 0.90 + 0.08 * share if long.startswith(short) else 0.80 + 0.16 * share
    if short.count(" ") < 3:
        allowed -= 0.06
    return (
        (allowed, "one title is the start or a piece of the other")
        if allowed > likeness
        else (likeness, reason)
    )


def _differing_words(a: str, b: str) -> tuple[list[str], list[str]]:
    """Content words of each title without a like word in the other (misspellings and joined words
    forgiven).
    """
    words_a, words_b = content_words(words_of(a)), content_words(words_of(b))
    set_a, set_b = set(words_a), set(words_b)
    only_a = [word for word in words_a if word not in set_b]
    only_b = [word for word in words_b if word not in set_a]
    if only_a and only_b and "".join(only_a) == "".join(only_b):
        return [], []
    for word in list(only_a) if only_b else ():
        like = next((other for other in only_b if _are_one_word(word, other)), None)
        if like is not None:
            only_a.remove(word)
            only_b.remove(like)
    return _drop_joined(only_a, only_b, b), _drop_joined(only_b, only_a, a)


def _drop_joined(words: list[str], others: list[str], other_title: str) -> list[str]:
    """The words without those that the other title only joins or splits (`data base`); `trained` in `untrained`
    is no such word.
    """
    joined = other_title.replace(" ", "")
    return [
        word
        for word in words
        if len(word) < 4 or word not in joined or any(are_contrasted(word, other) for other in others)
    ]


@lru_cache(maxsize=65536)
def _are_one_word(a: str, b: str) -> bool:
    """Whether two words are spellings or inflections of one; never two sides of a contrast, never two
    numbers.
    """
    if count_from(a) is not None and count_from(b) is not None:
        return count_from(a) == count_from(b)
    if a.isdecimal() or b.isdecimal() or are_contrasted(a, b):
        return False
    short, long = sorted((a, b), key=len)
    if (len(short) >= 4 and long.startswith(short)) or (len(long) >= 7 and abbreviates(short, long)):
        return True
    return fuzz.ratio(a, b) >= 74


@lru_cache(maxsize=65536)
def are_contrasted(a: str, b: str) -> bool:
    """Whether sister papers differ by just these words: women and men, trained and untrained."""
    groups = _contrast_groups()
    if a in groups and b in groups and groups[a] & groups[b]:
        return a.rstrip("s") != b.rstrip("s")
    short, long = (a, b) if len(a) <= len(b) else (b, a)
    if len(short) < 5 or short[-4:] != long[-4:]:
        return False
    stems_a, stems_b = _stems(a), _stems(b)
    return any(stem in stems_b and stems_b[stem] != prefix for stem, prefix in stems_a.items())


def _stems(word: str) -> dict[str, str]:
    """What is left of a word without each prefix that turns a meaning round; the whole word has none."""
    prefixes: list[str] = load_rules("duplicates")["contrast_prefixes"]
    found = {word[len(prefix) :]: prefix for prefix in prefixes if word.startswith(prefix)}
    return {stem: prefix for stem, prefix in found.items() if len(stem) >= 5} | {word: ""}


@cache
def _contrast_groups() -> dict[str, frozenset[int]]:
    groups: dict[str, set[int]] = {}
    for number, line in enumerate(load_rules("duplicates")["contrasts"]):
        for word in line:
            groups.setdefault(str(word), set()).add(number)
    return {word: frozenset(numbers) for word, numbers in groups.items()}


def _compare_words(only_a: list[str], only_b: list[str]) -> tuple[float, str]:
    words_a = [word for word in only_a if not word.isdecimal()]
    words_b = [word for word in only_b if not word.isdecimal()]
    for one in words_a:
        for other in words_b:
            if are_contrasted(one, other):
                return 1.0, f"{one} / {other}"
    replaced = min(len(words_a), len(words_b))
    if replaced:
        return min(1.0, 0.4 + 0.2 * replaced), f"{' '.join(words_a)} / {' '.join(words_b)}"
    extra = words_a or words_b
    contrasted = [word for word in extra if word in _contrast_groups()]
    if contrasted:
        return 0.2, f"only one says {' '.join(contrasted)}"
    return 0.0, ""


def _compare_numbers(only_a: list[str], only_b: list[str]) -> tuple[float, str]:
    numbers_a = [word for word in only_a if count_from(word) is not None or word.isdecimal()]
    numbers_b = [word for word in only_b if count_from(word) is not None or word.isdecimal()]
    if numbers_a and numbers_b:
        return 1.0, f"{' '.join(numbers_a)} / {' '.join(numbers_b)}"
    alone = numbers_a or numbers_b
    return (0.2, f"only one says {' '.join(alone)}") if alone else (0.0, "")
