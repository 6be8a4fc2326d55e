"""The pooling of a claim's studies, step by step: from the studies' figures to the pooled one, none worked out anew."""

from collections.abc import Sequence

from evidence.statistics.effect import Step, critical_value, derive
from evidence.statistics.pooling import Pooled
from evidence.workflows.trace.traced_studies import TracedStudy
from evidence.workflows.weigh.pooling_claims import NestedPooled

KNAPP_HARTUNG = "Knapp & Hartung 2003"
TAU2 = {"REML": "restricted maximum likelihood"}
INVERSE = "inverse variance, Cochrane Handbook 10.3"
LEVELS = "three-level REML, Van den Noortgate et al. 2013"
ROBUST = "CR2 with Satterthwaite df, Pustejovsky & Tipton 2022"


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
        return (step,) if pooled.df is None else (step, *trace_limits(pooled))
    if isinstance(pooled, NestedPooled):
        return trace_nested(pooled, weighed)
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
    return (*steps, *trace_limits(pooled))


def trace_limits(pooled: Pooled) -> list[Step]:
    """The interval, and the one for a new study."""
    steps = []
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
    return steps


def trace_nested(pooled: NestedPooled, studies: Sequence[TracedStudy]) -> tuple[Step, ...]:
    """Results nested in studies: every result enters, with the covariance of those of one study."""
    rho = {} if pooled.rho is None else {"rho assumed between outcomes or regions": pooled.rho}
    q = derive(
        "Q", "(y − ȳ)'V⁻¹(y − ȳ), all results", "Cochran 1954 (from memory)", pooled.q, df=pooled.q_df, p=pooled.q_p
    )  # fmt: skip
    between = derive("tau² between studies", "REML", LEVELS, pooled.tau2_between, studies=pooled.k)
    within = derive(
        "tau² between results of one study", "REML", LEVELS, pooled.tau2_within, results=pooled.results
    )
    steps = [q, between, within]
    for study, weight in zip(studies, pooled.weights, strict=True):
        formula = "1'Φ⁻¹1 of the study / that of all"
        steps.append(derive(f"weight of {study.label}", formula, LEVELS, weight, results=len(study.results)))
    terms = {
        f"{study.label}{f' ({n})' if len(study.results) > 1 else ''}": y
        for study in studies
        for n, y in enumerate(study.results, 1)
    }
    formula = "1'Φ⁻¹y / 1'Φ⁻¹1, Φ = V + tau² between studies + tau² between results"
    if pooled.rho is not None:
        formula += "; V with the mean variance of each study's results"
    steps.append(derive("pooled estimate", formula, LEVELS, pooled.estimate, **rho, **terms))
    steps.append(derive("standard error", "cluster-robust by study", ROBUST, pooled.se, df=pooled.df or 0.0))
    return (*steps, *trace_limits(pooled))
