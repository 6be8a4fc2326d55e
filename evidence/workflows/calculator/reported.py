"""The calculator's effects from what a paper says of a comparison: an estimate with its interval, or only a test."""

import math
from collections.abc import Callable

from evidence.errors import BadInput, NumberProblem
from evidence.statistics.conversions_tests import (
    effect_from_interval,
    effect_from_p,
    effect_from_se,
    smd_from_f,
    smd_from_p,
    smd_from_paired_f,
    smd_from_paired_p,
    smd_from_paired_t,
    smd_from_t,
)
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import LOG_RATIOS, Effect, Metric
from evidence.vocabulary import Vocabulary
from evidence.workflows.calculator.answers import (
    SCALES,
    EffectQuestion,
    answer_effects,
    read_metric,
    usual_correlation,
    vary_answer,
)
from evidence.workflows.calculator.computing import Worked, need, read_numbers, require_inside


def answer_estimate(asked: EffectQuestion) -> Worked:
    """From a printed estimate with its interval, standard error or p."""
    assert asked.estimate is not None
    if asked.scale is None:
        raise BadInput(
            "--scale is missing: on which scale is the estimate?", hint=f"Choose one of {', '.join(SCALES)}."
        )
    metric = read_metric(asked.scale)
    value = asked.estimate
    if metric is Metric.LOG_RATIO_OF_MEANS:
        value = 1 + value / 100  # percent as printed
    if asked.interval is not None:
        low, high = read_numbers("--interval", asked.interval, ("low", "high"))
        if low <= high:  # backwards limits are refused with their own words below
            require_inside(asked.estimate, low, high, "--estimate")
        printed = f"{low:g} to {high:g}"
        if metric is Metric.LOG_RATIO_OF_MEANS:
            low, high = 1 + low / 100, 1 + high / 100
        df = _df(asked) if metric not in LOG_RATIOS else None
        return answer_effects(
            "an estimate with its interval",
            [effect_from_interval(metric, value, low, high, df=df)],
            (
                f"The interval shown is rebuilt around the estimate, for pooling. To quote: {printed}, as printed.",
            ),
        )
    if asked.se is not None:
        if not asked.se > 0:
            raise BadInput(
                f"A standard error of {asked.se:g} cannot be.", where="--se", hint="It must be above 0."
            )
        if metric in LOG_RATIOS:
            return answer_effects(
                "an estimate with its standard error",
                [effect_from_se(metric, _log(value), asked.se)],
                ("The standard error of a ratio was taken as that of its logarithm.",),
            )
        return answer_effects(
            "an estimate with its standard error", [effect_from_se(metric, value, asked.se)]
        )
    if asked.p is not None:
        return answer_effects(
            "an estimate with its p", [effect_from_p(metric, value, asked.p, df=_df(asked))]
        )
    raise BadInput("An estimate alone has no uncertainty.", hint='Add --interval "LOW HIGH", --se or --p.')


def _df(asked: EffectQuestion) -> float | None:
    if asked.n is not None:
        return asked.n - 1
    if asked.n_a is not None and asked.n_b is not None:
        return asked.n_a + asked.n_b - 2
    return None


def answer_test(asked: EffectQuestion, vocabulary: Vocabulary) -> Worked:
    """From t, F or p alone; a paired test has formulas of its own."""
    if asked.t is None and asked.higher not in ("a", "b"):
        raise BadInput(
            "F and p carry no direction: --higher is missing.", hint="Add --higher a or --higher b."
        )
    a_higher = asked.higher == "a"
    if asked.same_people:
        need(asked.n, "--n", "the number of people who did both.")
        assert asked.n is not None
        n = asked.n
        if asked.r is None and asked.outcome is None:
            effect = _paired_test(asked, n, None, a_higher)
            said = (
                "The yardstick is the SD of the differences; this is not comparable with other designs. "
                "Add --r (or --outcome) to put it on the scale of the SD between people.",
            )
            return answer_effects("a paired test", [effect], said)
        link = usual_correlation(asked.r, asked.outcome, vocabulary, "between conditions")
        makers: dict[Metric, Callable[[float | Correlation], Effect]] = {
            Metric.SMD: lambda r: _paired_test(asked, n, r, a_higher)
        }
        return vary_answer(
            answer_effects("a paired test", [_paired_test(asked, n, link, a_higher)]), makers, link, "smd"
        )
    need(asked.n_a, "--n-a", "the people of group A (for a paired test: --same-people and --n).")
    need(asked.n_b, "--n-b", "the people of group B.")
    assert asked.n_a is not None
    assert asked.n_b is not None
    if asked.t is not None:
        effect = smd_from_t(asked.t, asked.n_a, asked.n_b)
    elif asked.f is not None:
        effect = smd_from_f(asked.f, asked.n_a, asked.n_b, a_higher=a_higher)
    else:
        assert asked.p is not None
        effect = smd_from_p(asked.p, asked.n_a, asked.n_b, a_higher=a_higher)
    said = ("This holds for a test of two groups of different people; a paired test needs --same-people.",)
    return answer_effects("a test of two groups", [effect], said)


def _paired_test(asked: EffectQuestion, n: int, r: float | Correlation | None, a_higher: bool) -> Effect:
    if asked.t is not None:
        return smd_from_paired_t(asked.t, n, r)
    if asked.f is not None:
        return smd_from_paired_f(asked.f, n, r, a_higher=a_higher)
    assert asked.p is not None
    return smd_from_paired_p(asked.p, n, r, a_higher=a_higher)


def _log(value: float) -> float:
    if value <= 0:
        raise NumberProblem(f"A ratio of {value:g} has no logarithm.", hint="Enter ratios as printed.")
    return math.log(value)
