"""From the printed number with its page to the figure in the sentence, and back: every step, as it was computed."""

from dataclasses import dataclass

from evidence.appraisal.confidence import DomainRating
from evidence.appraisal.metrics import find_metric, find_thresholds, format_value, show_value, size_of
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    StudyRows,
    claim_by_key,
    list_claims,
    list_studies,
    nearest_keys,
    study_by_key,
    study_rows,
    uses_of,
)
from evidence.catalogue.tables import Claim, Result
from evidence.errors import BadInput, NotFound
from evidence.statistics.effect import Step, derive
from evidence.vocabulary import Vocabulary
from evidence.workflows.gather.sources import format_sources
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.bearing import find_bearing
from evidence.workflows.relevance.contributions import StudyEvidence, results_of
from evidence.workflows.trace.traced_figures import TracedFigure, figures_behind, show_figure, trace_figure
from evidence.workflows.trace.traced_pooling import trace_pooling
from evidence.workflows.trace.traced_rankings import RankingFed, trace_rankings
from evidence.workflows.trace.traced_studies import (
    TracedContrast,
    TracedStudy,
    contrasts_in_order,
    trace_study,
)
from evidence.workflows.weigh.reweighing import weigh_many
from evidence.workflows.weigh.weighing import LeftOut, Weighing, weigh


@dataclass(frozen=True, slots=True)
class ClaimTrace:
    """The whole chain of a claim. Figures are on the scale's own axis (log ratios stay on the log) until `shown`."""

    claim: str
    statement: str
    scale: str
    studies: tuple[TracedStudy, ...]
    left_out: tuple[LeftOut, ...]
    pooling: tuple[Step, ...]
    verdict: str
    verdict_steps: tuple[str, ...]
    start: str
    domains: tuple[DomainRating, ...]
    choices: tuple[str, ...]
    confidence: str
    shown: tuple[Step, ...]
    sentence: str
    notes: tuple[str, ...]
    invented: bool


@dataclass(frozen=True, slots=True)
class Feed:
    """A claim that a printed figure feeds, and what becomes of it there."""

    claim: str
    statement: str
    scale: str
    contrasts: tuple[TracedContrast, ...]
    estimate: float | None  # of the study
    variance: float | None
    weight: float | None
    verdict: str
    confidence: str
    sentence: str
    told_in: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ResultTrace:
    """A printed figure and all that it feeds: claims, and rankings that were written out.

    `unused`: claims that it bears on and does not enter, with the reason.
    """

    figure: TracedFigure
    source: tuple[str, ...]
    feeds: tuple[Feed, ...]
    unused: tuple[tuple[str, str], ...]
    rankings: tuple[RankingFed, ...] = ()


def trace_claim(catalogue: Catalogue, key: str) -> ClaimTrace:
    """Weigh a claim and lay every step open. Raises NotFound; BadInput for the key of a study."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        try:
            claim_by_key(session, key)
        except NotFound:
            if list_studies(session, [key]):
                raise BadInput(
                    f'"{key}" is a study, not a claim.',
                    hint=f"Name one of its results, {key}/RESULT; see `steelyard results show {key}`.",
                ) from None
            raise
    weighing = weigh(catalogue, key, vocabulary)
    counted = {c.study: c for c in weighing.contributions}
    studies = tuple(
        trace_study(s, weighing.scale, counted[s.rows.study.key], vocabulary) for s in weighing.studies
    )
    confidence = weighing.confidence
    return ClaimTrace(
        claim=key,
        statement=weighing.statement,
        scale=weighing.scale,
        studies=studies,
        left_out=weighing.left_out,
        pooling=trace_pooling(weighing.pooled, studies),
        verdict=weighing.verdict.text,
        verdict_steps=trace_verdict(weighing),
        start=f"{confidence.start}: {confidence.start_reason}",
        domains=confidence.domains,
        choices=tuple(
            f"{c.domain}: {c.person} chose {c.chosen} over {c.proposed} on {c.date}: {c.reason}"
            for c in confidence.choices
        ),
        confidence=str(confidence.span),
        shown=trace_shown(weighing),
        sentence=weighing.wordings.plain,
        notes=tuple(dict.fromkeys((*weighing.verdict.notes, *confidence.notes, *weighing.notes))),
        invented=weighing.invented,
    )


def trace_verdict(weighing: Weighing) -> tuple[str, ...]:
    """The figures that the verdict was read from."""
    verdict, claim = weighing.verdict, weighing.claim
    told = [f"The claim says: {claim.direction}."]
    if verdict.estimate is None or verdict.low is None or verdict.high is None:
        return (*told, verdict.sentence)
    side = "above" if verdict.low > 0 else "below" if verdict.high < 0 else "on both sides of"
    told.append(f"The interval {show_figure(verdict.low)} to {show_figure(verdict.high)} lies {side} 0.")
    if verdict.margin is not None:
        inside = -verdict.margin < verdict.low and verdict.high < verdict.margin
        whose = "the claim's own margin" if claim.margin is not None else "the scale's default margin"
        told.append(
            f"It {'lies' if inside else 'does not lie'} wholly within ±{show_figure(verdict.margin)} ({whose})."
        )
    thresholds = find_thresholds(weighing.scale, weighing.construct)
    size = size_of(verdict.estimate, thresholds)
    if size is not None:
        lines = ", ".join(
            f"{name} from {show_figure(value)}"
            for name, value in (
                ("small", thresholds.small), ("moderate", thresholds.moderate), ("large", thresholds.large)
            )
            if value is not None
        )  # fmt: skip
        told.append(
            f"Size {size}: {show_figure(abs(verdict.estimate))} against {lines} ({', '.join(thresholds.sources)})."
        )
    return tuple(told)


def trace_shown(weighing: Weighing) -> tuple[Step, ...]:
    """From the scale's own figures to those that people read, rounded as in the sentence."""
    verdict, metric = weighing.verdict, find_metric(weighing.scale)
    formula = {
        "percent": "100·(exp(x) − 1)",
        "ratio": "exp(x)",
        "correlation": "tanh(x)",
        "per_hundred": "100·x",
    }.get(metric.shown_as, "x")
    named = (("estimate", verdict.estimate), ("lower limit", verdict.low), ("upper limit", verdict.high))
    return tuple(
        derive(name, formula, f"shown as {format_value(metric, x)}", show_value(metric, x), x=x)
        for name, x in named
        if x is not None
    )


def trace_result(catalogue: Catalogue, study: str, result: str) -> ResultTrace:
    """A printed figure and every claim that it feeds, each weighed anew. Raises NotFound for study or result."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, study))
        found = next((r for r in rows.results if r.key == result), None)
        if found is None:
            near = nearest_keys(result, [r.key for r in rows.results])
            hint = f"Nearest: {', '.join(near)}." if near else f"See `steelyard results show {study}`."
            raise NotFound(f"{study} has no result {result!r}", hint=hint)
        construct = next(o.construct_id for o in rows.outcomes if o.id == found.outcome_id)
        claims = [c for c in list_claims(session) if bears_on(c, rows, construct, vocabulary)]
        told = {c.key: [f"{u.kind} {u.name}" for u in uses_of(session, c)] for c in claims}
    followed = {
        w.claim.key: follow(w, rows, found, vocabulary, tuple(dict.fromkeys(told[w.claim.key])))
        for w in (weigh_many(catalogue, told, vocabulary) if told else ())
    }
    feeds = [feed for key in told if (feed := followed[key][0]) is not None]
    unused = [(key, reason) for key in told if (reason := followed[key][1]) and followed[key][0] is None]
    sources = tuple(source.text for source in format_sources(rows.references))
    rankings = trace_rankings(catalogue, rows, found, vocabulary)
    return ResultTrace(trace_figure(found, rows, vocabulary), sources, tuple(feeds), tuple(unused), rankings)


def bears_on(claim: Claim, rows: StudyRows, construct: str, vocabulary: Vocabulary) -> bool:
    """Whether a claim looks at the study's results on the construct at all."""
    if construct not in (claim.construct_id, claim.surrogate):
        return False
    stand_in = construct != claim.construct_id
    return find_bearing(claim, rows, vocabulary, construct, surrogate=stand_in) is not None


def follow(
    weighing: Weighing, rows: StudyRows, result: Result, vocabulary: Vocabulary, told_in: tuple[str, ...]
) -> tuple[Feed | None, str]:
    """What becomes of a figure in one claim; else why it is not used there ("" where it does not bear on it)."""
    claim = weighing.claim
    out = next((item for item in weighing.left_out if item.study == rows.study.key), None)
    if out is not None:
        return None, f"the study is left out: {out.reason} ({out.by})"
    evidence = next((s for s in weighing.studies if s.rows.study.key == rows.study.key), None)
    if evidence is None:
        name = vocabulary.constructs[weighing.construct].name
        measured = {o.id: o.construct_id for o in rows.outcomes}[result.outcome_id]
        return None, f"the claim rests on {name} itself" if measured != weighing.construct else ""
    scale = weighing.scale
    results = results_of(evidence, scale)
    counted = contrasts_in_order(results) if results else [c for c in evidence.contrasts if scale in c.bare]
    fed = [c for c in counted if result.key in {r.key for r in figures_behind(evidence, c, scale)}]
    contribution = next(c for c in weighing.contributions if c.study == rows.study.key)
    if not fed:
        return None, explain_unused(evidence, result, scale)
    study = trace_study(evidence, scale, contribution, vocabulary)
    kept = [t for t, c in zip(study.contrasts, counted, strict=True) if c in fed]
    return (
        Feed(
            claim.key,
            weighing.statement,
            scale,
            tuple(kept),
            study.estimate,
            study.variance,
            study.weight,
            weighing.verdict.text,
            str(weighing.confidence.span),
            weighing.wordings.plain,
            told_in,
        ),
        "",
    )


def explain_unused(evidence: StudyEvidence, result: Result, scale: str) -> str:
    """Why a figure of a weighed study does not enter; "" where it is of another condition or region."""
    sides = (*evidence.bearing.exercise_sides, *evidence.bearing.comparator_sides)
    if (
        result.condition_id not in {s.condition.id for s in sides}
        or result.region not in evidence.bearing.regions
    ):
        return ""
    if result.outcome_id not in {c.outcome.id for c in evidence.contrasts}:
        return "another outcome of the study is used; they are not averaged"
    return f"other figures of the study give the {scale.replace('_', ' ')}, or this one cannot"
