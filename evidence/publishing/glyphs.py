"""Which characters the embedded fonts can show. Others are told by their code point: no text vanishes."""

import re
from functools import cache
from importlib.resources import files

from evidence.publishing.templating import clean_text

# format characters that a font need not hold: joiners, direction marks, soft hyphen, variation selectors, tags
UNSEEN = re.compile(
    "[\u00ad\u034f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufe00-\ufe0f\ufeff\U000e0000-\U000e0fff]"
)
LONG = 28  # characters without a place to break at, after which a line may be broken anyway


@cache
def covered() -> frozenset[int]:
    """The code points that at least one embedded font holds."""
    text = (files("evidence.publishing") / "fonts" / "coverage.txt").read_text("ascii")
    points: set[int] = set()
    for line in text.split():
        low, _, high = line.partition("-")
        points.update(range(int(low, 16), int(high or low, 16) + 1))
    return frozenset(points)


def showable(text: str) -> str:
    """Text of which each character can be set: `[U+6F22]` for one that no embedded font holds."""
    known = covered()
    plain = UNSEEN.sub("", clean_text(text)).replace("\t", " ")
    return "".join(c if ord(c) in known or c == "\n" else f"[U+{ord(c):04X}]" for c in plain)


def missing(text: str) -> tuple[str, ...]:
    """The characters of a text that no embedded font holds, each once, in order."""
    plain = UNSEEN.sub("", clean_text(text))
    known = covered()
    return tuple(dict.fromkeys(c for c in plain if ord(c) not in known and c not in "\n\t"))


def breakable(text: str) -> str:
    """Text whose longest words may be broken: a zero-width space after marks in them, or where there are none."""
    return re.sub(rf"\S{{{LONG},}}", lambda m: _allow_breaks(m[0]), text)


def _allow_breaks(word: str) -> str:
    parts = re.split(r"(?<=[/_.?&=-])(?=[^/])", word)
    return "\u200b".join(piece for part in parts for piece in _pieces(part))


def _pieces(word: str) -> list[str]:
    step = LONG - 1
    return [word[i : i + step] for i in range(0, len(word), step)]
