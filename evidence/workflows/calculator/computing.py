"""The calculator: what every answer holds, and how figures typed on a line are read.

Nothing here touches a catalogue. An answer shows its figures, the formulas with their sources and intermediate values,
what was assumed, and what to be careful about.
"""

import re
from dataclasses import dataclass

from evidence.errors import BadInput
from evidence.statistics.conversions import sd_from_interval, sd_from_se
from evidence.statistics.effect import Assumption, Step, Summary

SPREADS = ("sd", "se", "interval")
NUMBER = re.compile(r"(?<![\w.])[-+]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of an answer with its interval where it has one; `unit` says what a 1 means."""

    name: str
    value: float | None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    se: float | None = None


@dataclass(frozen=True, slots=True)
class Grid:
    """A small table of an answer; cells are text or numbers."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str | float | None, ...], ...]


@dataclass(frozen=True, slots=True)
class Worked:
    """An answer: what was asked, the answer in a sentence, figures, derivation, assumptions and cautions."""

    asked: str
    answer: str
    figures: tuple[Figure, ...] = ()
    grids: tuple[Grid, ...] = ()
    steps: tuple[Step, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()
    flagged: bool = False  # something in what was typed needs a look


@dataclass(frozen=True, slots=True)
class TypedGroup:
    """Mean, SD and n of a group as typed, with what it took to get the SD."""

    summary: Summary
    steps: tuple[Step, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


def read_numbers(option: str, text: str, names: tuple[str, ...]) -> tuple[float, ...]:
    """The numbers typed behind an option, such as "12.4 ± 3.1 (n = 14)" or "12.4,3.1,14".

    Raises:
        BadInput: not as many numbers as `names`, naming the option and the form wanted.
    """
    return tuple(float(figure) for figure in read_figures(option, text, names))


def read_figures(option: str, text: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """As `read_numbers`, with every figure as it was typed ("3.50" keeps its last digit)."""
    found = _split(text, len(names))
    if found is None:
        shown = " ".join(name.upper() for name in names)
        one = len(names) == 1
        raise BadInput(
            f"{text!r} is no number." if one else f"{text!r} does not hold {len(names)} numbers.",
            where=option,
            hint=f'Write {option} "{shown}", for example {option} "{_example(names)}".',
        )
    return found


def read_group(option: str, text: str, spread: str | None) -> TypedGroup:
    """A group typed as "MEAN SPREAD N" (or "MEAN LOW HIGH N" when the spread is an interval).

    Raises:
        BadInput, NumberProblem: what was typed is no group.
    """
    if spread is not None and spread not in SPREADS:
        raise BadInput(
            f"{spread!r} is no kind of spread.", where="--spread", hint=f"Choose {', '.join(SPREADS)}."
        )
    if spread == "interval":
        mean, low, high, people = read_numbers(option, text, ("mean", "low", "high", "n"))
        n = read_people(option, people)
        got = sd_from_interval(low, high, n)
        require_inside(mean, low, high, option)
        return TypedGroup(Summary(mean, got.value, n), got.steps, got.assumptions)
    mean, given, people = read_numbers(option, text, ("mean", spread or "sd", "n"))
    n = read_people(option, people)
    if spread == "se":
        got = sd_from_se(given, n)
        return TypedGroup(Summary(mean, got.value, n), got.steps, got.assumptions)
    return TypedGroup(Summary(mean, given, n), (), () if spread else (SPREAD_TAKEN_AS_SD,))


SPREAD_TAKEN_AS_SD = Assumption(
    "spread",
    "The spread was taken as a standard deviation. If the paper prints standard errors, add --spread se.",
)


def read_people(option: str, value: float) -> int:
    """A whole number of people.

    Raises:
        BadInput: it is not whole, or below 1.
    """
    if value != int(value) or value < 1:
        raise BadInput(
            f"{value:g} is no number of people.", where=option, hint="Give a whole number above 0."
        )
    return int(value)


def read_number(option: str, text: str) -> float:
    """One number; a decimal comma and a real minus sign are understood."""
    return read_numbers(option, text, ("number",))[0]


def require_inside(estimate: float, low: float, high: float, where: str) -> None:
    """Refuse an estimate that lies outside its own interval: one of the three is misread.

    Raises:
        BadInput: it does.
    """
    if not low <= estimate <= high:
        raise BadInput(
            f"{estimate:g} lies outside its own interval, {low:g} to {high:g}.",
            where=where,
            hint="Check the three figures; a minus sign may have been lost.",
        )


def require_error_rate(alpha: float) -> None:
    """Refuse what is no error rate of a test.

    Raises:
        BadInput: it is not between 0 and 0.5.
    """
    if not 0 < alpha < 0.5:
        raise BadInput(f"{alpha:g} is no error rate.", where="--alpha", hint="Write 0.05 for 5 %.")


def need(value: object, option: str, why: str) -> None:
    """Refuse a missing option, naming it.

    Raises:
        BadInput: `value` is None.
    """
    if value is None:
        raise BadInput(f"{option} is missing: {why}", hint=f"Add {option}.")


def _split(text: str, wanted: int) -> tuple[str, ...] | None:
    """Numbers in `text`; commas are separators unless they can only be decimal commas."""
    plain = text.replace("−", "-").replace("–", "-").replace("\u00a0", " ")
    tidy = re.sub(r"(?<=\d)-(?=\d)", " ", plain)  # "3.1-4.2" is a range
    pointed = NUMBER.findall(tidy.replace(",", " , "))
    mixed = re.search(r"\d,\d", tidy) and re.search(r"\d[ \t]+[-+.\d]", tidy)  # "68,5 14" is no three numbers
    if len(pointed) == wanted and not mixed and ("," not in tidy or "." in tidy or wanted > 1):
        return tuple(pointed)
    with_commas = NUMBER.findall(re.sub(r"(?<=\d),(?=\d)", ".", tidy))
    return tuple(with_commas) if "." not in text and len(with_commas) == wanted else None


def _example(names: tuple[str, ...]) -> str:
    values = {
        "mean": "112.5",
        "estimate": "112.5",
        "sd": "14.2",
        "se": "3.2",
        "n": "20",
        "low": "105.9",
        "high": "119.1",
        "events": "4",
        "people": "30",
        "hours": "1200",
        "median": "24",
        "level": "30",
        "mean-change": "2.5",
        "t": "2.1",
        "p": "0.03",
    }
    return " ".join(values.get(name, "0.45") for name in names)
