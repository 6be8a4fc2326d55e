"""A claim's studies on one scale, pooled; and what comes out under other correlations than the usual ones."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution, count_people
from evidence.appraisal.verdict import judge
from evidence.catalogue.tables import Claim
from evidence.statistics.pooling import Pooled, pool
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, Pairing
from evidence.workflows.bearing import Bearing
from evidence.workflows.contributions import (
    StudyEvidence,
    contribute,
    gather_contrasts,
    name_study,
    study_effect,
)
from evidence.workflows.links import PICKS, Pick


@dataclass(frozen=True, slots=True)
class GridRow:
    """The claim weighed anew under another assumed correlation."""

    pick: str
    correlations: tuple[float, ...]
    estimate: float
    low: float
    high: float
    verdict: str


def choose_scale(
    claim: Claim, studies: Sequence[StudyEvidence], construct: str, vocabulary: Vocabulary
) -> str:
    """The claim's own scale; else the construct's default, if any study gives it; else what most studies give."""
    if claim.metric:
        return claim.metric
    known = vocabulary.constructs[construct]
    within = sum(s.rows.study.pairing == Pairing.WITHIN for s in studies) * 2 > len(studies)
    default = {"smd_change": "smd"}.get(m := known.metric_within if within else known.metric, m)
    counts = Counter(scale for s in studies for scale in {k for c in s.contrasts for k in c.effects})
    bare = Counter(scale for s in studies for scale in {k for c in s.contrasts for k in c.bare})
    if default in counts or not (counts or bare):
        return default
    if not counts and default in bare:
        return default
    return max(sorted(counts or bare), key=lambda scale: (counts or bare)[scale])


def make_body(
    claim: Claim, studies: Sequence[StudyEvidence], scale: str, construct: str
) -> tuple[Body, Pooled | None]:
    """The body of evidence on one scale, pooled where there is anything to pool."""
    contributions = [contribute(s, scale, construct, name_study(s.rows)) for s in studies]
    pooled = pool_contributions(contributions)
    if pooled:
        shares = iter(pooled.weights)
        contributions = [
            replace(c, weight=next(shares)) if c.variance is not None else c for c in contributions
        ]
    sound = [c for c in contributions if c.bias != "high"]
    within = [s for s in studies if s.rows.study.pairing == Pairing.WITHIN]
    body = Body(
        construct=claim.construct_id,
        metric=scale,
        contributions=tuple(contributions),
        pooled=pooled,
        n_total=count_people([c for c in contributions if c.weight is not None]) if pooled else None,
        within_person_r=assumed_r(within, construct) if len(within) * 2 > len(studies) else None,
        margin=claim.margin,
        direction=Direction(claim.direction),
        without_high_risk=pool_contributions(sound) if len(sound) < len(contributions) else None,
    )
    return body, pooled


def pool_contributions(contributions: Sequence[Contribution]) -> Pooled | None:
    """Pool what has a variance: REML, Knapp-Hartung, prediction interval."""
    weighable = [c for c in contributions if c.estimate is not None and c.variance is not None]
    if not weighable:
        return None
    pooled = pool(
        [c.estimate for c in weighable if c.estimate is not None],
        [c.variance for c in weighable if c.variance is not None],
        labels=[c.label for c in weighable],
    )
    only = weighable[0]
    if len(weighable) == 1 and only.low is not None and only.high is not None:
        return replace(pooled, low=only.low, high=only.high)  # one study keeps the interval that is its own
    return pooled


def assumed_r(studies: Sequence[StudyEvidence], construct: str) -> float | None:
    """The within-person correlation in use, for the number of people such a comparison needs."""
    if not studies:
        return None
    situation = (
        "between conditions" if studies[0].links.vocabulary.constructs[construct].acute else "between changes"
    )
    return studies[0].links.assumed(situation).value


def uses_assumed_correlation(studies: Sequence[StudyEvidence], scale: str) -> bool:
    """Whether any pooled effect leans on a correlation that nobody printed."""
    effects = [study_effect(s, scale) for s in studies]
    return any(a.code.startswith("correlation") for e in effects if e for a in e.assumptions)


def vary_correlation(
    claim: Claim, bearings: Sequence[Bearing], scale: str, construct: str, vocabulary: Vocabulary
) -> tuple[GridRow, ...]:
    """The verdict under the low, usual and high correlation."""
    rows = []
    for pick in PICKS:
        studies = [gather_contrasts(b, construct, vocabulary, pick) for b in bearings]
        body, pooled = make_body(claim, [s for s in studies if s.contrasts], scale, construct)
        if pooled is None:
            continue
        rows.append(
            GridRow(
                pick,
                assumed_values(studies, scale, pick),
                pooled.estimate,
                pooled.low,
                pooled.high,
                str(judge(body).kind),
            )
        )
    return tuple(rows)


def assumed_values(studies: Sequence[StudyEvidence], scale: str, pick: Pick) -> tuple[float, ...]:
    """The correlations assumed, each once, in rising order."""
    values = {
        a.value
        for s in studies
        if (effect := study_effect(s, scale)) is not None
        for a in effect.assumptions
        if a.code.startswith("correlation") and a.value is not None
    }
    return tuple(sorted(values))
