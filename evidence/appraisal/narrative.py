"""Rating a body that cannot be pooled, with the sources people linked to it (Murad et al. 2017, Evid Based Med 22:85).

Risk of bias across studies by their people; direction before size; people in all. Sources with nothing to pool count by
their stance. Guidelines, experts and background are backing: shown, never counted as evidence of an effect.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.confidence import Confidence, finish_rating
from evidence.appraisal.facts import EVEN, Settings, gather_facts, read_settings
from evidence.appraisal.rulebook import Facts
from evidence.vocabulary.terms import Direction

COUNTED_KINDS, COUNTED_STANCES = ("review", "study"), ("supports", "against", "mixed")
UNSAID_DESIGN = "nonrandomised_comparative"


@dataclass(frozen=True, slots=True)
class Linked:
    """A source with nothing to pool. `n`: people in it, None where not said; `design`: an id of the designs, or ""."""

    key: str
    label: str
    stance: str
    kind: str
    n: int | None = None
    design: str = ""
    randomised: bool | None = None

    @property
    def counts(self) -> bool:
        """Whether it is evidence (a study or review that speaks for or against), and not backing."""
        return self.kind in COUNTED_KINDS and self.stance in COUNTED_STANCES


def rate_narrative(body: Body, linked: Sequence[Linked] = (), settings: Settings | None = None) -> Confidence:
    """Propose a rating by the set `narrative` of what cannot be pooled and of what was linked."""
    counted = [source for source in linked if source.counts]
    whole = replace(
        body,
        contributions=(*body.contributions, *(as_contribution(source, body) for source in counted)),
        pooled=None,
        n_total=None,
        without_high_risk=None,
    )
    chosen = read_settings(settings)
    facts = dict(gather_facts(whole, chosen))
    facts["inconsistency"] = {**facts["inconsistency"], **tell_directions(body, counted)}
    # The set counts people against 400 in all; the number that an interval would need says nothing here.
    facts["imprecision"] = {**facts["imprecision"], "needed": None, "share_of_needed": None}
    rating = finish_rating(whole, facts, "narrative", chosen)
    notes = [f"Nothing could be pooled: rated by direction, people and risk of bias ({cite()})."]
    if counted:
        told = "1 linked source" if len(counted) == 1 else f"{len(counted)} linked sources"
        notes.append(f"Counted by stance, as there is nothing to pool: {told}.")
    unsaid = [source.label for source in counted if not source.design]
    if unsaid:
        notes.append(f"No design is given for {', '.join(unsaid)}: taken as not randomised.")
    return replace(rating, notes=(*notes, *rating.notes))


def cite() -> str:
    """The source of the set, in short."""
    return "Murad 2017"


def as_contribution(source: Linked, body: Body) -> Contribution:
    """A linked source as the rules see a study without figures: not assessed, measured what the claim is about."""
    return Contribution(
        study=f"linked:{source.key}",
        label=source.label,
        year=None,
        design=source.design or UNSAID_DESIGN,
        randomised=source.randomised if source.design else False,
        n=source.n or 0,
        estimate=None,
        construct=body.construct,
    )


def tell_directions(body: Body, counted: Sequence[Linked]) -> Facts:
    """How many speak for the claim and how many against; sources by their stance, studies by their estimate's sign."""
    sides = {"for": 0, "against": 0, "neither": 0}
    for source in counted:
        sides[{"supports": "for", "against": "against"}.get(source.stance, "neither")] += 1
    for estimate in body.estimates:
        sides[_side(estimate, body.direction)] += 1
    told = [f"{count} {_WORDS[side]}" for side, count in sides.items() if count]
    found: Mapping[str, bool | int | str] = {
        "k": sum(sides.values()),
        "same_direction": not (sides["for"] and sides["against"]) and not _mixed(counted),
        "directions": ", ".join(told) or "none tells a direction",
    }
    return found


_WORDS = {"for": "for the claim", "against": "against it", "neither": "mixed or neither"}


def _mixed(counted: Sequence[Linked]) -> bool:
    return any(source.stance == "mixed" for source in counted)


def _side(estimate: float, direction: Direction) -> str:
    if direction not in (Direction.MORE, Direction.LESS) or abs(estimate) <= EVEN:
        return "neither"
    return "for" if (estimate > 0) == (direction is Direction.MORE) else "against"
