"""A claim weighed: every study that bears on it, the pooled figure, the verdict, and how far it can be trusted."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from importlib.metadata import version
from typing import Any

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.changing import find_changes
from evidence.appraisal.confidence import Confidence, rate
from evidence.appraisal.overrides import Override as Chosen
from evidence.appraisal.overrides import apply_override
from evidence.appraisal.verdict import Verdict, judge
from evidence.appraisal.wording import Wordings, wordings
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    StudyRows,
    claim_by_key,
    exclusions_of,
    last_evidence_change,
    latest_appraisal,
    overrides_of,
    studies_measuring,
)
from evidence.catalogue.tables import Appraisal, Claim, Exclusion, Override
from evidence.statistics.integrity import Severity
from evidence.statistics.pooling import Pooled
from evidence.vocabulary import Vocabulary
from evidence.workflows.bearing import Bearing, find_bearing
from evidence.workflows.claims_in_words import name_claim
from evidence.workflows.contributions import (
    StudyEvidence,
    gather_contrasts,
    name_study,
    note_leanings,
    note_outcomes,
)
from evidence.workflows.figure_checks import check_study
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pooling_claims import choose_scale, make_body, tell_way
from evidence.workflows.stand_ins import note_stand_ins, stand_in_constructs, told_as_stand_in
from evidence.workflows.varied_correlations import GridRow, vary_correlations


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A study that bears on the claim and was not weighed, with the reason."""

    study: str
    label: str
    reason: str
    by: str  # a person, or "rule"


@dataclass(frozen=True, slots=True)
class Weighing:
    """All that was found of a claim. Effects are exercise minus comparator on `scale`."""

    claim: Claim
    statement: str
    scale: str
    construct: str  # what was measured: another than the claim's where it leans on a surrogate
    studies: tuple[StudyEvidence, ...]
    contributions: tuple[Contribution, ...]
    pooled: Pooled | None
    verdict: Verdict
    confidence: Confidence
    wordings: Wordings
    grid: tuple[GridRow, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    would_change: tuple[str, ...]  # what would change the answer, one line each
    inputs_hash: str

    @property
    def invented(self) -> bool:
        """Whether any study behind it is demonstration data."""
        return any(s.rows.study.invented for s in self.studies)

    @property
    def grid_agrees(self) -> bool:
        """Whether the verdict is the same whichever correlation is assumed."""
        return len({row.verdict for row in self.grid}) <= 1


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that the catalogue holds on a claim: what people decided of it, and the studies that may bear on it."""

    claim: Claim
    excluded: Sequence[Exclusion]
    chosen: Sequence[Override]
    rows: Sequence[StudyRows]


def weigh(catalogue: Catalogue, key: str, vocabulary: Vocabulary | None = None) -> Weighing:
    """Weigh one claim on the catalogue as it stands; nothing is stored. Raises NotFound for an unknown claim.

    Many at once: `reweighing.weigh_many`, which reads each study once.
    """
    vocabulary = vocabulary or vocabulary_of(catalogue)
    with catalogue.reading() as session:
        claim = claim_by_key(session, key)
        inputs = Inputs(
            claim,
            exclusions_of(session, claim),
            overrides_of(session, claim),
            studies_measuring(
                session, [claim.construct_id, *stand_in_constructs(claim.construct_id, vocabulary)]
            ),
        )
    return weigh_inputs(inputs, vocabulary)


def weigh_inputs(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Weigh a claim on studies already read; those that do not bear on it change nothing."""
    claim, excluded, chosen, rows = inputs.claim, inputs.excluded, inputs.chosen, inputs.rows
    stand_ins = stand_in_constructs(claim.construct_id, vocabulary)
    direct = [
        b for r in rows if (b := find_bearing(claim, r, vocabulary, claim.construct_id, surrogate=False))
    ]
    notes: list[str] = []
    construct, bearings = claim.construct_id, direct
    if not direct and claim.surrogate:
        construct = claim.surrogate
        bearings = [b for r in rows if (b := find_bearing(claim, r, vocabulary, construct, surrogate=True))]
        if bearings:
            notes.append(
                f"Nothing in the catalogue measured {claim.construct_id} for this claim. It leans on "
                f"{construct}, which stands in for it and is not it."
            )
    notes += note_stand_ins(claim, rows, vocabulary, construct, stand_ins)
    kept, left_out = set_aside(bearings, excluded)
    studies = tuple(gather_contrasts(b, construct, vocabulary, "usual") for b in kept)
    studies = tuple(s for s in studies if s.contrasts)
    for evidence in studies:
        notes += note_outcomes(evidence, name_study(evidence.rows))
        notes += doubtful_figures(evidence)
    scale = choose_scale(claim, studies, construct, vocabulary)
    for evidence in studies:
        notes += note_leanings(evidence, scale)
    body, pooled = make_body(claim, studies, scale, construct)
    verdict = told_as_stand_in(judge(body), claim, construct, vocabulary)
    proposed = rate(body)
    confidence = apply_override(
        proposed,
        [
            Chosen(o.domain, o.chosen, o.reason, o.person, o.at.date().isoformat(), o.inputs_hash)
            for o in chosen
        ],
    )
    grid = vary_correlations(claim, studies, body, scale, construct, vocabulary)
    if len({row.verdict for row in grid}) > 1:
        verdict = replace(
            verdict, text=f"{verdict.text}, but this depends on the correlation that is assumed"
        )
    names = name_claim(claim, vocabulary, construct, studies)
    notes += tell_way(pooled)
    return Weighing(
        claim,
        claim.statement,
        scale,
        construct,
        studies,
        body.contributions,
        pooled,
        verdict,
        confidence,
        wordings(verdict, confidence, names),
        grid,
        tuple(left_out),
        tuple(dict.fromkeys(notes)),
        find_changes(body, proposed).lines(),
        hash_inputs(claim, body, chosen, left_out, vocabulary),
    )


def weigh_and_keep(
    catalogue: Catalogue, key: str, who: str, vocabulary: Vocabulary | None = None
) -> Weighing:
    """Weigh a claim and keep a snapshot when it says something that the last one did not."""
    weighing = weigh(catalogue, key, vocabulary)
    with catalogue.reading() as session:
        last = latest_appraisal(session, weighing.claim)
        changed = last_evidence_change(session)
    same = last is not None and last.inputs_hash == weighing.inputs_hash
    if same and last is not None and (changed is None or changed <= last.at):
        return weighing
    with catalogue.changing(who, f"weigh {key}") as session:
        session.add(as_appraisal(weighing, catalogue))
    return weighing


def doubtful_figures(evidence: StudyEvidence) -> list[str]:
    """What the figures of a study say against each other, told wherever they are weighed; no rating changes for it."""
    outcomes, regions = {o.id for o in evidence.bearing.outcomes}, set(evidence.bearing.regions)
    used = {r.key for r in evidence.rows.results if r.outcome_id in outcomes and r.region in regions}
    return [
        f"{where}: {finding.text}"
        for where, finding in check_study(evidence.rows)
        if finding.severity != Severity.INFO and any(f", {key} (" in where for key in used)
    ]


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
        },
    )


def set_aside(
    bearings: Sequence[Bearing], excluded: Sequence[Exclusion]
) -> tuple[list[Bearing], list[LeftOut]]:
    """Leave out what a person left out, what is retracted, and a second report of the same people."""
    by_person = {e.study_id: e for e in excluded if not e.result_key}
    kept: list[Bearing] = []
    left: list[LeftOut] = []
    samples: dict[str, str] = {}
    for bearing in bearings:
        study, label = bearing.rows.study, name_study(bearing.rows)
        notices = [r.notice for r in bearing.rows.references]
        if study.id in by_person:
            exclusion = by_person[study.id]
            left.append(LeftOut(study.key, label, exclusion.reason, exclusion.person))
        elif notices and all(n in ("retracted", "withdrawn or removed") for n in notices):
            left.append(LeftOut(study.key, label, "the report is retracted", "rule"))
        elif study.sample and study.sample in samples:
            reason = f"the same people as {samples[study.sample]}; they are counted once"
            left.append(LeftOut(study.key, label, reason, "rule"))
        else:
            if study.sample:
                samples[study.sample] = label
            kept.append(bearing)
    return kept, left


def hash_inputs(
    claim: Claim, body: Body, chosen: Sequence[Any], left_out: Sequence[LeftOut], vocabulary: Vocabulary
) -> str:
    """A short hash of everything the outcome depends on: unchanged inputs give the same one."""
    content = {
        "claim": claim.model_dump(exclude={"id", "added_at", "added_by", "note", "review_due"}),
        "contributions": [asdict(c) for c in body.contributions],
        "chosen": [(o.domain, o.chosen, o.reason, o.inputs_hash) for o in chosen],
        "left_out": [asdict(item) for item in left_out],
        "vocabulary": vocabulary.version,
        "steelyard": version("steelyard"),
    }
    text = json.dumps(content, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
