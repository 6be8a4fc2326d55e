"""What would change the answer: computed from the body and its rating, one line each, number first.

Method from the project's design material (update_signals.yaml, "what would change our mind"): with W = 1/SE^2 and
estimate e, a new study of weight w moves the pooled estimate to (eW + xw)/(W + w) with SE 1/sqrt(W + w), x its own
effect. Where studies differ among themselves (tau^2), one study of n people weighs 1/(v/n + tau^2) at most, v its
variance per person: beyond that no single study can move the answer. Arithmetic on the pooled result only: a rough
guide, and said so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.confidence import Confidence, combine
from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording import count

Z = 1.959963984540054  # two-sided 5 % point of the normal distribution
MANY = 1e9  # more people than a study can have
CLEAR = (VerdictKind.SUPPORTED, VerdictKind.CONTRADICTED)


@dataclass(frozen=True, slots=True)
class Repair:
    """A domain that, if nothing were wrong with it, would lift the level."""

    domain: str
    level: Level


@dataclass(frozen=True, slots=True)
class Change:
    """All that was computed. None: does not apply or cannot be computed.

    `people_missing`: to the information size. `null_study_people`: size of one study that finds no
    difference and so moves the interval onto zero. `agreeing_study_people`: size of one study with the
    same estimate that would make an open answer clear. `one_study_cannot`: studies differ so much that no
    single one of any size would do either. `flips`: studies whose removal changes the
    verdict. `falsifier_needed`: the level is high or moderate, so a person has to write down what finding
    would overturn the claim.
    """

    repairs: tuple[Repair, ...]
    people_missing: int | None
    null_study_people: int | None
    agreeing_study_people: int | None
    one_study_cannot: bool
    flips: tuple[tuple[str, str], ...]
    falsifier_needed: bool

    def lines(self) -> tuple[str, ...]:
        """One sentence per item, number first, no adjectives."""
        told = []
        if self.null_study_people is not None:
            told.append(
                f"{count(self.null_study_people, 'person', 'people')} in one more study that finds no difference "
                "would move the interval onto zero (rough arithmetic)."
            )
        if self.agreeing_study_people is not None:
            told.append(
                f"{count(self.agreeing_study_people, 'person', 'people')} in one more study with this estimate "
                "would make the answer clear (rough arithmetic)."
            )
        if self.one_study_cannot:
            told.append(
                "0 studies on their own could settle it: those there are differ too much among themselves."
            )
        if self.people_missing:
            more = count(self.people_missing, "more person is", "more people are")
            told.append(f"{more} needed, all studies together, before their number is enough.")
        told += [
            f"1 study decides: without {label} the verdict is “{verdict}”." for label, verdict in self.flips
        ]
        levels = dict.fromkeys(r.level for r in self.repairs)
        for level in levels:
            domains = [r.domain.replace("_", " ") for r in self.repairs if r.level is level]
            told.append(f"1 doubt less would make the confidence {level}: {' or '.join(domains)}.")
        return tuple(told)


def find_changes(body: Body, confidence: Confidence) -> Change:
    """Work out what would change the verdict or the level of a body."""
    verdict = judge(body)
    se = _standard_error(body, verdict)
    against, along = _weight_against(verdict, se), _weight_along(verdict, se)
    return Change(
        find_repairs(confidence),
        _people_missing(confidence),
        _people_for_weight(body, against),
        _people_for_weight(body, along),
        any(w is not None and _heterogeneity(body) * w >= 1 for w in (against, along)),
        find_flips(body),
        confidence.level in (Level.HIGH, Level.MODERATE),
    )


def find_repairs(confidence: Confidence) -> tuple[Repair, ...]:
    """Domains that, set to 0, lift the proposed level."""
    found = []
    for rating in confidence.domains:
        if rating.counted < 0:
            mended = [replace(d, counted=0) if d is rating else d for d in confidence.domains]
            level, _, _ = combine(confidence.start, mended)
            if level.rank > confidence.proposed_level.rank:
                found.append(Repair(rating.domain, level))
    return tuple(found)


def _people_missing(confidence: Confidence) -> int | None:
    facts = dict(confidence.domain("imprecision").facts)
    needed, people = facts.get("needed"), facts.get("people")
    if not isinstance(needed, int) or not isinstance(people, int):
        return None
    return max(0, needed - people)


def _unit_variance(body: Body) -> float | None:
    """What one person contributes: n times the variance, over the studies that have both."""
    known = [(c.n, c.variance) for c in body.contributions if c.variance is not None and c.n > 0]
    people = sum(n for n, _ in known)
    return sum(n * n * v for n, v in known) / people if people else None


def _standard_error(body: Body, verdict: Verdict) -> float | None:
    """That of the pooled result. One study alone has an interval by Student's t, which a second study would end."""
    known = [c.variance for c in body.contributions if c.variance is not None]
    if len(body.contributions) == len(known) == 1:
        return math.sqrt(known[0]) if known[0] > 0 else None
    if verdict.low is None or verdict.high is None or verdict.high <= verdict.low:
        return None
    return (verdict.high - verdict.low) / (2 * Z)


def _weight_against(verdict: Verdict, se: float | None) -> float | None:
    """Smallest weight of a study of effect 0 that puts a limit on zero: e W / (W + w) = z / sqrt(W + w)."""
    if verdict.kind not in CLEAR or verdict.estimate is None or se is None:
        return None
    held = 1 / se**2
    added = (abs(verdict.estimate) * held / Z) ** 2 - held
    return added if added > 0 else None


def _weight_along(verdict: Verdict, se: float | None) -> float | None:
    """Smallest weight of a study with the same estimate after which zero is left out: e = z / sqrt(W + w)."""
    if verdict.kind is not VerdictKind.NO_CLEAR_DIFFERENCE or not verdict.estimate or se is None:
        return None
    if abs(verdict.estimate) < 1e-6:
        return None
    added = (Z / verdict.estimate) ** 2 - 1 / se**2
    return added if added > 0 else None


def _heterogeneity(body: Body) -> float:
    return (body.pooled.tau2 or 0.0) if body.pooled is not None else 0.0


def _people_for_weight(body: Body, weight: float | None) -> int | None:
    """People in one study of that weight: w = 1 / (v / n + tau^2), so n = v / (1 / w - tau^2)."""
    unit = _unit_variance(body)
    if weight is None or unit is None:
        return None
    room = 1 / weight - _heterogeneity(body)
    people = unit / room if room > 0 else math.inf
    return math.ceil(people - 1e-9) if people < MANY else None


@dataclass(frozen=True, slots=True)
class Remaining:
    """The pooled effect without one study: what a verdict is read from."""

    k: int
    estimate: float
    low: float
    high: float
    tau2: float | None = None
    i2: float | None = None
    prediction_low: float | None = None
    prediction_high: float | None = None


def find_flips(body: Body) -> tuple[tuple[str, str], ...]:
    """(label, verdict without it) for each study whose removal changes the verdict; pooled again by the
    defaults.
    """
    from evidence.statistics.deletions import pool_without_each

    pooled_ones = [c for c in body.contributions if c.variance is not None and c.estimate is not None]
    if body.pooled is None or len(pooled_ones) < 2 or len({c.study for c in pooled_ones}) < len(pooled_ones):
        return ()
    verdict = judge(body)
    again = judge(_pool_again(body, pooled_ones))
    if (again.kind, again.direction) != (verdict.kind, verdict.direction):
        return ()  # pooled in another way (several results a study): leaving out by this way tells nothing of that one
    without = pool_without_each(
        [c.estimate for c in pooled_ones if c.estimate is not None],
        [c.variance for c in pooled_ones if c.variance is not None],
    )
    figures = zip(without.estimates.tolist(), without.low.tolist(), without.high.tolist(), strict=True)
    found = []
    for study, (estimate, low, high) in zip(pooled_ones, figures, strict=True):
        kept = tuple(c for c in pooled_ones if c is not study)
        pooled = Remaining(len(kept), estimate, low, high)
        other = judge(replace(body, contributions=kept, pooled=pooled, n_total=None))
        if other.kind is not verdict.kind or other.direction is not verdict.direction:
            found.append((study.label, other.text))
    return tuple(found)


def _pool_again(body: Body, contributions: Sequence[Contribution]) -> Body:
    from evidence.statistics.pooling import pool

    estimates = [c.estimate for c in contributions if c.estimate is not None]
    variances = [c.variance for c in contributions if c.variance is not None]
    return replace(body, contributions=tuple(contributions), pooled=pool(estimates, variances), n_total=None)
