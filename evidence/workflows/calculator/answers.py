"""How the calculator shows effects: on which scales, with what to be careful about, and with the correlation varied."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from evidence.errors import BadInput, NumberProblem
from evidence.statistics.correlations import Correlation, given, sweep_correlations
from evidence.statistics.effect import LOG_RATIOS, Effect, Metric, Summary, derive
from evidence.statistics.integrity_reports import check_large_effect
from evidence.statistics.t_tests import compare_unequal_spreads
from evidence.vocabulary import Vocabulary
from evidence.workflows.calculator.computing import Figure, Grid, Worked
from evidence.workflows.naming import require_match

NAMES = {
    Metric.SMD: ("standardised mean difference (g)", "SDs"),
    Metric.SMD_CHANGE: ("standardised difference of changes (g)", "SDs"),
    Metric.MEAN_DIFFERENCE: ("mean difference", "as printed"),
    Metric.LOG_RATIO_OF_MEANS: ("ratio of means, as percent", "% more or less"),
    Metric.LOG_RISK_RATIO: ("risk ratio", "1 = no difference"),
    Metric.LOG_ODDS_RATIO: ("odds ratio", "1 = no difference"),
    Metric.RISK_DIFFERENCE: ("risk difference", "per person"),
    Metric.LOG_RATE_RATIO: ("rate ratio", "1 = no difference"),
    Metric.LOG_VARIABILITY_RATIO: ("ratio of SDs", "1 = no difference"),
    Metric.LOG_CV_RATIO: ("ratio of coefficients of variation", "1 = no difference"),
    Metric.FISHER_Z: ("correlation (limits by Fisher's z)", "r"),
}
SCALES = {
    "smd": Metric.SMD,
    "difference": Metric.MEAN_DIFFERENCE,
    "percent": Metric.LOG_RATIO_OF_MEANS,
    "risk-ratio": Metric.LOG_RISK_RATIO,
    "odds-ratio": Metric.LOG_ODDS_RATIO,
    "rate-ratio": Metric.LOG_RATE_RATIO,
    "risk-difference": Metric.RISK_DIFFERENCE,
    "spread-ratio": Metric.LOG_VARIABILITY_RATIO,
    "cv-ratio": Metric.LOG_CV_RATIO,
}
# Another question than that of the means: answered where it is asked.
OF_SPREADS = {
    Metric.LOG_VARIABILITY_RATIO: "Spreads tend to grow with their means: --scale cv-ratio takes that out.",
    Metric.LOG_CV_RATIO: "It needs a measure with a true zero (kilograms, centimetres), not a score or a temperature.",
}


@dataclass(frozen=True, slots=True)
class EffectQuestion:
    """What was typed behind `compute effect`; None where nothing was."""

    a: str | None = None
    b: str | None = None
    a_before: str | None = None
    a_after: str | None = None
    b_before: str | None = None
    b_after: str | None = None
    spread: str | None = None
    same_people: bool = False
    r: float | None = None
    outcome: str | None = None
    events_a: str | None = None
    events_b: str | None = None
    rate_a: str | None = None
    rate_b: str | None = None
    correlation: float | None = None
    t: float | None = None
    f: float | None = None
    p: float | None = None
    higher: str | None = None
    n: int | None = None
    n_a: int | None = None
    n_b: int | None = None
    estimate: float | None = None
    interval: str | None = None
    se: float | None = None
    scale: str | None = None


def usual_correlation(
    r: float | None, outcome: str | None, vocabulary: Vocabulary, situation: str
) -> Correlation:
    """The correlation typed, else the usual one of the outcome, named as assumed.

    Raises:
        BadInput: neither was given.
    """
    if r is not None:
        return given(r)
    if outcome is None:
        raise BadInput(
            "--r is missing: the same people measured twice need the correlation between the two measurements.",
            hint="Add --r 0.8 if it is known, or --outcome activation (growth, strength, ...) to take its usual value, "
            "which is then named and varied.",
        )
    construct = require_match(vocabulary.find_construct(outcome), "outcome")
    found = vocabulary.default_correlation(construct, situation)
    text = f"Usual range {found.low:g} to {found.high:g}"
    return Correlation(found.default, found.low, found.high, False, text, found.source)


def use_t(effect: Effect, a: Summary, b: Summary | None = None) -> Effect:
    """A mean difference with an interval by Student's t, as papers print it.

    Degrees of freedom: Welch's for two groups (or changes) `a` and `b` of different people, n − 1 for the same people.
    """
    df = float(a.n - 1) if b is None else compare_unequal_spreads(a, b).df
    name = "degrees of freedom"
    step = (
        derive(name, "n − 1", "Student's t", df, n=a.n)
        if b is None
        else derive(name, "Welch–Satterthwaite", "Satterthwaite 1946", df)
    )
    return replace(effect, df=df, steps=(*effect.steps, step))


def read_metric(scale: str) -> Metric:
    """The metric behind a name of --scale."""
    if scale not in SCALES:
        raise BadInput(
            f"There is no scale {scale!r}.", where="--scale", hint=f"Choose one of {', '.join(SCALES)}."
        )
    return SCALES[scale]


def choose_metrics(makers: Mapping[Metric, object], scale: str | None) -> list[Metric]:
    """All metrics that the figures allow, or the one asked for."""
    if scale is None:
        return [metric for metric in makers if metric not in OF_SPREADS]
    wanted = read_metric(scale)
    if wanted is Metric.SMD and Metric.SMD_CHANGE in makers:
        wanted = Metric.SMD_CHANGE
    if wanted not in makers:
        fits = [name for name, metric in SCALES.items() if metric in makers or name == "smd"]
        raise BadInput(
            f"The scale {scale!r} does not fit these figures.",
            where="--scale",
            hint=f"Choose {', '.join(fits)}.",
        )
    return [wanted]


def answer_effects(asked: str, effects: list[Effect], cautions: tuple[str, ...] = ()) -> Worked:
    """An answer of one or several scales of one comparison."""
    figures = tuple(show_effect(effect) for effect in effects)
    cautions = (*cautions, *(_large(effect) for effect in effects if _large(effect)))
    for effect in effects:
        if effect.metric in OF_SPREADS:
            cautions = (
                *cautions,
                "How much people differ, not how much they respond.",
                OF_SPREADS[effect.metric],
            )
    clear = {low > 0 or high < 0 for low, high in (effect.interval() for effect in effects)}
    if clear == {True}:
        verdict = "The 95 % interval shuts out “no difference”."
    elif clear == {False}:
        verdict = "The 95 % interval includes “no difference”, which does not show that there is none."
    else:
        verdict = "Whether the 95 % interval includes “no difference” depends on the scale."
    return Worked(
        asked,
        f"{asked[0].upper()}{asked[1:]}. {verdict}",
        figures,
        (_on_log_scale(effects),) if any(effect.metric in LOG_RATIOS for effect in effects) else (),
        tuple(step for effect in effects for step in effect.steps),
        tuple(said for effect in effects for said in effect.assumptions),
        cautions,
    )


def show_effect(effect: Effect) -> Figure:
    """An effect as people read it: ratios as ratios or percent, correlations as r."""
    name, unit = NAMES.get(effect.metric, (effect.metric.value.replace("_", " "), ""))
    values = (effect.estimate, *effect.interval())
    if effect.metric is Metric.LOG_RATIO_OF_MEANS:
        values = (100 * math.expm1(values[0]), 100 * math.expm1(values[1]), 100 * math.expm1(values[2]))
    elif effect.metric in LOG_RATIOS:
        values = (math.exp(values[0]), math.exp(values[1]), math.exp(values[2]))
    elif effect.metric is Metric.FISHER_Z:
        values = (math.tanh(values[0]), math.tanh(values[1]), math.tanh(values[2]))
    plain = effect.metric not in LOG_RATIOS and effect.metric is not Metric.FISHER_Z
    return Figure(name, values[0], values[1], values[2], unit, effect.se if plain else None)


def _on_log_scale(effects: list[Effect]) -> Grid:
    rows = tuple(
        (NAMES[one.metric][0], one.estimate, one.se, one.variance)
        for one in effects
        if one.metric in LOG_RATIOS
    )
    return Grid("For pooling, on the log scale", ("figure", "log", "SE", "variance"), rows)


def _large(effect: Effect) -> str:
    if effect.metric not in (Metric.SMD, Metric.SMD_CHANGE):
        return ""
    finding = check_large_effect(effect.estimate)
    return finding.text if finding else ""


def vary_answer(
    worked: Worked,
    makers: dict[Metric, Callable[[float | Correlation], Effect]],
    link: Correlation,
    scale: str | None,
) -> Worked:
    """Under an assumed correlation: the answer at its low, usual and high value."""
    if link.printed:
        return worked
    rows: list[tuple[str | float | None, ...]] = []
    changes = False
    for metric in choose_metrics(makers, scale):
        try:
            sweep = sweep_correlations(makers[metric], link)
        except NumberProblem:
            continue
        changes |= sweep.changes_conclusion()
        for r, effect in zip(sweep.correlations, sweep.effects, strict=True):
            figure = show_effect(effect)
            rows.append((figure.name, f"{r:g}", figure.value, figure.low, figure.high))
    said = (
        "Whether the interval includes no difference depends on the assumed correlation."
        if changes
        else "The conclusion is the same at the low, the usual and the high correlation."
    )
    grid = Grid("With the correlation varied", ("figure", "r", "value", "low", "high"), tuple(rows))
    return replace(worked, grids=(*worked.grids, grid), cautions=(*worked.cautions, said))
