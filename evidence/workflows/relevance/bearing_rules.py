"""By which rule each study was brought to a claim, and in what it does not answer it exactly; told for every one."""

from dataclasses import dataclass

from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import Bearing, Side
from evidence.workflows.relevance.contributions import name_study

REGIONS = {
    "the region itself": "the region named",
    "portions of it": "portions of the region named",
    "what contains it": "what contains the region named",
    "no region": "no region is named",
}


@dataclass(frozen=True, slots=True)
class Brought:
    """A study that bears on a claim: `rule` says by what, `indirect` why it counts as indirect, `reason` why it was not
    weighed (empty: it was).
    """

    study: str
    label: str
    rule: str
    indirect: tuple[str, ...]
    reason: str = ""

    @property
    def told(self) -> str:
        """One line for a person."""
        how = f"indirect ({'; '.join(self.indirect)})" if self.indirect else "direct"
        left = f" Left out: {self.reason}." if self.reason else ""
        return f"{self.label}: {self.rule}; {how}.{left}"


def tell_bearing(
    bearing: Bearing, claim: Claim, construct: str, vocabulary: Vocabulary, reason: str = ""
) -> Brought:
    """The rule that brought a study in, in words."""
    parts = [tell_side(bearing.exercise_sides, vocabulary)]
    if bearing.comparator_sides:
        parts.append(f"against {tell_side(bearing.comparator_sides, vocabulary)}")
    regions = ", ".join(vocabulary.regions[r].name for r in bearing.regions if r)
    if regions:
        parts.append(f"on {regions} ({REGIONS[bearing.region_relation]})")
    parts.append(f"by {vocabulary.constructs[construct].name}")
    indirect = [f"{i.dimension}, {i.level}: {i.reason}" for i in bearing.indirectness]
    if construct != claim.construct_id:
        claimed = vocabulary.constructs[claim.construct_id].name
        indirect.insert(0, f"outcome, surrogate: {vocabulary.constructs[construct].name} is not {claimed}")
    return Brought(
        bearing.rows.study.key,
        name_study(bearing.rows),
        ", ".join(parts),
        tuple(dict.fromkeys(indirect)),
        reason,
    )


def tell_side(sides: tuple[Side, ...], vocabulary: Vocabulary) -> str:
    """The conditions of one side with how each relates to the exercise named."""
    by_relation: dict[str, list[str]] = {}
    for side in sides:
        known = vocabulary.exercises.get(side.condition.exercise or "")
        name = side.condition.printed or (known.name if known else side.condition.key)
        by_relation.setdefault(side.relation, []).append(name)
    return "; ".join(
        f"{', '.join(dict.fromkeys(names))} ({relation})" for relation, names in by_relation.items()
    )
