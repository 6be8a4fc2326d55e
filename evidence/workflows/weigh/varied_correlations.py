"""A claim weighed anew under other correlations than the usual ones, wherever nobody printed them.

Two things are assumed and are varied apart: the correlation within people (before to after, between conditions), and
the one between the errors of several outcomes or regions of one study.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body
from evidence.appraisal.verdict import judge
from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.effects.links import PICKS, RESULTS, Pick
from evidence.workflows.relevance.comparability import in_one_unit
from evidence.workflows.relevance.contributions import StudyEvidence, gather_contrasts, results_of
from evidence.workflows.weigh.pooling_claims import make_body

WITHIN = "within people"


@dataclass(frozen=True, slots=True)
class GridRow:
    """The claim weighed anew under another assumed correlation; `varied` says which one."""

    pick: str
    correlations: tuple[float, ...]
    estimate: float
    low: float
    high: float
    verdict: str
    varied: str = WITHIN


def vary_correlations(
    claim: Claim,
    studies: Sequence[StudyEvidence],
    body: Body,
    scale: str,
    construct: str,
    vocabulary: Vocabulary,
) -> tuple[GridRow, ...]:
    """The verdict under the low, usual and high value of each correlation that was assumed; `body`: the usual one."""
    rows: list[GridRow] = []
    if assumed_within(studies, scale):
        rows += [
            row
            for pick in PICKS
            if (row := weigh_anew(claim, studies, body, scale, construct, vocabulary, pick, WITHIN))
        ]
    if any((results := results_of(s, scale)) is not None and results.rho is not None for s in studies):
        rows += [
            row
            for pick in PICKS
            if (row := weigh_anew(claim, studies, body, scale, construct, vocabulary, pick, RESULTS))
        ]
    return tuple(rows)


def weigh_anew(
    claim: Claim,
    studies: Sequence[StudyEvidence],
    body: Body,
    scale: str,
    construct: str,
    vocabulary: Vocabulary,
    pick: Pick,
    varied: str,
) -> GridRow | None:
    """One row of the grid; the usual one is the body itself."""
    if pick != "usual":
        changed = list(in_one_unit([another(s, construct, vocabulary, pick, varied) for s in studies], scale))
        body, _ = make_body(claim, [s for s in changed if s.contrasts], scale, construct)
    else:
        changed = list(studies)
    if body.pooled is None:
        return None
    values = assumed_within(changed, scale) if varied == WITHIN else assumed_between(changed, scale)
    pooled = body.pooled
    return GridRow(pick, values, pooled.estimate, pooled.low, pooled.high, str(judge(body).kind), varied)


def another(
    evidence: StudyEvidence, construct: str, vocabulary: Vocabulary, pick: Pick, varied: str
) -> StudyEvidence:
    """A study's contrasts under another assumed correlation."""
    if varied == RESULTS:
        return replace(evidence, links=replace(evidence.links, pick_results=pick), known={})
    return gather_contrasts(evidence.bearing, construct, vocabulary, pick)


def assumed_within(studies: Sequence[StudyEvidence], scale: str) -> tuple[float, ...]:
    """The correlations within people that were assumed in what is pooled, each once, in rising order."""
    values = {
        a.value
        for s in studies
        if (results := results_of(s, scale)) is not None
        for effect in results.effects
        for a in effect.assumptions
        if a.code.startswith("correlation") and a.value is not None
    }
    return tuple(sorted(values))


def assumed_between(studies: Sequence[StudyEvidence], scale: str) -> tuple[float, ...]:
    """The correlations assumed between outcomes or regions of one study."""
    values = {
        results.rho.value
        for s in studies
        if (results := results_of(s, scale)) is not None and results.rho is not None
    }
    return tuple(sorted(values))
