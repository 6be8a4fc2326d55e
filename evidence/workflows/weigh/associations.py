"""Claims of an association: two measures that go together in the same people. Nothing is said of cause.

Only correlations that a paper printed between a result of one outcome and a result of the other count.
"""

from dataclasses import dataclass, replace

from evidence.appraisal.kinds import find_kind
from evidence.appraisal.metrics import find_metric, format_interval, format_value
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording_kinds import word_association
from evidence.catalogue.tables import Claim, Correlation, Result
from evidence.errors import NumberProblem
from evidence.publishing.panels import Panel
from evidence.statistics.association import fisher_z
from evidence.statistics.effect import Effect
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.effects.effects_found import people_of
from evidence.workflows.effects.links import Links
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import StudyEvidence, name_study
from evidence.workflows.weigh.claims_in_words import name_measure, name_people
from evidence.workflows.weigh.one_sided import (
    Found,
    contribute_effect,
    find_studies,
    finish_weighing,
    make_own_body,
    rate_own,
)
from evidence.workflows.weigh.weighed import Inputs, Weighing

SCALE = "fisher_z"
OBSERVED = "nonrandomised_comparative"  # how two measures of the same people, nothing set, are rated


@dataclass(frozen=True, slots=True)
class Paired:
    """One printed correlation between the two measures."""

    r: float
    n: int | None
    told: str


def weigh_association(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Printed correlations between the two measures, through Fisher's z, one figure a study."""
    claim = inputs.claim
    other = str(claim.terms["other"])
    found = find_studies(inputs, vocabulary)
    pairs = {b.rows.study.key: find_pairs(b, claim.construct_id, other) for b in found.kept}
    without = [b for b in found.kept if not pairs[b.rows.study.key]]
    kept = [b for b in found.kept if b not in without]
    evidence = [StudyEvidence(b, (), Links(b.rows, claim.construct_id, vocabulary, "usual")) for b in kept]
    contributions = []
    for e in evidence:
        effect, why = one_figure(pairs[e.rows.study.key], e)
        contributions.append(
            replace(
                contribute_effect(e, effect, claim.construct_id, design=OBSERVED, note=why), randomised=False
            )
        )
    body, pooled = make_own_body(claim, contributions, SCALE, studies=())
    verdict = in_words(judge(body), claim)
    confidence = rate_own(inputs, body, evidence, verdict, vocabulary)
    one, second = name_measure(claim, vocabulary), vocabulary.constructs[other].name
    words = word_association(
        verdict, confidence, one, second, name_people(evidence, vocabulary) if evidence else ""
    )
    notes = [
        "An association says nothing of which brings about which, nor whether a third thing brings about both."
    ]
    if without:
        labels = ", ".join(name_study(b.rows) for b in without)
        notes.append(f"{labels} measured {one} and printed no correlation of it with {second}.")
    rows = tuple(
        (name_study(e.rows), f"{p.r:.2f}", str(p.n or "not printed"), p.told)
        for e in evidence
        for p in pairs[e.rows.study.key]
    )
    panel = Panel(
        "Correlations", f"As printed, of {one} with {second}.", ("study", "r", "n", "between"), rows
    )
    shown = Found(
        found.construct, tuple(b for b in found.bearings if b not in without), tuple(kept), found.left_out
    )
    return finish_weighing(
        inputs,
        vocabulary,
        shown,
        evidence,
        body,
        pooled,
        SCALE,
        verdict,
        confidence,
        words,
        notes=notes,
        panels=[panel] if rows else [],
    )


def find_pairs(bearing: Bearing, one: str, other: str) -> list[Paired]:
    """Printed correlations of a result of one outcome, on the claim's conditions and regions, with one of the other."""
    rows = bearing.rows
    constructs = {o.id: o.construct_id for o in rows.outcomes}
    results = {r.id: r for r in rows.results}
    done = {s.condition.id for s in bearing.exercise_sides}
    found = []
    for link in rows.correlations:
        if link.origin == "computed from printed figures":
            continue  # it came out of an arithmetic on spreads, not out of a look at two measures
        ends = [results[i] for i in (link.result_a_id, link.result_b_id) if i in results]
        for a, b in (ends, ends[::-1]) if len(ends) == 2 else ():
            fits = (constructs[a.outcome_id], constructs[b.outcome_id]) == (one, other)
            if fits and a.condition_id in done and a.region in bearing.regions:
                found.append(Paired(link.r, people_behind(bearing, a, b), tell_pair(link, a, b)))
                break
    return found


def people_behind(bearing: Bearing, a: Result, b: Result) -> int | None:
    """The smaller of the two numbers of people."""
    conditions = {c.id: c for c in bearing.rows.conditions}
    counts = [people_of(r, conditions[r.condition_id], bearing.rows) for r in (a, b)]
    known = [n for n in counts if n]
    return min(known) if known else None


def tell_pair(link: Correlation, a: Result, b: Result) -> str:
    """Which two results, and where it is printed."""
    return f"{a.key} and {b.key}" + (f" ({link.locator})" if link.locator else "")


def one_figure(pairs: list[Paired], evidence: StudyEvidence) -> tuple[Effect | None, str]:
    """Several correlations of the same people as their mean in z; as sure as one of them, never surer."""
    effects: list[Effect] = []
    reasons: list[str] = []
    for pair in pairs:
        if pair.n is None:
            reasons.append("how many people stand behind the correlation is not known")
            continue
        try:
            effects.append(fisher_z(pair.r, pair.n))
        except NumberProblem as problem:
            reasons.append(str(problem))
    if not effects:
        return None, "; ".join(dict.fromkeys(reasons))
    mean = sum(e.estimate for e in effects) / len(effects)
    widest = max(effects, key=lambda e: e.variance)
    note = f"{len(effects)} correlations of the same people are averaged" if len(effects) > 1 else ""
    return replace(widest, estimate=mean), note


def in_words(verdict: Verdict, claim: Claim) -> Verdict:
    """The verdict in the words of an association, with r and its interval."""
    more = {Direction.MORE: "more", Direction.LESS: "less"}.get(verdict.direction or Direction.SAME, "")
    text = verdict.text
    if verdict.kind is not VerdictKind.DIRECTION_ONLY:
        text = find_kind("association").name_verdict(str(verdict.kind), found="more", more=more)
    if verdict.estimate is None or verdict.low is None or verdict.high is None:
        return replace(verdict, text=text)
    metric = find_metric(SCALE)
    studies = "1 study" if verdict.k == 1 else f"{verdict.k} studies"
    r, interval = format_value(metric, verdict.estimate), format_interval(metric, verdict.low, verdict.high)
    sentence = f"r = {r} (95 % interval {interval}); {studies}, {verdict.people} people."
    return replace(verdict, text=text, sentence=sentence)
