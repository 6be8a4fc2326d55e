"""One study as part of a ranking: all its conditions at once, lumped to their exercises, with their joint covariance.

Every pair of conditions is worked out by the same rule as for a claim. For conditions of one study the variances of
all pairs hold their whole covariance, cov(i - 0, j - 0) = (v_i0 + v_j0 - v_ij) / 2, whether the same people did them
(then r is in each v) or groups of their own (Franchini et al. 2012). So an effect here is the one that a claim on the
same two exercises has.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition
from evidence.errors import NumberProblem
from evidence.statistics.dependence import check_covariance
from evidence.statistics.heterogeneity import Array
from evidence.statistics.network import NetworkStudy
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Pairing
from evidence.workflows.effects.contrasts import Contrast, build_contrast
from evidence.workflows.effects.links import RESULTS, Links, Pick
from evidence.workflows.effects.study_results import SHARED_ARM, by_place, symmetric_root
from evidence.workflows.relevance.bearing import Bearing, Side, match_regions
from evidence.workflows.relevance.contributions import (
    StudyEvidence,
    choose_outcomes,
    count_people,
    explain_absence,
    name_study,
    note_outcomes,
)

NO_EXERCISE = "no exercise"
LOOSE = 0.5  # of a standard error: comparisons of one study that miss each other by more are told
ROUNDING = 1e-8


@dataclass(frozen=True, slots=True)
class Block:
    """The conditions of one study on one outcome and region: levels around their mean, and their covariance."""

    conditions: tuple[Condition, ...]
    levels: Array
    covariance: Array
    people: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Member:
    """A study with what it brings to a ranking; `networks` is empty where it brings nothing, and `reason` says why."""

    evidence: StudyEvidence
    label: str
    networks: tuple[NetworkStudy, ...]
    people: int
    blocks: int  # outcomes and regions that were averaged
    notes: tuple[str, ...]
    reason: str = ""

    @property
    def nodes(self) -> tuple[str, ...]:
        """The exercises it compares, in the order in which it has them."""
        return tuple(dict.fromkeys(arm for network in self.networks for arm in network.arms))


def bearing_on_region(rows: StudyRows, region: str, construct: str, vocabulary: Vocabulary) -> Bearing | None:
    """The study's outcomes on the construct and its regions that bear on the region; None when nothing was measured."""
    outcomes = tuple(o for o in rows.outcomes if o.construct_id == construct)
    measured = {r.region for r in rows.results if r.outcome_id in {o.id for o in outcomes}}
    regions, relation = match_regions(region, measured, vocabulary)
    if not regions:
        return None
    sides = tuple(Side(c, "the exercise itself") for c in rows.conditions)
    return Bearing(rows, sides, (), outcomes, regions, relation, False, ())


def gather_pairs(bearing: Bearing, construct: str, vocabulary: Vocabulary, pick: Pick) -> StudyEvidence:
    """Every pair of the study's conditions on each outcome and region that may be averaged."""
    links = Links(bearing.rows, construct, vocabulary, pick)
    found = [
        build_contrast(bearing.rows, a, b, outcome, region, links)
        for outcome in choose_outcomes(bearing.outcomes)
        for region in bearing.regions
        for a, b in combinations(bearing.rows.conditions, 2)
    ]
    return StudyEvidence(bearing, tuple(c for c in found if c is not None), links)


def make_member(
    evidence: StudyEvidence,
    scale: str,
    name_of: Callable[[Condition], str],
    turned: Mapping[int | None, float],
) -> Member:
    """What a study brings to a ranking on one scale. `turned`: the sign of each outcome, by its row number."""
    label = name_study(evidence.rows)
    notes = note_outcomes(evidence, label)
    blocks: list[Block] = []
    problems: list[str] = []
    for group in by_place(evidence.contrasts):
        try:
            block = join_pairs(group, scale, turned.get(group[0].outcome.id, 1.0), evidence)
        except NumberProblem as problem:
            problems.append(str(problem))
            continue
        if block is not None:
            blocks.append(block)
    notes += [f"{label}: {note}" for block in blocks for note in block.notes]
    missing = explain_missing(evidence, blocks, scale, name_of)
    notes += [f"{label}: {text}" for text in missing] if blocks else []
    notes += tell_lumped(blocks, name_of, label)
    rho = evidence.links.assumed(RESULTS).value
    networks: list[NetworkStudy] = []
    for arms, members in split_blocks(blocks, name_of):
        name = evidence.rows.study.key + (f" ({len(networks) + 1})" if networks else "")
        try:
            networks.append(lump(name, arms, members, name_of, rho))
        except NumberProblem as problem:
            problems.append(str(problem))
    reason = "" if networks else explain_nothing(evidence, blocks, scale, problems, name_of)
    people = max((block.people for block in blocks), default=0) or count_people(evidence)
    return Member(evidence, label, tuple(networks), people, len(blocks), tuple(dict.fromkeys(notes)), reason)


def join_pairs(
    contrasts: Sequence[Contrast], scale: str, sign: float, evidence: StudyEvidence
) -> Block | None:
    """All pairs on one outcome and region as levels with their covariance; None without a pair on the scale.

    Raises NumberProblem when the variances of the pairs cannot belong to one set of conditions.
    """
    pairs = {(c.exercise.id, c.comparator.id): c.effects[scale] for c in contrasts if scale in c.effects}
    if not pairs:
        return None
    known = {c.id: c for c in evidence.rows.conditions}
    ids = [i for i in known if any(i in pair for pair in pairs)]
    links = {i: {j for j in ids if (i, j) in pairs or (j, i) in pairs} for i in ids}
    hub = max(ids, key=lambda i: len(links[i]))
    ids = [i for i in ids if i == hub or i in links[hub]]
    size, place = len(ids), {i: n for n, i in enumerate(ids)}
    differences, variances = np.full((size, size), np.nan), np.full((size, size), np.nan)
    np.fill_diagonal(differences, 0.0)
    np.fill_diagonal(variances, 0.0)
    for (a, b), effect in pairs.items():
        if a in place and b in place:
            i, j = place[a], place[b]
            differences[i, j], differences[j, i] = sign * effect.estimate, -sign * effect.estimate
            variances[i, j] = variances[j, i] = effect.variance
    notes = fill_pairs(differences, variances, place[hub])
    levels = differences.mean(axis=1)
    gap = np.abs(differences - (levels[:, None] - levels[None, :]))
    if (gap > LOOSE * np.sqrt(variances) + ROUNDING).any():
        notes.append(
            "its comparisons do not quite add up; their least-squares fit is used. Check the figures."
        )
    centre = np.eye(size) - 1.0 / size
    covariance = -0.5 * centre @ variances @ centre
    values = np.linalg.eigvalsh(covariance)
    if values[0] < -ROUNDING * values[-1]:
        raise NumberProblem(
            "The spreads of its comparisons cannot belong to one set of conditions.",
            where=name_study(evidence.rows),
            hint="Check the spreads and the numbers of people.",
        )
    within = evidence.rows.study.pairing == Pairing.WITHIN
    kept = [e.n or 0 for (a, b), e in pairs.items() if a in place and b in place]
    # In groups of their own each group stands in size - 1 pairs.
    complete = len(kept) == size * (size - 1) // 2
    people = max(kept) if within else sum(kept) // (size - 1) if complete else 0
    return Block(tuple(known[i] for i in ids), levels, covariance, people, tuple(notes))


def fill_pairs(differences: Array, variances: Array, hub: int) -> list[str]:
    """Fill pairs that were not printed by way of the condition that all others were compared with, in place."""
    missing = np.argwhere(np.isnan(variances))
    for i, j in missing:
        differences[i, j] = differences[i, hub] - differences[j, hub]
        own = variances[i, hub], variances[j, hub]
        variances[i, j] = own[0] + own[1] - 2.0 * SHARED_ARM.value * np.sqrt(own[0] * own[1])
    if not len(missing):
        return []
    return [
        "not every pair of its conditions can be compared directly; the missing ones go by way of the condition they "
        f"share, with {SHARED_ARM.value:g} between the errors ({SHARED_ARM.source})"
    ]


def split_blocks(
    blocks: Sequence[Block], name_of: Callable[[Condition], str]
) -> list[tuple[tuple[str, ...], list[Block]]]:
    """Blocks that share an exercise together, with their exercises; those with a single exercise compare nothing."""
    parts: list[tuple[list[str], list[Block]]] = []
    for block in blocks:
        names = list(dict.fromkeys(name_of(c) for c in block.conditions))
        if len(names) < 2:
            continue
        touched = [part for part in parts if set(part[0]) & set(names)]
        parts = [part for part in parts if part not in touched]
        arms = list(dict.fromkeys([*(n for part in touched for n in part[0]), *names]))
        parts.append((arms, [*(b for part in touched for b in part[1]), block]))
    return [(tuple(arms), members) for arms, members in parts]


def lump(
    name: str,
    arms: tuple[str, ...],
    blocks: Sequence[Block],
    name_of: Callable[[Condition], str],
    rho: float,
) -> NetworkStudy:
    """Average conditions of one exercise, and outcomes and regions of the same people, into one figure an exercise.

    Unweighted least squares of the levels on exercise and block. Errors of two blocks correlate by `rho`, by way of
    the symmetric roots of their covariances: for two conditions that is rho * sqrt(v_a v_b).
    """
    ids = list(dict.fromkeys(c.id for block in blocks for c in block.conditions))
    rows = [(n, c) for n, block in enumerate(blocks) for c in block.conditions]
    levels = np.concatenate([block.levels for block in blocks])
    roots = np.zeros((len(rows), len(ids)))
    start = 0
    for block in blocks:
        columns = [ids.index(c.id) for c in block.conditions]
        roots[start : start + len(columns), columns] = symmetric_root(block.covariance)
        start += len(columns)
    of_block = np.array([n for n, _ in rows])
    covariance = roots @ roots.T * np.where(of_block[:, None] == of_block[None, :], 1.0, rho)
    design = np.zeros((len(rows), len(arms) + len(blocks)))
    for row, (n, condition) in enumerate(rows):
        design[row, arms.index(name_of(condition))] = 1.0
        design[row, len(arms) + n] = 1.0
    against_first = np.hstack([-np.ones((len(arms) - 1, 1)), np.eye(len(arms) - 1)])
    weights = against_first @ np.linalg.pinv(design)[: len(arms)]
    within = np.asarray(weights @ covariance @ weights.T, dtype=np.float64)
    within = (within + within.T) / 2.0
    check_covariance(within, f"study {name}")
    return NetworkStudy(name, arms, np.asarray(weights @ levels, dtype=np.float64), within)


def tell_lumped(blocks: Sequence[Block], name_of: Callable[[Condition], str], label: str) -> list[str]:
    """Which conditions stand together for one exercise."""
    groups: dict[str, dict[int | None, str]] = {}
    for block in blocks:
        for condition in block.conditions:
            groups.setdefault(name_of(condition), {})[condition.id] = condition.printed or condition.key
    return [
        f"{label}: {', '.join(members.values())} are averaged as {name}."
        for name, members in groups.items()
        if len(members) > 1
    ]


def explain_missing(
    evidence: StudyEvidence, blocks: Sequence[Block], scale: str, name_of: Callable[[Condition], str]
) -> list[str]:
    """Conditions of a ranked study that could not be taken along, with the reasons."""
    used = {c.id for block in blocks for c in block.conditions}
    left = [c for c in evidence.rows.conditions if c.id not in used]
    if not left:
        return []
    names = ", ".join(dict.fromkeys(name_of(c) for c in left))
    involved = {c.id for c in left}
    reasons = [
        reason
        for contrast in evidence.contrasts
        if {contrast.exercise.id, contrast.comparator.id} & involved
        for reason in contrast.reasons
    ]
    told = "; ".join(dict.fromkeys(reasons)) or "no figure that can be compared was printed here"
    return [f"{names} left out: {told}"]


def explain_nothing(
    evidence: StudyEvidence,
    blocks: Sequence[Block],
    scale: str,
    problems: Sequence[str],
    name_of: Callable[[Condition], str],
) -> str:
    """Why a study that measured the outcome ranks nothing."""
    if problems:
        return "; ".join(dict.fromkeys(problems))
    if len(evidence.rows.conditions) < 2:
        return "it has one condition, and so compares nothing"
    names = dict.fromkeys(name_of(c) for c in evidence.rows.conditions)
    if len(names) == 1:
        return f"all its conditions are {next(iter(names))}: it compares variants of one exercise"
    if blocks:
        return "what it printed compares variants of one exercise only"
    if not evidence.contrasts:
        return "it printed nothing that compares its conditions"
    return "; ".join(explain_absence(evidence, scale))
