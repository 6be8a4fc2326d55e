"""The calculator's conversions between scales of effect: percent and log ratio, SMD, odds, risk, correlation."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics import conversions_metrics
from evidence.statistics.effect import Assumption, Step, derive
from evidence.workflows.calculator.computing import Figure, Worked, need
from evidence.workflows.calculator.text import show_number

_LOGISTIC = "Hasselblad & Hedges 1995"


@dataclass(frozen=True, slots=True)
class Extras:
    """What some conversions need beside the figures; None where nothing was typed."""

    n: int | None = None
    df: float | None = None
    r: float | None = None
    level: float = 0.95
    ratio: bool = False
    quartiles: str | None = None
    range: str | None = None
    baseline: float | None = None


@dataclass(frozen=True, slots=True)
class Conversion:
    """One kind: what is typed, in words, and what comes out."""

    kind: str
    typed: tuple[str, ...]
    gives: str
    convert: Callable[[Sequence[float], Extras], Worked]


def tell_figure(
    asked: str,
    name: str,
    value: float,
    steps: Sequence[Step],
    *,
    unit: str = "",
    assumptions: Sequence[Assumption] = (),
    cautions: Sequence[str] = (),
) -> Worked:
    """An answer of one figure."""
    return Worked(
        asked,
        f"{name} = {show_number(value, 4)}{' ' + unit if unit else ''}",
        (Figure(name, value, unit=unit),),
        (),
        tuple(steps),
        tuple(assumptions),
        tuple(cautions),
    )


def _plain(
    asked: str,
    name: str,
    formula: str,
    source: str,
    make: Callable[[float], float],
    *said: str,
    unit: str = "",
) -> Callable[[Sequence[float], Extras], Worked]:
    def run(x: Sequence[float], _: Extras) -> Worked:
        try:
            value = make(x[0])
        except OverflowError:
            raise NumberProblem(
                f"{x[0]:g} is too large to convert.", hint="Check the figure and its scale."
            ) from None
        return tell_figure(
            asked, name, value, [derive(name, formula, source, value, given=x[0])], unit=unit, cautions=said
        )

    return run


def _with_baseline(
    asked: str, name: str, formula: str, source: str, make: Callable[[float, float], float | None]
) -> Callable[[Sequence[float], Extras], Worked]:
    def run(x: Sequence[float], extras: Extras) -> Worked:
        need(extras.baseline, "--baseline", "the risk in group B, such as 0.2 for 20 %.")
        assert extras.baseline is not None
        value = make(x[0], extras.baseline)
        if value is None:
            raise NumberProblem("The two risks are equal, so there is no such number.")
        step = derive(name, formula, source, value, OR=x[0], p0=extras.baseline)
        said: tuple[str, ...] = ("This holds for people with that risk; others have another.",)
        if make is conversions_metrics.number_needed:
            said = (*said, f"Told as whole people it is {math.ceil(value - 1e-9)}: it is rounded up.")
        return tell_figure(asked, name, value, [step], cautions=said)

    return run


def _log_of_percent(percent: float) -> float:
    if percent <= -100:
        raise NumberProblem(
            f"{percent:g} percent leaves nothing, so it has no logarithm.", hint="Check the figure."
        )
    return math.log1p(percent / 100)


_NORMAL = "This holds for normal values with equal spread."
_EQUAL = "This holds for two groups of equal size."
SCALES = (
    Conversion(
        "percent-to-log-ratio",
        ("percent",),
        "log ratio",
        _plain(
            "log ratio from a percent difference",
            "log ratio",
            "ln(1 + percent/100)",
            "definition",
            _log_of_percent,
        ),
    ),
    Conversion(
        "log-ratio-to-percent",
        ("log-ratio",),
        "percent more or less",
        _plain(
            "percent from a log ratio",
            "percent",
            "100·(exp(x) − 1)",
            "definition",
            lambda x: 100 * math.expm1(x),
            unit="%",
        ),
    ),
    Conversion(
        "smd-to-log-odds-ratio",
        ("smd",),
        "log odds ratio",
        _plain(
            "log odds ratio from an SMD",
            "log odds ratio",
            "d·π/√3",
            _LOGISTIC,
            conversions_metrics.log_odds_ratio_from_d,
        ),
    ),
    Conversion(
        "log-odds-ratio-to-smd",
        ("log-odds-ratio",),
        "SMD",
        _plain(
            "SMD from a log odds ratio",
            "d",
            "lnOR·√3/π",
            _LOGISTIC,
            lambda x: x / conversions_metrics.LOGISTIC,
        ),
    ),
    Conversion(
        "odds-ratio-to-smd",
        ("odds-ratio",),
        "SMD",
        _plain(
            "SMD from an odds ratio", "d", "ln(OR)·√3/π", _LOGISTIC, conversions_metrics.d_from_odds_ratio
        ),
    ),
    Conversion(
        "odds-ratio-to-risk-ratio",
        ("odds-ratio",),
        "risk ratio (--baseline)",
        _with_baseline(
            "risk ratio from an odds ratio",
            "risk ratio",
            "OR/(1 − p0 + p0·OR)",
            "Zhang & Yu 1998",
            conversions_metrics.risk_ratio_from_odds_ratio,
        ),
    ),
    Conversion(
        "odds-ratio-to-number-needed",
        ("odds-ratio",),
        "people per event (--baseline)",
        _with_baseline(
            "people for one event more or fewer",
            "number needed",
            "1/|p1 − p0|",
            "definition",
            conversions_metrics.number_needed,
        ),
    ),
    Conversion(
        "smd-to-correlation",
        ("smd",),
        "r",
        _plain(
            "r from an SMD",
            "r",
            "d/√(d² + 4)",
            "Rosenthal 1994",
            conversions_metrics.correlation_from_d,
            _EQUAL,
        ),
    ),
    Conversion(
        "correlation-to-smd",
        ("r",),
        "SMD",
        _plain(
            "SMD from r",
            "d",
            "2r/√(1 − r²)",
            "Rosenthal 1994",
            conversions_metrics.d_from_correlation,
            _EQUAL,
        ),
    ),
    Conversion(
        "smd-to-superiority",
        ("smd",),
        "chance that a person of A lies above one of B",
        _plain(
            "chance of superiority",
            "chance",
            "Φ(d/√2)",
            "McGraw & Wong 1992",
            conversions_metrics.probability_of_superiority,
            _NORMAL,
        ),
    ),
    Conversion(
        "smd-to-overlap",
        ("smd",),
        "overlap of the two groups",
        _plain(
            "overlap of the two groups",
            "overlap",
            "2Φ(−|d|/2)",
            "Cohen 1988",
            conversions_metrics.overlap,
            _NORMAL,
        ),
    ),
)
