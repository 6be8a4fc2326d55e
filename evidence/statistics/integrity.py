"""Checks on figures as they are entered: they warn and show the arithmetic, never block and never accuse.

A check gives a `Finding`, or None when there is nothing to say. Printed figures are taken with their digits
("0.50" is not "0.5"), because rounding decides most of these questions.
"""

import math
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from fractions import Fraction

from evidence.errors import BadInput, NumberProblem
from evidence.statistics.effect import Step, Summary, derive, require_finite, require_people
from evidence.statistics.t_tests import compare_equal_spreads

LARGEST_EXPONENT = 100  # squares and products of such figures are still numbers that a computer holds


class Severity(StrEnum):
    """How much a finding should stop the reader."""

    INFO = "info"  # worth knowing
    WARNING = "warning"  # unusual or contradictory
    ERROR = "error"  # cannot be right as entered


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to check: which check, how grave, one sentence, the arithmetic, the figures looked at."""

    check: str
    severity: Severity
    text: str
    arithmetic: tuple[Step, ...] = ()
    inputs: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed figure: its exact value and half a unit of its last digit."""

    text: str
    value: Fraction
    half_unit: Fraction

    @property
    def low(self) -> Fraction:
        """The smallest value that rounds to it."""
        return self.value - self.half_unit

    @property
    def high(self) -> Fraction:
        """The largest value that rounds to it."""
        return self.value + self.half_unit

    @property
    def decimals(self) -> int:
        """Digits after the point."""
        return max(0, round(-math.log10(2 * self.half_unit)))


def read_printed(figure: "str | float | Printed") -> Printed:
    """Take a figure with its digits; a bare number counts with the digits it shows.

    Raises BadInput for text that is no number, or one too large or too fine for any measure (beyond 1e±100).
    """
    if isinstance(figure, Printed):
        return figure
    text = str(figure).strip().replace("−", "-").replace("–", "-")
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise BadInput(f"{text!r} is not a number.", hint="Enter the figure with a decimal point.")
    exponent = int(number.as_tuple().exponent)
    if abs(exponent) > LARGEST_EXPONENT or number.adjusted() > LARGEST_EXPONENT:
        raise BadInput(
            f"{text!r} is too large or too fine to be a printed figure.", hint="Check the exponent."
        )
    return Printed(text, Fraction(number), Fraction(10) ** exponent / 2)


def read_spread(figure: "str | float | Printed") -> Printed:
    """A printed SD or SE. Raises BadInput for text that is no number, NumberProblem for one below 0."""
    printed = read_printed(figure)
    if printed.value < 0:
        raise NumberProblem(
            f"A spread of {printed.text} cannot be: it is never below 0.",
            hint="Check the sign; a hyphen or a dash may have been taken for a minus.",
        )
    return printed


def tell(check: str, severity: Severity, text: str, *arithmetic: Step, **inputs: object) -> Finding:
    """A finding in the house wording."""
    shown = tuple((name.replace("_", " "), str(value)) for name, value in inputs.items())
    return Finding(check, severity, f"Check this figure: {text}", arithmetic, shown)


def read_p(figure: "str | float | Printed") -> Printed:
    """A printed p. Raises BadInput for text that is no number, NumberProblem for one outside 0 to 1."""
    printed = read_printed(figure)
    if not 0 <= printed.value <= 1:
        raise NumberProblem(f"A p-value lies between 0 and 1, not {printed.text}.", hint="Check the point.")
    return printed


# --- C1: recomputed p ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PValueCheck:
    """What the printed statistic and df give, and whether the printed p agrees.

    `low` and `high` span p over the rounding of the statistic. One-sided values are None where halving is
    wrong.
    """

    p: float
    low: float
    high: float
    one_sided: float | None
    consistent: bool
    consistent_if_one_sided: bool | None
    decision_error: bool


def recompute_p(
    test: str,
    statistic: "str | float",
    p: "str | float",
    *,
    df1: float | None = None,
    df2: float | None = None,
    operator: str = "=",
    alpha: float = 0.05,
) -> PValueCheck:
    """Recompute p for test t, r (df2), F (df1, df2), chi2, Q (df1) or z, with the rounding of the statistic.

    F, chi2 and Q use the upper tail and are never halved. A printed p ("=", "<" or ">") is consistent when
    some value it may stand for lies in the recomputed span (Nuijten 2016; Bakker & Wicherts 2011).
    """
    printed, reported = read_printed(statistic), read_p(p)
    if operator not in ("=", "<", ">"):
        raise NumberProblem(f"A p-value is printed with =, < or >, not {operator!r}.")
    sides = abs(printed.value)
    near, far = float(max(Fraction(0), sides - printed.half_unit)), float(sides + printed.half_unit)
    if test == "r":
        near, far = near, min(far, 1.0)
    centre, high, low = (_tail(test, value, df1, df2) for value in (float(sides), near, far))
    halved = test in ("t", "r", "z")
    agrees = _agrees(reported, operator, low, high)
    one_sided = _agrees(reported, operator, low / 2, high / 2) if halved else None
    reported_significant = operator != ">" and reported.value <= Fraction(str(alpha))
    error = not agrees and reported_significant != (centre <= alpha)
    return PValueCheck(centre, low, high, centre / 2 if halved else None, agrees, one_sided, error)


def check_p_value(
    test: str,
    statistic: "str | float",
    p: "str | float",
    *,
    df1: float | None = None,
    df2: float | None = None,
    operator: str = "=",
    alpha: float = 0.05,
) -> Finding | None:
    """C1: whether a printed p fits its statistic and degrees of freedom."""
    reported = read_printed(p)
    inputs = {
        "test": test,
        "statistic": statistic,
        "df1": df1,
        "df2": df2,
        "p": f"{operator} {reported.text}",
    }
    if operator == "=" and reported.value == 0:
        text = f"p = {reported.text} cannot be exact; it usually means p < {2 * float(reported.half_unit):g}."
        return tell("C1", Severity.WARNING, text, **inputs)
    got = recompute_p(test, statistic, p, df1=df1, df2=df2, operator=operator, alpha=alpha)
    if got.consistent:
        return None
    step = derive(
        "p from the statistic", f"tail of {test}", "Nuijten 2016", got.p, low=got.low, high=got.high
    )
    text = f"{test} = {statistic} gives p = {got.p:.3g}, printed is p {operator} {reported.text}."
    if got.consistent_if_one_sided:
        text += " It would fit a one-sided test."
        return tell("C1", Severity.WARNING, text, step, **inputs)
    if got.decision_error:
        text += f" The two lie on different sides of {alpha:g}."
    return tell("C1", Severity.ERROR if got.decision_error else Severity.WARNING, text, step, **inputs)


def _tail(test: str, value: float, df1: float | None, df2: float | None) -> float:
    """p of a statistic. Raises NumberProblem where none can be computed."""
    p = _tail_of(test, value, df1, df2)
    if not 0 <= p <= 1:
        raise NumberProblem(
            f"No p-value can be computed of {test} = {value:g} with these degrees of freedom.",
            hint="Check the figures.",
        )
    return p


def _tail_of(test: str, value: float, df1: float | None, df2: float | None) -> float:
    from scipy.special import chdtrc, fdtrc, ndtr, stdtr

    if test == "z":
        return float(2 * ndtr(-value))
    if test in ("chi2", "Q"):
        return float(chdtrc(_require_df(df1 if df1 is not None else df2), value))
    if test == "F":
        return float(fdtrc(_require_df(df1), _require_df(df2), value))
    if test == "t":
        return float(2 * stdtr(_require_df(df2 if df2 is not None else df1), -value))
    if test == "r":
        df = _require_df(df2 if df2 is not None else df1)
        if value > 1:
            raise NumberProblem(f"A correlation of {value:g} is impossible.", hint="Check the decimal point.")
        return 0.0 if value == 1 else float(2 * stdtr(df, -value * math.sqrt(df / (1 - value**2))))
    raise NumberProblem(f"No p-value is known for the test {test!r}.", hint="Use t, F, r, chi2, Q or z.")


def _require_df(df: float | None) -> float:
    if df is None or not 0 < df < math.inf:
        raise NumberProblem("This test needs its degrees of freedom, above 0.", hint="Enter df1 and df2.")
    return df


def _agrees(reported: Printed, operator: str, low: float, high: float) -> bool:
    if operator == "<":
        return low < reported.value
    if operator == ">":
        return high > reported.value
    return low <= reported.high and high >= reported.low


# --- C2: p from two printed summaries --------------------------------------------------------------


def check_summary_p(
    a: "tuple[str | float, str | float, int]",
    b: "tuple[str | float, str | float, int]",
    p: "str | float",
    *,
    operator: str = "=",
) -> Finding | None:
    """C2: whether a printed p can come from two printed (mean, SD, n), over the whole rounding of all four
    figures.

    Student's t for two groups of different people (INSPECT-SR, check 4.9).
    """
    means = [read_printed(side[0]) for side in (a, b)]
    sds = [read_spread(side[1]) for side in (a, b)]
    for side in (a, b):
        require_people(side[2], at_least=2)
    reported = read_p(p)
    gap = abs(float(means[0].value - means[1].value))
    slack = float(means[0].half_unit + means[1].half_unit)

    def compute(difference: float, spreads: list[float]) -> float:
        sides = [Summary(0.0, max(sd, 0.0), side[2]) for sd, side in zip(spreads, (a, b), strict=True)]
        if max(spreads) <= 0:
            return 0.0 if difference > 0 else 1.0
        return compare_equal_spreads(Summary(difference, sides[0].sd, sides[0].n), sides[1]).p

    centre = compute(gap, [float(sd.value) for sd in sds])
    low = compute(gap + slack, [float(sd.low) for sd in sds])
    high = compute(max(0.0, gap - slack), [float(sd.high) for sd in sds])
    if _agrees(reported, operator, low, high):
        return None
    step = derive("p from means and SDs", "Student's t", "INSPECT-SR, check 4.9", centre, low=low, high=high)
    text = (
        f"the printed means, SDs and n give p between {low:.2g} and {high:.2g} with all rounding allowed; "
        f"printed is p {operator} {reported.text}. A paired or adjusted analysis would explain it."
    )
    return tell("C2", Severity.WARNING, text, step, A=a, B=b, p=p)


# --- C15: degrees of freedom against people -------------------------------------------------------


def check_df(df: float, groups: tuple[int, ...], *, paired: bool = False) -> Finding | None:
    """C15: whether the df of a t test fit the people: n1 + n2 − 2 for groups, n − 1 for pairs.

    A few drop-outs lower df and are not flagged beyond one person per group being missing; more df than
    people is impossible. Welch's df (not whole) may lie anywhere up to n1 + n2 − 2.
    """
    require_finite(degrees_of_freedom=df)
    if not groups:
        raise NumberProblem("No group of people is given.", hint="Give the number of people in each.")
    for n in groups:
        require_people(n, at_least=0)
    people = sum(groups) if not paired else groups[0]
    expected = people - (1 if paired else len(groups))
    missing = expected - df
    if missing < -1e-9:
        text = f"{df:g} degrees of freedom are more than {people} people allow ({expected})."
        return tell("C15", Severity.ERROR, text, df=df, people=people)
    if missing > len(groups) and df == int(df):
        text = f"{df:g} degrees of freedom stand for {missing:g} fewer people than the {people}; drop-outs?"
        return tell("C15", Severity.WARNING, text, df=df, people=people)
    return None


# --- mean and SD inside a printed range ---------------------------------------------------------------


def check_range(
    mean: "str | float",
    low: "str | float",
    high: "str | float",
    *,
    sd: "str | float | None" = None,
    n: int | None = None,
) -> Finding | None:
    """A mean outside its own range, or an SD larger than the range allows.

    Values between `low` and `high` have an SD of at most √((high − mean)(mean − low)·n/(n − 1)) (Bhatia & Davis 2000).
    """
    centre, lowest, highest = (read_printed(figure) for figure in (mean, low, high))
    inputs = {"mean": centre.text, "lowest": lowest.text, "highest": highest.text}
    if lowest.value > highest.value:
        text = f"the range {lowest.text} to {highest.text} runs backwards; were minus signs lost?"
        return tell("range", Severity.ERROR, text, **inputs)
    if centre.high < lowest.low or centre.low > highest.high:
        text = f"a mean of {centre.text} lies outside its own range of {lowest.text} to {highest.text}."
        return tell("range", Severity.ERROR, text, **inputs)
    if sd is None or n is None:
        return None
    require_people(n, at_least=0)
    if n < 2:
        return None
    spread = read_spread(sd)
    reach = max(0.0, float((highest.high - centre.low) * (centre.high - lowest.low))) * n / (n - 1)
    largest = math.sqrt(reach)
    if float(spread.low) <= largest:
        return None
    step = derive("largest SD", "√((high − mean)(mean − low)·n/(n−1))", "Bhatia & Davis 2000", largest, n=n)
    text = f"an SD of {spread.text} is more than the range {lowest.text} to {highest.text} allows ({largest:.3g})."
    return tell("range", Severity.ERROR, text, step, SD=spread.text, n=n, **inputs)
