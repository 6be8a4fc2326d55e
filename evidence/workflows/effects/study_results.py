"""The effects that one study brings to a claim on one scale, and how their errors hang together.

Pairs of conditions on one outcome and region: the variances of all pairs hold their whole covariance, cov(i - 0,
j - 0) = (v_i0 + v_j0 - v_ij) / 2, whether the same people did them or groups of their own (Franchini et al. 2012).
Outcomes and regions of the same people: an assumed correlation, which is told and varied.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evidence.catalogue.tables import Condition
from evidence.errors import NumberProblem
from evidence.statistics.correlations import Correlation
from evidence.statistics.dependence import check_covariance
from evidence.statistics.effect import Assumption, Effect, Step, derive
from evidence.statistics.heterogeneity import Array
from evidence.vocabulary.terms import Pairing
from evidence.workflows.effects.contrasts import Contrast, build_contrast
from evidence.workflows.effects.links import RESULTS, Links

# Two effects that share one of their two groups, all groups of one size, correlate by a half.
SHARED_ARM = Correlation(0.5, 0.0, 0.8, False, "Two effects with one group in common", "Gleser & Olkin 2009")
FRANCHINI = "Franchini et al. 2012"
COMPOSITE = "Borenstein et al. 2009, ch. 24 (from memory)"
MOST_SHOWN = 6  # effects whose covariances are written out one by one
ROUNDING = 1e-8

Pair = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True, eq=False)
class StudyResults:
    """A study's effects that enter a pooled figure apart, with the k × k covariance of their errors.

    `contrasts` are those behind each effect: several where the pairs of a crossing say the same thing twice and had
    to be averaged. `rho` is the correlation assumed between outcomes or regions; None where there is but one.
    """

    effects: tuple[Effect, ...]
    contrasts: tuple[tuple[Contrast, ...], ...]
    covariance: Array
    steps: tuple[Step, ...]
    rho: Correlation | None
    assumptions: tuple[Assumption, ...]
    people: int | None


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """The effects on one outcome and region."""

    pairs: tuple[Pair, ...]
    effects: tuple[Effect, ...]
    contrasts: tuple[tuple[Contrast, ...], ...]
    covariance: Array
    steps: tuple[Step, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


def find_results(contrasts: Sequence[Contrast], links: Links, scale: str) -> StudyResults | None:
    """What a study gives on a scale; None when nothing."""
    counted = [c for c in contrasts if scale in c.effects]
    if not counted:
        return None
    places = [join_place(group, scale, links) for group in by_place(counted)]
    rho = links.assumed(RESULTS) if len(places) > 1 else None
    covariance = places[0].covariance if rho is None else join_places(places, rho.value)
    assumptions = dict.fromkeys(a for place in places for a in place.assumptions)
    return StudyResults(
        tuple(e for place in places for e in place.effects),
        tuple(c for place in places for c in place.contrasts),
        covariance,
        tuple(s for place in places for s in place.steps),
        rho,
        tuple(assumptions),
        count_people(counted, scale, links),
    )


def by_place(contrasts: Sequence[Contrast]) -> list[list[Contrast]]:
    """Contrasts of one outcome and region together."""
    groups: dict[tuple[object, str | None], list[Contrast]] = {}
    for contrast in contrasts:
        groups.setdefault((contrast.outcome.id, contrast.region), []).append(contrast)
    return list(groups.values())


def join_place(group: Sequence[Contrast], scale: str, links: Links) -> Place:
    """The effects on one outcome and region: apart where each says something of its own, else their average."""
    effects = tuple(c.effects[scale] for c in group)
    pairs = tuple((c.exercise.id, c.comparator.id) for c in group)
    if len(group) == 1:
        return Place(pairs, effects, (tuple(group),), np.array([[effects[0].variance]]))
    covariance = covary_pairs(group, scale, links)
    assumptions: tuple[Assumption, ...] = ()
    source = FRANCHINI
    if covariance is None:
        covariance, assumptions, source = covary_by_arms(pairs, effects), (told_shared(),), SHARED_ARM.source
    if says_nothing_twice(pairs) and is_usable(covariance):
        steps = show_covariance(covariance, source)
        return Place(pairs, effects, tuple((c,) for c in group), covariance, steps, assumptions)
    joint = average(effects, covariance, count_people(group, scale, links), source=source)
    return Place(pairs[:1], (joint,), (tuple(group),), np.array([[joint.variance]]), (), assumptions)


def says_nothing_twice(pairs: Sequence[Pair]) -> bool:
    """Whether no pair follows from the others: a - b is known once a - d, c - d and c - b are."""
    parts: list[set[int | None]] = []
    for pair in pairs:
        touched = [part for part in parts if part & set(pair)]
        if any(set(pair) <= part for part in touched):
            return False
        parts = [part for part in parts if part not in touched] + [set(pair).union(*touched)]
    return True


def covary_pairs(group: Sequence[Contrast], scale: str, links: Links) -> Array | None:
    """The covariance of several pairs of conditions; None where not every pair of them can be compared."""
    conditions: dict[int | None, Condition] = {}
    for contrast in group:
        conditions |= {contrast.exercise.id: contrast.exercise, contrast.comparator.id: contrast.comparator}
    ids = list(conditions)
    known = {frozenset((c.exercise.id, c.comparator.id)): c.effects[scale].variance for c in group}
    variances = np.zeros((len(ids), len(ids)))
    for i, a in enumerate(ids):
        for j in range(i):
            b = ids[j]
            variance = known.get(frozenset((a, b)))
            if variance is None:
                place = group[0].outcome, group[0].region
                other = build_contrast(links.rows, conditions[a], conditions[b], *place, links)
                if other is None or scale not in other.effects:
                    return None
                variance = other.effects[scale].variance
            variances[i, j] = variances[j, i] = variance
    centre = np.eye(len(ids)) - 1.0 / len(ids)
    levels = -0.5 * centre @ variances @ centre
    values = np.linalg.eigvalsh(levels)
    if values[0] < -ROUNDING * values[-1]:
        return None  # spreads that cannot belong to one set of conditions
    design = np.zeros((len(group), len(ids)))
    for row, contrast in enumerate(group):
        design[row, ids.index(contrast.exercise.id)] = 1.0
        design[row, ids.index(contrast.comparator.id)] = -1.0
    return np.asarray(design @ levels @ design.T, dtype=np.float64)


def covary_by_arms(pairs: Sequence[Pair], effects: Sequence[Effect]) -> Array:
    """The covariance by the conditions that two pairs share, where nothing better is known."""
    shared = [[sum(x == y for x, y in zip(one, other, strict=True)) / 2 for other in pairs] for one in pairs]
    errors = np.sqrt([e.variance for e in effects])
    return np.asarray(np.array(shared) * np.outer(errors, errors), dtype=np.float64)


def told_shared() -> Assumption:
    """What is said where the covariance of two effects had to be assumed."""
    link = SHARED_ARM
    text = f"{link.text} were taken to have errors that correlate by {link.value:g}"
    return Assumption("shared people", text, link.value, link.low, link.high, link.source)


def join_places(places: Sequence[Place], rho: float) -> Array:
    """The covariance over all outcomes and regions: errors of two of them correlate by `rho`.

    By way of the symmetric roots of their covariances: for one pair of conditions that is rho * sqrt(v_a v_b).
    """
    pairs = list(dict.fromkeys(pair for place in places for pair in place.pairs))
    roots = np.zeros((sum(len(place.effects) for place in places), len(pairs)))
    start = 0
    for place in places:
        columns = [pairs.index(pair) for pair in place.pairs]
        roots[start : start + len(columns), columns] = symmetric_root(place.covariance)
        start += len(columns)
    owner = np.repeat(np.arange(len(places)), [len(place.effects) for place in places])
    same = owner[:, None] == owner[None, :]
    return np.asarray(roots @ roots.T * np.where(same, 1.0, rho), dtype=np.float64)


def symmetric_root(covariance: Array) -> Array:
    """The symmetric matrix whose square is `covariance`."""
    if covariance.shape == (1, 1):
        return np.sqrt(covariance)
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)) @ vectors.T, dtype=np.float64)


def is_usable(covariance: Array) -> bool:
    """Whether effects with this covariance can be told apart."""
    try:
        check_covariance(covariance)
    except NumberProblem:
        return False
    return True


def combine(results: StudyResults) -> Effect:
    """The study's one effect: the mean of all, so that its people count once."""
    if len(results.effects) == 1:
        return with_assumptions(results.effects[0], results.assumptions)
    assumptions = list(results.assumptions)
    if results.rho is not None:
        link = results.rho
        text = (
            f"Results of the same people were averaged, with {link.value:g} between the errors of two outcomes or "
            "regions"
        )
        assumptions.append(Assumption("shared people", text, link.value, link.low, link.high, link.source))
    rho = None if results.rho is None else results.rho.value
    joint = average(results.effects, results.covariance, results.people, rho=rho)
    return with_assumptions(joint, assumptions)


def average(
    effects: Sequence[Effect],
    covariance: Array,
    people: int | None,
    *,
    rho: float | None = None,
    source: str = COMPOSITE,
) -> Effect:
    """The mean of several effects; its steps are those of every one of them, then how they were joined."""
    k = len(effects)
    estimate = float(np.mean([e.estimate for e in effects]))
    variance = float(covariance.sum()) / k**2
    estimates = {f"y{n}": e.estimate for n, e in enumerate(effects, 1)}
    spreads: dict[str, float | str] = {f"v{n}": e.variance for n, e in enumerate(effects, 1)}
    if rho is not None:
        spreads = {"rho": rho, **spreads}
    if k <= MOST_SHOWN:
        spreads |= {f"c{i + 1}{j + 1}": float(covariance[i, j]) for i in range(k) for j in range(i + 1, k)}
    joining = (
        derive("average within the study", "mean of the effects", COMPOSITE, estimate, k=k, **estimates),
        derive("variance of it", "sum of all variances and covariances / k²", source, variance, k=k, **spreads),
    )  # fmt: skip
    steps = tuple(
        Step(f"{s.name} (result {n})", s.formula, s.inputs, s.value, s.source)
        for n, e in enumerate(effects, 1)
        for s in e.steps
    )
    assumptions = tuple(dict.fromkeys(a for e in effects for a in e.assumptions))
    return Effect(effects[0].metric, estimate, variance, people, None, (*steps, *joining), assumptions)


def with_assumptions(effect: Effect, more: Sequence[Assumption]) -> Effect:
    """An effect that says more of what it leans on."""
    if not more:
        return effect
    told = tuple(dict.fromkeys((*effect.assumptions, *more)))
    return Effect(effect.metric, effect.estimate, effect.variance, effect.n, effect.df, effect.steps, told)


def show_covariance(covariance: Array, source: str) -> tuple[Step, ...]:
    """The covariances of effects that share conditions, one by one where they are few."""
    k = len(covariance)
    if k > MOST_SHOWN:
        return ()
    formula = "(v1 + v2 − v of the two other sides)/2" if source == FRANCHINI else "√(v1·v2)/2"
    return tuple(
        derive(f"covariance of results {j + 1} and {i + 1}", formula, source, float(covariance[i, j]))
        for i in range(k)
        for j in range(i)
        if abs(covariance[i, j]) > 0.0
    )


def count_people(contrasts: Sequence[Contrast], scale: str, links: Links) -> int | None:
    """People behind several effects, each once; None where it is not known."""
    largest = max((c.effects[scale].n or 0 for c in contrasts), default=0) or None
    if links.rows.study.pairing == Pairing.WITHIN or len(contrasts) == 1:
        return largest
    sizes = {side.id: side.n for c in contrasts for side in (c.exercise, c.comparator)}
    known = [n for n in sizes.values() if n]
    return sum(known) if len(known) == len(sizes) else largest
