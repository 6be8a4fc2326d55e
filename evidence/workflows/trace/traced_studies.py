"""One study on the way to a claim, and the pooling of all: the steps as they were computed, none worked out anew."""

from dataclasses import dataclass

from evidence.appraisal.body import Contribution
from evidence.statistics.effect import Assumption, Effect, Step, critical_value, derive
from evidence.vocabulary import Vocabulary
from evidence.workflows.effects.contrasts import Contrast
from evidence.workflows.effects.study_results import StudyResults
from evidence.workflows.gather.sources import format_sources
from evidence.workflows.relevance.contributions import StudyEvidence, name_study, results_of, study_effect
from evidence.workflows.trace.traced_figures import (
    TracedCorrelation,
    TracedFigure,
    figures_behind,
    trace_correlations,
    trace_figure,
)


@dataclass(frozen=True, slots=True)
class TracedContrast:
    """One condition against another: printed figures, then the steps. No variance: a bare estimate, never pooled."""

    exercise: str
    comparator: str
    outcome: str
    region: str
    figures: tuple[TracedFigure, ...]
    correlations: tuple[TracedCorrelation, ...]
    steps: tuple[Step, ...]
    assumptions: tuple[Assumption, ...]
    estimate: float | None
    variance: float | None
    note: str


@dataclass(frozen=True, slots=True)
class TracedStudy:
    """A study on the way to a claim: its contrasts, how they become one figure, and that figure."""

    key: str
    label: str
    sources: tuple[str, ...]
    notices: tuple[str, ...]
    contrasts: tuple[TracedContrast, ...]
    joining: tuple[Step, ...]
    assumptions: tuple[Assumption, ...]
    estimate: float | None
    variance: float | None
    people: int
    interval: tuple[Step, ...]
    weight: float | None
    note: str
    results: tuple[float, ...] = ()  # the effects that enter a nested model, one by one


def trace_study(
    evidence: StudyEvidence, scale: str, contribution: Contribution, vocabulary: Vocabulary
) -> TracedStudy:
    """A study's contrasts on the scale, and how they become its one figure."""
    results = results_of(evidence, scale)
    effect = study_effect(evidence, scale)
    bare = None
    joining: list[Step] = []
    if results is None or effect is None:
        contrasts = [c for c in evidence.contrasts if scale in c.bare] or list(evidence.contrasts)
        values = [c.bare[scale] for c in contrasts if scale in c.bare]
        bare = sum(values) / len(values) if values else None
        if len(values) > 1 and bare is not None:
            joining = [
                derive("mean of the bare estimates", "sum / k", "unweighted mean", bare, k=len(values))
            ]
    else:
        contrasts = contrasts_in_order(results)
        joining = trace_joining(results, effect)
    traced = [trace_contrast(evidence, c, scale, vocabulary) for c in contrasts]
    return TracedStudy(
        key=evidence.rows.study.key,
        label=name_study(evidence.rows),
        sources=tuple(source.text for source in format_sources(evidence.rows.references)),
        notices=tuple(dict.fromkeys(r.notice for r in evidence.rows.references if r.notice)),
        contrasts=tuple(traced),
        joining=tuple(joining),
        assumptions=effect.assumptions if effect else (),
        estimate=effect.estimate if effect else bare,
        variance=effect.variance if effect else None,
        people=contribution.n,
        interval=trace_interval(effect, contribution.df if contribution.weight == 1.0 else effect.df)
        if effect
        else (),
        weight=contribution.weight,
        note=contribution.note,
        results=tuple(e.estimate for e in results.effects) if results else (),
    )


def contrasts_in_order(results: StudyResults) -> list[Contrast]:
    """The contrasts behind a study's effects, in the order in which these enter."""
    return [c for behind in results.contrasts for c in behind]


def trace_joining(results: StudyResults, whole: Effect) -> list[Step]:
    """How several contrasts become the study's results, and these its one figure."""
    joined = [e for e, behind in zip(results.effects, results.contrasts, strict=True) if len(behind) > 1]
    steps = [s for effect in joined for s in effect.steps[-2:]]  # its own are shown with each contrast
    steps += results.steps
    return steps + list(whole.steps[-2:]) if len(results.effects) > 1 else steps


def trace_contrast(
    evidence: StudyEvidence, contrast: Contrast, scale: str, vocabulary: Vocabulary
) -> TracedContrast:
    """One contrast with the printed figures behind it and every step."""
    effect = contrast.effects.get(scale)
    used = figures_behind(evidence, contrast, scale)
    a, b = contrast.exercise, contrast.comparator
    known = vocabulary.regions.get(contrast.region or "")
    note = "; ".join(contrast.reasons) if effect is None else ""
    return TracedContrast(
        exercise=a.printed or a.key,
        comparator=b.printed or b.key,
        outcome=f"{contrast.outcome.key} ({contrast.outcome.instrument}, {contrast.outcome.unit})",
        region=known.name if known else contrast.region or "",
        figures=tuple(trace_figure(r, evidence.rows, vocabulary) for r in used),
        correlations=trace_correlations(evidence.rows, used),
        steps=effect.steps if effect else (),
        assumptions=effect.assumptions if effect else (),
        estimate=effect.estimate if effect else contrast.bare.get(scale),
        variance=effect.variance if effect else None,
        note=note,
    )


def trace_interval(effect: Effect, df: float | None) -> tuple[Step, ...]:
    """The study's own 95 % interval; `df`: of the one study that stands alone, None: normal."""
    q = critical_value(0.95, df)
    low, high = effect.estimate - q * effect.se, effect.estimate + q * effect.se
    source = "normal distribution" if df is None else f"Student's t, {df:g} df"
    return (
        derive("standard error", "√variance", "definition", effect.se, variance=effect.variance),
        derive("lower limit", "estimate − q·SE", source, low, estimate=effect.estimate, q=q, SE=effect.se),
        derive("upper limit", "estimate + q·SE", source, high, estimate=effect.estimate, q=q, SE=effect.se),
    )
