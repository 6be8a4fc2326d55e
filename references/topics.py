"""Topic words: fold inflections and everyday words for one thing onto one term."""

import re
from collections.abc import Iterable
from functools import cache, lru_cache

from references.folding import fold
from references.rules import load_rules


@cache
def _phrases() -> tuple[tuple[str, str], ...]:
    """Phrases of several words and the term each stands for, the longest first."""
    pairs = [(fold(p), fold(line[0]).replace(" ", "")) for line in _lines() for p in line if " " in fold(p)]
    return tuple(sorted(pairs, key=lambda pair: -len(pair[0])))


@cache
def _single_words() -> dict[str, str]:
    words: dict[str, str] = {}
    for line in _lines():
        term = fold(line[0]).replace(" ", "")
        for phrase in line:
            folded = fold(phrase)
            if " " not in folded:
                words[folded] = term
                words.setdefault(stem(folded), term)
    return words


def _lines() -> list[list[str]]:
    lines: list[list[str]] = load_rules("mentions")["synonyms"]
    return [[str(word) for word in line] for line in lines]


@cache
def topic_stopwords() -> frozenset[str]:
    """Words that say nothing of a topic."""
    return frozenset(str(word) for word in load_rules("mentions")["topic_stopwords"])


_SUFFIXES = (
    *(("isations", "is"), ("isation", "is"), ("ised", "is"), ("ising", "is"), ("ises", "is"), ("ise", "is")),
    *(("ies", "y"), ("sses", "ss"), ("ations", "at"), ("ation", "at"), ("ated", "at"), ("ating", "at")),
    *(
        ("ates", "at"),
        ("ate", "at"),
        ("ings", ""),
        ("ing", ""),
        ("edly", ""),
        ("ed", ""),
        ("es", ""),
        ("s", ""),
    ),
)


@lru_cache(maxsize=65536)
def stem(word: str) -> str:
    """A word without its inflection: `squatting` and `squats` are `squat`. Coarse, the same on both sides."""
    word = re.sub(r"yz(?=e|ing)", "ys", re.sub(r"iz(?=e|ing|ation)", "is", word))
    for suffix, left in _SUFFIXES:
        if (
            word.endswith(suffix)
            and len(word) - len(suffix) + len(left) >= 3
            and not word.endswith(("ss", "us"))
        ):
            word = word[: len(word) - len(suffix)] + left
            break
    if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "sl":
        word = word[:-1]
    return word[:-1] if word.endswith("e") and len(word) > 3 else word


def topic_terms(folded: str) -> list[str]:
    """The topic terms of a folded text, in order, stop words left out."""
    text = f" {folded} "
    terms: list[str] = []
    for phrase, term in _phrases():
        if f" {phrase} " in text:
            text = text.replace(f" {phrase} ", " ")
            terms.append(term)
    terms += [term_of(word) for word in text.split() if word not in topic_stopwords()]
    return terms


def term_of(word: str) -> str:
    """The term that one folded word stands for."""
    words = _single_words()
    return words.get(word) or words.get(stem(word)) or stem(word)


def terms_of(texts: Iterable[str | None]) -> frozenset[str]:
    """All topic terms of some texts, markup and all."""
    return frozenset(term for text in texts if text for term in topic_terms(fold(text)))


def same_topic(text: str) -> tuple[tuple[str, ...], ...]:
    """For each topic that a text names, in order: its word or phrase, then other words for the same topic."""
    words = fold(text).split()
    longest = max((len(phrase.split()) for phrase, _ in _phrases()), default=1)
    found: list[tuple[str, ...]] = []
    at = 0
    while at < len(words):
        for length in range(min(longest, len(words) - at), 0, -1):
            phrase = " ".join(words[at : at + length])
            names = _names_of_topic(phrase)
            if names or length == 1:
                found.append(tuple(dict.fromkeys((phrase, *names))))
                at += length
                break
    return tuple(found)


def _names_of_topic(phrase: str) -> list[str]:
    lines = [[fold(name) for name in line] for line in _lines()]
    return next((line for line in lines if phrase in line), [])
