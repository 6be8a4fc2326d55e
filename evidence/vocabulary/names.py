"""Names as people write them: bringing a text to comparable words, and the answer that a look-up gives."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

_IRREGULAR = {"calves": "calf", "abs": "abs", "ups": "up", "gas": "gas", "feet": "foot"}
_KEEP_S = ("ss", "us", "is", "ceps", "os")


@dataclass(frozen=True, slots=True)
class Candidate:
    """An entry that a text may mean. `score` runs from 0 to 100; `reason` says why it is here, in words."""

    id: str
    name: str
    score: float
    reason: str


@dataclass(frozen=True, slots=True)
class Lookup:
    """The answer to "which entry is this?": one match, several that fit (ask a person), or none.

    `unused` holds words of the text that the match does not account for ("paused", "scapulae retracted"):
    details to keep. `broad` is true where the text is a general word ("squat") or an abbreviation that stands
    for this entry by habit: the reading is to be shown. `other` lists readings outside the vocabulary
    ("superset"). With "none", `candidates` are the nearest names, none near enough to be meant.
    """

    text: str
    outcome: Literal["match", "ambiguous", "none"]
    match: str | None = None
    candidates: tuple[Candidate, ...] = ()
    unused: tuple[str, ...] = ()
    broad: bool = False
    other: tuple[str, ...] = ()

    @property
    def reason(self) -> str:
        """Why the best candidate was taken ("" where there is none)."""
        return self.candidates[0].reason if self.candidates else ""


def words_of(text: str) -> tuple[str, ...]:
    """The words of `text`: lower case, no accents, no punctuation, singular."""
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c)).lower().replace("ß", "ss")
    plain = re.sub(r"['’`´]s?\b", lambda m: "s" if m.group().endswith("s") else "", plain)
    return tuple(_singular(word) for word in re.findall(r"[^\W_]+", plain.replace("&", " and ")))


def _singular(word: str) -> str:
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if len(word) > 3 and word.endswith("s") and not word.endswith(_KEEP_S):
        return word[:-2] if word.endswith(("ches", "shes", "sses")) else word[:-1]
    return word


def key_of(text: str) -> str:
    """`text` as one comparable string: "Pull-Ups", "pull up" and "pullup" share a key."""
    return "".join(words_of(text))


def expand_words(words: tuple[str, ...], meanings: Mapping[str, str]) -> tuple[str, ...]:
    """Short words replaced by what they stand for ("db row" -> "dumbbell row"), in order, without repeats."""
    full: dict[str, None] = {}
    for word in words:
        for part in words_of(meanings[word]) if word in meanings else (word,):
            full[part] = None
    return tuple(full)


def is_abbreviation(text: str) -> bool:
    """Whether `text` looks like an abbreviation: up to five letters, mostly capitals."""
    letters = [c for c in text if c.isalpha()]
    return (
        1 < len(letters) <= 5
        and " " not in text.strip()
        and sum(c.isupper() for c in letters) * 2 > len(letters)
    )
