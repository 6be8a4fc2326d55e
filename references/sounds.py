"""Which written words may be the same spoken name: a sound key for surnames of many languages.

The key keeps the consonants as a listener groups them (k c q g x; s z sh ch; f v w; t d th; p b; m n; l;
r) and
drops vowels and silent letters, after the idea of Soundex (Russell 1918) with groups coarse enough for a
speech
recogniser that writes a foreign name as English words.
"""

import re
from functools import lru_cache

from rapidfuzz import fuzz

# in this order, on a folded word without spaces
_SPELLINGS = (
    ("sch", "s"), ("szcz", "s"), ("cz", "s"), ("sz", "s"), ("tch", "s"), ("tsch", "s"), ("sh", "s"), ("ch",
    "s"), ("zh", "s"), ("dzh", "s"), ("rz", "s"), ("dge", "s"), ("ph", "f"), ("ugh", ""), ("igh", "i"),
    ("gh", ""), ("kn", "n"), ("gn", "n"), ("wr", "r"), ("th", "t"), ("ck", "k"), ("qu", "k"), ("x", "ks"),
    ("ll", "l"),
)  # fmt: skip
_GROUPS = str.maketrans(
    "bcdfgjklmnpqrstvwxz",
    "pktfksklnnpkrstffks",
    "aeiouyh",
)
_RUN = re.compile(r"(.)\1+")


@lru_cache(maxsize=65536)
def sound_key(folded: str) -> str:
    """The sound key of a folded name; spaces do not count. A leading vowel is kept as `a`."""
    word = folded.replace(" ", "")
    for spelling, sound in _SPELLINGS:
        word = word.replace(spelling, sound)
    for soft in "eiy":  # c and g before these
        word = word.replace("c" + soft, "s" + soft)
    start = "a" if word[:1] in "aeiouyh" and word else ""
    return start + _RUN.sub(r"\1", word.translate(_GROUPS))


@lru_cache(maxsize=65536)
def sound_alike(heard: str, name: str) -> float:
    """How well what was heard may be the folded name: 0 to 1; 1 only for the same letters."""
    one, other = heard.replace(" ", ""), name.replace(" ", "")
    if one == other:
        return 1.0
    letters = fuzz.ratio(one, other) / 100
    if letters >= 0.86 and min(len(one), len(other)) >= 5:
        return 0.92  # misspelt
    key_one, key_other = sound_key(one), sound_key(other)
    if min(len(key_one), len(key_other)) < 3:
        return (
            0.85
            if key_one == key_other and len(key_one) == 2 and letters >= (0.4 if " " in heard else 0.6)
            else 0.0
        )
    if key_one == key_other and letters >= 0.45:
        return 0.9
    keys = fuzz.ratio(key_one, key_other) / 100
    if keys >= 0.8 and letters >= 0.62:
        return 0.8
    if keys >= 0.88 and letters >= 0.5 and len(key_one) >= 5:
        return 0.75
    return 0.0
