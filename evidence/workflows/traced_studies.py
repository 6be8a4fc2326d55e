"""One study on the way to a claim, and the pooling of all: the steps as they were computed, none worked out anew."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Contribution
from evidence.statistics.effect import Assumption, Effect, Step, critical_value, derive
from evidence.statistics.pooling import Pooled
from evidence.vocabulary import Vocabulary
from evidence.workflows.contrasts import Contrast
from evidence.workflows.contributions import StudyEvidence, joined, name_study, study_effect
from evidence.workflows.documents import format_sources
from evidence.workflows.traced_figures import (
    TracedCorrelation,
    TracedFigure,
    figures_behind,
    trace_correlations,
    trace_figure,
)

KNAPP_HARTUNG = "Knapp & Hartung 2003"
TAU2 = {"REML": "restricted maximum likelihood"}
INVERSE = "inverse variance, Cochrane Handbook 10.3"


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


def trace_study(
    evidence: StudyEvidence, scale: str, contribution: Contribution, vocabulary: Vocabulary
) -> TracedStudy:
    """A study's contrasts on the scale, and how they become its one figure."""
    effect = study_effect(evidence, scale)
    bare = None
    joining: list[Step] = []
    if effect is None:
        contrasts = [c for c in evidence.contrasts if scale in c.bare] or list(evidence.contrasts)
        values = [c.bare[scale] for c in contrasts if scale in c.bare]
        bare = sum(values) / len(values) if values else None
        if len(values) > 1 and bare is not None:
            joining = [
                derive("mean of the bare estimates", "sum / k", "unweighted mean", bare, k=len(values))
            ]
        traced = [trace_contrast(evidence, c, scale, vocabulary) for c in contrasts]
    else:
        traced, parts = [], []
        groups = group_contrasts([c for c in evidence.contrasts if scale in c.effects])
        for group in groups:
            together = joined(evidence, group, scale)
            at_once = len(group) > 1 and not averages(together)
            traced += [trace_contrast(evidence, c, scale, vocabulary, in_joint=at_once) for c in group]
            if len(group) > 1:
                joining += (
                    together.steps if at_once else trace_average([c.effects[scale] for c in group], together)
                )
            parts.append(together)
        if len(groups) > 1:
            joining += trace_average(parts, effect)
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
        interval=trace_interval(effect) if effect else (),
        weight=contribution.weight,
        note=contribution.note,
    )


def group_contrasts(contrasts: Sequence[Contrast]) -> list[list[Contrast]]:
    """Contrasts of one outcome and region together, in the order in which they are joined."""
    groups: dict[tuple[object, str | None], list[Contrast]] = {}
    for contrast in contrasts:
        groups.setdefault((contrast.outcome.id, contrast.region), []).append(contrast)
    return list(groups.values())


def averages(effect: Effect) -> bool:
    """Whether an effect is an average of effects, rather than one contrast of all conditions at once."""
    return any(a.code == "shared people" for a in effect.assumptions)


def trace_average(parts: Sequence[Effect], whole: Effect) -> list[Step]:
    """The average of several effects of one study, with what was averaged."""
    step = whole.steps[-1]
    estimates = tuple((f"y{n}", e.estimate) for n, e in enumerate(parts, 1))
    variances = tuple((f"v{n}", e.variance) for n, e in enumerate(parts, 1))
    return [
        replace(step, inputs=(*step.inputs, *estimates)),
        Step("variance of it", "see above", (*step.inputs, *variances), whole.variance, step.source),
    ]


def trace_contrast(
    evidence: StudyEvidence, contrast: Contrast, scale: str, vocabulary: Vocabulary, *, in_joint: bool = False
) -> TracedContrast:
    """One contrast; `in_joint`: its means and SDs go into one contrast of all conditions, and have no effect alone."""
    effect = contrast.effects.get(scale)
    used = figures_behind(evidence, contrast, scale)
    a, b = contrast.exercise, contrast.comparator
    known = vocabulary.regions.get(contrast.region or "")
    note = "; ".join(contrast.reasons) if effect is None else ""
    if in_joint:
        note = "its means and SDs enter one contrast of all conditions, below"
    return TracedContrast(
        exercise=a.printed or a.key,
        comparator=b.printed or b.key,
        outcome=f"{contrast.outcome.key} ({contrast.outcome.instrument}, {contrast.outcome.unit})",
        region=known.name if known else contrast.region or "",
        figures=tuple(trace_figure(r, evidence.rows, vocabulary) for r in used),
        correlations=trace_correlations(evidence.rows, used),
        steps=effect.steps if effect and not in_joint else (),
        assumptions=effect.assumptions if effect and not in_joint else (),
        estimate=None if in_joint else effect.estimate if effect else contrast.bare.get(scale),
        variance=effect.variance if effect and not in_joint else None,
        note=note,
    )


def trace_interval(effect: Effect) -> tuple[Step, ...]:
    """The study's own 95 % interval."""
    low, high = effect.interval()
    q = critical_value(0.95, effect.df)
    source = "normal distribution" if effect.df is None else f"Student's t, {effect.df:g} df"
    return (
        derive("standard error", "√variance", "definition", effect.se, variance=effect.variance),
        derive("lower limit", "estimate − q·SE", source, low, estimate=effect.estimate, q=q, SE=effect.se),
        derive("upper limit", "estimate + q·SE", source, high, estimate=effect.estimate, q=q, SE=effect.se),
    )


def trace_error(pooled: Pooled) -> Step:
    """The standard error of the pooled estimate, by the method in use."""
    plain = "1/√Σ 1/(v + tau²)"
    if pooled.interval_method == "wald":
        return derive("standard error", plain, INVERSE, pooled.se)
    if pooled.guard_applied:
        formula = f"{plain}, as the one by the studies' scatter is smaller"
    else:
        formula = "√(Σ weight·(y − pooled)²/(k − 1))"
    return derive("standard error", formula, KNAPP_HARTUNG, pooled.se, k=pooled.k)


def trace_pooling(pooled: Pooled | None, studies: Sequence[TracedStudy]) -> tuple[Step, ...]:
    """From the studies' figures to the pooled one, with the weights and tau² in use."""
    if pooled is None:
        return ()
    weighed = [s for s in studies if s.variance is not None and s.estimate is not None]
    if pooled.k == 1:
        step = derive("one study", "its own figure and interval stand", "no pooling", pooled.estimate)
        return (step,)
    steps = [
        derive(
            "Q",
            "Σ (y − ȳ)²/v, ȳ weighted by 1/v",
            "Cochran 1954 (from memory)",
            pooled.q,
            df=pooled.q_df,
            p=pooled.q_p,
        ),
        derive(
            "tau²",
            "variance between studies",
            TAU2.get(method := pooled.tau2_method or "none", method),
            pooled.tau2,
            k=pooled.k,
        ),
    ]
    for study, weight in zip(weighed, pooled.weights, strict=True):
        assert study.variance is not None
        inputs = {"v": study.variance, "tau²": pooled.tau2}
        steps.append(
            derive(f"weight of {study.label}", "1/(v + tau²) / Σ 1/(v + tau²)", INVERSE, weight, **inputs)
        )
    terms = {s.label: s.estimate for s in weighed if s.estimate is not None}
    steps.append(derive("pooled estimate", "Σ weight·y", INVERSE, pooled.estimate, **terms))
    steps.append(trace_error(pooled))
    q = critical_value(pooled.level, pooled.df)
    spread = "normal distribution" if pooled.df is None else f"Student's t, {pooled.df:g} df"
    ends = (("lower limit", "−", pooled.low), ("upper limit", "+", pooled.high))
    for name, sign, value in ends:
        inputs = {"estimate": pooled.estimate, "q": q, "SE": pooled.se}
        steps.append(derive(name, f"estimate {sign} q·SE", spread, value, **inputs))
    if pooled.prediction_low is not None and pooled.prediction_high is not None:
        width = "q·√(SE² + tau²), t with k − 1 df"
        ends = (("lower", "−", pooled.prediction_low), ("upper", "+", pooled.prediction_high))
        for name, sign, value in ends:
            formula = f"estimate {sign} {width}"
            steps.append(
                derive(f"prediction, {name} limit", formula, "Partlett & Riley 2017", value, k=pooled.k)
            )
    return tuple(steps)
