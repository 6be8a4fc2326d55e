"""Claims of a trend: an outcome rises or falls with a detail that has levels, within each study and then over all.

Levels are those of the conditions' details or dose. Each study is a line through its levels by generalised least
squares (`statistics/trend.py`). Verdict and confidence are judged on the change over the whole range that was studied,
so that they are the same whatever step it is told over; the figure told is the change over a step, which has the size
of a difference between two things that can be done. Nothing is said beyond the levels that were studied.
"""

import math
from dataclasses import replace

from evidence.appraisal.body import Body
from evidence.appraisal.kinds import find_kind
from evidence.appraisal.metrics import format_interval, format_value
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording_kinds import word_trend
from evidence.catalogue.tables import Claim
from evidence.statistics.pooling import Pooled
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.relevance.contributions import name_study
from evidence.workflows.relevance.ranked_studies import gather_pairs
from evidence.workflows.weigh.claims_in_words import name_claim, name_detail, name_step
from evidence.workflows.weigh.fitted_trends import (
    Graded,
    fit_study,
    levels_of,
    only_levels,
    over_step,
    range_studied,
)
from evidence.workflows.weigh.one_sided import (
    contribute_effect,
    find_studies,
    finish_weighing,
    make_own_body,
    rate_own,
)
from evidence.workflows.weigh.pooling_claims import choose_scale
from evidence.workflows.weigh.stand_ins import told_as_stand_in
from evidence.workflows.weigh.trend_levels import show_trend
from evidence.workflows.weigh.weighed import Inputs, Weighing, tell_changing


def weigh_trend(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Each study's line over its levels, brought to the range studied, pooled and judged; told over one step."""
    claim = inputs.claim
    detail = str(claim.terms.get("detail", ""))
    found = find_studies(inputs, vocabulary)
    kept = [b for b in found.kept if len(levels_of(b, detail)) > 1]
    unlike = [b for b in found.kept if b not in kept]
    evidence = [gather_pairs(only_levels(b, detail), found.construct, vocabulary, "usual") for b in kept]
    scale = choose_scale(claim, evidence, found.construct, vocabulary)
    graded = [fit_study(e, detail, scale) for e in evidence]
    low, high = range_studied(graded)
    span = high - low or 1.0
    step = float(claim.terms.get("step") or span)

    def pooled_over(stretch: float) -> tuple[Body, Pooled | None]:
        contributions = [
            contribute_effect(g.evidence, over_step(g, stretch, scale), found.construct, note=g.reason)
            for g in graded
        ]
        return make_own_body(claim, contributions, scale, studies=evidence, margin=claim.margin)

    judged, _ = pooled_over(span)
    body, pooled = pooled_over(step)
    named = name_detail(detail)
    verdict = in_trend_words(judge_range(judged, body, step / span), claim, named)
    verdict = told_as_stand_in(verdict, claim, found.construct, vocabulary)
    confidence = rate_own(inputs, judged, evidence, verdict, vocabulary)
    names = name_claim(claim, vocabulary, found.construct, evidence)
    told_step = name_step(detail, step)
    words = word_trend(verdict, confidence, names, named, told_step)
    notes = note_range(judge(judged), detail, low, high, step) if graded else []
    notes += [n for g in graded for n in note_shape(g, detail)]
    if unlike:
        labels = ", ".join(name_study(b.rows) for b in unlike)
        notes.append(f"{labels}: no two levels of {named} with the exercise, so no trend can be seen there.")
    panel = show_trend(claim, graded, named, step, told_step, verdict, scale)
    return finish_weighing(
        inputs,
        vocabulary,
        replace(found, bearings=tuple(b for b in found.bearings if b not in unlike)),
        evidence,
        body,
        pooled,
        scale,
        verdict,
        confidence,
        words,
        notes=notes,
        panels=[panel] if graded else [],
        changes=tell_changing(claim, judged, confidence),
    )


def judge_range(judged: Body, told: Body, share: float) -> Verdict:
    """What is found over the range studied, with the figures of the step it is told over (`share` of the range)."""
    verdict, figures = judge(judged), judge(told)
    margin = None if verdict.margin is None else verdict.margin * share
    return replace(
        verdict,
        sentence=figures.sentence,
        estimate=figures.estimate,
        low=figures.low,
        high=figures.high,
        margin=margin,
    )


def note_range(verdict: Verdict, detail: str, low: float, high: float, step: float) -> list[str]:
    """Over what the trend was judged, and over what it is told."""
    span = high - low or 1.0
    told = (
        f"The figures are the change {name_step(detail, step)}, from {low:g} to {high:g} as studied; "
        "nothing is said beyond."
    )
    if verdict.low is None or verdict.high is None or verdict.estimate is None or math.isclose(step, span):
        return [told]
    metric = verdict.metric
    change = format_value(metric, verdict.estimate, sign=True)
    interval = format_interval(metric, verdict.low, verdict.high)
    margin = verdict.margin
    against = f", margin {format_interval(metric, -margin, margin)}" if margin is not None else ""
    return [
        told,
        f"Verdict and confidence are judged over the whole range studied, {name_step(detail, span)}, so that they do "
        f"not depend on the step: {change} (95 % interval {interval}{against}).",
    ]


def in_trend_words(verdict: Verdict, claim: Claim, detail: str) -> Verdict:
    """The verdict in the words of a trend."""
    moves = {Direction.MORE: "rises", Direction.LESS: "falls"}.get(verdict.direction or Direction.SAME, "")
    if verdict.kind is VerdictKind.DIRECTION_ONLY:
        return verdict
    return replace(
        verdict, text=find_kind("trend").name_verdict(str(verdict.kind), moves=moves, detail=detail)
    )


def note_shape(graded: Graded, detail: str) -> list[str]:
    """Whether the points of a study lie off their line by more than chance, and that two levels show no bend."""
    label, curve = name_study(graded.evidence.rows), graded.curve
    if curve is None:
        return []
    if len(set(graded.levels)) == 2:
        return [f"{label}: two levels only; whether the change is even between them cannot be seen."]
    from scipy.special import chdtrc

    p = float(chdtrc(curve.q_df, curve.q)) if curve.q_df > 0 else 1.0
    return (
        [f"{label}: its levels do not lie on a line (p = {p:.3f}); the line is a rough guide."]
        if p < 0.05
        else []
    )
