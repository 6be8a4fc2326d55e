"""A claim's studies on one scale, pooled: several results of one study are never counted as if they were studies.

The way (statistics.md, section 4): a three-level model with cluster-robust errors where a study gives more than one
result and there are studies enough; else each study's results are first brought to one. Which of the two, and why, is
told with the answer.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evidence.appraisal.body import Body, Contribution, count_people
from evidence.catalogue.tables import Claim
from evidence.errors import NumberProblem
from evidence.statistics.dependent_pooling import ENOUGH_STUDIES, DependentPooled, pool_dependent
from evidence.statistics.effect import critical_value
from evidence.statistics.heterogeneity import Array
from evidence.statistics.pooling import Pooled, pool
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, Pairing
from evidence.workflows.effects.effects_found import PREFERRED
from evidence.workflows.effects.study_results import StudyResults
from evidence.workflows.relevance.contributions import StudyEvidence, contribute, name_study, results_of

NESTED = "CR2, Satterthwaite"
AVERAGED = "Results of one study were averaged"
ALONE = "One study alone: its interval is by Student's t"
T_ALONE = "t, own df"


@dataclass(frozen=True, slots=True)
class NestedPooled(Pooled):
    """A pooled effect of results nested in studies. `k` counts studies, `results` what they gave.

    `tau2` is the sum of the variance between studies (`tau2_between`) and between the results of one study
    (`tau2_within`); `i2` the share of both; `q` is over all results. `rho` was assumed between outcomes or regions of
    one study (None: no study has several).
    """

    results: int
    tau2_between: float
    tau2_within: float
    rho: float | None


@dataclass(frozen=True, slots=True)
class Weighable:
    """A study that can be weighed: its one figure, and the results that it is made of."""

    contribution: Contribution
    results: StudyResults


def choose_scale(
    claim: Claim, studies: Sequence[StudyEvidence], construct: str, vocabulary: Vocabulary
) -> str:
    """The claim's own scale; else the construct's default, if any study gives it; else what most studies give."""
    if claim.metric:
        return claim.metric
    known = vocabulary.constructs[construct]
    within = sum(s.rows.study.pairing == Pairing.WITHIN for s in studies) * 2 > len(studies)
    default = {"smd_change": "smd"}.get(m := known.metric_within if within else known.metric, m)
    counts = Counter(scale for s in studies for scale in {k for c in s.contrasts for k in c.effects})
    bare = Counter(scale for s in studies for scale in {k for c in s.contrasts for k in c.bare})
    if default in counts or not (counts or bare):
        return default
    if not counts and default in bare:
        return default
    found = counts or bare
    return max(PREFERRED, key=lambda scale: found[scale])


def make_body(
    claim: Claim, studies: Sequence[StudyEvidence], scale: str, construct: str
) -> tuple[Body, Pooled | None]:
    """The body of evidence on one scale, pooled where there is anything to pool."""
    contributions = [contribute(s, scale, construct, name_study(s.rows)) for s in studies]
    weighable = [
        Weighable(c, results)
        for c, s in zip(contributions, studies, strict=True)
        if c.variance is not None and (results := results_of(s, scale)) is not None
    ]
    pooled = pool_studies(weighable)
    if pooled:
        shares = iter(pooled.weights)
        contributions = [
            replace(c, weight=next(shares)) if c.variance is not None else c for c in contributions
        ]
        contributions = shown_alone(contributions, pooled)
    sound = [w for w in weighable if w.contribution.bias != "high"]
    any_high = any(c.bias == "high" for c in contributions)
    within = [s for s in studies if s.rows.study.pairing == Pairing.WITHIN]
    body = Body(
        construct=claim.construct_id,
        metric=scale,
        contributions=tuple(contributions),
        pooled=pooled,
        n_total=count_people([c for c in contributions if c.weight is not None]) if pooled else None,
        within_person_r=assumed_r(within, construct) if len(within) * 2 > len(studies) else None,
        margin=claim.margin,
        direction=Direction(claim.direction),
        without_high_risk=pool_studies(sound) if any_high else None,
    )
    return body, pooled


def pool_studies(studies: Sequence[Weighable]) -> Pooled | None:
    """Pool studies: nested where one gives several results and there are enough of them, else one figure a study."""
    if not studies:
        return None
    if all(len(s.results.effects) == 1 for s in studies):
        return pool_figures(studies)
    if len(studies) < ENOUGH_STUDIES:
        few = "1 study" if len(studies) == 1 else f"{len(studies)} studies"
        return told(pool_figures(studies), f"with {few} their spread inside studies cannot be told")
    try:
        return pool_nested(studies)
    except NumberProblem as problem:
        return told(
            pool_figures(studies), f"a model of results inside studies could not be fitted ({problem})"
        )


def told(pooled: Pooled, reason: str) -> Pooled:
    """A pooled figure of studies whose several results were first brought to one, with the reason."""
    text = f"{AVERAGED} before pooling, so that its people count once: {reason}."
    return replace(pooled, notes=(text, *pooled.notes))


def tell_way(pooled: Pooled | None) -> tuple[str, ...]:
    """What is said of the way of pooling; of one or two studies the verdict says what there is to say."""
    if pooled is None:
        return ()
    return pooled.notes if pooled.k > 2 else tuple(n for n in pooled.notes if n.startswith((AVERAGED, ALONE)))


def pool_figures(studies: Sequence[Weighable]) -> Pooled:
    """One figure a study: REML, Knapp-Hartung, prediction interval."""
    figures = [s.contribution for s in studies]
    pooled = pool(
        [c.estimate for c in figures if c.estimate is not None],
        [c.variance for c in figures if c.variance is not None],
        labels=[c.study for c in figures],
    )
    return stand_alone(pooled, figures[0]) if len(figures) == 1 else pooled


def stand_alone(pooled: Pooled, only: Contribution) -> Pooled:
    """One study with the interval that is its own: by Student's t where its degrees of freedom are known.

    Its variance is estimated from its own people, which a normal interval leaves out of account (Student 1908); among
    several studies that is small beside the differences between them, and the weights are as published.
    """
    from scipy.special import stdtr

    if only.df is None:
        if only.low is None or only.high is None:
            return pooled
        return replace(pooled, low=only.low, high=only.high)
    assert only.estimate is not None and only.variance is not None
    reach = critical_value(pooled.level, only.df) * math.sqrt(only.variance)
    told = f"{ALONE}, {only.df:g} degrees of freedom: with few people a normal interval would be too narrow."
    return replace(
        pooled,
        low=only.estimate - reach,
        high=only.estimate + reach,
        df=only.df,
        p=float(2 * stdtr(only.df, -abs(pooled.estimate / pooled.se))),
        interval_method=T_ALONE,
        notes=(told, *pooled.notes),
    )


def shown_alone(contributions: Sequence[Contribution], pooled: Pooled | None) -> list[Contribution]:
    """Contributions as they are shown: the only one that was weighed has the interval of the answer."""
    if pooled is None or pooled.k != 1 or pooled.interval_method != T_ALONE:
        return list(contributions)
    return [
        replace(c, low=pooled.low, high=pooled.high) if c.variance is not None else c for c in contributions
    ]


def pool_nested(studies: Sequence[Weighable]) -> NestedPooled:
    """All results of all studies: three levels by REML, CR2 errors. Raises NumberProblem where it cannot be fitted."""
    effects = [e for s in studies for e in s.results.effects]
    ids = [s.contribution.study for s in studies for _ in s.results.effects]
    covariance = np.zeros((len(effects), len(effects)))
    start = 0
    for study in studies:
        end = start + len(study.results.effects)
        covariance[start:end, start:end] = working_covariance(study.results)
        start = end
    fitted = pool_dependent([e.estimate for e in effects], covariance, ids, way="three_level")
    if not fitted.converged:
        raise NumberProblem("The search for the variances did not converge.")
    rho = next((s.results.rho.value for s in studies if s.results.rho is not None), None)
    return as_pooled(fitted, rho)


def working_covariance(results: StudyResults) -> Array:
    """The covariance that a study enters the nested model with: one sampling variance where errors are but assumed to
    correlate.

    The correlated and hierarchical effects model takes the mean of a study's sampling variances (Pustejovsky & Tipton
    2022, from memory). With variances of their own the more precise result would count against the other: a few
    results then weigh less than nothing, and small effects, which have small variances, would carry the answer.
    """
    if results.rho is None:
        return results.covariance
    own = np.diag(results.covariance)
    scale = np.sqrt(own.mean() / own)
    return np.asarray(results.covariance * np.outer(scale, scale), dtype=np.float64)


def as_pooled(fitted: DependentPooled, rho: float | None) -> NestedPooled:
    """The fitted model with the fields that every pooled figure has."""
    between, within = fitted.components[0], fitted.components[-1]
    tau2 = math.fsum(fitted.components)
    notes = [
        f"{fitted.k} results of {fitted.k_studies} studies were pooled in a three-level model; its standard error "
        f"allows for results of one study going together (CR2, {fitted.df:.1f} degrees of freedom). Variance between "
        f"studies {between:.3g}, between results of one study {within:.3g}."
    ]
    if rho is not None:
        notes.append(
            f"Errors of several outcomes or regions of one study were taken to correlate by {rho:g}, with the mean of "
            "their sampling variances for each."
        )
    if fitted.df is not None and fitted.df < 4.0:
        notes.append(
            "Few studies carry most of the information, fewer than four degrees of freedom: the interval is rough."
        )
    notes += [note for note in fitted.notes if "count negatively" in note]
    return NestedPooled(
        k=fitted.k_studies,
        estimate=fitted.estimate,
        se=fitted.se,
        low=fitted.low,
        high=fitted.high,
        df=fitted.df,
        statistic=fitted.estimate / fitted.se,
        p=fitted.p,
        level=fitted.level,
        model="random",
        interval_method=NESTED,
        tau2_method="REML",
        tau2=tau2,
        tau2_low=None,
        tau2_high=None,
        tau=math.sqrt(tau2),
        i2=math.fsum(fitted.i2),
        h2=fitted.q / fitted.q_df,
        q=fitted.q,
        q_df=fitted.q_df,
        q_p=fitted.q_p,
        prediction_low=fitted.prediction_low,
        prediction_high=fitted.prediction_high,
        prediction_method="t_k_minus_1",
        weights=fitted.weights,
        guard_applied=False,
        converged=fitted.converged,
        notes=tuple(notes),
        results=fitted.k,
        tau2_between=between,
        tau2_within=within,
        rho=rho,
    )


def assumed_r(studies: Sequence[StudyEvidence], construct: str) -> float | None:
    """The within-person correlation in use, for the number of people such a comparison needs."""
    if not studies:
        return None
    situation = (
        "between conditions" if studies[0].links.vocabulary.constructs[construct].acute else "between changes"
    )
    return studies[0].links.assumed(situation).value
