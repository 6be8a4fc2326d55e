"""Claims of a level: an exercise passes a line, or lies in a band, in percent of a maximum.

One condition is described, not compared, so randomising protects nothing: every study starts as one group without a
comparator. The percent depends on how the maximum was taken; that is said with every answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evidence.appraisal.kinds import band_caveat, bands_of, find_band, find_kind
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording_kinds import word_level
from evidence.catalogue.tables import Claim, Outcome, Result
from evidence.errors import NumberProblem
from evidence.publishing.panels import Panel
from evidence.statistics.effect import Effect, Metric, Step
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, Statistic, Timepoint
from evidence.workflows.effects.effects_found import lay_out_results, people_of, pick_result
from evidence.workflows.effects.links import Links
from evidence.workflows.effects.printed import summarise
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import StudyEvidence, choose_outcomes, name_study
from evidence.workflows.weigh.claims_in_words import name_claim, tell_line
from evidence.workflows.weigh.one_sided import (
    contribute_effect,
    find_studies,
    finish_weighing,
    make_own_body,
    rate_own,
)
from evidence.workflows.weigh.stand_ins import told_as_stand_in
from evidence.workflows.weigh.weighed import Inputs, Weighing

SINGLE = "single_arm_or_case_series"  # how a condition that is not compared is rated
SCALE = "percent_points"  # of the maximum, counted from the line


@dataclass(frozen=True, slots=True)
class Measured:
    """What one study gives: its mean with its variance, in percent of the maximum, and the figures behind it."""

    evidence: StudyEvidence
    mean: float | None
    variance: float | None
    people: int | None
    figures: tuple[Result, ...]
    normalisation: str
    reason: str = ""


def weigh_level(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """The mean of every study against the line, pooled; against both ends of a band."""
    claim = inputs.claim
    found = find_studies(inputs, vocabulary)
    measured = [measure(b, found.construct, vocabulary) for b in found.kept]
    line, top = ends_of(claim)
    evidence = [m.evidence for m in measured]
    contributions = [
        replace(
            contribute_effect(m.evidence, as_effect(m, line), found.construct, design=SINGLE, note=m.reason),
            randomised=False,
            estimate=None if m.mean is None else m.mean - line,
        )
        for m in measured
    ]
    body, pooled = make_own_body(claim, contributions, SCALE, studies=evidence)
    side, told = tell_line(claim, vocabulary)
    verdict = in_level_words(judge(body), claim, line, top, told)
    verdict = told_as_stand_in(verdict, claim, found.construct, vocabulary)
    confidence = rate_own(inputs, body, evidence, verdict, vocabulary)
    names = name_claim(claim, vocabulary, found.construct, evidence)
    words = word_level(verdict, confidence, names, side_of(verdict, line, top) or side, told)
    caveat, source = band_caveat()
    notes = [caveat, *note_normalisation(measured)]
    return finish_weighing(
        inputs,
        vocabulary,
        found,
        evidence,
        body,
        pooled,
        SCALE,
        verdict,
        confidence,
        words,
        notes=notes,
        panels=[panel_of(claim, measured, verdict, line, source)],
    )


def ends_of(claim: Claim) -> tuple[float, float | None]:
    """The line of a claim, or the two ends of its band: a named band by its whole percents, else as typed."""
    if claim.terms.get("band"):
        band = find_band("activation", str(claim.terms["band"]))
        return band.start, None if band.high is None else band.end
    top = claim.terms.get("to")
    return float(claim.terms["level"]), None if top is None else float(top)


def measure(bearing: Bearing, construct: str, vocabulary: Vocabulary) -> Measured:
    """The study's mean over its regions, outcomes and conditions that fit; its people count once."""
    links = Links(bearing.rows, construct, vocabulary, "usual")
    evidence = StudyEvidence(bearing, (), links)
    outcomes = [o for o in choose_outcomes(bearing.outcomes) if o.unit.lstrip().startswith("%")]
    if not outcomes:
        return Measured(evidence, None, None, None, (), "", "is not given in percent of a maximum")
    found = [r for o in outcomes for r in results_for(bearing, o)]
    reasons: list[str] = []
    means, variances, people, used = [], [], [], []
    for result in found:
        condition = next(s.condition for s in bearing.exercise_sides if s.condition.id == result.condition_id)
        try:
            summary = summarise(result, people_of(result, condition, bearing.rows)).summary
        except NumberProblem as problem:
            reasons.append(str(problem))
            continue
        means.append(summary.mean)
        variances.append(summary.sd**2 / summary.n)
        people.append(summary.n)
        used.append(result)
    normalisation = ", ".join(dict.fromkeys(o.normalisation for o in outcomes))
    if not means:
        bare = [r.value for r in found if r.value is not None]
        only = sum(bare) / len(bare) if bare else None
        why = "; ".join(dict.fromkeys(reasons)) or "no mean of the exercise itself was printed"
        return Measured(evidence, only, None, None, tuple(found), normalisation, why)
    rho = links.assumed("results of one study").value
    errors = np.sqrt(variances)
    joint = np.outer(errors, errors) * rho
    np.fill_diagonal(joint, errors**2)
    variance = float(joint.sum()) / len(means) ** 2
    return Measured(evidence, float(np.mean(means)), variance, max(people), tuple(used), normalisation)


def results_for(bearing: Bearing, outcome: Outcome) -> list[Result]:
    """The means of the conditions that fit, in each region that bears on the claim."""
    found = []
    for region in bearing.regions:
        here = [r for r in bearing.rows.results if r.outcome_id == outcome.id and r.region == region]
        results = lay_out_results(here)
        for side in bearing.exercise_sides:
            for time in (Timepoint.ACUTE, Timepoint.POST):
                result = pick_result(results, side.condition, Statistic.MEAN, time)
                if result is not None:
                    found.append(result)
                    break
    return found


def as_effect(measured: Measured, line: float) -> Effect | None:
    """The mean counted from the line, with a t interval."""
    if measured.mean is None or measured.variance is None:
        return None
    step = Step(
        "mean less the line",
        "mean − line",
        (("mean", measured.mean), ("line", line)),
        measured.mean - line,
        "",
    )
    df = measured.people - 1 if measured.people and measured.people > 1 else None
    return Effect(Metric.MEAN, measured.mean - line, measured.variance, measured.people, df, (step,))


def in_level_words(verdict: Verdict, claim: Claim, line: float, top: float | None, told: str) -> Verdict:
    """The verdict on a line, or on a band with two ends, in words and with the mean itself."""
    kind = verdict.kind
    if (
        top is not None
        and verdict.low is not None
        and verdict.high is not None
        and claim.direction == Direction.MORE
    ):
        start, end = verdict.low + line, verdict.high + line
        inside, outside = start >= line and end < top, end < line or start >= top
        kind = (
            VerdictKind.SUPPORTED
            if inside
            else VerdictKind.CONTRADICTED
            if outside
            else VerdictKind.NO_CLEAR_DIFFERENCE
        )
    if kind is VerdictKind.LITTLE_OR_NONE:
        kind = VerdictKind.NO_CLEAR_DIFFERENCE
    verdict = replace(verdict, kind=kind)
    if kind is not VerdictKind.DIRECTION_ONLY:
        text = find_kind("level").name_verdict(str(kind), side=side_of(verdict, line, top), line=told)
        verdict = replace(verdict, text=text)
    if verdict.estimate is None:
        return verdict
    mean = f"mean {verdict.estimate + line:.0f} % of the maximum"
    if verdict.low is not None and verdict.high is not None:
        studies = "1 study" if verdict.k == 1 else f"{verdict.k} studies"
        people = "1 person" if verdict.people == 1 else f"{verdict.people} people"
        mean += f" (95 % interval {verdict.low + line:.0f} to {verdict.high + line:.0f}); {studies}, {people}"
    return replace(verdict, sentence=f"{mean[:1].upper()}{mean[1:]}.")


def side_of(verdict: Verdict, line: float, top: float | None) -> str:
    """Where the mean lies: above, below, inside or outside."""
    if verdict.estimate is None:
        return ""
    if top is not None:
        return "inside" if 0 <= verdict.estimate < top - line else "outside"
    return "above" if verdict.estimate > 0 else "below"


def note_normalisation(measured: Sequence[Measured]) -> list[str]:
    """Studies that took their maximum in different ways give percents of different things."""
    ways = sorted({m.normalisation for m in measured if m.mean is not None} - {""})
    if len(ways) < 2:
        return []
    told = ", ".join(way.replace("_", " ") for way in ways)
    return [
        f"The studies took their maximum in different ways ({told}): their percents are not of the same thing."
    ]


def panel_of(claim: Claim, measured: Sequence[Measured], verdict: Verdict, line: float, source: str) -> Panel:
    """Every study's mean, and the bands in common use with the one that the pooled mean falls in."""
    rows = []
    for m in measured:
        mean = "no figure" if m.mean is None else f"{m.mean:.0f} %"
        where = "; ".join(dict.fromkeys(f"{r.printed} ({r.locator})" for r in m.figures))
        rows.append((name_study(m.evidence.rows), mean, m.normalisation.replace("_", " ") or "-", where))
    notes = []
    bands = bands_of("activation")
    if verdict.estimate is not None:
        pooled = verdict.estimate + line
        inside = next((b for b in bands if b.holds(pooled)), None)
        if inside is not None:
            notes.append(f"The mean falls in the band “{inside.name}” ({inside.text}).")
    notes.append(f"Bands: {'; '.join(f'{b.name} {b.text}' for b in bands)}. Source: {source}.")
    own = claim.terms.get("source")
    if own:
        notes.append(f"The line of the claim: {own}.")
    return Panel(
        "Level",
        "The mean of each study, in percent of its own maximum.",
        ("study", "mean", "maximum taken by", "as printed"),
        tuple(rows),
        tuple(notes),
    )
