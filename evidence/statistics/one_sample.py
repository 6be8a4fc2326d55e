"""One group described: a proportion, a mean, a spread, on the scale on which it can be pooled."""

import math

from evidence.errors import NumberProblem
from evidence.statistics.counts import Events
from evidence.statistics.effect import Effect, Metric, Summary, derive, require_positive_means

_DELTA = "delta method"


def proportion(events: Events, *, add: float = 0.5) -> Effect:
    """Events over people. `add` goes to both cells where one is 0 (as for all functions here with `add`)."""
    x, n = _mend(events, add)
    return _describe(Metric.PROPORTION, "x/n", x / n, x * (n - x) / n**3, events)


def log_proportion(events: Events, *, add: float = 0.5) -> Effect:
    """ln(x/n)."""
    x, n = _mend(events, add)
    return _describe(Metric.LOG_PROPORTION, "ln(x/n)", math.log(x / n), 1 / x - 1 / n, events)


def logit_proportion(events: Events, *, add: float = 0.5) -> Effect:
    """ln(x/(n − x))."""
    x, n = _mend(events, add)
    return _describe(
        Metric.LOGIT_PROPORTION, "ln(x/(n−x))", math.log(x / (n - x)), 1 / x + 1 / (n - x), events
    )


def arcsine_proportion(events: Events) -> Effect:
    """arcsin√(x/n), variance 1/(4n)."""
    value = math.asin(math.sqrt(events.count / events.people))
    return _describe(Metric.ARCSINE_PROPORTION, "arcsin√(x/n)", value, 1 / (4 * events.people), events)


def double_arcsine_proportion(events: Events) -> Effect:
    """½(arcsin√(x/(n+1)) + arcsin√((x+1)/(n+1))), variance 1/(4n + 2) (Freeman & Tukey 1950)."""
    x, n = events.count, events.people
    value = (math.asin(math.sqrt(x / (n + 1))) + math.asin(math.sqrt((x + 1) / (n + 1)))) / 2
    formula = "½(arcsin√(x/(n+1)) + arcsin√((x+1)/(n+1)))"
    return _describe(Metric.DOUBLE_ARCSINE_PROPORTION, formula, value, 1 / (4 * n + 2), events)


def mean(group: Summary) -> Effect:
    """The mean, variance SD²/n."""
    return _summarise(Metric.MEAN, "mean", group.mean, group.sd**2 / group.n, group)


def log_mean(group: Summary) -> Effect:
    """ln(mean), variance SD²/(n·mean²)."""
    require_positive_means(group)
    return _summarise(Metric.LOG_MEAN, "ln(mean)", math.log(group.mean), group.squared_cv_over_n, group)


def log_sd(group: Summary) -> Effect:
    """ln(SD) + 1/(2(n−1)), variance 1/(2(n−1)) (Nakagawa 2015)."""
    _require_spread(group)
    half = 1 / (2 * (group.n - 1))
    return _summarise(Metric.LOG_SD, "ln(SD) + 1/(2(n−1))", math.log(group.sd) + half, half, group)


def log_cv(group: Summary) -> Effect:
    """ln(SD/mean) + 1/(2(n−1)), variance 1/(2(n−1)) + SD²/(n·mean²) (Nakagawa 2015)."""
    require_positive_means(group)
    _require_spread(group)
    half = 1 / (2 * (group.n - 1))
    value = math.log(group.sd / group.mean) + half
    formula = "ln(SD/mean) + 1/(2(n−1))"
    return _summarise(Metric.LOG_CV, formula, value, half + group.squared_cv_over_n, group)


def _mend(events: Events, add: float) -> tuple[float, float]:
    x, n = float(events.count), float(events.people)
    return (x + add, n + 2 * add) if events.count in (0, events.people) else (x, n)


def _describe(metric: Metric, formula: str, value: float, variance: float, events: Events) -> Effect:
    step = derive(metric.value.replace("_", " "), formula, _DELTA, value, x=events.count, n=events.people)
    return Effect(metric, value, variance, events.people, None, (step,))


def _summarise(metric: Metric, formula: str, value: float, variance: float, group: Summary) -> Effect:
    step = derive(
        metric.value.replace("_", " "), formula, _DELTA, value, mean=group.mean, SD=group.sd, n=group.n
    )
    return Effect(metric, value, variance, group.n, None, (step,))


def _require_spread(group: Summary) -> None:
    if group.sd <= 0:
        raise NumberProblem("The standard deviation is 0, so it has no logarithm.", hint="Check the SD.")
