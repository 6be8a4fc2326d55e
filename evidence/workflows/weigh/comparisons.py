"""Claims that set one exercise against another: comparison, sameness, and rates of pain and injury."""

from collections.abc import Sequence
from dataclasses import replace

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.confidence import Confidence
from evidence.appraisal.designs import split_by_start
from evidence.appraisal.kinds import find_kind
from evidence.appraisal.metrics import format_value, show_value
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording import Points, wordings
from evidence.catalogue.tables import Claim
from evidence.statistics.integrity import Severity
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.effects.figure_checks import check_study
from evidence.workflows.relevance.bearing import find_bearing
from evidence.workflows.relevance.bias_ratings import note_not_settled
from evidence.workflows.relevance.comparability import in_one_unit, note_comparability
from evidence.workflows.relevance.contributions import (
    StudyEvidence,
    figures_used,
    gather_contrasts,
    name_study,
    note_leanings,
    note_outcomes,
)
from evidence.workflows.relevance.linked_sources import panel_of_links, read_links
from evidence.workflows.relevance.verifying import label_figures
from evidence.workflows.weigh.claims_in_words import name_claim
from evidence.workflows.weigh.pooling_claims import choose_scale, make_body, tell_way
from evidence.workflows.weigh.proposing import propose
from evidence.workflows.weigh.stand_ins import note_stand_ins, stand_in_constructs, told_as_stand_in
from evidence.workflows.weigh.varied_correlations import vary_correlations
from evidence.workflows.weigh.weighed import (
    DesignPart,
    Inputs,
    Weighing,
    as_measured,
    hash_inputs,
    set_aside,
    settle,
    tell_brought,
    tell_changing,
)

NRS_START = "grade18"


def weigh_comparison(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Every study with both sides, pooled; a stand-in outcome only where the claim allows it."""
    claim, rows = inputs.claim, inputs.rows
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
    kept, left_out = set_aside(bearings, inputs.excluded)
    studies = tuple(gather_contrasts(b, construct, vocabulary, "usual") for b in kept)
    studies = tuple(s for s in studies if s.contrasts)
    for evidence in studies:
        notes += note_outcomes(evidence, name_study(evidence.rows))
        notes += doubtful_figures(evidence)
    scale = choose_scale(claim, studies, construct, vocabulary)
    studies = in_one_unit(studies, scale)
    for evidence in studies:
        notes += note_leanings(evidence, scale)
    notes += note_comparability(studies, vocabulary, {*claim.exercise_details, *claim.comparator_details})
    body, pooled = make_body(claim, studies, scale, construct)
    body = as_measured(body, studies)
    found = judge(body)
    verdict = told_as_stand_in(against_size(in_kind_words(found, claim), claim), claim, construct, vocabulary)
    linked = read_links(inputs.links, rows, [s.rows.study.key for s in studies])
    proposed = propose(claim, body, linked, vocabulary)
    parts = rate_by_design(claim, studies, body, scale, construct, vocabulary)
    if parts:
        proposed = tell_mixed_start(proposed, parts)
    confidence = settle(proposed, inputs.chosen, verdict)
    grid = tuple(
        replace(row, verdict=row_verdict(row.verdict, claim))
        for row in vary_correlations(claim, studies, body, scale, construct, vocabulary)
    )
    if len({row.verdict for row in grid}) > 1:
        text = f"{verdict.text}, but this depends on the correlation that is assumed"
        verdict = replace(verdict, text=text)
    names = name_claim(claim, vocabulary, construct, studies)
    notes += tell_way(pooled)
    notes += tell_readers(studies)
    notes += [n for s in studies for n in note_not_settled(s.rows.study.bias or {}, name_study(s.rows))]
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
        wordings(verdict, confidence, names, points_of(studies, body.contributions)),
        grid,
        tuple(left_out),
        tuple(dict.fromkeys(notes)),
        tell_changing(claim, body, proposed),
        hash_inputs(claim, body, inputs.chosen, left_out, vocabulary, [s.line() for s in linked]),
        brought=tell_brought(bearings, left_out, claim, construct, vocabulary),
        panels=(panel_of_links(linked, pooled is not None),) if linked else (),
        by_design=parts,
        sources=tuple({reference.key: reference for _, reference in inputs.links}.values()),
    )


def in_kind_words(verdict: Verdict, claim: Claim) -> Verdict:
    """The verdict in the words of its kind of claim."""
    if verdict.kind is VerdictKind.DIRECTION_ONLY:
        return verdict  # its own text says which way the estimates point
    if verdict.kind is VerdictKind.SUPPORTED and claim.direction == Direction.DIFFERS:
        return verdict
    kind = find_kind(claim.kind if claim.direction != Direction.SAME else "sameness")
    return replace(verdict, text=kind.name_verdict(str(verdict.kind), found=verdict.direction))


def row_verdict(verdict: str, claim: Claim) -> str:
    """The verdict of a row in the words of the claim: "sameness not shown" is never told as another thing below."""
    if claim.direction != Direction.SAME:
        return verdict
    return find_kind("sameness").name_verdict(verdict, found="a difference")


def against_size(verdict: Verdict, claim: Claim) -> Verdict:
    """A claim that names a size is held to it: outside the interval the size does not hold, and that is said."""
    size = claim.terms.get("size")
    if size is None or verdict.estimate is None or verdict.low is None or verdict.high is None:
        return verdict
    relative = claim.terms.get("percent") != "points"
    shown = verdict.metric.shown_as
    if (shown, relative) not in (("percent", True), ("points", False)):
        other = "relative percent" if relative else "percentage points"
        note = f"The claim names {size:g} {other}; the figures are on another scale and cannot be held against it."
        return replace(verdict, notes=(*verdict.notes, note))
    sign = -1 if claim.direction == Direction.LESS else 1
    claimed = sign * float(size)
    low, high = (show_value(verdict.metric, v) for v in (verdict.low, verdict.high))
    unit = "%, relative" if relative else "percentage points"
    told = f"{size:g} {unit}; the estimate is {format_value(verdict.metric, verdict.estimate, sign=True)}"
    if low <= claimed <= high:
        return replace(verdict, notes=(*verdict.notes, f"The size claimed lies in the interval: {told}."))
    text = f"{verdict.text}, but not by the size claimed"
    return replace(
        verdict, text=text, notes=(*verdict.notes, f"The size claimed lies outside the interval: {told}.")
    )


def rate_by_design(
    claim: Claim,
    studies: Sequence[StudyEvidence],
    body: Body,
    scale: str,
    construct: str,
    vocabulary: Vocabulary,
) -> tuple[DesignPart, ...]:
    """Randomised and other studies by themselves, where both are there (confidence.md 1.1: rate each, show both)."""
    groups = split_by_start(body, NRS_START)
    if len(groups) < 2:
        return ()
    parts = []
    for level, group in groups.items():
        own = [s for s, c in zip(studies, body.contributions, strict=True) if any(c is x for x in group)]
        part = as_measured(make_body(claim, own, scale, construct)[0], own)
        randomised = [bool(c.randomised) for c in group]
        name = (
            "randomised" if all(randomised) else "partly randomised" if any(randomised) else "not randomised"
        )
        verdict = in_kind_words(judge(part), claim)
        parts.append(
            DesignPart(f"{name}, starting {level}", len(group), verdict, propose(claim, part, (), vocabulary))
        )
    return tuple(parts)


def tell_mixed_start(confidence: Confidence, parts: Sequence[DesignPart]) -> Confidence:
    """The start of a mixed body names every design in it, not one."""
    told = "; ".join(f"{count(p.studies)} {p.name}" for p in parts)
    return replace(
        confidence, start_reason=f"designs are mixed ({told}); most of the information starts there"
    )


def count(studies: int) -> str:
    """`1 study`, `3 studies`."""
    return "1 study" if studies == 1 else f"{studies} studies"


def points_of(studies: Sequence[StudyEvidence], contributions: Sequence[Contribution]) -> Points | None:
    """The difference in the unit of the papers beside the relative one, where all print percent of one thing."""
    units = {(o.unit, o.normalisation) for s in studies for o in s.bearing.outcomes}
    if len({u for u, _ in units}) != 1 or not next(iter(units))[0].startswith("%"):
        return None
    total = difference = base = 0.0
    for evidence, contribution in zip(studies, contributions, strict=True):
        means = [c.means for c in evidence.contrasts if c.means is not None]
        if contribution.weight is None:
            continue
        if not means:
            return None
        share = contribution.weight / len(means)
        total += contribution.weight
        difference += sum(share * (a.mean - b.mean) for a, b in means)
        base += sum(share * b.mean for _, b in means)
    if total <= 0:
        return None
    unit = next(iter(units))[0].removeprefix("%").strip()
    named = f"percentage points of {unit}" if unit else "percentage points"
    return Points(difference / total, named, base / total)


def doubtful_figures(evidence: StudyEvidence) -> list[str]:
    """What the figures of a study say against each other, told wherever they are weighed; no rating changes for it."""
    outcomes, regions = {o.id for o in evidence.bearing.outcomes}, set(evidence.bearing.regions)
    used = {r.key for r in evidence.rows.results if r.outcome_id in outcomes and r.region in regions}
    return [
        f"{where}: {finding.text}"
        for where, finding in check_study(evidence.rows)
        if finding.severity != Severity.INFO and any(f", {key} (" in where for key in used)
    ]


def tell_readers(studies: Sequence[StudyEvidence]) -> list[str]:
    """Whose figures no second person held against the paper, in one line for all that are alike."""
    alike: dict[str, list[str]] = {}
    for study in studies:
        told = label_figures(figures_used(study))
        if told:
            alike.setdefault(told, []).append(name_study(study.rows))
    return [f"{'; '.join(names)}: {told}." for told, names in alike.items()]
