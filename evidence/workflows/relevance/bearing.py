"""Which stored results bear on a claim, by which rule, and in what they differ from its question.

Nobody hand-picks: every study that measured the outcome is looked at, and what is left out is left out by a rule
or by a person's reason, both of which are shown.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.appraisal.body import Indirectness
from evidence.appraisal.rulebook import load_rules
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Claim, Condition, Outcome, People
from evidence.vocabulary import Vocabulary

NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Side:
    """A condition that stands for one side of the claim, and how its exercise relates to the one named."""

    condition: Condition
    relation: str  # "the exercise itself", "a variant of it", "its parent", "any exercise"


@dataclass(frozen=True, slots=True)
class Bearing:
    """One study's conditions, outcomes and regions that bear on a claim."""

    rows: StudyRows
    exercise_sides: tuple[Side, ...]
    comparator_sides: tuple[Side, ...]
    outcomes: tuple[Outcome, ...]
    regions: tuple[str | None, ...]
    region_relation: str
    surrogate: bool
    indirectness: tuple[Indirectness, ...]


def find_bearing(
    claim: Claim, rows: StudyRows, vocabulary: Vocabulary, construct: str, *, surrogate: bool
) -> Bearing | None:
    """What of one study bears on `claim` by results on `construct`; None when nothing does."""
    outcomes = tuple(o for o in rows.outcomes if o.construct_id == construct)
    if not outcomes:
        return None
    sides = match_sides(claim, rows.conditions, vocabulary)
    if sides is None:
        return None
    exercise_sides, comparator_sides = sides
    measured = {r.region for r in rows.results if r.outcome_id in {o.id for o in outcomes}}
    regions, relation = match_regions(claim.region, measured, vocabulary)
    if not regions:
        return None
    return Bearing(
        rows,
        exercise_sides,
        comparator_sides,
        outcomes,
        regions,
        relation,
        surrogate,
        (
            *differing_exercise(exercise_sides, "intervention"),
            *differing_exercise(comparator_sides, "comparator"),
            *differing_region(claim, regions, relation, vocabulary),
            *differing_people(claim, rows.people, vocabulary),
            *differing_time(claim, rows),
        ),
    )


def find_one_sided(
    claim: Claim, rows: StudyRows, vocabulary: Vocabulary, construct: str, *, surrogate: bool = False
) -> Bearing | None:
    """What of one study bears on a claim that names one exercise, or none: its conditions, outcomes and regions."""
    outcomes = tuple(o for o in rows.outcomes if o.construct_id == construct)
    if not outcomes:
        return None
    sides = tuple(
        Side(c, relation)
        for c in rows.conditions
        if (relation := relate(c, claim.exercise, claim.exercise_details, vocabulary) or any_side(claim, c))
    )
    if not sides:
        return None
    sides = closest(sides)
    wanted = {o.id for o in outcomes}
    done = {side.condition.id for side in sides}
    measured = {r.region for r in rows.results if r.outcome_id in wanted and r.condition_id in done}
    regions, relation = match_regions(claim.region, measured, vocabulary)
    if not regions:
        return None
    indirect = (
        *differing_exercise(sides, "intervention"),
        *differing_region(claim, regions, relation, vocabulary),
        *differing_people(claim, rows.people, vocabulary),
        *differing_time(claim, rows),
    )
    return Bearing(rows, sides, (), outcomes, regions, relation, surrogate, indirect)


def any_side(claim: Claim, condition: Condition) -> str | None:
    """Where a claim names neither exercise nor details, any condition with an exercise."""
    free = claim.exercise is None and not claim.exercise_details
    return "any exercise" if free and condition.exercise is not None else None


def match_sides(
    claim: Claim, conditions: Sequence[Condition], vocabulary: Vocabulary
) -> tuple[tuple[Side, ...], tuple[Side, ...]] | None:
    """The conditions on each side. One that fits both goes to the side it fits more closely, else to neither."""
    order = ("the exercise itself", "a variant of it", "any exercise", "its parent")
    left: list[Side] = []
    right: list[Side] = []
    for condition in conditions:
        one = relate(condition, claim.exercise, claim.exercise_details, vocabulary)
        other = relate(condition, claim.comparator, claim.comparator_details, vocabulary)
        if one and other:
            # More named details fitted is a closer fit: "3 sets" against "any number of sets".
            rank_one = (order.index(one), -len(claim.exercise_details))
            rank_other = (order.index(other), -len(claim.comparator_details))
            if rank_one == rank_other:
                continue
            one, other = (one, None) if rank_one < rank_other else (None, other)
        if one:
            left.append(Side(condition, one))
        elif other:
            right.append(Side(condition, other))
    if not left or not right:
        return None
    return closest(left), closest(right)


def closest(sides: Sequence[Side]) -> tuple[Side, ...]:
    """A parent exercise stands in only where the exercise named, or a variant of it, was not done."""
    near = tuple(side for side in sides if side.relation != "its parent")
    return near or tuple(sides)


def relate(
    condition: Condition, exercise: str | None, details: Mapping[str, object], vocabulary: Vocabulary
) -> str | None:
    """How a condition relates to the exercise a claim names; None when it is another one."""
    has = {**condition.dose, **condition.details}
    if any(fold(has.get(name)) != fold(wanted) for name, wanted in details.items()):
        return None
    if exercise is None:
        return "any exercise" if details else None
    if condition.exercise is None:
        return None
    if condition.exercise == exercise:
        return "the exercise itself"
    if exercise in vocabulary.exercise_ancestors(condition.exercise):
        return "a variant of it"
    if condition.exercise in vocabulary.exercise_ancestors(exercise):
        return "its parent"
    return None


def fold(value: object) -> str:
    """A detail as compared: case and spacing aside, and 3.0 the same as 3."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return " ".join(str(value).casefold().split())


def match_regions(
    wanted: str | None, measured: set[str | None], vocabulary: Vocabulary
) -> tuple[tuple[str | None, ...], str]:
    """The measured regions that bear on the wanted one: itself, else its portions, else what contains it."""
    if wanted is None:
        return tuple(sorted(measured, key=str)), "no region"
    if wanted in measured:
        return (wanted,), "the region itself"
    below = set(vocabulary.descendants(wanted)) & measured
    # Of a muscle and its own head, the muscle: a portion counted beside its whole would count twice.
    top = [r for r in below if not set(vocabulary.ancestors(str(r))) & below]
    if top:
        return tuple(sorted(top, key=str)), "portions of it"
    above = [r for r in vocabulary.ancestors(wanted) if r in measured]
    return (above[0],) if above else (), "what contains it"


def differing_exercise(sides: Sequence[Side], dimension: str) -> tuple[Indirectness, ...]:
    """Indirect when only the parent of the exercise named was done; in a small way, when a variant of it was."""
    levels = {
        "its parent": ("serious", "its parent exercise"),
        "a variant of it": ("minor", "a variant of it"),
    }
    return tuple(
        Indirectness(dimension, level, f"{side.condition.printed or side.condition.key}: {why}")
        for side in sides
        if side.relation in levels
        for level, why in [levels[side.relation]]
    )


def differing_region(
    claim: Claim, regions: Sequence[str | None], relation: str, vocabulary: Vocabulary
) -> tuple[Indirectness, ...]:
    """Indirect when what was measured is wider than the region claimed, or only a portion of it."""
    if claim.region is None or relation not in ("what contains it", "portions of it"):
        return ()
    names = ", ".join(vocabulary.regions[r].name for r in regions if r)
    claimed = vocabulary.regions[claim.region].name
    if relation == "portions of it":
        if len(regions) > 1:
            return ()  # several portions stand for the whole
        return (Indirectness("outcome", "minor", f"measured on {names}, which is a portion of {claimed}"),)
    return (Indirectness("outcome", "minor", f"measured on {names}, which is wider than {claimed}"),)


def differing_people(
    claim: Claim, people: Sequence[People], vocabulary: Vocabulary
) -> tuple[Indirectness, ...]:
    """Indirect when the people studied are not those the claim is about."""
    found: list[Indirectness] = []
    for group in people:
        if claim.training_status and group.training_status not in (NOT_STATED, claim.training_status):
            apart = status_distance(claim.training_status, group.training_status, vocabulary)
            level = "minor" if apart is not None and apart <= 1 else "serious"
            found.append(
                Indirectness("population", level, f"studied in people who are {group.training_status}")
            )
        if claim.sex and group.sex not in (NOT_STATED, claim.sex):
            level = "minor" if group.sex == "both" else "serious"
            found.append(Indirectness("population", level, f"studied in: sex {group.sex}"))
        wanted = (claim.health or "healthy").casefold()
        if group.health.casefold() not in (NOT_STATED, wanted, f"{wanted} people", f"{wanted} adults"):
            found.append(Indirectness("population", "serious", f"studied in people with: {group.health}"))
    return tuple(dict.fromkeys(found))


def differing_time(claim: Claim, rows: StudyRows) -> tuple[Indirectness, ...]:
    """Indirect when the training lasted longer or shorter than the weeks the claim is about."""
    wanted, weeks = claim.terms.get("weeks"), rows.study.weeks
    if not wanted or weeks is None:
        return ()
    low, high = float(wanted[0]), float(wanted[1])
    if low <= weeks <= high:
        return ()
    apart = low / weeks if weeks < low else weeks / high
    line = float(load_rules("claim_kinds")["time_frame"]["minor"])
    asked = f"{low:g} weeks" if low == high else f"{low:g} to {high:g} weeks"
    level = "minor" if apart <= line else "serious"
    return (Indirectness("timeframe", level, f"lasted {weeks:g} weeks; the claim is about {asked}"),)


def status_distance(one: str, other: str, vocabulary: Vocabulary) -> int | None:
    """Steps between two training statuses; None where the list does not order one of them."""
    known = vocabulary.training_statuses
    ranks = [known[name].rank if name in known else None for name in (one, other)]
    return None if ranks[0] is None or ranks[1] is None else abs(ranks[0] - ranks[1])
