"""Facts about precision: the target, its thresholds, what the interval holds, people against those needed."""

import math
from collections.abc import Mapping
from typing import Any

from evidence.appraisal.body import Body
from evidence.appraisal.designs import pairing_of
from evidence.appraisal.information import paired_people, parallel_people, people_from_variance
from evidence.appraisal.metrics import Metric, find_metric, find_thresholds, format_interval, format_value
from evidence.appraisal.rulebook import Fact
from evidence.appraisal.verdict import VerdictKind, judge
from evidence.vocabulary.terms import Direction

DIFFERENCE, IMPORTANT, LITTLE = "a difference", "an important difference", "little to no difference"


def choose_target(body: Body, wanted: str) -> str:
    """What the rating is about (GRADE 32; Core GRADE 2): stored with it."""
    if body.direction is Direction.SAME or judge(body).kind is VerdictKind.LITTLE_OR_NONE:
        return LITTLE
    return IMPORTANT if wanted == "important" else DIFFERENCE


def gather_imprecision(
    body: Body, settings: Mapping[str, Any], *, mid: float | None = None
) -> dict[str, Fact]:
    """Facts for the rules of imprecision; `mid` replaces the smallest important difference."""
    metric = find_metric(body.metric)
    thresholds = find_thresholds(body.metric, body.measured)
    target = choose_target(body, settings["target"])
    margin = body.own_margin if body.own_margin is not None else thresholds.margin
    important = mid or body.own_mid or thresholds.mid
    if target == LITTLE:
        important = margin
    gross = body.large if body.large is not None else thresholds.gross
    if gross is not None and important is not None:
        gross = max(gross, important)
    low, high = (body.pooled.low, body.pooled.high) if body.pooled else (None, None)
    below = None if important is None else -important
    if important is not None and important == thresholds.mid and thresholds.mid_below is not None:
        below = thresholds.mid_below
    span = None if below is None or important is None else (below, important)
    needed, share = _people_needed(body, metric, important, settings)
    return {
        "target": target,
        "interval_known": body.pooled is not None,
        "interval": format_interval(metric, low, high) if low is not None and high is not None else "none",
        "holds_both_gross": gross is not None and _holds_both(low, high, (-gross, gross)),
        "holds_both_mid": _holds_both(low, high, span),
        "crosses_threshold": _holds_any(low, high, _lines_in_use(target, span)),
        "holds_zero": _holds_any(low, high, (0.0,)),
        "threshold": _name_lines(metric, target, span),
        "mid": important,
        "mid_shown": "not known" if span is None else _name_span(metric, span),
        "people": body.people,
        "needed": needed,
        "share_of_needed": share,
        "small_study": int(settings["small_study"]),
        "one_small_study": body.pooled is not None
        and body.studies == 1
        and 0 < body.people < settings["small_study"],
    }


def _lines_in_use(target: str, span: tuple[float, float] | None) -> tuple[float, ...]:
    return (0.0,) if target == DIFFERENCE or span is None else span


def _name_lines(metric: Metric, target: str, span: tuple[float, float] | None) -> str:
    if target == DIFFERENCE or span is None:
        return "no difference"
    word = "the margin" if target == LITTLE else "the smallest important difference"
    return f"{word} ({_name_span(metric, span)})"


def _name_span(metric: Metric, span: tuple[float, float]) -> str:
    if span[0] == -span[1] and not metric.logged:
        return f"±{format_value(metric, span[1])}"
    return f"{format_value(metric, span[0])} and {format_value(metric, span[1], sign=True)}"


def _holds_any(low: float | None, high: float | None, lines: tuple[float, ...]) -> bool:
    return low is not None and high is not None and any(low <= line <= high for line in lines)


def _holds_both(low: float | None, high: float | None, span: tuple[float, float] | None) -> bool:
    return low is not None and high is not None and span is not None and low <= span[0] and high >= span[1]


def _people_needed(
    body: Body, metric: Metric, difference: float | None, settings: Mapping[str, Any]
) -> tuple[int | None, float | None]:
    """People needed for this mix of designs, and the share of them that the body has (both None: not known).

    On a scale of standard deviations by the published formulas, unless the studies' own variances show that fewer are
    enough (changes from before to after are more exact than plain differences). On other scales by the variances.
    """
    if difference is None or body.people == 0:
        return None, None
    by_variance = _share_by_variance(body, difference, settings)
    by_formula = _share_by_formula(body, difference, settings) if metric.family == "smd" else None
    shares = [share for share in (by_variance, by_formula) if share]
    if not shares:
        return None, None
    share = max(shares)
    return math.ceil(body.people / share - 1e-9), round(share, 6)


def _share_by_formula(body: Body, difference: float, settings: Mapping[str, Any]) -> float:
    """Each design's people are held against that design's own need, and the shares add up."""
    power = {"alpha": settings["alpha"], "power": settings["power"]}
    r = body.within_person_r if body.within_person_r is not None else settings["default_r"]
    need = {
        "within": paired_people(difference, r, **power),
        "between": parallel_people(difference, **power),
    }
    counted: dict[str, int] = {}
    needed: dict[str, int] = {}
    for c in body.contributions:
        counted[c.study] = max(c.n, counted.get(c.study, 0))
        needed[c.study] = need["within" if pairing_of(c) == "within" else "between"]
    people = sum(counted.values())
    if not people:
        return body.people / need["between"]
    return sum(n / needed[study] for study, n in counted.items()) * body.people / people


def _share_by_variance(body: Body, difference: float, settings: Mapping[str, Any]) -> float | None:
    known = [(c.n, c.variance) for c in body.contributions if c.variance is not None and c.n > 0]
    if not known:
        return None
    unit = sum(n * n * variance for n, variance in known) / sum(n for n, _ in known)
    power = {"alpha": settings["alpha"], "power": settings["power"]}
    return body.people / people_from_variance(difference, unit, **power)
