"""The paper's own notes: what ± or a bracket is, what marks and abbreviations mean, how many people."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from evidence.reading.cells import SUPERSCRIPTS, plain_marks
from evidence.reading.labels import SPREAD_WORDS, names_group, tidy_label
from evidence.reading.table import Legend
from evidence.vocabulary.terms import Spread

_CAPTION = re.compile(
    r"^\s*(?:supplement\w*\s)?(?:table|tab\.|tabela|tabla|tabelle|tableau|tabella|bảng|figure)\s*[A-Z]?\d*",
    re.IGNORECASE,
)
_NOTE = re.compile(
    r"^\s*(?:notes?\b|legend|abbreviations?|abbr|all (?:values|data)|(?:\w+[ -]and[ -]\w+\s)?(?:values?|data"
    r"|results)\b.{0,40}"
    r"\b(?:are|is|as|mean|means|presented|expressed|shown)\b|(?:pre|post)\w*[ -].{0,25}values\b|means?\b.{0,4}[±(\[]"
    r"|means? and (?:S[DE]|standard)"
    r"|median\b.{0,4}[(\[]|mean \[|"
    r"[*†‡§¶#]|[a-h] ?(?:p\b|P\b|signif|differ)|\^\{|significan|differen(?:t|ce) from|p ?[<=]|n ?= ?\d+|source:"
    r"|ns[,:=]|sd[,:=]|\(?\*)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Notes:
    """What caption and notes say. `spreads`: by the sign before the second figure ("±", "(", "[", "" for
    any).
    """

    legend: Legend
    spreads: dict[str, set[Spread]] = field(default_factory=dict)
    level: float | None = None
    says_mean: bool = False
    says_median: bool = False
    n_by_name: dict[str, int] = field(default_factory=dict)
    n_for_all: int | None = None
    number_marks: str = ""  # digits that open a note ("1 Different from squat")


def is_caption(line: str) -> bool:
    """Whether a line opens a caption ("Table 2. ...")."""
    return bool(_CAPTION.match(line))


def is_note(line: str) -> bool:
    """Whether a line reads like a note under a table."""
    if _NOTE.match(line):
        return True
    words = line.split()
    if re.match(r"^[\w%/. -]{1,25}(?:=|≡|:)\s?[a-zA-Z]", line) and len(words) >= 3:
        return True
    return len(words) >= 8 and line.rstrip().endswith(".") and not re.match(r"^\W*\d", line)


_STATEMENT = re.compile(
    r"(?P<stat>\bmeans?\b|\baverages?\b|\bvalues?\b|\bmedians?\b|\bmédias?\b|\bmedias?\b|\bmoyennes?\b"
    r"|\bmittelwerte?\b|\btrung bình\b|\bTB\b|\bM\b|\bx\b)"
    r"(?P<between>[^.;\n]{0,40}?)"
    r"(?P<joint>±|\(\s*±|\(|\[|\band\b|\be\b|\bet\b|\bund\b|\by\b|,|\+/-)\s*(?:the |o |1 |one )?(?:\d\d\s?% ?)?",
    re.IGNORECASE,
)


def read_notes(texts: Sequence[str]) -> Notes:
    """Read caption and notes together."""
    joined = "\n".join(texts)
    spreads: dict[str, set[Spread]] = {}
    median = mean = False
    for found in _STATEMENT.finditer(joined):
        rest = joined[found.end() : found.end() + 45].split("\n")[0]
        kind = _leading_spread(rest) or _leading_spread(
            joined[found.end("between") + len(found["joint"]) :][:45]
        )
        if kind is None:
            continue
        is_median = "median" in f"{found['stat']}{found['between']}".casefold()
        median, mean = median or is_median, mean or not is_median
        joint = found["joint"].replace(" ", "")
        joint = "(" if joint.startswith("(") else joint if joint in "±[" else "±" if joint == "+/-" else ""
        spreads.setdefault(joint, set()).add(kind)
    for pattern, joint in (
        (r"±\s*(?=S|9\d|s)", "±"),
        (r"[A-Za-z]\s?\((?=9\d\s?% ?CI|range|IQR|SDs?\)|SEM?\))", "("),
        (r"[A-Za-z)]\s?\[(?=9\d\s?% ?CI|range|IQR|SDs?\]|SEM?\])", "["),
        (
            r"(?:in|within) (?:parenthes[ie]s|round brackets|brackets) (?:are|is|represent|indicate|show)s? (?:the )?",
            "(",
        ),
        (r"(?:in|within) square brackets (?:are|is) (?:the )?", "["),
    ):
        for found in re.finditer(pattern, joined, re.IGNORECASE):
            kind = _leading_spread(joined[found.end() : found.end() + 30])
            if kind is not None:
                spreads.setdefault(joint, set()).add(kind)
    for found in re.finditer(
        r"((?:[\w%]+ ){1,6})(?:are |is )?(?:given |shown )?in (square |round )?(parenthes[ie]s|brackets)",
        joined,
    ):
        words = found[1].split()
        kinds = (_leading_spread(" ".join(words[i:])) for i in range(len(words)))
        kind = next((k for k in kinds if k is not None), None)
        if kind is not None:
            for joint in _joints_named(found[2], found[3], joined):
                spreads.setdefault(joint, set()).add(kind)
    level = re.search(r"(\d\d(?:\.\d)?)\s?%[ -]?(?:CI|IC|KI|confidence|konfidenz)", joined, re.IGNORECASE)
    names, everyone = _read_counts(joined)
    return Notes(
        Legend(read_abbreviations(texts), read_marks(texts), tuple(texts)),
        spreads,
        float(level[1]) if level else None,
        mean or bool(re.search(r"\bmeans?\b|\baverage", joined, re.IGNORECASE)),
        median,
        names,
        everyone,
        "".join(sorted(set(_NUMBER_MARK.findall(joined)))),
    )


def _joints_named(shape: str | None, noun: str, text: str) -> str:
    """The brackets that words name: plain "brackets" are round ones too, unless parentheses are named beside them."""
    if shape:
        return "[" if shape.startswith("square") else "("
    if noun.startswith("paren"):
        return "("
    return "[" if re.search(r"parenthes[ie]s", text) else "(["


_NUMBER_MARK = re.compile(
    r"(?:^|(?<=[.;,] ))([1-9])\s?(?=[A-Z][a-z]|[pP]\s?<|signif|differ|greater|lower)", re.MULTILINE
)


def _leading_spread(text: str) -> Spread | None:
    """The kind of spread a piece of text begins with."""
    text = re.sub(r"^[\s(\[±]*(?:\d\d(?:\.\d)?\s?%\s?)?(?:the )?", "", text)
    for kind, pattern in SPREAD_WORDS:
        if re.match(
            pattern.pattern.replace("^range(?: ?\\([^()]*\\))?$|", ""),
            text,
            pattern.flags | re.IGNORECASE if kind is not Spread.SD else pattern.flags,
        ):
            return kind
    plain = re.match(r"standard (dev|err)", text, re.IGNORECASE)
    return (Spread.SD if plain[1].lower() == "dev" else Spread.SE) if plain else None


def read_marks(texts: Sequence[str]) -> dict[str, str]:
    """Marks and what the notes say of each."""
    marks: dict[str, str] = {}
    joined = " \n".join(texts).replace("^{", "").replace("}", " ")
    pieces = re.compile(
        r"(?:^|(?<=[\s;.,(]))(\*{1,4}|[†‡§¶#$]{1,2}|[a-h](?=\s?[pP]\s?[<=]|\s(?:[A-Z]|signif|differ))"
        rf"|[{SUPERSCRIPTS}])\s?[:=]?\s*"
        rf"([A-Za-zΔ(%][^*†‡§¶#$]*?)(?=(?:[\s;.,]+(?:\*|[†‡§¶#${SUPERSCRIPTS}]|[b-h]\s?[pP]\s?[<=]))|\n(?=\S)|$)",
        re.MULTILINE,
    )
    for found in pieces.finditer(joined):
        marks.setdefault(plain_marks(found[1]).strip(","), re.sub(r"\s+", " ", found[2]).strip(" .;,"))
    return marks


def read_abbreviations(texts: Sequence[str]) -> dict[str, str]:
    """Abbreviations the notes explain: "MG = machine group; ES = effect size"."""
    meanings: dict[str, str] = {}
    joined = re.sub(
        r"^\s*(?:notes?|abbreviations?|legend)\s*[.:]\s*", "", " ".join(texts), flags=re.IGNORECASE
    )
    for part in re.split(r"[;\n]|\.\s", joined):
        found = re.match(r"^\s*([A-Z%Δ0-9][\w%+/. -]{0,18}?)\s*(?:=|:|,)\s*([a-zA-Z0-9][^=]*)$", part.strip())
        if found and len(found[1].split()) <= 3 and not re.match(r"n\s*$|[pP]\s*$", found[1]):
            meanings.setdefault(found[1].strip(), found[2].strip(" ."))
    return meanings


def _read_counts(text: str) -> tuple[dict[str, int], int | None]:
    """Numbers of people by group name, and a single number that goes for everyone."""
    named = {
        tidy_label(m[1]): int(m[2])
        for m in re.finditer(
            r"(?:^|[;.,(]|\band\b)\s*([A-Za-z][\w+%-]*(?: [\w+%-]+){0,3}?)\s?[:,(]\s?\(?[nN]\s?=\s?(\d+)",
            text,
            re.MULTILINE,
        )
    }
    named = {
        name: n
        for name, n in named.items()
        if not re.search(r"\b(?:mm|kg|cm|table|mean|values)\b", name, re.IGNORECASE)
    }
    if len(named) == 1 and not any(map(names_group, named)):
        named = {}  # "Within-person comparison (n = 16)" counts everyone
    every = {int(m[1]) for m in re.finditer(r"\b[nN]\s?=\s?(\d+)", text)}
    return named, every.pop() if len(every) == 1 and not named else None
