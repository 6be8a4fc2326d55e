"""Find the surnames in a mention: exact, misspelt, as they sound, or as a recogniser wrote them."""

from dataclasses import dataclass
from functools import cache

from references.folding import STOPWORDS
from references.mention_index import MentionIndex, nearby_spellings
from references.mention_reading import Mention, Token
from references.rules import load_rules
from references.sounds import sound_alike
from references.topics import term_of, topic_stopwords

_LONGEST = 5  # words of one spoken surname


@dataclass(frozen=True, slots=True)
class NamedAuthor:
    """A stretch of the mention read as a surname.

    `spellings`: catalogue surnames it may be, with how well each fits (0 to 1). `start`, `end`: its tokens.
    """

    heard: str
    spellings: dict[str, float]
    start: int
    end: int

    @property
    def exact(self) -> bool:
        """Whether it is spelt as in the catalogue."""
        return max(self.spellings.values()) >= 0.99


@dataclass(frozen=True, slots=True)
class Names:
    """Surnames found in a mention, and words that must be a surname but are none of the catalogue."""

    found: tuple[NamedAuthor, ...]
    unknown: tuple[str, ...]


def find_names(mention: Mention, index: MentionIndex, taken: frozenset[int]) -> Names:
    """Surnames named in a mention; `taken` are tokens already read as something else."""
    tokens = mention.tokens
    windows: list[NamedAuthor] = []
    for start in range(len(tokens)):
        for length in range(1, min(_LONGEST, len(tokens) - start) + 1):
            stretch = range(start, start + length)
            if taken & set(stretch):
                break
            named = _match_window(tokens, start, start + length, index)
            if named:
                windows.append(named)
            if tokens[start + length - 1].possessive and length > 1 and named:
                break
    chosen = _choose(windows)
    return Names(chosen, _find_unknown(tokens, chosen, taken, index))


def _choose(windows: list[NamedAuthor]) -> tuple[NamedAuthor, ...]:
    """Stretches that do not overlap: the best fit first, then the longest."""
    kept: list[NamedAuthor] = []
    for window in sorted(windows, key=lambda w: (-max(w.spellings.values()), w.start - w.end, w.start)):
        if all(window.end <= other.start or window.start >= other.end for other in kept):
            kept.append(window)
    return tuple(sorted(kept, key=lambda window: window.start))


def _match_window(tokens: tuple[Token, ...], start: int, end: int, index: MentionIndex) -> NamedAuthor | None:
    heard = " ".join(
        word for token in tokens[start:end] for word in _spoken(token, last=token is tokens[end - 1])
    )
    joined = heard.replace(" ", "")
    words = [word for token in tokens[start:end] for word in token.words]
    if len(joined) < 2 or any(character.isdigit() for character in joined) or {"and", "et"} & set(words):
        return None
    cue = _has_cue(tokens, start, end)
    common = [_is_common(word, index) for word in words]
    spelling = next((s for s in (heard, joined) if s in index.by_surname), None)
    if spelling is None:
        spelling = next((s for s in _same_letters(index, joined)), None)
    if spelling is not None:
        if all(common) and not cue and not tokens[start].capital:
            return None
        return NamedAuthor(heard, {spelling: 1.0}, start, end)
    if (
        words[0] in STOPWORDS
        and not cue
        and words[0] not in ("de", "la", "van", "den", "von", "der", "di", "da")
    ):
        return None
    if all(common) and not cue:
        return None
    if (
        (common[-1] or common[0])
        and len(words) > 1
        and not (all(common) and cue)
        and _is_spare(words, common)
    ):
        return None
    spellings = {
        name: score for name in nearby_spellings(index, heard) if (score := sound_alike(heard, name)) > 0.0
    }
    spellings |= _partial(index, heard, joined, common)
    spellings |= _pronounced(index, heard) if cue else {}
    if not spellings:
        return None
    best = max(spellings.values())
    return NamedAuthor(heard, {name: s for name, s in spellings.items() if s >= best - 0.08}, start, end)


def _is_spare(words: list[str], common: list[bool]) -> bool:
    """Whether a stretch only adds a stop word or topic word to a name."""
    return any(word in topic_stopwords() for word, is_common in zip(words, common, strict=True) if is_common)


def _spoken(token: Token, *, last: bool) -> tuple[str, ...]:
    """A possessive inside a stretch is part of how the name was heard: `thor stein's daughter`."""
    if token.possessive and not last:
        return (*token.words[:-1], token.words[-1] + "s")
    return token.words


def _same_letters(index: MentionIndex, joined: str) -> list[str]:
    return [name for name in nearby_spellings(index, joined) if name.replace(" ", "") == joined]


def _partial(index: MentionIndex, heard: str, joined: str, common: list[bool]) -> dict[str, float]:
    """Double-barrelled surnames of which one part is named."""
    if len(joined) < 5 or all(common):
        return {}
    return {name: 0.75 for name in index.by_surname if " " in name and heard in name.split()}


def _pronounced(index: MentionIndex, heard: str) -> dict[str, float]:
    spellings: dict[str, list[str]] = load_rules("mentions")["pronunciations"]
    return {
        name: 0.85
        for name, sounds in spellings.items()
        if heard in map(str, sounds) and name in index.by_surname
    }


@cache
def _common_words() -> frozenset[str]:
    return frozenset(str(word) for word in load_rules("mentions")["common_words"])


def _is_common(word: str, index: MentionIndex) -> bool:
    """An everyday word, a word of some record's topic, or a stop word: seldom a surname."""
    return (
        word in _common_words()
        or word in topic_stopwords()
        or word in STOPWORDS
        or term_of(word) in index.title_terms
    )


_AFTER = frozenset({"et", "etal", "colleagues"})


def _has_cue(tokens: tuple[Token, ...], start: int, end: int) -> bool:
    """Whether the words around a stretch say that a surname stands there."""
    last = tokens[end - 1]
    following = tokens[end].words[0] if end < len(tokens) else ""
    second = tokens[end + 1].words[0] if end + 1 < len(tokens) else ""
    before = tokens[start - 1].words[-1] if start else ""
    opening = start == 0 or (start == 1 and before in ("the", "a", "that", "see", "cf"))
    if following in _AFTER or (following == "and" and second in ("colleagues", "co")):
        return True
    if before == "by" or (before == "and" and start > 1 and last.capital):
        return True
    if last.capital and (last.possessive or last.comma or _is_year(following)):
        return True
    return opening and (
        last.possessive or last.comma or _is_year(following) or following in ("and", "on", "study", "paper")
    )


def _is_year(word: str) -> bool:
    return word in ("twenty", "nineteen") or (
        len(word) == 4 and word.isdecimal() and word[:2] in ("18", "19", "20")
    )


def _find_unknown(
    tokens: tuple[Token, ...], found: tuple[NamedAuthor, ...], taken: frozenset[int], index: MentionIndex
) -> tuple[str, ...]:
    """Words where a surname must stand that no record has: `Smithson 2015`."""
    covered = {at for named in found for at in range(named.start, named.end)} | taken
    unknown = []
    for at, token in enumerate(tokens):
        if at in covered or any(_is_common(word, index) for word in token.words) or len(token.words[0]) < 3:
            continue
        named = token.capital and (at > 0 or _has_cue(tokens, at, at + 1))
        if (named and _has_cue(tokens, at, at + 1)) or (
            not token.capital and at == 0 and _has_cue(tokens, at, at + 1)
        ):
            unknown.append(token.raw)
    return tuple(unknown)
