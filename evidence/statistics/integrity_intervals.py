"""Confidence intervals against their estimate, their p-value and the people behind them."""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import critical_value, derive, require_people
from evidence.statistics.integrity import Finding, Printed, Severity, read_p, read_printed, tell
from evidence.statistics.t_tests import two_sided_p


@dataclass(frozen=True, slots=True)
class IntervalCheck:
    """What an interval implies, on the scale of the estimate (`centre` back as a ratio for ratios).

    `z` is infinite where the interval has no width.
    """

    se: float
    z: float
    p: float
    centre: float
    off_centre: bool
    excludes_null: bool


def weigh_interval(
    estimate: "str | float",
    low: "str | float",
    high: "str | float",
    *,
    ratio: bool = False,
    level: float = 0.95,
) -> IntervalCheck:
    """SE, z, p and centre of an interval, and whether the estimate lies off the centre beyond rounding.

    Rounding of all three figures is allowed for one and a half times, plus 0.5 % of the width.
    """
    e, lower, upper = (read_printed(figure) for figure in (estimate, low, high))
    if lower.value > upper.value:
        raise NumberProblem(f"The lower limit {lower.text} is above the upper limit {upper.text}.")
    if ratio and lower.value <= 0:
        raise NumberProblem(
            "A ratio and its limits must be above 0.", hint="Is it a difference, or a log ratio?"
        )
    x, a, b = (_place(figure, ratio) for figure in (e, lower, upper))
    se = (b - a) / (2 * critical_value(level))
    off = _is_off(e, lower, upper, ratio=ratio)
    centre = math.exp((a + b) / 2) if ratio else (a + b) / 2
    z = x / se if se > 0 else math.inf
    return IntervalCheck(se, z, two_sided_p(z), centre, off, not a <= 0 <= b)


def check_interval_centre(
    estimate: "str | float",
    low: "str | float",
    high: "str | float",
    *,
    ratio: bool = False,
    correlation: bool = False,
    standardised: bool = False,
    bootstrap: bool = False,
) -> Finding | None:
    """C6: an estimate that is not in the middle of its interval; tries whether a lost minus sign explains it.

    Ratios are judged on logarithms, correlations on Fisher's z (1921). Intervals of standardised differences built
    with the noncentral t are a little lopsided, which is allowed for. Bootstrap intervals, and ratios with an
    interval that is even on the plain scale, only give a note. A ratio whose lower limit is rounded to 0 cannot be
    judged.
    """
    e, lower, upper = (read_printed(figure) for figure in (estimate, low, high))
    inputs = {"estimate": e.text, "lower": lower.text, "upper": upper.text}
    if lower.value > upper.value:
        text = f"the lower limit {lower.text} is above the upper limit {upper.text}, which is impossible."
        text += _suggest_signs(e, lower, upper)
        return tell("C6", Severity.ERROR, text, **inputs)
    if ratio and min(lower.value, e.value) <= 0:
        if min(lower.value, e.value) == 0 <= upper.value:
            return None
        text = f"a ratio cannot have a lower limit of {lower.text}; is it a difference or a log ratio?"
        return tell("C6", Severity.ERROR, text, **inputs)
    if correlation and not all(-1 < figure.value < 1 for figure in (e, lower, upper)):
        return None
    if not _is_off(e, lower, upper, ratio=ratio, correlation=correlation, standardised=standardised):
        return None
    middle = float(lower.value + upper.value) / 2
    if ratio:
        middle = math.sqrt(float(lower.value) * float(upper.value))
    elif correlation:
        middle = math.tanh((math.atanh(lower.value) + math.atanh(upper.value)) / 2)
    formula = "√(lower·upper)" if ratio else "tanh of the mean z" if correlation else "(lower + upper)/2"
    step = derive("centre of the interval", formula, "definition of a symmetric interval", middle)
    text = f"{e.text} is not in the middle of {lower.text} to {upper.text} (middle {middle:.4g})."
    inside = lower.low <= e.value <= upper.high
    if bootstrap and inside:
        return tell("C6", Severity.INFO, text + " A bootstrap interval may be lopsided.", step, **inputs)
    if (ratio or correlation) and not _is_off(e, lower, upper):
        text += " The interval is even on the plain scale, which is unusual here."
        return tell("C6", Severity.INFO, text, step, **inputs)
    if not ratio:
        text += _suggest_signs(e, lower, upper)
    return tell("C6", Severity.WARNING, text, step, **inputs)


def check_interval_against_p(
    estimate: "str | float",
    low: "str | float",
    high: "str | float",
    p: "str | float",
    *,
    operator: str = "=",
    ratio: bool = False,
    level: float = 0.95,
) -> Finding | None:
    """C7: an interval and a p that disagree about whether there is any difference."""
    got = weigh_interval(estimate, low, high, ratio=ratio, level=level)
    reported = read_p(p)
    alpha = 1 - level
    significant = operator != ">" and float(reported.value) <= alpha + 1e-12
    undecided = operator == "<" and float(reported.value) > alpha + 1e-12
    touches = _touches_null(read_printed(low), read_printed(high), ratio)
    if undecided or significant == got.excludes_null or touches:
        return None
    step = derive("p from the interval", "z = estimate/SE, SE = width/(2z)", "Altman & Bland 2011", got.p)
    inside = "leaves out" if got.excludes_null else "contains"
    text = f"the interval {inside} no difference (p = {got.p:.3g}), printed is p {operator} {reported.text}."
    return tell("C7", Severity.WARNING, text, step, estimate=estimate, lower=low, upper=high, p=p)


def check_smd_width(
    estimate: "str | float", low: "str | float", high: "str | float", people: int, *, level: float = 0.95
) -> Finding | None:
    """C8: an SMD between groups more precise than N people allow (z·√(4/N), less 5 %)."""
    require_people(people, at_least=2)
    lower, upper = read_printed(low), read_printed(high)
    half = float(upper.value - lower.value) / 2
    least = critical_value(level) * math.sqrt(4 / people)
    rounding = float(upper.half_unit + lower.half_unit) / 2
    if half + rounding >= 0.95 * least:
        return None
    step = derive(
        "smallest half-width", "z·√(4/N)", "variance of an SMD at d = 0, equal groups", least, N=people
    )
    text = (
        f"an SMD of {people} people cannot be this precise (half-width {half:.3g}, at least {least:.3g}): a "
        "mean difference, people counted twice, or a comparison within people?"
    )
    return tell("C8", Severity.WARNING, text, step, estimate=estimate, lower=low, upper=high, N=people)


def check_direction(
    estimate: "str | float", low: "str | float", high: "str | float", favours_a: bool
) -> Finding | None:
    """C18: the words say one direction and the interval the other (positive favours A)."""
    lower, upper, e = read_printed(low), read_printed(high), read_printed(estimate)
    if (favours_a and upper.value >= 0) or (not favours_a and lower.value <= 0):
        return None
    side = "A" if favours_a else "B"
    text = (
        f"the text favours {side}, but {e.text} [{lower.text}, {upper.text}] lies wholly on the other side."
    )
    return tell("C18", Severity.WARNING, text, estimate=e.text, lower=lower.text, upper=upper.text)


def _is_off(
    e: Printed,
    low: Printed,
    high: Printed,
    *,
    ratio: bool = False,
    correlation: bool = False,
    standardised: bool = False,
) -> bool:
    """Whether the estimate lies off the centre by more than rounding and 0.5 % of the width (2.5 % for SMDs)."""
    x, a, b = (_place(figure, ratio, correlation) for figure in (e, low, high))
    blur, lower, upper = (_blur(figure, ratio, correlation) for figure in (e, low, high))
    share = 0.025 if standardised else 0.005
    return abs(x - (a + b) / 2) > 1.5 * (blur + (lower + upper) / 2) + share * (b - a)


def _place(figure: Printed, ratio: bool, correlation: bool = False) -> float:
    """The figure on the scale on which its interval should be even."""
    if correlation:
        return math.atanh(figure.value)
    if not ratio:
        return float(figure.value)
    if figure.value <= 0:
        raise NumberProblem(
            "A ratio and its limits must be above 0.", hint="Is it a difference, or a log ratio?"
        )
    return math.log(figure.value)


def _blur(figure: Printed, ratio: bool, correlation: bool = False) -> float:
    """Half a unit of the last digit, on the scale used."""
    if correlation:
        return float(figure.half_unit / (1 - figure.value**2))
    return float(figure.half_unit / figure.value) if ratio else float(figure.half_unit)


def _touches_null(low: Printed, high: Printed, ratio: bool) -> bool:
    """Whether rounding alone can move a limit across "no difference"."""
    null = 1 if ratio else 0
    return any(figure.low <= null <= figure.high for figure in (low, high))


def _suggest_signs(e: Printed, low: Printed, high: Printed) -> str:
    """Which lost or gained minus sign would put the estimate in the middle."""
    for flip_low, flip_high, flip_e in (
        (0, 1, 0), (1, 0, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1), (1, 1, 1),
    ):  # fmt: skip
        a, b, x = (
            -f.value if flip else f.value for f, flip in ((low, flip_low), (high, flip_high), (e, flip_e))
        )
        slack = e.half_unit + (low.half_unit + high.half_unit) / 2
        if a < b and abs(x - (a + b) / 2) <= slack * 3 / 2:
            changed = [
                f"{name} {float(value):g}"
                for name, value, flip in (
                    ("lower", a, flip_low),
                    ("upper", b, flip_high),
                    ("estimate", x, flip_e),
                )
                if flip
            ]
            return f" It fits with a minus sign changed: {', '.join(changed)}."
    return ""
