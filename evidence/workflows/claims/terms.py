"""What only one kind of claim needs, checked when it is stated: levels, bands, details, fields, weeks, sizes.

`Claim.terms` holds: weeks [from, to]; size and percent (relative or points); detail and step (trend); level, to, band
and source (level); other (association); field (superlative); text (mechanism, principle, practice).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.kinds import ClaimKind, bands_of, find_band, find_kind
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.naming import KEY, require_match

PERCENTS = ("relative", "points")
LONGEST_WEEKS = 520.0
LARGEST = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """The terms as a person gives them. None or empty: not given."""

    weeks: str | None = None  # "8" or "8-12"
    size: float | None = None
    percent: str | None = None
    detail: str | None = None
    step: float | None = None
    level: float | None = None
    to: float | None = None
    band: str | None = None
    source: str | None = None
    other: str | None = None
    field: tuple[str, ...] = ()
    text: str | None = None


OPTIONS = {
    "detail": "graded",
    "to": "to-level",
    "source": "band-source",
    "field": "among",
}  # named otherwise there
ALLOWED = {
    "comparison": ("weeks", "size", "percent"),
    "rate": ("weeks", "size", "percent"),
    "sameness": ("weeks",),
    "superlative": ("weeks", "field"),
    "trend": ("weeks", "detail", "step"),
    "level": ("weeks", "level", "to", "band", "source"),
    "association": ("other",),
    "mechanism": ("text",),
    "principle": ("text",),
    "practice": ("text",),
}


def read_terms(kind_id: str, given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The terms as a claim keeps them. Raises BadInput naming what this kind lacks or cannot have."""
    kind = find_kind(kind_id)
    named = {name for name in Terms.__dataclass_fields__ if getattr(given, name) not in (None, ())}
    strange = sorted(named - set(ALLOWED[kind.id]))
    if strange:
        fits = name_options(ALLOWED[kind.id])
        raise BadInput(
            f"A claim of the kind {kind.id} has no {name_options(strange)}.", hint=f"It may have: {fits}."
        )
    terms: dict[str, Any] = {}
    for name, read in READERS.items():
        if name in named:
            terms |= read(given, construct, vocabulary)
    missing = [name for name in needed(kind) if name not in terms]
    if missing:
        raise BadInput(
            f"A claim of the kind {kind.id} ({kind.about}) needs {missing[0]}.", hint=HINTS[missing[0]]
        )
    if given.percent and given.size is None:
        raise BadInput("The kind of percent is given without a size.", hint="Give --size too.")
    return terms


def name_options(terms: Sequence[str]) -> str:
    """Terms as the options that give them: `--weeks, --graded`."""
    return ", ".join(f"--{OPTIONS.get(name, name)}" for name in terms)


def needed(kind: ClaimKind) -> tuple[str, ...]:
    """The terms a kind cannot do without."""
    return kind.terms if kind.evidence == "results" else ("text",)


HINTS = {
    "detail": "--graded NAME: the detail whose levels are compared, as conditions carry it: knee_angle_deg, sets.",
    "level": '--level 60, or --band "very high".',
    "other": "--other OUTCOME: the measure it goes together with.",
    "text": '--text "...": the claim in your own words.',
}


def read_weeks(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """`8` or `8-12` as [from, to]."""
    parts = str(given.weeks).replace("\N{EN DASH}", "-").split("-")
    try:
        low, high = float(parts[0]), float(parts[-1])
    except ValueError:
        raise BadInput(f'"{given.weeks}" is no number of weeks.', hint="Write 8, or 8-12.") from None
    if len(parts) > 2 or not 0 < low <= high <= LONGEST_WEEKS:
        raise BadInput(
            f'"{given.weeks}" is no stretch of weeks.',
            hint="Write 8, or 8-12: from the shorter to the longer.",
        )
    return {"weeks": [low, high]}


def read_size(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """A size in percent, with the kind of percent, which must be said."""
    if not is_number(given.size) or not 0 < float(given.size or 0) <= LARGEST:
        raise BadInput(f"A size is above 0, not {given.size}.", hint="Say more or less with --says.")
    if given.percent not in PERCENTS:
        raise BadInput(
            "Which kind of percent is not said.",
            hint="--percent relative (40 % of the other's value) or --percent points (from 30 to 70 is 40 points).",
        )
    return {"size": float(given.size or 0), "percent": given.percent}


def read_detail(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The graded detail, by the name that conditions carry."""
    name = str(given.detail).strip().lower().replace(" ", "_").replace("-", "_")
    if not KEY.fullmatch(name):
        raise BadInput(f'"{given.detail}" cannot name a detail.', hint=HINTS["detail"])
    return {"detail": name}


def read_step(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The step over which a trend is told, in the unit of the detail."""
    if not is_number(given.step) or not 0 < float(given.step or 0) <= LARGEST:
        raise BadInput(
            f"A step is above 0, not {given.step}.", hint="--step 30: told over 30 degrees, sets, ..."
        )
    return {"step": float(given.step or 0)}


def read_level(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """A line, or a line and an upper end, in percent of the maximum; a band fills both."""
    terms: dict[str, Any] = {}
    if given.band:
        if given.level is not None:
            raise BadInput("A band and a level were given.", hint="Give one of them.")
        band = find_band(construct, given.band)
        terms = {"level": band.low, "band": band.name}
        if band.high is not None:
            terms["to"] = band.high
    elif given.level is not None:
        terms = {"level": float(given.level)}
        if given.to is not None:
            terms["to"] = float(given.to)
    if not bands_of(construct):
        raise BadInput(
            f"A level in percent of a maximum is one of activation, not of {vocabulary.constructs[construct].name}.",
            hint="State a comparison instead.",
        )
    if "level" not in terms or not is_number(terms["level"]) or not 0 <= terms["level"] <= 1000:
        raise BadInput("A level lies from 0 to 1000 percent of the maximum.", hint=HINTS["level"])
    if "to" in terms and not (is_number(terms["to"]) and terms["level"] < terms["to"]):
        raise BadInput(
            f"The band ends at {terms['to']:g}, at or below where it starts.", hint="--level 41 --to-level 60"
        )
    return terms | ({"source": given.source.strip()} if given.source and given.source.strip() else {})


def read_other(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The other measure of an association."""
    other = require_match(vocabulary.find_construct(str(given.other)), "outcome")
    if other == construct:
        raise BadInput("Both measures of the association are the same.", hint="Name another with --other.")
    return {"other": other}


def read_field(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The exercises that the best is the best of."""
    return {
        "field": sorted({require_match(vocabulary.find_exercise(name), "exercise") for name in given.field})
    }


def read_text(given: Terms, construct: str, vocabulary: Vocabulary) -> dict[str, Any]:
    """The claim in the person's own words."""
    text = " ".join(str(given.text).split())
    if not text:
        raise BadInput("The claim has no words.", hint=HINTS["text"])
    return {"text": text}


def is_number(value: object) -> bool:
    """A finite number."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


Reader = Callable[[Terms, str, Vocabulary], dict[str, Any]]
READERS: dict[str, Reader] = {
    "weeks": read_weeks,
    "size": read_size,
    "detail": read_detail,
    "step": read_step,
    "level": read_level,
    "band": read_level,
    "other": read_other,
    "field": read_field,
    "text": read_text,
}


def told_terms(terms: dict[str, Any]) -> Sequence[str]:
    """The terms as lines for a person."""
    return [f"{name}: {value}" for name, value in sorted(terms.items()) if name != "text"]
