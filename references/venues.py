"""How far two folded names of journals or meetings are apart; abbreviations and initials cost nothing."""

from functools import cache, lru_cache

from rapidfuzz import fuzz

from references.folding import STOPWORDS
from references.rules import load_rules

_SKIPPED = STOPWORDS | {"acm", "ieee", "annual", "intl", "official"}


@lru_cache(maxsize=65536)
def compare_venues(a: str, b: str) -> float:
    """Amount from 0 (one venue) to 1."""
    if a == b:
        return 0.0
    words_a, words_b = _words(a), _words(b)
    if words_a == words_b:
        return 0.0
    if not words_a or not words_b:
        return 0.5
    if is_initialism(words_a, words_b) or is_initialism(words_b, words_a):
        return 0.0
    short, long = (words_a, words_b) if len(words_a) <= len(words_b) else (words_b, words_a)
    found = _count_in_order(short, long)
    if found == len(short) == len(long):
        return 0.0
    kinds = _kind(words_a), _kind(words_b)
    other_kind = None not in kinds and kinds[0] != kinds[1]
    if found == len(short) and len(short) > 1 and not other_kind:
        return 0.1
    share = max(found / len(short), fuzz.token_sort_ratio(a, b) / 100)
    return 1.0 if other_kind else min(1.0, max(0.2, (1.0 - share) / 0.6))


def _words(venue: str) -> tuple[str, ...]:
    return tuple(word for word in venue.split() if word not in _SKIPPED and not word.isdecimal())


def is_initialism(short: tuple[str, ...], long: tuple[str, ...]) -> bool:
    """Whether the first name is one word made of the initials of the other: `jscr`."""
    if len(short) != 1 or len(long) < 2 or len(short[0]) > len(long) + 1:
        return False
    return short[0] == "".join(word[0] for word in long)


def abbreviates(short: str, long: str) -> bool:
    """Whether a word shortens another: its start (`physiol`), or first letter and a run of letters
    (`natl`).
    """
    if long.startswith(short):
        return True
    if len(short) < 3 or short[0] != long[0] or len(short) >= len(long):
        return False
    letters = iter(long)
    return all(letter in letters for letter in short)


def _count_in_order(short: tuple[str, ...], long: tuple[str, ...]) -> int:
    """How many words of the shorter name abbreviate, or are abbreviated by, words of the longer one in
    turn.
    """
    found, start = 0, 0
    for word in short:
        for index in range(start, len(long)):
            if abbreviates(word, long[index]) or abbreviates(long[index], word):
                found, start = found + 1, index + 1
                break
    return found


def _kind(words: tuple[str, ...]) -> str | None:
    """Whether a name calls itself a meeting or a journal."""
    meeting, journal = _kind_words()
    if any(word in meeting for word in words):
        return "meeting"
    return "journal" if any(word in journal for word in words) else None


@cache
def _kind_words() -> tuple[frozenset[str], frozenset[str]]:
    rules = load_rules("duplicates")
    return frozenset(rules["meeting_words"]), frozenset(rules["journal_words"])
