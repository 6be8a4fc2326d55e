"""A claim weighed: every study that bears on it, the pooled figure, the verdict, and how far it can be trusted.

What is done with the studies depends on the kind of claim (`evaluating`); what comes out has one shape (`weighed`).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from importlib.metadata import version
from typing import Any

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    claim_by_key,
    exclusions_of,
    last_evidence_change,
    overrides_of,
)
from evidence.catalogue.queries.judgement import links_of_claim
from evidence.catalogue.queries.many_claims import studies_comparing
from evidence.catalogue.queries.standings import LastWeighed, last_weighed
from evidence.catalogue.tables import Appraisal
from evidence.vocabulary import Vocabulary
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.bearing import Side
from evidence.workflows.relevance.kinship import PAIRED, related_exercises, related_regions
from evidence.workflows.weigh.evaluating import evaluate
from evidence.workflows.weigh.said_besides import say_besides
from evidence.workflows.weigh.stand_ins import stand_in_constructs
from evidence.workflows.weigh.weighed import Inputs, LeftOut, Weighing, hash_inputs, set_aside

__all__ = [
    "Inputs",
    "LeftOut",
    "Weighing",
    "as_appraisal",
    "hash_inputs",
    "is_kept",
    "read_inputs",
    "set_aside",
    "weigh",
    "weigh_and_keep",
    "weigh_inputs",
]


def weigh(catalogue: Catalogue, key: str, vocabulary: Vocabulary | None = None) -> Weighing:
    """Weigh one claim on the catalogue as it stands; nothing is stored. Raises NotFound for an unknown claim.

    Many at once: `reweighing.weigh_many`, which reads each study once.
    """
    vocabulary = vocabulary or vocabulary_of(catalogue)
    return weigh_inputs(read_inputs(catalogue, key, vocabulary), vocabulary)


def read_inputs(catalogue: Catalogue, key: str, vocabulary: Vocabulary) -> Inputs:
    """All that the catalogue holds on a claim. Raises NotFound for an unknown claim."""
    with catalogue.reading() as session:
        claim = claim_by_key(session, key)
        constructs = [claim.construct_id, *stand_in_constructs(claim.construct_id, vocabulary)]
        sides: list[frozenset[str]] = []
        regions = None
        if claim.kind in PAIRED:  # the others look at every study that measured the outcome
            sides = [related_exercises(e, vocabulary) for e in (claim.exercise, claim.comparator) if e]
            regions = [r for r in related_regions(claim.region, vocabulary) if r] if claim.region else None
        return Inputs(
            claim,
            exclusions_of(session, claim),
            overrides_of(session, claim),
            studies_comparing(session, constructs, sides, regions) if claim.construct_id else [],
            links_of_claim(session, claim),
        )


def weigh_inputs(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Weigh a claim on studies already read; those that do not bear on it change nothing."""
    return say_besides(evaluate(inputs, vocabulary), inputs, vocabulary)


def weigh_and_keep(
    catalogue: Catalogue, key: str, who: str, vocabulary: Vocabulary | None = None
) -> Weighing:
    """Weigh a claim and keep a snapshot when it says something that the last one did not."""
    at = catalogue.now()  # before anything is read: what comes while it is weighed is a later change
    weighing = weigh(catalogue, key, vocabulary)
    if catalogue.read_only:
        return weighing
    number = weighing.claim.id or 0
    with catalogue.reading() as session:
        last = last_weighed(session, [number]).get(number)
        changed = last_evidence_change(session)
    if is_kept(weighing.inputs_hash, last, changed):
        return weighing
    with catalogue.changing(who, f"weigh {key}") as session:
        appraisal = as_appraisal(weighing, catalogue)
        appraisal.at = at
        session.add(appraisal)
    return weighing


def is_kept(inputs_hash: str, last: LastWeighed | None, changed: datetime | None) -> bool:
    """Whether the last snapshot was made of the same inputs, and nothing that it rests on changed since."""
    if last is None or last.inputs_hash != inputs_hash:
        return False
    return changed is None or changed <= last.at


def as_appraisal(weighing: Weighing, catalogue: Catalogue) -> Appraisal:
    """The snapshot of a weighing, with the versions it was made by."""
    verdict, confidence = weighing.verdict, weighing.confidence
    assert weighing.claim.id is not None
    return Appraisal(
        claim_id=weighing.claim.id,
        at=catalogue.now(),
        inputs_hash=weighing.inputs_hash,
        versions={
            "steelyard": version("steelyard"),
            "rule_set": confidence.rule_set,
            "rules": confidence.version,
        },
        verdict=str(verdict.kind),
        confidence=str(confidence.level),
        confidence_low=str(confidence.low),
        confidence_high=str(confidence.high),
        estimate=verdict.estimate,
        low=verdict.low,
        high=verdict.high,
        metric=weighing.scale,
        k=verdict.k,
        body={
            "verdict": verdict.text,
            "sentence": verdict.sentence,
            "wordings": asdict(weighing.wordings),
            "domains": [
                {"domain": d.domain, "proposed": d.proposed, "rule": d.rule_id, "reason": d.reason}
                for d in confidence.domains
            ],
            "studies": [
                {
                    "study": c.study,
                    "estimate": c.estimate,
                    "variance": c.variance,
                    "weight": c.weight,
                    "n": c.n,
                }
                for c in weighing.contributions
            ],
            "left_out": [asdict(item) for item in weighing.left_out],
            "notes": list(weighing.notes),
            "construct": weighing.construct,
            "direction": str(verdict.direction) if verdict.direction else None,
            "sides": list_sides(weighing),
        },
    )


def list_sides(weighing: Weighing) -> list[dict[str, Any]]:
    """Which exercises the studies did on each side, and how many of them did these."""
    counted = Counter(
        (exercises_of(s.bearing.exercise_sides), exercises_of(s.bearing.comparator_sides))
        for s in weighing.studies
    )
    return [{"exercise": list(a), "comparator": list(b), "studies": n} for (a, b), n in counted.items()]


def exercises_of(sides: Sequence[Side]) -> tuple[str, ...]:
    """The exercises that were done on one side."""
    return tuple(dict.fromkeys(side.condition.exercise for side in sides if side.condition.exercise))
