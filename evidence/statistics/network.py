"""Studies of a network comparison: from contrasts or from arms to effects with their covariance; and which
parts connect.

A study with n conditions gives n - 1 effects against its first condition, with their covariance. People who
did all conditions (within-person studies) enter through a covariance of the arms; separate groups need only
variances. Source for multi-arm contrasts: Ruecker 2012; Franchini et al. 2012.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.dependence import check_covariance, group_rows
from evidence.statistics.heterogeneity import Array

# Printed figures are rounded: closure is asked for to this share of a standard error, or of a variance.
CLOSURE = 0.05
VARIANCE_FIT = 0.02
ASK_FOR_COVARIANCE = (
    "Check the figures; if people did every condition, give one figure an arm with its covariance."
)


@dataclass(frozen=True, slots=True)
class NetworkStudy:
    """One study: `effects` (n - 1) are each other arm minus the first arm, `covariance` is theirs (n - 1, n -
    1).
    """

    name: str
    arms: tuple[str, ...]
    effects: Array
    covariance: Array

    @property
    def design(self) -> tuple[str, ...]:
        return _sort_arms(self.arms)

    def contrast(self, first: str, second: str) -> tuple[float, float]:
        """Effect and variance of first minus second, both arms of this study."""
        weights = np.zeros(len(self.arms))
        weights[self.arms.index(first)] += 1.0
        weights[self.arms.index(second)] -= 1.0
        return float(weights[1:] @ self.effects), float(weights[1:] @ self.covariance @ weights[1:])


def sort_names(names: Iterable[str]) -> tuple[str, ...]:
    """Names in alphabetical order, without regard to case."""
    return tuple(sorted(set(names), key=lambda name: (name.casefold(), name)))


@lru_cache(maxsize=4096)
def _sort_arms(arms: tuple[str, ...]) -> tuple[str, ...]:
    return sort_names(arms)


def from_arms(name: str, arms: Sequence[str], means: ArrayLike, covariance: ArrayLike) -> NetworkStudy:
    """A study from one figure an arm (such as log means) with their covariance.

    Args:
        covariance: n variances for separate groups, or the n x n matrix for people who did every condition
            (cov = r se_a se_b).

    Raises:
        NumberProblem: fewer than two arms, an arm twice, or unusable figures.
    """
    values = np.asarray(means, dtype=np.float64)
    spread = np.asarray(covariance, dtype=np.float64)
    if spread.ndim == 1:
        spread = np.diag(spread)
    _check_arms(name, arms, values, spread)
    step = np.hstack([-np.ones((len(arms) - 1, 1)), np.eye(len(arms) - 1)])
    within = np.asarray(step @ spread @ step.T, dtype=np.float64)
    check_covariance(within, f"study {name}")
    return NetworkStudy(str(name), tuple(arms), np.asarray(step @ values), within)


def from_contrasts(
    name: str, pairs: Sequence[tuple[str, str]], effects: ArrayLike, ses: ArrayLike
) -> NetworkStudy:
    """A study of separate groups from all its pairwise contrasts (first minus second) with standard errors.

    Raises:
        NumberProblem: a contrast missing, given twice or against itself; effects that do not add up; standard
            errors that cannot come from separate groups (then the covariance must be given: use `from_arms`).
    """
    where = f"study {name}"
    y, se = np.asarray(effects, dtype=np.float64), np.asarray(ses, dtype=np.float64)
    if not (len(pairs) == y.size == se.size):
        raise NumberProblem("Effects, standard errors and comparisons differ in number.", where=where)
    if not (np.isfinite(y).all() and np.isfinite(se).all() and (se > 0.0).all()):
        raise NumberProblem("An effect or a standard error is missing or not above 0.", where=where)
    arms = list(dict.fromkeys(arm for pair in pairs for arm in pair))
    seen = [frozenset(pair) for pair in pairs]
    if any(len(one) < 2 for one in seen):
        raise NumberProblem("A condition is compared with itself.", where=where)
    twice = next((one for one in seen if seen.count(one) > 1), None)
    if twice:
        raise NumberProblem(
            f"The comparison of {' with '.join(sorted(twice))} stands twice.",
            where=where,
            hint="Keep one, or give the second study its own id.",
        )
    needed = len(arms) * (len(arms) - 1) // 2
    if len(pairs) != needed:
        raise NumberProblem(
            f"{len(arms)} conditions make {needed} comparisons, but {len(pairs)} are given.",
            where=where,
            hint="Give all comparisons of the study, or one figure an arm.",
        )
    size = len(arms)
    differences, variances = np.zeros((size, size)), np.zeros((size, size))
    for (first, second), effect, error in zip(pairs, y, se, strict=True):
        a, b = arms.index(first), arms.index(second)
        differences[a, b], differences[b, a] = effect, -effect
        variances[a, b] = variances[b, a] = error**2
    levels = differences.mean(axis=1)
    _check_closure(differences, levels, variances, arms, where)
    if size > 2:
        _check_arm_variances(variances, arms, where)
    # Cov(y_i - y_0, y_j - y_0) = (v_i0 + v_j0 - v_ij)/2 holds whatever the arms' own variances are.
    own = variances[1:, 0]
    covariance = (own[:, None] + own[None, :] - variances[1:, 1:]) / 2.0
    check_covariance(covariance, where)
    return NetworkStudy(str(name), tuple(arms), levels[1:] - levels[0], covariance)


def read_contrasts(
    study_ids: Sequence[Hashable],
    first: Sequence[str],
    second: Sequence[str],
    effects: ArrayLike,
    ses: ArrayLike,
) -> tuple[NetworkStudy, ...]:
    """Group rows of contrasts (effect = first minus second) into studies, in order of first appearance.

    Raises:
        NumberProblem: columns of different length, or what `from_contrasts` refuses.
    """
    y, se = np.asarray(effects, dtype=np.float64), np.asarray(ses, dtype=np.float64)
    if len({len(study_ids), len(first), len(second), y.size, se.size}) > 1:
        raise NumberProblem("The columns of the comparisons differ in length.")
    if not len(study_ids):
        raise NumberProblem("There is no comparison.", hint="Give at least one study.")
    clusters = group_rows(study_ids)
    return tuple(
        from_contrasts(name, [(str(first[i]), str(second[i])) for i in rows], y[rows], se[rows])
        for name, rows in zip(clusters.names, clusters.rows, strict=True)
    )


class HasArms(Protocol):
    """Anything that names its conditions."""

    @property
    def arms(self) -> tuple[str, ...]: ...


def split_parts(studies: Sequence[HasArms]) -> tuple[tuple[int, ...], ...]:
    """Positions of the studies of each connected part, in order of first appearance."""
    part_of: dict[str, int] = {}
    groups: dict[int, list[int]] = {}
    nodes: dict[int, set[str]] = {}
    for position, study in enumerate(studies):
        touched = sorted({part_of[arm] for arm in study.arms if arm in part_of})
        home = touched[0] if touched else position
        groups.setdefault(home, []).append(position)
        nodes.setdefault(home, set()).update(study.arms)
        for other in touched[1:]:
            groups[home] += groups.pop(other)
            nodes[home] |= nodes.pop(other)
        part_of.update(dict.fromkeys(nodes[home], home))
    return tuple(tuple(sorted(members)) for members in groups.values())


def measure_distance(studies: Sequence[NetworkStudy], nodes: Sequence[str]) -> Array:
    """Number of direct comparisons on the shortest way between two conditions; -1 where there is none."""
    size = len(nodes)
    index = {node: i for i, node in enumerate(nodes)}
    near = np.zeros((size, size), dtype=bool)
    for study in studies:
        for a, b in combinations(study.arms, 2):
            near[index[a], index[b]] = near[index[b], index[a]] = True
    distance = np.full((size, size), -1.0)
    reached = np.eye(size, dtype=bool)
    frontier = reached.copy()
    step = 0
    while frontier.any():
        distance[frontier] = step
        frontier = ((frontier.astype(np.float64) @ near) > 0.0) & ~reached
        reached |= frontier
        step += 1
    return distance


def find_look_alikes(names: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pairs of names that differ in case or spacing only: perhaps one study under two ids."""
    first: dict[str, str] = {}
    pairs = []
    for name in dict.fromkeys(names):
        key = "".join(name.casefold().split())
        if key in first:
            pairs.append((first[key], name))
        else:
            first[key] = name
    return tuple(pairs)


def imply_arm_variances(variances: Array) -> tuple[Array, Array]:
    """Least-squares arm variances s with s_a + s_b = v_ab, and the residuals, from an n x n matrix (n >= 3)."""
    size = variances.shape[0]
    pairs = list(combinations(range(size), 2))
    design = np.zeros((len(pairs), size))
    for row, (a, b) in enumerate(pairs):
        design[row, a] = design[row, b] = 1.0
    target = np.array([variances[a, b] for a, b in pairs])
    solution = np.linalg.lstsq(design, target, rcond=None)[0]
    return np.asarray(solution, dtype=np.float64), np.asarray(target - design @ solution, dtype=np.float64)


def _check_arms(name: str, arms: Sequence[str], values: Array, spread: Array) -> None:
    where = f"study {name}"
    if len(arms) < 2:
        raise NumberProblem("A study needs at least two conditions to be compared.", where=where)
    if len(set(arms)) < len(arms):
        raise NumberProblem("A condition stands twice.", where=where, hint="Combine the two arms first.")
    if values.shape != (len(arms),) or spread.shape != (len(arms), len(arms)):
        raise NumberProblem("Conditions, figures and covariance differ in number.", where=where)
    if not np.isfinite(values).all():
        raise NumberProblem("A figure is missing or not a number.", where=where)
    check_covariance(spread, where)


def _check_closure(differences: Array, levels: Array, variances: Array, arms: list[str], where: str) -> None:
    gap = np.abs(differences - (levels[:, None] - levels[None, :]))
    if (gap > CLOSURE * np.sqrt(variances) + 1e-12).any():
        a, b = np.unravel_index(int(np.argmax(gap)), gap.shape)
        raise NumberProblem(
            f"The comparisons do not add up: {arms[a]} against {arms[b]} is {differences[a, b]:.4g}, "
            f"but by way of the other conditions it is {levels[a] - levels[b]:.4g}.",
            where=where,
            hint="Check the signs and figures of this study.",
        )


def _check_arm_variances(variances: Array, arms: list[str], where: str) -> None:
    implied, residuals = imply_arm_variances(variances)
    typical = float(variances[np.triu_indices(len(arms), 1)].mean())
    shown = ", ".join(f"{arm} {value:.4g}" for arm, value in zip(arms, implied, strict=True))
    if np.abs(residuals).max() > VARIANCE_FIT * typical:
        raise NumberProblem(
            f"The standard errors do not fit together: as separate groups the variances would be {shown}, "
            f"which leaves differences up to {np.abs(residuals).max():.3g}.",
            where=where,
            hint=ASK_FOR_COVARIANCE,
        )
    if (implied <= 0.0).any():
        raise NumberProblem(
            f"The standard errors cannot come from separate groups: the implied variances are {shown}.",
            where=where,
            hint=ASK_FOR_COVARIANCE,
        )
