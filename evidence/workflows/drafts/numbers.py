"""Numbers in a sentence: percents, units, people, rates; in digits or in words, with what stands around them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from evidence.appraisal.draft_cues import find_cue
from evidence.workflows.drafts import number_forms as forms
from evidence.workflows.drafts.words import load_words, word_set
from references.mention_reading import spoken_number

WORDED_SLACK = 0.2  # a quarter is nearer to 28 % than a fifth or a third; common practice, no source


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a sentence. `kind`: percent, people, per_hundred, unit, reading, effect, correlation, moved.

    `start`, `end`: in its text. `decimals`: as written. `rough`: "about" stands before it. `side`: more, less, changed
    (from its own start) or "", by the words around it.
    """

    value: float
    kind: str
    unit: str
    start: int
    end: int
    decimals: int
    rough: bool
    side: str
    text: str
    slack: float = 0.0  # share of the value by which a way of putting it ("twice as much") may be off


def overlaps(found: Iterable[Number], start: int, end: int) -> bool:
    """Whether a stretch of the sentence is part of a number that was found already."""
    return any(n.start < end and start < n.end for n in found)


def find_numbers(text: str) -> tuple[Number, ...]:
    """Every number of a sentence that a catalogue could hold, in order, none twice."""
    if not forms.ANY.search(text):
        return find_multiples(text)
    found: list[Number] = []
    for kind, pattern in forms.KINDS:
        if kind == "reading":
            found += _second_of_pairs(text, found) + _more_events(text, found) + _second_in_unit(text, found)
        for match in pattern.finditer(text):
            start, end = match.start("number"), match.end()
            if overlaps(found, start, match.end("number")):
                continue
            value = read_number(match["number"])
            if value is None or (kind == "percent" and tells_a_load(text, match)):
                continue
            if kind == "reading" and (
                value < 10 or 1900 <= value <= 2100 or forms.BOUND_BEFORE.search(text[:start])
            ):
                continue
            if kind == "people" and forms.AGE_BEFORE.search(text[:start]):
                continue
            unit = unit_of(match, kind)
            found.append(_make(text, match, value, kind, unit, start, end))
            found += _second_moved(text, match)
    found += [m for m in find_multiples(text) if not overlaps(found, m.start, m.end)]
    return tuple(sorted(found, key=lambda n: n.start))


def _more_events(text: str, found: list[Number]) -> list[Number]:
    """Counts where the sentence says of what: "12 injuries among 320 and 26 among 315"."""
    if not forms.INJURIES.search(text):
        return []
    more = []
    for match in forms.EVENTS_AMONG.finditer(text):
        value = read_number(match["number"])
        if value is not None and not overlaps(found, *match.span()):
            more.append(_make(text, match, value, "events", "", *match.span("number")))
    return more


def _second_in_unit(text: str, found: list[Number]) -> list[Number]:
    """The other side's number, whose unit is not said again: "22 kg on the squat and the light group 12"."""
    more = []
    for number in found:
        if number.kind != "unit" or number.unit == "point":
            continue
        match = forms.AFTER_UNIT.match(text, number.end)
        value = read_number(match["number"]) if match else None
        if match is None or value is None or 1900 <= value <= 2100:
            continue
        if not overlaps(found, match.start("number"), match.end()):
            more.append(_make(text, match, value, "unit", number.unit, *match.span("number")))
    return more


def unit_of(match: re.Match[str], kind: str) -> str:
    """The unit that a number is told in, as the catalogue writes it; empty where it has none."""
    said = match.groupdict()
    if said.get("worded"):
        return forms.UNITS_IN_WORDS[said["worded"][:3].lower()]
    return said.get("unit") or ("point" if said.get("points") else "%" if kind == "percent" else "")


def _second_moved(text: str, match: re.Match[str]) -> list[Number]:
    """The other group's number: "fell by 1.2 with one and 0.9 with the other"."""
    said = match.groupdict().get("second")
    value = read_number(said) if said else None
    if said is None or value is None:
        return []
    place = match.span("second")
    return [Number(value, "moved", "", *place, decimals_of(said), False, "", said)]


def tells_a_load(text: str, match: re.Match[str]) -> bool:
    """Whether a percent is one of what is lifted ("80 per cent of your max", "loads of 80 per cent"), or no amount.

    Where a load is told so, "than 50 to 60 per cent" sets another load beside it.
    """
    start = match.start("number")
    if forms.EXCLUDED.match(text[match.end("number") :]) or forms.LOAD_BEFORE.search(text[:start]):
        return True
    beside = re.search(rf"\bthan (?:with |on |at |using )?(?:{forms.DIGITS} (?:to|and|or) )?$", text[:start])
    return bool(
        beside
        and forms.LOAD_SAID.search(text)
        and not re.match(r"(?:\s*%|\D{0,12}) (?:more|less|higher|lower|greater)", text[match.end("number") :])
    )


def find_multiples(text: str) -> tuple[Number, ...]:
    """Percents that are told as multiples and parts: "twice as much" is 100 % more, "a third less" 33 % less.

    "Twice as often" and "half as long" tell of a prescription: only amounts count (`multiples` of words.yaml).
    """
    found: list[Number] = []
    for pattern, parts in _multiples():
        for match in pattern.finditer(text):
            if overlaps(found, *match.span()):
                continue
            said = re.sub(r"^(?:a|an|one) ", "", match["part"].lower())
            factor = worth_of(said, parts)
            change = 100 * (factor - 1)
            if "way" in match.re.groupindex:  # "a third more", "half as much again": a share of the whole
                change = 100 * factor * (-1 if match["way"].lower() in word_set("less") else 1)
            side = "more" if change > 0 else "less"
            place = match.start(), match.end()
            found.append(
                Number(abs(change), "percent", "%", *place, 0, True, side, match.group(), WORDED_SLACK)
            )
    return tuple(sorted(found, key=lambda n: n.start))


@cache
def _multiples() -> tuple[tuple[re.Pattern[str], dict[str, float]], ...]:
    """The ways of putting a multiple, with what each word of them is worth."""
    lists = load_words()["multiples"]
    amounts, shares = "|".join(lists["amounts"]), dict(lists["shares"])
    times, verbs = dict(lists["times"]), dict(lists["verbs"])
    ways = "|".join(sorted({*load_words()["more"], *load_words()["less"]}))
    share = rf"\b(?P<part>(?:(?:a|one) )?(?:{'|'.join(shares)}))"
    patterns = (
        (rf"{share} as (?:{amounts}) (?P<way>again)\b", shares),
        (rf"\b(?P<part>{'|'.join({**times, **shares})}) (?:as|the) (?:{amounts})\b", {**times, **shares}),
        (rf"{share} (?P<way>{ways})\b(?! (?:week|set|rep|minute|second|session|time)s?\b)", shares),
        (
            rf"\b(?P<part>{'|'.join(verbs)}) (?:the|its|their|your|hamstring|quad|glute|calf|calves|adductor)\b",
            verbs,
        ),
    )
    return tuple((re.compile(pattern, re.IGNORECASE), worth) for pattern, worth in patterns)


def _second_of_pairs(text: str, found: list[Number]) -> list[Number]:
    """ "12.0 per cent, lying 7.5": a bare number behind a percent, or before one, is a percent too."""
    more: list[Number] = []
    for number in found:
        if number.kind not in ("percent", "per_hundred"):
            continue
        after = forms.AFTER_PERCENT.match(text, number.end)
        before = forms.BEFORE_PERCENT.search(text, max(number.start - 40, 0), number.start)
        listed = forms.LISTED_BEFORE.search(text, max(number.start - 40, 0), number.start)
        for match in (after, before or listed):
            if match is None or (number.kind == "per_hundred" and match is not after):
                continue
            value = read_number(match["number"])
            start, end = match.start("number"), match.end("number")
            if value is None or overlaps((*found, *more), start, end):
                continue
            if (
                value == 0
                or 1900 <= value <= 2100
                or (match is after and value == 1 and "." not in match["number"])
            ):
                continue
            more.append(_make(text, match, value, number.kind, number.unit, start, end))
        told = forms.TOLD_AS_PAIR.match(text, number.end)
        for part in ("number", "other") if told else ():
            assert told is not None
            value, place = read_number(told[part]), told.span(part)
            if value and not overlaps((*found, *more), *place):
                more.append(
                    Number(
                        value,
                        number.kind,
                        number.unit,
                        *place,
                        decimals_of(told[part]),
                        False,
                        "",
                        told[part],
                    )
                )
    return more


def _make(
    text: str, match: re.Match[str], value: float, kind: str, unit: str, start: int, end: int
) -> Number:
    said = match["number"]
    decimals = decimals_of(said)
    if "half" in said:
        decimals = 1
    before, after = text[max(start - 25, 0) : start], text[match.end() : match.end() + 30]
    # "Four hundred lifters" is a round way of saying 412.
    rounded = kind == "people" and value >= 100 and value % 100 == 0 and not said[:1].isdigit()
    rough = rounded or find_cue("about", before) is not None
    side = ""
    if kind == "percent":
        # A part of a muscle ("in the lower fibres") is no "lower".
        near = re.split(r"[,;.]| (?:in|of|on) the (?:upper|lower)\b", after)[0]
        if find_cue("above", near[:18]) or re.search(r"\bgain of $|lift of $", before):
            side = "more"
        elif find_cue("below", near[:18]):
            side = "less"
        elif forms.CHANGED.search(before) and not re.match(r"\s*(?:on|against|compared)\b", near):
            side = "changed"
    return Number(value, kind, unit, start, end, decimals, rough, side, text[start:end])


def decimals_of(said: str) -> int:
    """How many digits stand behind the point or comma of a number as written."""
    worded = said.lower().partition(" point ")[2]
    return len(digits_said(worded) if worded else said.replace(",", ".").partition(".")[2])


def digits_said(words: str) -> str:
    """The digits behind a point as they are said: "two five" and "twenty five" are both 25."""
    left, digits = re.split(r"[- ]", words), ""
    while left:
        value, taken = spoken_number(left)
        digits, left = f"{digits}{value or 0}", left[max(taken, 1) :]
    return digits


def read_number(text: str) -> float | None:
    """A number in digits or words; None where it is neither."""
    said = text.strip().lower().replace("−", "-").lstrip("+")
    if re.fullmatch(r"-?\d+(?:[.,]\d+)?", said):
        return float(said.replace(",", "."))
    half = said.endswith(" and a half")
    said = re.sub(r"^a(?= hundred)", "one", said.removesuffix(" and a half"))
    whole, _, fraction = said.partition(" point ")
    value, _ = spoken_number(re.split(r"[- ]", whole))
    if value is None:
        return None
    if fraction:
        return float(f"{value}.{digits_said(fraction)}")
    return value + 0.5 if half else float(value)


def matches(number: Number, value: float) -> bool:
    """Whether a number in a text tells `value`, its rounding respected; "about" leaves a tenth of it."""
    value, said = abs(value), abs(number.value)
    slack = 0.5 * 10**-number.decimals + 1e-9
    if number.rough:
        slack = max(slack, (number.slack or 0.1) * value)
    return bool(abs(value - said) <= slack + 0.02 * 10**-number.decimals)


def worth_of(said: str, parts: dict[str, float]) -> float:
    """What a word of the lists is worth; the lists write "doubles?" for both of its forms."""
    return next(worth for word, worth in parts.items() if re.fullmatch(word, said))


def replace_number(number: Number, value: float) -> str:
    """The right value, written as the wrong one was; words become digits."""
    decimals = number.decimals if number.text[:1].isdigit() else 0 if float(value).is_integer() else 1
    said = f"{abs(value):.{decimals}f}"
    if number.text[:1].isdigit():
        return re.sub(r"^[-−+]?\d+(?:[.,]\d+)?", said, number.text)
    return f"{said} {tail_of(number)}".strip()


def tail_of(number: Number) -> str:
    """What stands behind a number in words."""
    last = number.text.split()[-1] if " " in number.text else ""
    return "per cent" if number.kind == "percent" else last
