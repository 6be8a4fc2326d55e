"""Phrases of a word list in a sentence: whole words, a star for any ending, the longest first."""

import re
from collections.abc import Iterable, Sequence
from functools import cache


def find_phrase(text: str, phrases: Iterable[str]) -> str | None:
    """The first phrase of the list in the text, as the text has it."""
    match = search_phrase(text, phrases)
    return match.group() if match else None


def search_phrase(text: str, phrases: Iterable[str]) -> re.Match[str] | None:
    """The leftmost place of any phrase; of several that start there the longest."""
    return compile_phrases(tuple(str(p) for p in phrases)).search(text)


def all_phrases(text: str, phrases: Sequence[str]) -> list[re.Match[str]]:
    """Every place of any phrase, none inside another."""
    return list(compile_phrases(tuple(str(p) for p in phrases)).finditer(text))


@cache
def compile_phrases(phrases: tuple[str, ...]) -> re.Pattern[str]:
    """One pattern for a list. A phrase with brackets or dots is a pattern already."""
    parts = [
        phrase
        if re.search(r"[.(|?]", phrase)
        else re.escape(phrase).replace(r"\*", r"\w*").replace(r"\ ", r"\s+")
        for phrase in sorted(phrases, key=len, reverse=True)
    ]
    return re.compile(r"(?<![\w-])(?:" + "|".join(parts) + r")(?![\w-])", re.IGNORECASE)
