"""One cell of a printed table: its grammar, and runs of such cells at the end of a line.

A cell is read only when all of its text is accounted for: `26.23 [10.1]`, `63,2 ± 21,4*`, `1,363.13
(318.71)`, `0.68 (trivial)`, `43.32 (13.05-73.59)a`, `<0.001`, `37.2 – 43.89`, `NR`. What a second figure
*is* (SD, SE, an interval) is not decided here.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

THIN = "\u2009\u202f\u00a0\u2007\u2008\u200a"
DASHES = "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d-"  # the hyphen last: it is used inside character classes
FILLER = "\ue0ff"  # stands where a repair made the text shorter, so that places in the line stay the same
_SYMBOL_MARKS = "*\u2217\u204e\uff0a†‡§¶#$@&^°º‖¥£\u2020\u2021"
SUPERSCRIPTS = "¹²³⁰⁴⁵⁶⁷⁸⁹ᵃᵇᶜᵈᵉ"

_MISSING = re.compile(
    rf"(?:[{DASHES}]{{1,3}}|…|\.\.\.?|/|n/?[artdm]|n\.[artdm]\.?|not (?:reported|measured|tested|available|applicable|"
    r"assessed|done|recorded|given)|missing|not stated|no data)",
    re.IGNORECASE,
)
_NOT_SIGNIFICANT = re.compile(r"n\.?s\.?|non-?significant|not significant", re.IGNORECASE)


class Shape(StrEnum):
    """How a cell is printed."""

    NUMBER = "number"
    PAIR = "pair"  # a figure with a second figure after ± or in a bracket
    INTERVAL = "interval"  # a figure with two ends in a bracket
    WORDED = "worded"  # a figure with a word in a bracket
    RANGE = "range"  # two ends alone
    P = "p"  # an operator and a figure, or "ns"
    FRACTION = "fraction"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Figure:
    """A printed number: its value and how many decimals were printed."""

    value: float
    decimals: int

    @property
    def half_unit(self) -> float:
        """Half a unit of the last printed place: the rounding the number may carry."""
        return 0.5 * 10.0**-self.decimals


@dataclass(frozen=True, slots=True)
class Token:
    """A cell as printed. `joint`: "±", "(" or "[" before the second figure or the ends. `named`: a kind
    stated in the cell.
    """

    text: str
    start: int
    shape: Shape
    value: Figure | None = None
    second: Figure | None = None
    low: Figure | None = None
    high: Figure | None = None
    joint: str = ""
    named: str = ""
    word: str | None = None
    operator: str = ""
    percent: bool = False
    second_percent: bool = False
    n: int | None = None
    marks: tuple[str, ...] = ()
    stray_dash: bool = False

    @property
    def end(self) -> int:
        return self.start + len(self.text)


def number_pattern(decimal: str) -> str:
    """The regular expression of an unsigned number whose decimal sign is `decimal` ("." or ",")."""
    point, thousands = (r"[.·]", ",") if decimal == "." else (r",", r"\.")
    whole = rf"(?:\d{{1,3}}(?:[{thousands}{THIN}']\d{{3}})+(?![\d])|\d+)"
    return rf"(?:{whole}(?:{point}\d+)?|{point}\d+)"


def signed_pattern(decimal: str) -> str:
    """The same with an optional sign standing directly before it."""
    return rf"(?:[+{DASHES}](?=[\d.,·]))?{number_pattern(decimal)}"


def read_figure(text: str, decimal: str = ".") -> Figure:
    """A number from its text. Raises ValueError when it is none."""
    plain = re.sub(rf"[{THIN}'\s]", "", text)
    plain = re.sub(rf"^[{DASHES}]", "-", plain)
    plain = (
        plain.replace(".", "").replace(",", ".")
        if decimal == ","
        else plain.replace(",", "").replace("·", ".")
    )
    return Figure(float(plain), len(plain.partition(".")[2]))


_MARKS = (
    rf"(?:\s?(?:[{_SYMBOL_MARKS}{SUPERSCRIPTS}]|\^\{{[^{{}}]*\}})"
    rf"(?:,?\s?(?:[{_SYMBOL_MARKS}{SUPERSCRIPTS}]|\^\{{[^{{}}]*\}})|,[a-h](?![a-z]))*"
    r"|(?<=[\d)\]%])[a-h](?:,?\s?[a-h])*(?:,?[*†‡§¶#])*(?![\w.]))"
)


@lru_cache(maxsize=2)
def _patterns(decimal: str) -> dict[str, re.Pattern[str]]:
    number = signed_pattern(decimal)
    between = (
        rf"\s*(?:to|bis|até|and|[,;:{DASHES}])\s*"
        if decimal == "."
        else rf"\s*(?:to|bis|até|a|à|[;:{DASHES}])\s*|,\s+"
    )
    bracket = rf"[(\[]\s*(?P<inner>[^()\[\]]*?)\s*[)\]](?P<m3>{_MARKS})?"
    lead = r"(?:(?P<op>[<>≤≥=≈~])\s?)?"
    return {
        "value": re.compile(
            rf"(?:[pP]\s?(?=[<>≤≥=]))?{lead}(?P<value>{number})(?P<pct>\s?%)?(?P<m1>{_MARKS})?"
            rf"(?:\s*±\s*(?P<pm>{number_pattern(decimal)})(?P<pct2>\s?%)?(?P<m2>{_MARKS})?)?(?:\s*{bracket})?"
            rf"(?:\s*[(\[]\s*(?P<ends>[^()\[\]]*?)\s*[)\]](?P<m4>{_MARKS})?)?"
        ),
        "range": re.compile(
            # a dash with a space before it alone is the sign of the second figure ("0.41 -0.13")
            rf"[(\[]?(?P<low>{number})(?:\s?to\s?|\s[{DASHES}]\s|[{DASHES}]\s?)(?P<high>{number})[)\]]?"
            rf"(?P<m1>{_MARKS})?"
        ),
        "ends": re.compile(rf"[(\[]\s*(?P<inner>[^()\[\]]*?)\s*[)\]](?P<m1>{_MARKS})?"),
        "fraction": re.compile(
            rf"(?P<low>\d+)\s?/\s?(?P<high>\d+)(?:\s*[(\[]\s*{number}\s?%?\s*[)\]])?(?P<m1>{_MARKS})?"
        ),
        "single": re.compile(rf"(?P<named>[A-Za-z. ]*?)\s*[=:±]?\s*(?P<one>{number})\s?(?P<pct>%)?"),
        "double": re.compile(
            rf"(?:(?P<level>\d\d(?:\.\d)?)\s?%\s?(?:CI|IC|KI)?\s*[:,=]?\s*|(?P<named>CI|IQR|range|IC)\s*[:=]?\s*)?"
            rf"(?P<low>{number})(?P<stray>\s?[{DASHES}](?=\s*(?:to|,|;)))?(?:{between})(?P<high>{number})"
        ),
    }


def plain_marks(text: str) -> str:
    """Superscript letters and digits as plain ones; each digit is a mark of its own ("¹²" is 1 and 2)."""
    return "".join(
        unicodedata.normalize("NFKC", c) + ("," if c in "¹²³⁰⁴⁵⁶⁷⁸⁹" else "") if c in SUPERSCRIPTS else c
        for c in text
    )


def split_marks(text: str) -> tuple[str, ...]:
    """Footnote marks one by one: "*,#" two, "†‡" two, "***" one."""
    plain = re.sub(r"\^\{([^{}]*)\}", r"\1", text)
    plain = plain_marks(plain.translate(str.maketrans("\u2217\u204e\uff0a", "***")))
    return tuple(m.group() for m in re.finditer(r"(\*+)|\d+|[^\W\d_]|[^\s,\w]", plain) if m.group() != "^")


def read_cell(text: str, decimal: str = ".", start: int = 0) -> Token | None:
    """Read a whole cell, or None when part of its text is not accounted for."""
    stripped = text.strip(" \t\r\n" + THIN)
    start += len(text) - len(text.lstrip(" \t\r\n" + THIN))
    if not stripped:
        return None
    if _MISSING.fullmatch(stripped):
        return Token(stripped, start, Shape.MISSING)
    if _NOT_SIGNIFICANT.fullmatch(stripped):
        return Token(stripped, start, Shape.P)
    for name in ("value", "range", "fraction", "ends"):
        found = _patterns(decimal)[name].fullmatch(stripped)
        token = _build(name, found, start, decimal) if found else None
        if token is not None:
            return token
    return None


def _build(name: str, found: re.Match[str], start: int, decimal: str) -> Token | None:
    text = found.group()
    marks = tuple(
        mark for key in ("m1", "m2", "m3", "m4") for mark in split_marks(found.groupdict().get(key) or "")
    )
    if name == "range":
        ends = read_figure(found["low"], decimal), read_figure(found["high"], decimal)
        joint = text[0] if text[0] in "([" else ""
        return Token(text, start, Shape.RANGE, low=ends[0], high=ends[1], joint=joint, marks=marks)
    if name == "fraction":
        ends = read_figure(found["low"], decimal), read_figure(found["high"], decimal)
        return Token(text, start, Shape.FRACTION, low=ends[0], high=ends[1], marks=marks)
    if name == "ends":
        inner = _patterns(decimal)["double"].fullmatch(found["inner"])
        return (
            _ends(inner, Token(text, start, Shape.RANGE, joint=text[0], marks=marks), decimal)
            if inner
            else None
        )
    value = read_figure(found["value"], decimal)
    base = Token(
        text,
        start,
        Shape.NUMBER,
        value=value,
        operator=found["op"] or "",
        percent=bool(found["pct"]),
        marks=marks,
    )
    if found["op"]:
        return _with(base, shape=Shape.P) if not found["pm"] and found["inner"] is None else None
    if found["pm"]:
        second = read_figure(found["pm"], decimal)
        base = _with(base, shape=Shape.PAIR, second=second, joint="±", second_percent=bool(found["pct2"]))
    if found["inner"] is None:
        return base
    return _read_brackets(base, found, decimal)


_ENDS_AND_P = re.compile(r"(.+?)\s*[;,]\s*([pP]?\s*[=<>]?\s*0?\.\d+)")  # "(4.1 to 21.3; 0.005)"


def _read_brackets(base: Token, found: re.Match[str], decimal: str) -> Token | None:
    """Add what stands in one bracket or two behind a figure."""
    opening = "[" if "[" in found.group()[: found.start("inner") - found.start()] else "("
    inner: str = found["inner"]
    ends: str | None = found["ends"]
    behind = ""
    cut = _ENDS_AND_P.fullmatch(inner) if ends is None and base.second is None else None
    if cut and _patterns(decimal)["double"].fullmatch(cut[1]):
        inner, behind = cut[1], cut[2]
    if ends is None and ";" in inner and base.second is None:
        first, _, rest = inner.partition(";")  # "98.2 (15.1; 90.1 to 106.3)"
        if _patterns(decimal)["double"].fullmatch(rest.strip()):
            inner, ends = first, rest
    token = _bracketed(base, inner.strip(), opening, decimal)
    if token is not None and behind:
        return _with(token, word=behind)
    return token if token is None or ends is None else _second_bracket(token, ends.strip(), decimal)


def _second_bracket(base: Token, ends: str, decimal: str) -> Token | None:
    """ "98.2 (15.1) [90.1, 106.3]": two ends behind a figure with its spread, and nothing else."""
    double = _patterns(decimal)["double"].fullmatch(ends)
    if double is None or base.shape is not Shape.PAIR or base.low is not None:
        return None
    return _ends(double, base, decimal)


def _bracketed(base: Token, inner: str, opening: str, decimal: str) -> Token | None:
    """Add what stands in the bracket: a second figure, two ends, n, or a word."""
    patterns = _patterns(decimal)
    count = re.fullmatch(r"[nN]\s*=?\s*(\d+)", inner)
    if count:
        return _with(base, n=int(count[1]))
    double = patterns["double"].fullmatch(inner)
    if double:
        shape = base.shape if base.shape is Shape.PAIR else Shape.INTERVAL
        joint = base.joint if base.shape is Shape.PAIR else opening
        return _ends(double, _with(base, shape=shape, joint=joint), decimal)
    single = patterns["single"].fullmatch(inner)
    if single and base.second is None:
        figure = read_figure(single["one"], decimal)
        if figure.value < 0:
            return None
        named = single["named"].strip()
        return _with(
            base,
            shape=Shape.PAIR,
            second=figure,
            joint=opening,
            named=named,
            second_percent=bool(single["pct"]),
        )
    if single and base.joint == "±" and base.low is None:
        return _with(base, word=inner)  # "98.2 ± 15.1 (15.4)": a third figure, kept as printed
    if re.fullmatch(r"[^\W\d_][\w .,'/-]*", inner) and base.shape is Shape.NUMBER:
        return _with(base, shape=Shape.WORDED, word=inner, joint=opening)
    return None


def _ends(found: re.Match[str], base: Token, decimal: str) -> Token:
    named = f"{found['level']}% CI" if found["level"] else (found["named"] or "")
    low, high = read_figure(found["low"], decimal), read_figure(found["high"], decimal)
    return _with(base, low=low, high=high, named=named, stray_dash=bool(found["stray"]))


def _with(token: Token, **changes: object) -> Token:
    from dataclasses import replace

    return replace(token, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Run:
    """A line as a label and the run of cells at its end."""

    label: str
    tokens: tuple[Token, ...]


def read_run(line: str, decimal: str = ".") -> Run:
    """Split a line into its label and the cells at its end; a line may be all label or all cells.

    A cell starts after a space and ends before one, so digits inside label words stay in the label.
    """
    items: list[Token | None] = []
    place = 0
    last_word_end = 0
    while place < len(line):
        if line[place].isspace() or line[place] == FILLER:
            place += 1
            continue
        token = _token_at(line, place, decimal)
        if token is None:
            end = _word_end(line, place)
            items.append(None)
            last_word_end = end
            place = end
        else:
            items.append(token)
            place = token.end
    tokens: list[Token] = []
    for item in reversed(items):
        if item is None:
            break
        tokens.append(item)
    tokens.reverse()
    if last_word_end and tokens and tokens[0].shape is Shape.RANGE and tokens[0].joint:
        last_word_end = tokens.pop(0).end  # "RPE (0-10)": the scale belongs to the label
    return Run(line[:last_word_end].replace(FILLER, "").strip(), tuple(tokens))


def _word_end(line: str, place: int) -> int:
    """The end of a label word; a bracket is one word with all it holds."""
    if line[place] in "([":
        close = re.compile(r"[^()\[\]]*[)\]]\S*").match(line, place + 1)
        if close:
            return close.end()
    found = re.compile(r"\S+").match(line, place)
    end = found.end() if found else place + 1
    opened = line.rfind("(", place, end)
    if opened > place and ")" not in line[opened:end]:
        close = re.compile(r"[^()]*\)\S*").match(line, opened + 1)
        if close:
            return close.end()
    return end


_LOOSE_WORD = re.compile(rf"(?:NR|NT|NA|ND|NM|NS|ns|n\.s\.|n/a|N/A|[{DASHES}]{{1,3}}|…)(?=\s|$)")


def _token_at(line: str, place: int, decimal: str) -> Token | None:
    """The longest cell that starts here and is followed by a space or the end."""
    loose = _LOOSE_WORD.match(line, place)
    if loose:
        return read_cell(loose.group(), decimal, place)
    best: Token | None = None
    for name in ("value", "range", "fraction", "ends"):
        found = _patterns(decimal)[name].match(line, place)
        if not found:
            continue
        for end in _stops(line, place, found.end()):
            token = read_cell(line[place:end], decimal, place)
            if (
                token is not None
                and token.operator != "="
                and token.end == end
                and (best is None or end > best.end)
            ):
                best = token
                break
    return best


def _stops(line: str, place: int, end: int) -> list[int]:
    """Ends to try for a cell: where a space or the line's end follows, longest first."""
    ends = [end] if end == len(line) or line[end].isspace() else []
    ends += [i for i in range(end - 1, place, -1) if line[i].isspace() and not line[i - 1].isspace()]
    return ends
