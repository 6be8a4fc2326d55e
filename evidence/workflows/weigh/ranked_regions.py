"""A region's exercises in one model: every study that measured the outcome on it, only differences within studies.

Pure: from studies already read to the order. `ranking` turns it into what is told and written.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, studies_measuring
from evidence.catalogue.tables import Claim, Condition
from evidence.errors import BadInput
from evidence.publishing.briefs import LeftOut
from evidence.statistics.network_comparison import Network, NetworkComparison, compare_network
from evidence.vocabulary import Vocabulary
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.bearing import Bearing, fold
from evidence.workflows.relevance.comparability import in_one_unit
from evidence.workflows.relevance.contributions import StudyEvidence, choose_outcomes, name_study
from evidence.workflows.relevance.ranked_studies import (
    NO_EXERCISE,
    Member,
    bearing_on_region,
    gather_pairs,
    make_member,
)
from evidence.workflows.weigh.pooling_claims import choose_scale
from evidence.workflows.weigh.weighed import set_aside

# What counts as one exercise: as recorded; each set of details apart; or with all variants of the same family.
LEVELS = ("exercise", "details", "family")
NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Question:
    """What is ranked: region, construct, scale, the sign of each outcome, and how exercises are called.

    `level`: what counts as one exercise, one of LEVELS.
    """

    region: str
    construct: str
    scale: str
    turned: dict[int | None, float]
    small_first: bool
    name_of: Callable[[Condition], str]
    vocabulary: Vocabulary
    draws: int
    seed: int
    level: str = "exercise"


@dataclass(frozen=True, slots=True)
class Compared:
    """The model under one choice of assumed correlations."""

    members: tuple[Member, ...]
    comparison: NetworkComparison | None


def ask(
    kept: Sequence[Bearing],
    region: str,
    construct: str,
    scale: str,
    vocabulary: Vocabulary,
    draws: int,
    seed: int,
    *,
    level: str = "exercise",
) -> Question:
    """Settle which way is up, and how exercises are called, from what the studies have."""
    ways = {o.better for b in kept for o in choose_outcomes(b.outcomes)}
    mixed = "lower" in ways and len(ways) > 1
    turned = {o.id: -1.0 if mixed and o.better == "lower" else 1.0 for b in kept for o in b.outcomes}
    called = namer(kept, vocabulary, level)
    return Question(
        region, construct, scale, turned, ways == {"lower"}, called, vocabulary, draws, seed, level
    )


def namer(
    kept: Sequence[Bearing], vocabulary: Vocabulary, level: str = "exercise"
) -> Callable[[Condition], str]:
    """How conditions are called, by what counts as one exercise; with the id where two exercises have one name."""
    conditions = [c for b in kept for c in b.rows.conditions if c.exercise]
    ids = {
        family_of(c.exercise or "", vocabulary) if level == "family" else c.exercise or "" for c in conditions
    }
    names = [vocabulary.exercises[i].name for i in ids]
    called = {i: n if names.count(n := vocabulary.exercises[i].name) == 1 else f"{n} ({i})" for i in ids}
    telling = details_that_differ(conditions) if level == "details" else {}
    shown: dict[str, str] = {}  # 10RM and 10rm are one load, called as it was first written
    for condition in conditions:
        for value in {**condition.dose, **condition.details}.values():
            shown.setdefault(fold(value), str(value))

    def name(condition: Condition) -> str:
        if not condition.exercise:
            return NO_EXERCISE
        own = family_of(condition.exercise, vocabulary) if level == "family" else condition.exercise
        has = all_details(condition)
        told = [
            f"{key.replace('_', ' ')} {shown.get(has.get(key, ''), NOT_STATED)}"
            for key in telling.get(own, ())
        ]
        return f"{called[own]} ({', '.join(told)})" if told else called[own]

    return name


def family_of(exercise: str, vocabulary: Vocabulary) -> str:
    """The exercise of which one is a variant, at the furthest; itself where it is a variant of none."""
    return (exercise, *vocabulary.exercise_ancestors(exercise))[-1]


def all_details(condition: Condition) -> dict[str, str]:
    """What is stated of how a condition was done, as compared."""
    return {key: fold(value) for key, value in {**condition.dose, **condition.details}.items()}


def details_that_differ(conditions: Sequence[Condition]) -> dict[str, tuple[str, ...]]:
    """By exercise, the details in which its conditions differ: only these set variants apart."""
    groups: dict[str, list[dict[str, str]]] = {}
    for condition in conditions:
        groups.setdefault(condition.exercise or "", []).append(all_details(condition))
    return {
        exercise: tuple(
            key
            for key in sorted({k for has in group for k in has})
            if len({has.get(key) for has in group}) > 1
        )
        for exercise, group in groups.items()
    }


def compare(pairs: Sequence[StudyEvidence], question: Question) -> Compared:
    """All studies in one model, from the pairs of conditions of each (`gather_pairs`)."""
    members = tuple(
        make_member(evidence, question.scale, question.name_of, question.turned)
        for evidence in in_one_unit(pairs, question.scale)
    )
    networks = [network for member in members for network in member.networks]
    if not networks:
        return Compared(members, None)
    comparison = compare_network(
        networks, small_is_better=question.small_first, draws=question.draws, seed=question.seed
    )
    return Compared(members, comparison)


def order_of(part: Network) -> tuple[str, ...]:
    """The exercises of a part by P-score; equal ones by name."""
    return tuple(s.node for s in sorted(part.standings, key=lambda s: (-round(s.p_score, 9), s.node)))


@dataclass(frozen=True, slots=True)
class Asked:
    """What a ranking is asked for, in vocabulary ids. `training_status`, `sex`: only studies of such people."""

    region: str
    construct: str
    scale: str | None = None
    level: str = "exercise"
    training_status: str | None = None
    sex: str | None = None


@dataclass(frozen=True, slots=True)
class Fitted:
    """The model of one region: what was asked, the studies in it, and those left out with the reason."""

    question: Question
    kept: tuple[Bearing, ...]
    usual: Compared
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class RankedItem:
    """One exercise of a ranking: its place and how far that can be told.

    `behind`: the first one minus it, on the scale (estimate, low, high; 95 % interval); None for the first itself.
    `tied_with_first`: that interval holds zero. `rank_low` to `rank_high` hold its rank in 95 % of the draws.
    """

    name: str
    place: int
    p_score: float
    mean_rank: float
    rank_low: int
    rank_high: int
    behind: tuple[float, float, float] | None
    tied_with_first: bool
    k_direct: int  # studies that compare it with the first one


@dataclass(frozen=True, slots=True)
class RegionRanking:
    """A region's exercises in order, first first: those of the part that most studies connect.

    `ties` are pairs that cannot be told apart, `field` all names ranked together, `unconnected` the other parts, of
    which nothing can be said beside these. `first` says what stands first ("highest" or "lowest").
    """

    region: str
    construct: str
    scale: str
    first: str
    items: tuple[RankedItem, ...]
    ties: tuple[tuple[str, str], ...]
    field: tuple[str, ...]
    unconnected: tuple[tuple[str, ...], ...]
    studies: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]


def rank_region(
    catalogue: Catalogue,
    region: str,
    outcome: str,
    *,
    scale: str | None = None,
    level: str = "exercise",
    draws: int = 1000,
    seed: int = 1,
) -> RegionRanking:
    """The order of a region's exercises on an outcome. Raises Ambiguous or NotFound for names, BadInput for a level."""
    vocabulary = vocabulary_of(catalogue)
    place = require_match(vocabulary.find_region(region), "region")
    construct = require_match(vocabulary.find_construct(outcome), "outcome")
    asked = Asked(place, construct, scale, level)
    return order_region(fit_region(read_region(catalogue, asked, vocabulary), asked, vocabulary, draws, seed))


def read_region(catalogue: Catalogue, asked: Asked, vocabulary: Vocabulary) -> list[StudyRows]:
    """The studies that measured the outcome on the region, a portion of it, or what holds it."""
    wider = vocabulary.ancestors(asked.region)
    with catalogue.reading() as session:
        return studies_measuring(
            session, [asked.construct], [asked.region, *vocabulary.descendants(asked.region), *wider]
        )


def fit_region(
    rows: Sequence[StudyRows], asked: Asked, vocabulary: Vocabulary, draws: int = 1000, seed: int = 1
) -> Fitted:
    """All studies in one model."""
    if asked.level not in LEVELS:
        raise BadInput(
            f'"{asked.level}" does not say what counts as one exercise.',
            hint=f"Use one of: {', '.join(LEVELS)}.",
        )
    bearings: list[Bearing] = []
    left: list[LeftOut] = []
    for study in rows:
        bearing = bearing_on_region(study, asked.region, asked.construct, vocabulary)
        if bearing is None:
            continue
        if bearing.region_relation == "what contains it":
            names = ", ".join(vocabulary.regions[r].name for r in bearing.regions if r)
            left.append(LeftOut(name_study(study), f"measured on {names} only, which is wider"))
        elif other := other_people(study, asked):
            left.append(LeftOut(name_study(study), other))
        else:
            bearings.append(bearing)
    kept, aside = set_aside(bearings, [])
    left += [LeftOut(item.label, item.reason) for item in aside]
    pairs = [gather_pairs(b, asked.construct, vocabulary, "usual") for b in kept]
    scale = asked.scale or usual_scale(pairs, asked.construct, vocabulary)
    question = ask(kept, asked.region, asked.construct, scale, vocabulary, draws, seed, level=asked.level)
    usual = compare(pairs, question)
    left += [LeftOut(m.label, m.reason) for m in usual.members if not m.networks]
    return Fitted(question, tuple(kept), usual, tuple(left))


def usual_scale(pairs: Sequence[StudyEvidence], construct: str, vocabulary: Vocabulary) -> str:
    """The scale that a claim on this outcome would be told on."""
    asks_none = Claim(key="", statement="", construct_id=construct, added_at=datetime.min, added_by="")
    return choose_scale(asks_none, pairs, construct, vocabulary)


def other_people(rows: StudyRows, asked: Asked) -> str:
    """Why a study is of other people than those asked for; empty where it is not."""
    for wanted, name, states in (
        (asked.training_status, "training status", {p.training_status for p in rows.people}),
        (asked.sex, "sex", {p.sex for p in rows.people}),
    ):
        if wanted is None or states == {wanted}:
            continue
        known = sorted(states - {NOT_STATED})
        return f"its people: {name} {', '.join(known) if known else NOT_STATED}, asked for: {wanted}"
    return ""


def order_region(fitted: Fitted) -> RegionRanking:
    """The order and what is tied, of the part that most studies connect."""
    question, comparison = fitted.question, fitted.usual.comparison
    parts = sorted(comparison.parts, key=lambda p: (-len(p.studies), -len(p.nodes))) if comparison else []
    main = parts[0] if parts else None
    order = order_of(main) if main else ()
    members = [
        m
        for m in fitted.usual.members
        if main and {n.name for n in m.networks} & {s.name for s in main.studies}
    ]
    return RegionRanking(
        question.region,
        question.construct,
        question.scale,
        "lowest" if question.small_first else "highest",
        tuple(make_item(main, order, place, name) for place, name in enumerate(order, 1)) if main else (),
        tuple(
            (a, b)
            for n, a in enumerate(order)
            for b in order[n + 1 :]
            if main and main.effect(a, b).low <= 0 <= main.effect(a, b).high
        ),
        order,
        tuple(order_of(part) for part in parts[1:]),
        tuple(m.label for m in members),
        fitted.left_out,
        comparison.notes if comparison else (),
    )


def make_item(part: Network, order: Sequence[str], place: int, name: str) -> RankedItem:
    """One exercise against the first of its part."""
    standing = next(s for s in part.standings if s.node == name)
    effect = None if place == 1 else part.effect(order[0], name)
    return RankedItem(
        name,
        place,
        standing.p_score,
        standing.mean_rank,
        standing.rank_low,
        standing.rank_high,
        None if effect is None else (effect.estimate, effect.low, effect.high),
        effect is not None and effect.low <= 0 <= effect.high,
        0 if effect is None else effect.k_direct,
    )
