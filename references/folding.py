"""Fold titles, names and venues to plain words for comparing: case, accents, marks and markup taken off.

Words of every script are kept: nothing that has letters folds to nothing, so that two titles in another
script are never found equal because both became empty. Source for compatibility forms: Unicode Standard
Annex 15.
"""

import html
import re
import unicodedata
from collections.abc import Iterable

_ASCII = {code: " " for code in range(128) if not chr(code).isalnum()}
_ASCII |= {ord("A") + step: chr(ord("a") + step) for step in range(26)}
_ASCII |= {ord("'"): "", ord("`"): "", ord("&"): " and "}

# letters that have no canonical decomposition, as library catalogues write them in the basic Latin alphabet
_LETTERS = str.maketrans(
    {"ø": "o", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ħ": "h", "ı": "i", "ŋ": "n"}
    | {"’": "", "‘": "", "ʼ": "", "ʻ": "", "´": "", "ʹ": ""}
)
_GREEK_NAMES = {
    "α": "alpha",
    "β": "beta",
    "γ": "gamma",
    "δ": "delta",
    "ε": "epsilon",
    "ζ": "zeta",
    "η": "eta",
    "θ": "theta",
    "κ": "kappa",
    "λ": "lambda",
    "μ": "mu",
    "π": "pi",
    "ρ": "rho",
    "σ": "sigma",
    "τ": "tau",
    "φ": "phi",
    "χ": "chi",
    "ψ": "psi",
    "ω": "omega",
}
_LONE_GREEK = re.compile(r"(?<![\u0370-\u03ff])[α-ω](?![\u0370-\u03ff])")
_TAG = re.compile(r"</?[A-Za-z][^<>]{0,60}>")
_IDEOGRAPH = r"\u3040-\u30ff\u3400-\u9fff\U00020000-\U0002ffff"
_WORD = re.compile(rf"[{_IDEOGRAPH}]|[^\s{_IDEOGRAPH}]+")
_HAS_IDEOGRAPH = re.compile(rf"[{_IDEOGRAPH}]")

_STOPWORD_TEXT = (
    "a an and are as at by can do does for from how in into is it its of on or than that the their this to "
    "using via vs versus we what when which with de la le les des der die das und et en el los las un una y "
    "e do da dos das em"
)
STOPWORDS = frozenset(_STOPWORD_TEXT.split())

_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10}
_SPELT = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}
_SPELT |= {"first": 1, "second": 2, "third": 3, "fourth": 4, "a": 1, "b": 2, "c": 3}


def fold(text: str | None) -> str:
    """The text as lower-case words with single spaces; `Þór's β-alanine` is `thors beta alanine`."""
    if not text:
        return ""
    if "&" in text:
        text = html.unescape(text)
    if "<" in text:
        text = _TAG.sub("", text)
    if text.isascii():
        return " ".join(text.translate(_ASCII).split())
    return _fold_unicode(text)


def _fold_unicode(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text).casefold().translate(_LETTERS)
    decomposed = _LONE_GREEK.sub(lambda match: _GREEK_NAMES.get(match.group(), match.group()), decomposed)
    kept = (
        character if character.isalnum() or _is_vowel_sign(character) else _space_for(character)
        for character in decomposed
    )
    return unicodedata.normalize("NFC", " ".join("".join(kept).split()))


def _is_vowel_sign(character: str) -> bool:
    """Marks that are part of the spelling in Indic, Arabic, Thai or Japanese script, unlike Latin accents."""
    return unicodedata.category(character)[0] == "M" and not "\u0300" <= character <= "\u036f"


def _space_for(character: str) -> str:
    if "\u0300" <= character <= "\u036f" or character in "'`\u200b\u200c\u200d\u00ad":
        return ""
    return " and " if character == "&" else " "


def words_of(folded: str) -> list[str]:
    """The words of a folded text; in scripts written without spaces each character counts as a word."""
    return _WORD.findall(folded) if _HAS_IDEOGRAPH.search(folded) else folded.split()


def search_words(text: str) -> list[str]:
    """The words of a text as a word index has them: letters and digits of any script, without case and accents.

    Unlike in `fold`, an apostrophe joins, nothing is spelt out, and signs of a script are kept as they are.
    """
    decomposed = unicodedata.normalize("NFKD", text).casefold().translate(_LETTERS).replace("'", "")
    return _SEARCH_WORD.findall("".join(c for c in decomposed if not "\u0300" <= c <= "\u036f"))


_SEARCH_WORD = re.compile(r"[^\W_]+")


def content_words(words: Iterable[str]) -> list[str]:
    """The words that carry meaning (articles, prepositions and the like left out)."""
    return [word for word in words if word not in STOPWORDS]


def count_from(word: str) -> int | None:
    """A small number written in digits, Roman numerals, letters or words; None if it is none of them."""
    if word.isdecimal():
        return int(word) if len(word) <= 3 else None
    return _ROMAN.get(word) or _SPELT.get(word)
