"""A person's choices over proposed ratings: both stay, and a choice made on other inputs is marked stale."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.confidence import Choice, Confidence, DomainRating, combine, format_levels
from evidence.appraisal.facts import DOMAINS
from evidence.appraisal.levels import read_level
from evidence.errors import BadInput

OVERALL = "overall"


@dataclass(frozen=True, slots=True)
class Override:
    """A choice as kept: `chosen` is a number of levels for a domain, or a level's name for `overall`."""

    domain: str
    chosen: str
    reason: str
    person: str
    date: str
    inputs_hash: str


def apply_override(
    confidence: Confidence, overrides: Sequence[Override], inputs_hash: str | None = None
) -> Confidence:
    """The rating with a person's choices laid over it; a later choice on the same domain wins.

    A choice whose `inputs_hash` is neither that of the rating nor that of its domain still holds, and is
    marked stale. `inputs_hash` replaces the rating's own hash in that comparison. Raises BadInput for an
    unknown domain, a figure out of range, or a choice without a reason.
    """
    current = inputs_hash if inputs_hash is not None else confidence.inputs_hash
    domains = {d.domain: d for d in confidence.domains}
    choices: dict[str, Choice] = {}
    for override in overrides:
        if not override.reason.strip():
            raise BadInput(
                f"the choice for {override.domain} has no reason", hint="Write a sentence that says why."
            )
        if override.domain == OVERALL:
            proposed, stale = str(confidence.proposed_level), override.inputs_hash != current
            read = _read_overall(override)
        else:
            rating = _find(domains, override.domain)
            proposed = format_levels(rating.proposed)
            stale = override.inputs_hash not in (current, rating.inputs_hash)
            read = format_levels(read_levels(override.chosen))
        choices[override.domain] = Choice(
            override.domain, proposed, read, override.reason, override.person, override.date, stale
        )
    settled = [_settle(domains[name], choices.get(name)) for name in DOMAINS]
    level, low, high = combine(confidence.start, settled)
    if OVERALL in choices:
        level = low = high = read_level(choices[OVERALL].chosen)
    elif not choices:
        level, low, high = confidence.level, confidence.low, confidence.high
    stale_ones = sorted(c.domain.replace("_", " ") for c in choices.values() if c.stale)
    notes = confidence.notes
    if stale_ones:
        notes = (
            *notes,
            f"Chosen by a person before the evidence changed, look again: {', '.join(stale_ones)}.",
        )
    return replace(confidence, level=level, low=low, high=high, choices=tuple(choices.values()), notes=notes)


def read_levels(text: str) -> int:
    """Levels from `-1`, `−1`, `0`. Raises BadInput outside -3 to 0."""
    try:
        levels = int(text.strip().replace("−", "-"))
    except ValueError:
        levels = 1
    if not -3 <= levels <= 0:
        raise BadInput(f"{text!r} is no number of levels", hint="Use 0, -1, -2 or -3.")
    return levels


def _read_overall(override: Override) -> str:
    try:
        return str(read_level(override.chosen))
    except ValueError:
        raise BadInput(
            f"{override.chosen!r} is no level of confidence", hint="Use high, moderate, low or very low."
        ) from None


def _find(domains: dict[str, DomainRating], name: str) -> DomainRating:
    if name not in domains:
        raise BadInput(f"no domain is called {name!r}", hint=f"Use one of: {', '.join((*DOMAINS, OVERALL))}.")
    return domains[name]


def _settle(rating: DomainRating, choice: Choice | None) -> DomainRating:
    """The domain as it counts: a choice closes what was open or borderline."""
    if choice is None:
        return rating
    levels = read_levels(choice.chosen)
    return replace(rating, counted=levels, best=levels, worst=levels)
