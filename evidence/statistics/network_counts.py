"""Many conditions at once from raw event counts, for rare events: no continuity correction, no between-study variance.

Two methods, both of log odds ratios and both a common effect:

- MH, Mantel-Haenszel: inside each design (studies with the same conditions) generalised Mantel-Haenszel log odds
  ratios with their covariance, then generalised least squares over the designs. Sources: Mickey & Elashoff 1985 and
  Greenland 1989 (several conditions); Robins, Breslow & Greenland 1986 (variance); Efthimiou et al. 2019 (network). The
  covariance of two comparisons with one condition in common is derived in `_covary_sharing`.
- NCH, maximum likelihood of the multivariate non-central hypergeometric distribution: the events of every arm given
  the total of the study, so that the level of each study drops out. Sources: Breslow & Day 1980, section 4.2; Stijnen
  et al. 2010 (two conditions). The likelihood is exact; its close relative, a multinomial with shares n exp(theta) (the
  Breslow approximation), is not used: with common events it understates the standard errors.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array
from evidence.statistics.hypergeometric import hypergeometric_moments, log_chance
from evidence.statistics.network import sort_names, split_parts
from evidence.statistics.quantiles import check_level, chi2_tail, normal_quantile, normal_two_sided

METHODS = ("MH", "NCH")


@dataclass(frozen=True, slots=True)
class CountStudy:
    """One study: people with the event and people in all, arm by arm."""

    name: str
    arms: tuple[str, ...]
    events: tuple[int, ...]
    totals: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CountEffect:
    """Log odds ratio of first against second with its interval."""

    first: str
    second: str
    estimate: float
    se: float
    low: float
    high: float
    p: float


@dataclass(frozen=True, slots=True)
class CountNetwork:
    """Log odds ratios, row against column in the order of `nodes`, and their standard errors.

    `k` studies were used. Q between designs, its df and p are of MH only (NCH has no such test: None). `notes` name
    every study and arm that carries no information.
    """

    nodes: tuple[str, ...]
    method: str
    estimates: Array
    ses: Array
    level: float
    k: int
    q: float | None
    q_df: int | None
    q_p: float | None
    notes: tuple[str, ...]

    def effect(self, first: str, second: str) -> CountEffect:
        """First against second.

        Raises:
            NumberProblem: a condition that is not compared here.
        """
        for node in (first, second):
            if node not in self.nodes:
                raise NumberProblem(f"{node} is not among the conditions compared here.")
        a, b = self.nodes.index(first), self.nodes.index(second)
        estimate, se = float(self.estimates[a, b]), float(self.ses[a, b])
        width = normal_quantile(check_level(self.level)) * se
        p = normal_two_sided(estimate / se) if se > 0.0 else 1.0
        return CountEffect(first, second, estimate, se, estimate - width, estimate + width, p)


def make_count_study(
    name: str, arms: Sequence[str], events: Sequence[int], totals: Sequence[int]
) -> CountStudy:
    """Check the counts of one study.

    Raises:
        NumberProblem: fewer than two arms, an arm twice, or counts that cannot be.
    """
    where = f"study {name}"
    if not len(arms) == len(events) == len(totals):
        raise NumberProblem("Conditions, events and totals differ in number.", where=where)
    if len(arms) < 2:
        raise NumberProblem("A study needs at least two conditions to be compared.", where=where)
    if len(set(arms)) < len(arms):
        raise NumberProblem("A condition stands twice.", where=where, hint="Combine the two arms first.")
    for arm, event, total in zip(arms, events, totals, strict=True):
        whole = float(event).is_integer() and float(total).is_integer()
        if not (whole and 0 <= event <= total and total >= 1):
            raise NumberProblem(
                f"{event:g} events among {total:g} people cannot be.",
                where=f"{where}, {arm}",
                hint="Give whole numbers, events not above people.",
            )
    return CountStudy(str(name), tuple(arms), tuple(int(e) for e in events), tuple(int(n) for n in totals))


def compare_counts(studies: Sequence[CountStudy], *, method: str = "MH", level: float = 0.95) -> CountNetwork:
    """Compare all conditions by log odds ratios without adding anything to a zero.

    Studies in which nobody or everybody had the event say nothing about odds ratios; they are left out and named.

    Raises:
        NumberProblem: no usable study, an unknown method, a study twice, conditions that no study connects, or counts
            that allow no finite estimate.
    """
    if method not in METHODS:
        raise NumberProblem(f"No method for counts is called {method!r}.", hint="Choose MH or NCH.")
    check_level(level)
    names = [study.name for study in studies]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise NumberProblem(
            "The study stands twice.", where=f"study {twice}", hint="Give all its arms together."
        )
    used = [study for study in studies if 0 < sum(study.events) < sum(study.totals)]
    notes = [
        f"Study {study.name} is left out: {'nobody' if sum(study.events) == 0 else 'everybody'} had the event."
        for study in studies
        if study not in used
    ]
    if not used:
        raise NumberProblem(
            "No study has people with and people without the event, so the odds cannot be compared.",
            hint="Give the counts as they are; risk differences can be pooled even with no event.",
        )
    if method == "MH":
        return _compare_by_designs(used, level, notes)
    return _compare_by_likelihood(used, level, notes)


def _compare_by_designs(studies: Sequence[CountStudy], level: float, notes: list[str]) -> CountNetwork:
    designs: dict[tuple[str, ...], list[CountStudy]] = {}
    for study in studies:
        designs.setdefault(sort_names(study.arms), []).append(study)
    kept: list[tuple[list[str], Array, Array]] = []
    k = 0
    for design, members in designs.items():
        events, totals = _tabulate(design, members)
        usable = (events.sum(axis=0) > 0) & ((totals - events).sum(axis=0) > 0)
        shown = ", ".join(design)
        if usable.sum() < 2:
            notes.append(
                f"Studies of {shown} are left out (a condition without events): {', '.join(s.name for s in members)}."
            )
            continue
        for arm in (arm for arm, good in zip(design, usable, strict=True) if not good):
            notes.append(f"{arm} is left out in the studies of {shown}: all or none had the event.")
        crossed = pool_design(events[:, usable], totals[:, usable])
        if crossed is None:
            notes.append(f"Studies of {shown} are left out: their counts give no finite odds ratio.")
            continue
        kept.append(([arm for arm, good in zip(design, usable, strict=True) if good], *crossed))
        k += len(members)
    if not kept:
        raise NumberProblem("No design has events in two of its conditions, so nothing can be compared.")
    nodes = sort_names(arm for arms, _, _ in kept for arm in arms)
    _check_connected([CountStudy(str(i), tuple(arms), (), ()) for i, (arms, _, _) in enumerate(kept)])
    information, moment, square, rows = np.zeros((len(nodes) - 1,) * 2), np.zeros(len(nodes) - 1), 0.0, 0
    for arms, effects, spread in kept:
        x = _place_arms(arms, nodes)
        x = x[1:] - x[0]
        weight = np.linalg.inv(spread)
        information += x.T @ weight @ x
        moment += x.T @ weight @ effects
        square += float(effects @ weight @ effects)
        rows += effects.size
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    beta = covariance @ moment
    df = rows - beta.size
    q = max(0.0, square - float(beta @ moment)) if df else 0.0
    return _finish(nodes, "MH", beta, covariance, level, k, (q, df, chi2_tail(q, df)), notes)


def pool_design(events: Array, totals: Array) -> tuple[Array, Array] | None:
    """Log odds ratios of the other arms against the first, and their covariance, from studies of one design.

    `events` and `totals` are (studies, arms). None when some comparison has no finite odds ratio.
    """
    others = totals - events
    whole = totals.sum(axis=1)
    crossed = np.einsum("sx,sy,s->xy", events, others, 1.0 / whole)  # C_xy = sum e_x f_y / n
    size = events.shape[1]
    if (crossed[~np.eye(size, dtype=bool)] <= 0.0).any():
        return None
    logs = np.log(crossed / crossed.T)
    sharing = _covary_sharing(events, others, whole, crossed)
    pairs = [(x, y) for x in range(size) for y in range(size) if x != y]
    full = np.zeros((len(pairs), len(pairs)))
    for i, (x, y) in enumerate(pairs):
        for j, (u, v) in enumerate(pairs):
            if x == u:
                full[i, j] = sharing[x, y, v]
            elif y == v:
                full[i, j] = sharing[y, x, u]
            elif x == v:
                full[i, j] = -sharing[x, y, u]
            elif y == u:
                full[i, j] = -sharing[y, x, v]
    average = np.zeros(
        (size, len(pairs))
    )  # the level of an arm is its mean against all arms, itself included
    for i, (x, _) in enumerate(pairs):
        average[x, i] = 1.0 / size
    step = np.hstack([-np.ones((size - 1, 1)), np.eye(size - 1)])
    change = step @ average
    effects = step @ logs.mean(axis=1)
    return np.asarray(effects, dtype=np.float64), np.asarray(change @ full @ change.T, dtype=np.float64)


def _covary_sharing(events: Array, others: Array, whole: Array, crossed: Array) -> Array:
    """Cov(L_xy, L_xz) of Mantel-Haenszel log odds ratios, as an array [x, y, z]; y = z gives their variances.

    With p and q the chances of the event and of none, each study adds n_x n_y n_z p_x q_y q_z/(q_x n^2) = u. Six sums
    estimate u q_x (three) or u p_x (three) without bias, as the odds ratios psi are the same in every study; a third of
    all six is symmetric in events and their absence, as the variance of Robins, Breslow & Greenland 1986 is.
    """
    scale = 1.0 / whole**2

    def triple(a: Array, b: Array, c: Array) -> Array:
        return np.asarray(np.einsum("sx,sy,sz,s->xyz", a, b, c, scale), dtype=np.float64)

    psi = crossed / np.where(crossed.T > 0.0, crossed.T, 1.0)
    by_y, by_z = psi[:, :, None], psi[:, None, :]
    total = triple(events, others, others) + by_y * by_z * triple(others, events, events)
    total += by_y * (triple(others, events, others) + triple(events, events, others))
    total += by_z * (triple(others, others, events) + triple(events, others, events))
    safe = np.where(crossed > 0.0, crossed, 1.0)
    sharing = total / (3.0 * safe[:, :, None] * safe[:, None, :])
    # The variance of one comparison: P = (e_x + f_y)/n and R = e_x f_y/n for each study.
    share = (events[:, :, None] + others[:, None, :]) / whole[:, None, None]
    part = events[:, :, None] * others[:, None, :] / whole[:, None, None]
    turned_share, turned = share.swapaxes(1, 2), part.swapaxes(1, 2)
    variance = (
        (share * part).sum(axis=0) / (2.0 * safe**2)
        + (share * turned + turned_share * part).sum(axis=0) / (2.0 * safe * safe.T)
        + (turned_share * turned).sum(axis=0) / (2.0 * safe.T**2)
    )
    for y in range(events.shape[1]):
        sharing[:, y, y] = variance[:, y]
    return sharing


def _compare_by_likelihood(studies: Sequence[CountStudy], level: float, notes: list[str]) -> CountNetwork:
    nodes = sort_names(arm for study in studies for arm in study.arms)
    for node in nodes:
        found = [
            (e, n) for s in studies for a, e, n in zip(s.arms, s.events, s.totals, strict=True) if a == node
        ]
        if all(e == 0 for e, _ in found) or all(e == n for e, n in found):
            raise NumberProblem(
                f"{'Nobody' if found[0][0] == 0 else 'Everybody'} had the event under {node}, so its odds ratio has no "
                "finite estimate.",
                hint="Leave the condition out, or compare risk differences.",
            )
    _check_connected(studies)
    beta = np.zeros(len(nodes) - 1)
    score, information = _score_counts(studies, nodes, beta)
    height = _likelihood(studies, nodes, beta)
    for _ in range(100):
        step = np.linalg.solve(information, score)
        gain = float(step @ score)
        if gain < 1e-18:
            break
        for halving in range(40):
            trial = beta + step * 0.5**halving
            reached = _likelihood(studies, nodes, trial)
            if reached >= height:
                break
        beta, height = trial, reached
        score, information = _score_counts(studies, nodes, beta)
        if gain < 1e-14 or np.abs(beta).max() > 30.0:
            break
    if np.abs(beta).max() > 30.0 or float(np.abs(score).max()) > 1e-5:
        raise NumberProblem(
            "These counts allow no finite estimate: some conditions have events only where others have none.",
            hint="Use MH, or leave out the condition with the fewest events.",
        )
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return _finish(nodes, "NCH", beta, covariance, level, len(studies), (None, None, None), notes)


def _score_counts(studies: Sequence[CountStudy], nodes: Sequence[str], beta: Array) -> tuple[Array, Array]:
    score, information = np.zeros(beta.size), np.zeros((beta.size, beta.size))
    for study in studies:
        x = _place_arms(study.arms, nodes)
        mean, covariance = hypergeometric_moments(np.array(study.totals), sum(study.events), x @ beta)
        score += x.T @ (np.array(study.events) - mean)
        information += x.T @ covariance @ x
    return score, information


def _likelihood(studies: Sequence[CountStudy], nodes: Sequence[str], beta: Array) -> float:
    return sum(
        log_chance(np.array(one.events), np.array(one.totals), _place_arms(one.arms, nodes) @ beta)
        for one in studies
    )


def _tabulate(arms: Sequence[str], studies: Sequence[CountStudy]) -> tuple[Array, Array]:
    order = [[study.arms.index(arm) for arm in arms] for study in studies]
    events = [[study.events[i] for i in places] for study, places in zip(studies, order, strict=True)]
    totals = [[study.totals[i] for i in places] for study, places in zip(studies, order, strict=True)]
    return np.array(events, dtype=np.float64), np.array(totals, dtype=np.float64)


def _place_arms(arms: Sequence[str], nodes: Sequence[str]) -> Array:
    """Arms x (nodes - 1): a 1 at the condition of the arm; the first node is the reference."""
    return np.eye(len(nodes))[[nodes.index(arm) for arm in arms]][:, 1:]


def _check_connected(studies: Sequence[CountStudy]) -> None:
    parts = split_parts(studies)
    if len(parts) > 1:
        shown = "; ".join(
            f"({n}) {', '.join(sort_names(a for i in part for a in studies[i].arms))}"
            for n, part in enumerate(parts, 1)
        )
        raise NumberProblem(
            f"The studies fall into {len(parts)} parts that nothing connects: {shown}.",
            hint="Compare each part by itself.",
        )


def _finish(
    nodes: tuple[str, ...],
    method: str,
    beta: Array,
    covariance: Array,
    level: float,
    k: int,
    test: tuple[float | None, int | None, float | None],
    notes: list[str],
) -> CountNetwork:
    levels = np.concatenate([[0.0], beta])
    full = np.zeros((len(nodes), len(nodes)))
    full[1:, 1:] = covariance
    own = np.diag(full)
    ses = np.sqrt(np.maximum(own[:, None] + own[None, :] - 2.0 * full, 0.0))
    notes.append(
        "One common effect for all studies is assumed; differences between studies do not widen the intervals."
    )
    return CountNetwork(nodes, method, levels[:, None] - levels[None, :], ses, level, k, *test, tuple(notes))
