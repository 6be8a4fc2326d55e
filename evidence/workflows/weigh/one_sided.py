"""What claims without two sides share: studies found and set aside, one figure a study, a body of evidence to rate."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.confidence import Confidence
from evidence.appraisal.verdict import Verdict
from evidence.appraisal.wording import Wordings
from evidence.catalogue.tables import Claim
from evidence.publishing.panels import Panel
from evidence.statistics.effect import Effect
from evidence.statistics.pooling import Pooled, pool
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, Pairing
from evidence.workflows.relevance.bearing import Bearing, find_one_sided
from evidence.workflows.relevance.contributions import (
    StudyEvidence,
    contribute,
    degrees_of_freedom,
    name_study,
)
from evidence.workflows.relevance.linked_sources import panel_of_links, read_links
from evidence.workflows.weigh.pooling_claims import shown_alone, stand_alone, tell_way
from evidence.workflows.weigh.proposing import propose
from evidence.workflows.weigh.weighed import (
    Inputs,
    LeftOut,
    Weighing,
    hash_inputs,
    set_aside,
    settle,
    tell_brought,
    tell_changing,
)

SOURCES = "Sources"  # the heading under which a reason or an opinion lists what is linked to it


@dataclass(frozen=True, slots=True)
class Found:
    """Studies that bear on the claim by what was measured: kept, and left out with the reason."""

    construct: str
    bearings: tuple[Bearing, ...]
    kept: tuple[Bearing, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...] = ()


def find_studies(inputs: Inputs, vocabulary: Vocabulary) -> Found:
    """By the claim's own outcome; by its stand-in, where the claim may lean on one and has nothing else."""
    claim = inputs.claim
    construct, notes = claim.construct_id, []
    bearings = [b for r in inputs.rows if (b := find_one_sided(claim, r, vocabulary, construct))]
    if not bearings and claim.surrogate:
        construct = claim.surrogate
        bearings = [
            b for r in inputs.rows if (b := find_one_sided(claim, r, vocabulary, construct, surrogate=True))
        ]
        if bearings:
            notes.append(
                f"Nothing in the catalogue measured {claim.construct_id} for this claim. It leans on "
                f"{construct}, which stands in for it and is not it."
            )
    kept, left_out = set_aside(bearings, inputs.excluded)
    return Found(construct, tuple(bearings), tuple(kept), tuple(left_out), tuple(notes))


def contribute_effect(
    evidence: StudyEvidence, effect: Effect | None, construct: str, *, design: str = "", note: str = ""
) -> Contribution:
    """One study with the one figure that this kind of claim takes from it; `design` where it is not the study's own."""
    bare = contribute(evidence, "none", construct, name_study(evidence.rows))
    low, high = effect.interval() if effect else (None, None)
    return replace(
        bare,
        estimate=effect.estimate if effect else None,
        variance=effect.variance if effect else None,
        low=low,
        high=high,
        df=degrees_of_freedom(evidence, effect) if effect else None,
        n=effect.n if effect and effect.n else bare.n,
        design=design or bare.design,
        note=note,
    )


def make_own_body(
    claim: Claim,
    contributions: Sequence[Contribution],
    metric: str,
    *,
    studies: Sequence[StudyEvidence] = (),
    unit: str = "",
    margin: float | None = None,
) -> tuple[Body, Pooled | None]:
    """A body of one figure a study, pooled by random effects (REML, Knapp-Hartung)."""
    usable = [c for c in contributions if c.estimate is not None and c.variance is not None]
    pooled = pool_own(usable)
    shares = iter(pooled.weights if pooled else ())
    weighted = tuple(replace(c, weight=next(shares)) if c in usable and pooled else c for c in contributions)
    sound = [c for c in usable if c.bias != "high"]
    within = [s for s in studies if s.rows.study.pairing == Pairing.WITHIN]
    r = within[0].links.assumed("between conditions").value if len(within) * 2 > len(studies) else None
    body = Body(
        construct=claim.construct_id,
        metric=metric,
        contributions=tuple(shown_alone(weighted, pooled)),
        pooled=pooled,
        margin=margin,
        direction=Direction(claim.direction),
        without_high_risk=pool_own(sound) if len(sound) < len(usable) else None,
        within_person_r=r,
        unit=unit,
    )
    return body, pooled


def pool_own(contributions: Sequence[Contribution]) -> Pooled | None:
    """Pool figures; one study keeps the interval that is its own."""
    if not contributions:
        return None
    pooled = pool(
        [c.estimate for c in contributions if c.estimate is not None],
        [c.variance for c in contributions if c.variance is not None],
        labels=[c.study for c in contributions],
    )
    return stand_alone(pooled, contributions[0]) if len(contributions) == 1 else pooled


def rate_own(
    inputs: Inputs, body: Body, studies: Sequence[StudyEvidence], verdict: Verdict, vocabulary: Vocabulary
) -> Confidence:
    """The rating by the rules kept with the claim, with what people chose over it: the words follow what counts.

    Sources linked to the claim count where nothing pools.
    """
    linked = read_links(inputs.links, inputs.rows, [s.rows.study.key for s in studies])
    return settle(propose(inputs.claim, body, linked, vocabulary), inputs.chosen, verdict)


def finish_weighing(
    inputs: Inputs,
    vocabulary: Vocabulary,
    found: Found,
    studies: Sequence[StudyEvidence],
    body: Body,
    pooled: Pooled | None,
    scale: str,
    verdict: Verdict,
    confidence: Confidence,
    words: Wordings,
    *,
    notes: Sequence[str] = (),
    panels: Sequence[Panel] = (),
    changes: Sequence[str] | None = None,
) -> Weighing:
    """The weighing of a claim that is no comparison of two."""
    claim = inputs.claim
    told = tell_changing(claim, body, confidence) if changes is None else tuple(changes)
    if inputs.links and not any(p.heading == SOURCES for p in panels):
        linked = read_links(inputs.links, inputs.rows, [s.rows.study.key for s in studies])
        panels = [*panels, panel_of_links(linked, body.pooled is not None)]
    more = [[p.heading, p.rows] for p in panels]
    return Weighing(
        claim,
        claim.statement,
        scale,
        found.construct,
        tuple(studies),
        body.contributions,
        pooled,
        verdict,
        confidence,
        words,
        (),
        found.left_out,
        tuple(dict.fromkeys((*found.notes, *notes, *tell_way(pooled)))),
        told,
        hash_inputs(claim, body, inputs.chosen, found.left_out, vocabulary, more),
        brought=tell_brought(found.bearings, found.left_out, claim, found.construct, vocabulary),
        panels=tuple(panels),
        sources=tuple({reference.key: reference for _, reference in inputs.links}.values()),
    )
