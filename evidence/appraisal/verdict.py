"""Verdict: what the evidence says of a claim. How sure one may be is another question (`confidence`).

An interval that holds zero is "no clear difference" and never "the same": sameness needs the whole
interval inside the margin. Estimates without any interval give a direction only.
"""

from dataclasses import dataclass
from enum import StrEnum

from evidence.appraisal.body import Body
from evidence.appraisal.metrics import (
    Metric,
    Size,
    Thresholds,
    find_metric,
    find_thresholds,
    format_interval,
    format_value,
    size_of,
)
from evidence.vocabulary.terms import Direction


class VerdictKind(StrEnum):
    """The closed list of verdicts."""

    SUPPORTED = "supported"
    CONTRADICTED = "contradicted"
    NO_CLEAR_DIFFERENCE = "no clear difference"
    LITTLE_OR_NONE = "little to no difference"
    DIRECTION_ONLY = "direction only"
    NOTHING_FOUND = "nothing found"
    AMONG_THE_BEST = "among the best"  # of a superlative: not told apart from others
    BACKED = "backed"  # of a mechanism or principle: sources for a reason, no evidence of an effect
    DISPUTED = "disputed"
    MIXED_BACKING = "mixed backing"
    OPINION = "opinion"  # of practice: not judged


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the evidence says.

    `direction` is what was found of the exercise against its comparator (MORE, LESS, SAME; None: open).
    `estimate`, `low`, `high` are in the metric's own scale; `sentence` has them as people read them.
    `margin` is the one used, in the metric's own scale. `size` is None where there is no estimate or no
    threshold.
    """

    kind: VerdictKind
    text: str
    direction: Direction | None
    sentence: str
    size: Size | None
    estimate: float | None
    low: float | None
    high: float | None
    metric: Metric
    k: int
    people: int
    margin: float | None
    notes: tuple[str, ...]


def judge(body: Body) -> Verdict:
    """What a body of evidence says of its claim."""
    metric = find_metric(body.metric)
    thresholds = find_thresholds(body.metric, body.measured)
    if body.pooled is None:
        return _judge_without_interval(body, metric, thresholds)
    pooled = body.pooled
    margin = body.own_margin if body.own_margin is not None else thresholds.margin
    kind, direction, notes = _decide(body.direction, pooled.estimate, pooled.low, pooled.high, margin)
    if (
        body.own_margin is None
        and margin is not None
        and (body.direction is Direction.SAME or direction is Direction.SAME)
    ):
        notes.append(
            f"The margin ({_show_margin(metric, margin)}) is the default of this scale: {thresholds.conf}."
        )
    if pooled.k == 1:
        notes.append("One study: whether another would find the same is not known.")
    elif pooled.k == 2:
        notes.append("Two studies: how much studies differ among themselves cannot be judged.")
    notes += _note_prediction(body, kind)
    left = len(body.contributions) - pooled.k
    if left > 0 and len(body.with_interval) < len(body.contributions):
        missing = len(body.contributions) - len(body.with_interval)
        notes.append(
            f"{missing} of {len(body.contributions)} contributions have no interval: shown, not pooled."
        )
    return Verdict(
        kind,
        _name_verdict(kind, body.direction, direction),
        direction,
        _tell_figures(body, metric),
        size_of(pooled.estimate, thresholds),
        pooled.estimate,
        pooled.low,
        pooled.high,
        metric,
        pooled.k,
        body.people,
        margin,
        tuple(notes),
    )


def _decide(
    claimed: Direction, estimate: float, low: float, high: float, margin: float | None
) -> tuple[VerdictKind, Direction | None, list[str]]:
    notes: list[str] = []
    found = Direction.MORE if low > 0 else Direction.LESS if high < 0 else None
    inside = margin is not None and -margin < low and high < margin
    if inside:
        if found:
            notes.append(
                "The interval leaves out zero, yet lies wholly inside the margin: too small to matter."
            )
        kind = VerdictKind.SUPPORTED if claimed is Direction.SAME else VerdictKind.LITTLE_OR_NONE
        return kind, Direction.SAME, notes
    if claimed is Direction.SAME:
        if margin is None:
            notes.append("Sameness cannot be judged without a margin: give the claim one.")
        elif found and abs(estimate) >= margin:
            return VerdictKind.CONTRADICTED, found, notes
        elif found:
            notes.append("There is a difference; whether it is larger than the margin is open.")
        return VerdictKind.NO_CLEAR_DIFFERENCE, found, notes
    if found is None:
        return VerdictKind.NO_CLEAR_DIFFERENCE, None, notes
    fits = claimed is Direction.DIFFERS or claimed is found
    return (VerdictKind.SUPPORTED if fits else VerdictKind.CONTRADICTED), found, notes


def _judge_without_interval(body: Body, metric: Metric, thresholds: Thresholds) -> Verdict:
    estimates = body.estimates
    notes: list[str] = []
    direction = None
    if not estimates:
        kind, text, sentence = (
            VerdictKind.NOTHING_FOUND,
            "nothing found",
            "No result in the catalogue bears on this.",
        )
        if body.contributions:
            sentence = "Studies bear on this, but none gave a figure that can be compared."
    else:
        kind = VerdictKind.DIRECTION_ONLY
        more, less = sum(e > 0 for e in estimates), sum(e < 0 for e in estimates)
        direction = Direction.MORE if more and not less else Direction.LESS if less and not more else None
        text = f"direction only: {_name_direction(direction, more, less)}"
        shown = ", ".join(format_value(metric, e, sign=True) for e in estimates[:5])
        sentence = f"{_count(len(estimates), 'estimate')} without an interval: {shown} ({metric.unit})."
        notes.append("No interval can be worked out from what was printed, so chance is not ruled out.")
    return Verdict(
        kind,
        text,
        direction,
        sentence,
        size_of(estimates[0], thresholds) if len(estimates) == 1 else None,
        estimates[0] if len(estimates) == 1 else None,
        None,
        None,
        metric,
        body.studies if estimates else 0,
        body.people,
        body.own_margin,
        tuple(notes),
    )


def _name_direction(direction: Direction | None, more: int, less: int) -> str:
    if direction is None:
        return f"{more} higher and {less} lower with the exercise"
    return "higher with the exercise" if direction is Direction.MORE else "lower with the exercise"


def _name_verdict(kind: VerdictKind, claimed: Direction, found: Direction | None) -> str:
    if claimed is Direction.SAME:
        names = {
            VerdictKind.SUPPORTED: "supported: little to no difference",
            VerdictKind.CONTRADICTED: f"contradicted: {found} with the exercise",
            VerdictKind.NO_CLEAR_DIFFERENCE: "sameness not shown",
        }
        return names[kind]
    if kind is VerdictKind.CONTRADICTED:
        return f"contradicted: the figures say {found}"
    if kind is VerdictKind.SUPPORTED and claimed is Direction.DIFFERS:
        return f"supported: {found} with the exercise"
    return str(kind)


def _tell_figures(body: Body, metric: Metric) -> str:
    pooled = body.pooled
    assert pooled is not None
    in_the_unit = metric.shown_as == "number" and metric.unit.startswith("the ")
    named = body.unit or ("unit of the outcome" if in_the_unit else metric.unit)
    unit = f", {named}"
    return (
        f"{format_value(metric, pooled.estimate, sign=True)} "
        f"(95 % interval {format_interval(metric, pooled.low, pooled.high)}{unit}); "
        f"{_count(pooled.k, 'study', 'studies')}, {_count(body.people, 'person', 'people')}."
    )


def _note_prediction(body: Body, kind: VerdictKind) -> list[str]:
    pooled = body.pooled
    if pooled is None or pooled.prediction_low is None or pooled.prediction_high is None:
        return []
    clear = kind in (VerdictKind.SUPPORTED, VerdictKind.CONTRADICTED) and body.direction is not Direction.SAME
    if clear and pooled.k >= 3 and pooled.prediction_low < 0 < pooled.prediction_high:
        return [
            "The average is clear, yet a new study may find the opposite: the prediction interval holds zero."
        ]
    return []


def _show_margin(metric: Metric, margin: float) -> str:
    return f"within {format_interval(metric, -margin, margin)}"


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
