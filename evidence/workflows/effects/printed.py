"""From one stored result to what can be computed with: a summary of a condition, or the paper's own comparison."""

import math
import re
from dataclasses import replace

from evidence.catalogue.tables import Result
from evidence.errors import NumberProblem
from evidence.statistics.conversions import ConvertedSummary, sd_from_interval, sd_from_se
from evidence.statistics.conversions_medians import FiveNumbers, summarise_median
from evidence.statistics.conversions_tests import (
    bound_from_threshold,
    effect_from_interval,
    effect_from_p,
    effect_from_se,
    smd_from_paired_t,
    smd_from_t,
)
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import LOG_RATIOS, Assumption, Effect, Metric, Summary
from evidence.vocabulary.terms import Pairing, Spread, Statistic

EXACT_P = re.compile(r"^\s*(?:p\s*)?=?\s*(0?\.\d+)\s*$", re.IGNORECASE)
BELOW_P = re.compile(r"^\s*(?:p\s*)?[<≤]\s*(0?\.\d+)\s*$", re.IGNORECASE)
T_TEST = re.compile(r"\bt\s*(?:\(\s*([\d.]+)\s*\))?\s*=\s*([-\N{MINUS SIGN}+]?\d*\.?\d+)", re.IGNORECASE)
DIFFERENCES = {
    Statistic.DIFFERENCE: Metric.MEAN_DIFFERENCE,
    Statistic.PERCENT_POINTS: Metric.PERCENT_CHANGE_DIFFERENCE,
    Statistic.SMD: Metric.SMD,
    Statistic.RATIO: Metric.LOG_RATIO_OF_MEANS,
}

RATIO_WORDS = {
    Metric.LOG_RATE_RATIO: re.compile(r"\b(rate ratio|IRR|incidence)\b", re.IGNORECASE),
    Metric.LOG_ODDS_RATIO: re.compile(r"\b(odds|OR)\b"),
    Metric.LOG_RISK_RATIO: re.compile(r"\b(risk ratio|relative risk|RR)\b", re.IGNORECASE),
}
HAZARD = re.compile(r"\b(hazard|HR)\b", re.IGNORECASE)
LOST_SIGN = re.compile(r"(.*\d)\s*(?:\s[67]\s|[^\w\s.,()\[\]/:;%<>=±\N{EN DASH}\N{MINUS SIGN}-])\s*(\d.*)")


def tell_printed(result: Result) -> str:
    """A figure for people to read: as it was pasted, with the ± that a paste lost between mean and spread."""
    lost = LOST_SIGN.fullmatch(result.printed)
    if lost is None or result.value is None or result.spread is None:
        return result.printed
    return f"{lost[1].rstrip()} ± {lost[2]}"


def summarise(result: Result, n: int | None) -> ConvertedSummary:
    """Mean, SD and n behind a printed mean or median, with the steps and assumptions of getting there.

    Raises NumberProblem saying what is missing.
    """
    where = f"{result.printed} ({result.locator})"
    if result.value is None:
        raise NumberProblem(f"{where}: no value was printed.")
    if n is None:
        raise NumberProblem(f"{where}: how many people stand behind it is not known.")
    kind = Spread(result.spread_kind)
    if kind is Spread.NONE:
        raise NumberProblem(f"{where}: no spread was printed.")
    if kind is Spread.NOT_STATED:
        raise NumberProblem(f"{where}: nobody has said what the figure beside the mean is (SD, SE, ...).")
    if result.statistic == Statistic.MEDIAN or kind in (Spread.IQR, Spread.RANGE):
        return summarise_middle(result, n, kind)
    if kind is Spread.CI:
        if result.low is None or result.high is None:
            raise NumberProblem(f"{where}: the interval lacks an end.")
        sd = sd_from_interval(result.low, result.high, n, result.level or 0.95)
        return ConvertedSummary(Summary(result.value, sd.value, n), sd.steps, sd.assumptions)
    if result.spread is None:
        raise NumberProblem(f"{where}: no spread was printed.")
    if kind is Spread.SE:
        sd = sd_from_se(result.spread, n)
        return ConvertedSummary(Summary(result.value, sd.value, n), sd.steps, sd.assumptions)
    return ConvertedSummary(Summary(result.value, result.spread, n), ())


def summarise_middle(result: Result, n: int, kind: Spread) -> ConvertedSummary:
    """Mean and SD from a median with its quartiles or range."""
    if result.low is None or result.high is None or result.value is None:
        raise NumberProblem(f"{result.printed} ({result.locator}): a median needs both ends of its {kind}.")
    if kind is Spread.RANGE:
        return summarise_median(FiveNumbers(result.value, n, minimum=result.low, maximum=result.high))
    return summarise_median(FiveNumbers(result.value, n, q1=result.low, q3=result.high))


def effect_from_test(
    result: Result, n_a: int | None, n_b: int | None, r: Correlation | None
) -> Effect | None:
    """A standardised difference from a printed t; `r` None: groups of different people. None: no t was printed.

    An F has no sign, so it cannot say which side is higher and is not used.
    """
    found = T_TEST.search(result.test or "")
    if result.statistic != Statistic.TEST or found is None or n_a is None or n_b is None:
        return None
    t = float(found[2].replace("\N{MINUS SIGN}", "-"))
    effect = smd_from_t(t, n_a, n_b) if r is None else smd_from_paired_t(t, min(n_a, n_b), r)
    sign = Assumption(
        "sign of t",
        f"The sign of {found[0]} was taken as that of the condition named first minus the other.",
        t,
    )
    return replace(effect, assumptions=(*effect.assumptions, sign))


def effects_as_printed(
    result: Result, n_a: int | None, n_b: int | None, pairing: Pairing, *, events: bool = False
) -> tuple[list[Effect], dict[str, float], list[str]]:
    """Effects from a comparison that the paper printed; else the bare estimate, with the reason.

    `events`: the outcome is a count of events, so a ratio is one of risks, rates or odds. Returns (effects, bare
    estimates by scale, reasons).
    """
    metric = DIFFERENCES.get(Statistic(result.statistic))
    if metric is None or result.value is None:
        return [], {}, []
    value = result.value
    if not math.isfinite(value):
        return [], {}, [f"{result.printed}: its value is {value}, which cannot be used as a number"]
    ratio = metric is Metric.LOG_RATIO_OF_MEANS
    if ratio and value <= 0:
        return [], {}, [f"{result.printed}: a ratio is above 0"]
    if ratio and events:
        try:
            metric = name_ratio(result)
        except NumberProblem as problem:
            return [], {}, [str(problem)]
    people = n_a if pairing is Pairing.WITHIN else None if n_a is None or n_b is None else n_a + n_b
    # A difference of means in its own unit comes with a t interval and a t test; other scales with large-sample ones.
    in_the_unit = metric in (Metric.MEAN_DIFFERENCE, Metric.PERCENT_CHANGE_DIFFERENCE)
    df = people - (1 if pairing is Pairing.WITHIN else 2) if people and people > 2 and in_the_unit else None
    try:
        effect = direct_effect(result, metric, value, people, df)
    except NumberProblem as problem:
        bare = math.log(value) if ratio else value
        return [], {metric.value: bare}, [str(problem)]
    return [effect], {}, []


def name_ratio(result: Result) -> Metric:
    """Which ratio of events was printed, by the words beside it. Raises NumberProblem where they do not say."""
    words = " ".join(filter(None, (result.printed_unit, result.printed, result.test, result.note)))
    for metric, pattern in RATIO_WORDS.items():
        if pattern.search(words):
            return metric
    if HAZARD.search(words):
        raise NumberProblem(
            f"{result.printed}: a hazard ratio is neither a ratio of risks nor of rates; it is not pooled with them."
        )
    raise NumberProblem(
        f"{result.printed}: a ratio of what is not said.",
        hint="Write risk ratio, rate ratio or odds ratio before the figure as printed, or in its note.",
    )


def direct_effect(
    result: Result, metric: Metric, value: float, people: int | None, df: float | None = None
) -> Effect:
    """The printed estimate with the uncertainty that stands beside it: SE first, then interval, then p."""
    if result.spread_kind == Spread.SE and result.spread:
        if metric in LOG_RATIOS:
            raise NumberProblem(f"{result.printed}: the SE of a ratio is not that of its logarithm.")
        return effect_from_se(metric, value, result.spread, people)
    if result.low is not None and result.high is not None:
        level = result.level or 0.95
        return replace(
            effect_from_interval(metric, value, result.low, result.high, level=level, df=df, n=people), df=df
        )
    exact = EXACT_P.match(result.p or "")
    if exact:
        return replace(effect_from_p(metric, value, float(exact[1]), df=df, n=people), df=df)
    below = BELOW_P.match(result.p or "")
    if below and people:
        bound = bound_from_threshold(float(below[1]), people)
        raise NumberProblem(f"{result.printed}: no spread was printed. {bound.text}")
    raise NumberProblem(f"{result.printed}: neither a spread, an interval nor an exact p was printed.")
