"""Claims of a trend: an outcome rises or falls with a detail that has levels, within each study and then over all.

Levels are those of the conditions' details or dose. Each study is a line through its levels by generalised least
squares (`statistics/trend.py`). Verdict and confidence are judged on the change over the whole range that was studied,
so that they are the same whatever step it is told over; the figure told is the change over a step, which has the size
of a difference between two things that can be done. Nothing is said beyond the levels that were studied.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evidence.appraisal.body import Body
from evidence.appraisal.kinds import find_kind
from evidence.appraisal.metrics import find_metric, format_interval, format_value
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording_kinds import word_trend
from evidence.catalogue.tables import Claim, Condition
from evidence.errors import NumberProblem
from evidence.publishing.panels import Panel
from evidence.statistics.effect import Effect, Metric, Step
from evidence.statistics.pooling import Pooled
from evidence.statistics.trend import Curve, fit_curve
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.effects.study_results import by_place
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import StudyEvidence, name_study
from evidence.workflows.relevance.ranked_studies import Block, gather_pairs, join_pairs
from evidence.workflows.weigh.claims_in_words import name_claim, name_detail, name_step
from evidence.workflows.weigh.one_sided import (
    contribute_effect,
    find_studies,
    finish_weighing,
    make_own_body,
    rate_own,
)
from evidence.workflows.weigh.pooling_claims import choose_scale
from evidence.workflows.weigh.stand_ins import told_as_stand_in
from evidence.workflows.weigh.weighed import Inputs, Weighing, tell_changing

NUMBER = re.compile(r"[-\N{MINUS SIGN}]?\d+(?:\.\d+)?")
METRICS = {
    "log_ratio_of_means": Metric.LOG_RATIO_OF_MEANS,
    "smd": Metric.SMD,
    "mean_difference": Metric.MEAN_DIFFERENCE,
}


@dataclass(frozen=True, slots=True)
class Graded:
    """A study's line over the levels of a detail; `levels` and `values` of its conditions, in rising order."""

    evidence: StudyEvidence
    curve: Curve | None
    levels: tuple[float, ...]
    values: tuple[float, ...]
    reason: str = ""


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
    panel = panel_of(graded, named, scale, step)
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


def read_level(condition: Condition, detail: str) -> float | None:
    """The level of a detail as a number: "70", "70 degrees", "70 % 1RM"; None where there is none or no number."""
    held = {**condition.dose, **condition.details}.get(detail)
    if held is None or isinstance(held, bool):
        return None
    if isinstance(held, int | float):
        return float(held)
    match = NUMBER.search(str(held))
    return float(match.group().replace("\N{MINUS SIGN}", "-")) if match else None


def levels_of(bearing: Bearing, detail: str) -> dict[int | None, float]:
    """The level of each condition that has one; empty where all have the same."""
    found = {
        side.condition.id: level
        for side in bearing.exercise_sides
        if (level := read_level(side.condition, detail)) is not None
    }
    return found if len(set(found.values())) > 1 else {}


def only_levels(bearing: Bearing, detail: str) -> Bearing:
    """The study with only the conditions that have a level."""
    levels = levels_of(bearing, detail)
    rows = bearing.rows
    kept = tuple(c for c in rows.conditions if c.id in levels)
    return replace(bearing, rows=replace(rows, conditions=kept))


def fit_study(evidence: StudyEvidence, detail: str, scale: str) -> Graded:
    """A line through the levels of one study: the mean of its outcomes and regions where it has several."""
    levels = {c.id: x for c in evidence.rows.conditions if (x := read_level(c, detail)) is not None}
    blocks: list[Block] = []
    reasons: list[str] = []
    for group in by_place(evidence.contrasts):
        try:
            block = join_pairs(group, scale, 1.0, evidence)
        except NumberProblem as problem:
            reasons.append(str(problem))
            continue
        if block is not None and len({levels[c.id] for c in block.conditions}) > 1:
            blocks.append(block)
    if not blocks:
        why = "; ".join(dict.fromkeys(reasons)) or "no spread was printed, so no line can be fitted"
        return Graded(evidence, None, (), (), why)
    curves = [fit_block(block, levels) for block in blocks]
    first = blocks[0]
    order = sorted(range(len(first.conditions)), key=lambda i: levels[first.conditions[i].id])
    return Graded(
        evidence,
        join_curves(curves, evidence),
        tuple(levels[first.conditions[i].id] for i in order),
        tuple(float(first.levels[i]) for i in order),
    )


def fit_block(block: Block, levels: Mapping[int | None, float]) -> Curve:
    """The line of one outcome and region.

    The levels stand around their mean, so their covariance lacks one direction; adding any constant to it changes no
    difference between levels, and none of the slope.
    """
    size = len(block.conditions)
    covariance = block.covariance + float(np.trace(block.covariance)) / size * np.ones((size, size))
    return fit_curve([levels[c.id] for c in block.conditions], block.levels, covariance, people=block.people)


def join_curves(curves: Sequence[Curve], evidence: StudyEvidence) -> Curve:
    """Lines of several outcomes or regions of the same people as their mean, with the correlation assumed."""
    if len(curves) == 1:
        return curves[0]
    rho = evidence.links.assumed("results of one study").value
    errors = np.sqrt([float(c.covariance[0, 0]) for c in curves])
    joint = np.outer(errors, errors) * rho
    np.fill_diagonal(joint, errors**2)
    slope = float(np.mean([float(c.coefficients[0]) for c in curves]))
    variance = float(joint.sum()) / len(curves) ** 2
    return replace(curves[0], coefficients=np.array([slope]), covariance=np.array([[variance]]))


def over_step(graded: Graded, step: float, scale: str) -> Effect | None:
    """The change over a step of the detail as an effect."""
    if graded.curve is None:
        return None
    slope = float(graded.curve.coefficients[0])
    variance = float(graded.curve.covariance[0, 0]) * step**2
    told = Step(
        "slope times the step",
        "b · step; variance: step² · var(b)",
        (("b", slope), ("step", step)),
        slope * step,
        "generalised least squares on the levels",
    )
    metric = METRICS.get(scale, Metric.MEAN_DIFFERENCE)
    return Effect(metric, slope * step, variance, graded.curve.people or None, None, (told,))


def range_studied(graded: Sequence[Graded]) -> tuple[float, float]:
    """The lowest and the highest level of any study that has a line; of all where none has one."""
    levels = [x for g in graded if g.curve is not None for x in g.levels] or [
        x for g in graded for x in g.levels
    ]
    return (min(levels), max(levels)) if levels else (0.0, 0.0)


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


def panel_of(graded: Sequence[Graded], detail: str, scale: str, step: float) -> Panel:
    """The levels of every study, each against its lowest; the interval of a line alone is that of the answer."""
    metric = find_metric(scale)
    alone = sum(g.curve is not None for g in graded) == 1
    rows = []
    for g in graded:
        for level, value in zip(g.levels, g.values, strict=True):
            against = (
                "lowest level"
                if value is g.values[0]
                else format_value(metric, value - g.values[0], sign=True)
            )
            rows.append((name_study(g.evidence.rows), f"{level:g}", against))
        if g.curve is not None:
            effect = over_step(g, step, scale)
            if effect is not None:
                low, high = effect.interval()
                told = format_value(metric, effect.estimate, sign=True)
                told += "" if alone else f" [{format_interval(metric, low, high)}]"
                rows.append((name_study(g.evidence.rows), f"line, over {step:g}", told))
    return Panel(
        "Levels",
        f"Each level against the lowest of its study ({metric.unit}); the line through them over {step:g} of {detail}.",
        ("study", detail, "against the lowest"),
        tuple(rows),
    )
