"""A claim weighed: what went in, what came out, and the parts that every kind of claim shares."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import cache
from importlib.metadata import version
from typing import Any

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.changing import find_changes
from evidence.appraisal.confidence import Confidence
from evidence.appraisal.kinds import ClaimKind, find_kind
from evidence.appraisal.overrides import Override as Chosen
from evidence.appraisal.overrides import apply_override
from evidence.appraisal.verdict import Verdict, VerdictKind
from evidence.appraisal.wording import Wordings
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Claim, ClaimLink, Exclusion, Override, Reference
from evidence.publishing.panels import Panel
from evidence.statistics.pooling import Pooled
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.bearing_rules import Brought, tell_bearing
from evidence.workflows.relevance.contributions import StudyEvidence, name_study
from evidence.workflows.weigh.varied_correlations import GridRow


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A study that bears on the claim and was not weighed, with the reason."""

    study: str
    label: str
    reason: str
    by: str  # a person, or "rule"


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that the catalogue holds on a claim: what people decided of it, studies and sources that may bear on it."""

    claim: Claim
    excluded: Sequence[Exclusion]
    chosen: Sequence[Override]
    rows: Sequence[StudyRows]
    links: Sequence[tuple[ClaimLink, Reference]] = ()


@dataclass(frozen=True, slots=True)
class DesignPart:
    """Studies that start from one level, rated by themselves where designs are mixed."""

    name: str
    studies: int
    verdict: Verdict
    confidence: Confidence


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
    brought: tuple[Brought, ...] = ()  # every study that bears on the claim, with the rule that brought it
    panels: tuple[Panel, ...] = ()  # what this kind of claim has to show besides
    by_design: tuple[DesignPart, ...] = ()  # where randomised and other studies are mixed: each by itself
    sources: tuple[Reference, ...] = ()  # references linked to the claim, with nothing to pool

    @property
    def kind(self) -> ClaimKind:
        """What kind of claim it is."""
        return find_kind(self.claim.kind)

    @property
    def graded(self) -> bool:
        """Whether a confidence is rated; an opinion has none, and its level says nothing."""
        return self.kind.graded

    @property
    def empty(self) -> bool:
        """Whether nothing was found that could be weighed, by figures or by linked sources."""
        return is_empty(self.verdict, self.confidence)

    @property
    def invented(self) -> bool:
        """Whether any study behind it is demonstration data."""
        return any(s.rows.study.invented for s in self.studies)

    @property
    def grid_agrees(self) -> bool:
        """Whether the verdict is the same whichever correlation is assumed."""
        return len({row.verdict for row in self.grid}) <= 1


# Why a study is left out; also how causes in the history are told apart.
RETRACTED = "the report is retracted"


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
        if study.invented:  # the notice over the whole speaks of what was weighed
            label = f"{label} (invented)"
        notices = [r.notice for r in bearing.rows.references]
        if study.id in by_person:
            exclusion = by_person[study.id]
            left.append(LeftOut(study.key, label, exclusion.reason, exclusion.person))
        elif notices and all(n in ("retracted", "withdrawn or removed") for n in notices):
            left.append(LeftOut(study.key, label, RETRACTED, "rule"))
        elif study.sample and study.sample in samples:
            reason = f"the same people as {samples[study.sample]}; they are counted once"
            left.append(LeftOut(study.key, label, reason, "rule"))
        else:
            if study.sample:
                samples[study.sample] = label
            kept.append(bearing)
    return kept, left


def tell_brought(
    bearings: Sequence[Bearing],
    left_out: Sequence[LeftOut],
    claim: Claim,
    construct: str,
    vocabulary: Vocabulary,
) -> tuple[Brought, ...]:
    """Every study that bears on the claim with its rule; of those left out, the reason."""
    reasons = {item.study: f"{item.reason} ({item.by})" for item in left_out}
    return tuple(
        tell_bearing(b, claim, construct, vocabulary, reasons.get(b.rows.study.key, "")) for b in bearings
    )


def is_empty(verdict: Verdict, confidence: Confidence) -> bool:
    """Whether nothing was found that could be weighed, by figures or by linked sources."""
    return verdict.kind is VerdictKind.NOTHING_FOUND and confidence.rule_set != "narrative"


def settle(proposed: Confidence, chosen: Sequence[Override], verdict: Verdict) -> Confidence:
    """The rating with what people chose over it; where no domain is rated there is nothing to choose.

    Where nothing is found, nothing can be trusted: choices wait until something is found again, and that is told.
    """
    if not proposed.domains or not chosen:
        return proposed
    if is_empty(verdict, proposed):
        people = ", ".join(dict.fromkeys(o.person for o in chosen))
        note = f"What {people} chose of the confidence waits: nothing that could be weighed is found now."
        return replace(proposed, notes=(*proposed.notes, note))
    choices = [
        Chosen(o.domain, o.chosen, o.reason, o.person, o.at.date().isoformat(), o.inputs_hash) for o in chosen
    ]
    return apply_override(proposed, choices)


def tell_changing(claim: Claim, body: Body, confidence: Confidence) -> tuple[str, ...]:
    """What would change the answer: computed, and in the words of the person who states the claim."""
    change = find_changes(body, confidence)
    lines = [in_kind_words(line, claim.kind) for line in change.lines()]
    if claim.falsifier:
        lines.append(f"In the words of {claim.added_by}, it would be given up if: {claim.falsifier}")
    elif change.falsifier_needed:
        lines.append(
            f"Nobody has said yet what would overturn it; at {confidence.level} confidence that is needed: "
            f'steelyard claim falsifier {claim.key} "..."'
        )
    return tuple(lines)


def in_kind_words(line: str, kind: str) -> str:
    """What would change it in the words of the kind: a level has a line, a trend no change, where others have zero."""
    for said, meant in KIND_WORDS.get(kind, ()):
        line = line.replace(said, meant)
    return line


KIND_WORDS = {
    "level": (("finds no difference", "finds a mean on the line"), ("onto zero", "onto the line")),
    "trend": (("finds no difference", "finds no change"),),
    "association": (("finds no difference", "finds no association"),),
}


def as_measured(body: Body, studies: Sequence[StudyEvidence]) -> Body:
    """The body with the unit of its outcomes, where all of them share one."""
    units = {o.unit for s in studies for o in s.bearing.outcomes if o.unit}
    return replace(body, unit=units.pop()) if len(units) == 1 and body.metric in IN_THE_UNIT else body


IN_THE_UNIT = ("mean_difference", "raw", "MD")


@cache
def own_version() -> str:
    """The version of this program; read once, as it is asked for with every claim."""
    return version("steelyard")


def hash_inputs(
    claim: Claim,
    body: Body,
    chosen: Sequence[Any],
    left_out: Sequence[LeftOut],
    vocabulary: Vocabulary,
    more: Sequence[object] = (),
) -> str:
    """A short hash of everything the outcome depends on: unchanged inputs give the same one."""
    content = {
        "claim": claim.model_dump(exclude={"id", "added_at", "added_by", "note", "review_due"}),
        "contributions": [asdict(c) for c in body.contributions],
        "pooled": [body.pooled.estimate, body.pooled.low, body.pooled.high] if body.pooled else None,
        "chosen": [(o.domain, o.chosen, o.reason, o.inputs_hash) for o in chosen],
        "left_out": [asdict(item) for item in left_out],
        "vocabulary": vocabulary.version,
        "steelyard": own_version(),
        "more": list(more),
    }
    text = json.dumps(content, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
