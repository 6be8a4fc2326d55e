"""How far an answer moved between two times: verdict, size, level, threshold, wording.

Signals and thresholds from `rules/update_signals.yaml`: a flip of whether the interval leaves out no difference, a
change of half or more in size (Shojania et al. 2007), another level, an interval that newly holds the smallest
difference that matters.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from evidence.appraisal.levels import describe_range, read_level
from evidence.appraisal.metrics import find_metric, find_thresholds, format_interval, format_value, show_value
from evidence.appraisal.rulebook import load_rules


class MoveKind(StrEnum):
    """What of an answer moved."""

    VERDICT = "verdict"
    SIZE = "size"
    LEVEL = "level"
    THRESHOLD = "threshold"
    SCALE = "scale"
    WORDING = "wording"
    NOTICE = "notice"  # of a source that was named
    ORDER = "order"  # of a ranking


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a claim stood at one time. Figures are in the metric's own scale; levels are words."""

    at: datetime
    verdict: str
    verdict_text: str
    sentence: str
    level: str
    level_low: str
    level_high: str
    metric: str | None
    estimate: float | None
    low: float | None
    high: float | None
    studies: int
    short: str
    plain: str

    @property
    def span(self) -> str:
        """The level with its range: `moderate`, or `low (between very low and low)`."""
        return describe_range(*map(read_level, (self.level, self.level_low, self.level_high)))

    @property
    def figures(self) -> str:
        """The estimate with its interval, as people read it; empty where there is none."""
        if self.metric is None or self.estimate is None:
            return ""
        metric = find_metric(self.metric)
        shown = format_value(metric, self.estimate, sign=True)
        if self.low is None or self.high is None:
            return shown
        return f"{shown} [{format_interval(metric, self.low, self.high)}]"


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that moved, with the signal it is (`update_signals.yaml`); empty: none of its own."""

    kind: MoveKind
    text: str
    signal: str = ""


def find_moves(before: Standing, now: Standing, construct: str) -> tuple[Move, ...]:
    """What moved from one standing to the other; nothing where the answer is the same for a reader."""
    moves: list[Move] = []
    if before.verdict != now.verdict or excludes_null(before) != excludes_null(now):
        flipped = excludes_null(before) != excludes_null(now)
        text = tell_verdicts(before, now)
        if before.verdict_text == now.verdict_text:
            text = (
                "the interval "
                + ("no longer includes" if excludes_null(now) else "now includes")
                + " “no difference”"
            )
        moves.append(Move(MoveKind.VERDICT, text, "U4" if flipped else ""))
    elif before.verdict_text != now.verdict_text:
        moves.append(Move(MoveKind.VERDICT, tell_verdicts(before, now)))
    if before.metric and now.metric and before.metric != now.metric:
        moves.append(Move(MoveKind.SCALE, tell_scales(before.metric, now.metric)))
    else:
        moves += [m for m in (moved_size(before, now, construct), newly_holds(before, now, construct)) if m]
    if before.span != now.span:
        moves.append(Move(MoveKind.LEVEL, f"confidence was {before.span}, now {now.span}", "U6"))
    if before.short != now.short:
        moves.append(Move(MoveKind.WORDING, f"the wording was “{before.short}”, now “{now.short}”"))
    return tuple(moves)


def tell_verdicts(before: Standing, now: Standing) -> str:
    """Another verdict, in words."""
    return f"the verdict was “{before.verdict_text}”, now “{now.verdict_text}”"


def tell_scales(before: str, now: str) -> str:
    """Another scale, in the unit that people read; of one unit, by how the figure is worked out."""
    old, new = find_metric(before), find_metric(now)
    if old.unit != new.unit:
        return f"the size was in {old.unit}, now in {new.unit}: the two figures cannot be compared"
    if old.name != new.name:
        return f"the size was told as {old.name}, now as {new.name}"
    return f"the size was worked out as {before.replace('_', ' ')}, now as {now.replace('_', ' ')}"


def excludes_null(standing: Standing) -> bool:
    """Whether the interval leaves out no difference (0 on every scale: ratios are kept as logarithms)."""
    if standing.low is None or standing.high is None:
        return False
    return standing.low > 0 or standing.high < 0


def relative_change(before: Standing, now: Standing, construct: str) -> float | None:
    """Change of the shown size, relative to the earlier one; None where it cannot be said or is too small to matter.

    On the scale that people read (20 % to 30 % is half as much again), which is nearest to what Shojania et al. did.
    """
    if (
        before.estimate is None
        or now.estimate is None
        or before.metric is None
        or before.metric != now.metric
    ):
        return None
    rules = load_rules("update_signals")
    floor = getattr(find_thresholds(before.metric, construct), rules["ignore_below"])
    if floor is not None and max(abs(before.estimate), abs(now.estimate)) < floor:
        return None
    metric = find_metric(before.metric)
    null, old, new = (show_value(metric, x) for x in (0.0, before.estimate, now.estimate))
    if old == null:
        return float("inf")
    return (new - old) / abs(old - null)


def moved_size(before: Standing, now: Standing, construct: str) -> Move | None:
    """A change of half or more in size."""
    change = relative_change(before, now, construct)
    least = load_rules("update_signals")["relative_change"]
    if change is None or round(abs(change), 9) < least:  # a half is a half, whatever the last binary digit
        return None
    share = "" if change == float("inf") else f", a move by {100 * abs(change):.0f} % of what it was"
    return Move(MoveKind.SIZE, f"the size was {before.figures}, now {now.figures}{share}", "U5")


def newly_holds(before: Standing, now: Standing, construct: str) -> Move | None:
    """The interval newly holds the smallest difference that matters."""
    if now.metric is None or before.low is None:
        return None
    mid = find_thresholds(now.metric, construct).mid
    if mid is None or holds(before, mid) or not holds(now, mid):
        return None
    shown = format_value(find_metric(now.metric), mid)
    return Move(
        MoveKind.THRESHOLD,
        f"the interval now includes the smallest difference that matters ({shown})",
        "U6",
    )


def holds(standing: Standing, mid: float) -> bool:
    """Whether the interval lies on both sides of the smallest difference that matters, either way round."""
    if standing.low is None or standing.high is None:
        return False
    return any(standing.low < line < standing.high for line in (mid, -mid))


def months_between_reviews(level: str) -> int:
    """Months from one review to the next for a level of confidence."""
    intervals: Mapping[str, int] = load_rules("update_signals")["intervals_months"]
    return intervals[level]


def find_signal(identifier: str) -> Mapping[str, Any]:
    """A signal of the rule data by its id."""
    signals: list[Mapping[str, Any]] = load_rules("update_signals")["signals"]
    return next(s for s in signals if s["id"] == identifier)
