"""The calculator's conversions: one printed figure into another, with the formula."""

import math
from collections.abc import Sequence

from evidence.errors import BadInput, NumberProblem
from evidence.statistics import conversions
from evidence.statistics.conversions_medians import FiveNumbers, summarise_median
from evidence.statistics.effect import Assumption, Step, Summary, critical_value, derive, require_correlation
from evidence.statistics.paired import difference_sd
from evidence.statistics.t_tests import t_from_p, two_sided_p
from evidence.workflows.calculator.computing import (
    Figure,
    Worked,
    need,
    read_number,
    read_numbers,
    read_people,
)
from evidence.workflows.calculator.scales import SCALES, Conversion, Extras, tell_figure
from evidence.workflows.calculator.text import show_number

_HANDBOOK = "Cochrane Handbook 6.5.2.2"


def convert(kind: str, values: Sequence[str], extras: Extras) -> Worked:
    """Convert by the kind's name, such as "se-to-sd"; spaces and underscores count as hyphens.

    Raises:
        BadInput: an unknown kind (all are listed), a missing figure or option. NumberProblem: impossible figures.
    """
    name = "-".join(kind.casefold().replace("_", "-").split())
    found = next((one for one in CONVERSIONS if one.kind == name), None)
    if found is None:
        listed = "; ".join(one.kind for one in CONVERSIONS)
        raise BadInput(f"There is no conversion {kind!r}.", hint=f"Known: {listed}; combine-groups.")
    shown = " ".join(name.upper() for name in found.typed)
    numbers = values
    if len(values) == 1 and len(found.typed) > 1:  # "12.4 3.1" in one argument
        numbers = [f"{x!r}" for x in read_numbers(found.kind, values[0], found.typed)]
    if len(numbers) != len(found.typed):
        raise BadInput(
            f"{found.kind} takes {len(found.typed)} figure{'s' if len(found.typed) > 1 else ''}, "
            f"but {len(numbers)} {'were' if len(numbers) != 1 else 'was'} given.",
            hint=f"Write: steelyard compute convert {found.kind} {shown}",
        )
    return found.convert([read_number(found.kind, text) for text in numbers], extras)


def combine_groups(groups: Sequence[str]) -> Worked:
    """One mean, SD and n from several, each typed "MEAN SD N"."""
    if len(groups) < 2:
        raise BadInput(
            "Combining needs at least two groups.",
            hint='Write each as "MEAN SD N", for example "12 3 10" "14 4 12".',
        )
    read = [read_numbers("combine-groups", text, ("mean", "sd", "n")) for text in groups]
    got = conversions.combine_groups(*(Summary(m, sd, read_people("combine-groups", n)) for m, sd, n in read))
    return _summary("groups combined", got.summary, got.steps, got.assumptions)


def _summary(asked: str, got: Summary, steps: Sequence[Step], assumptions: Sequence[Assumption]) -> Worked:
    figures = (Figure("mean", got.mean), Figure("SD", got.sd), Figure("n", got.n))
    answer = f"mean {show_number(got.mean, 4)}, SD {show_number(got.sd, 4)}, n {got.n}"
    return Worked(asked, answer, figures, (), tuple(steps), tuple(assumptions))


def _people(extras: Extras, why: str) -> int:
    need(extras.n, "--n", why)
    assert extras.n is not None
    return read_people("--n", extras.n)


def _se_to_sd(x: Sequence[float], extras: Extras) -> Worked:
    got = conversions.sd_from_se(x[0], _people(extras, "the number of people behind the standard error."))
    return tell_figure("SD from a standard error", "SD", got.value, got.steps)


def _sd_to_se(x: Sequence[float], extras: Extras) -> Worked:
    n = _people(extras, "the number of people.")
    if x[0] < 0:
        raise NumberProblem(
            f"The standard deviation is {x[0]:g}; it cannot be negative.", hint="Check the sign."
        )
    value = x[0] / math.sqrt(n)
    return tell_figure(
        "standard error from an SD", "SE", value, [derive("SE", "SD/√n", _HANDBOOK, value, SD=x[0], n=n)]
    )


def _interval_to_sd(x: Sequence[float], extras: Extras) -> Worked:
    n = _people(extras, "the number of people behind the interval.")
    got = conversions.sd_from_interval(x[0], x[1], n, extras.level)
    return tell_figure(
        "SD from the interval of one mean", "SD", got.value, got.steps, assumptions=got.assumptions
    )


def _interval_to_se(x: Sequence[float], extras: Extras) -> Worked:
    low, high = x
    if low > high:
        raise NumberProblem(
            f"The lower limit {low:g} is above the upper limit {high:g}.",
            hint="A minus sign may have been lost when the table was copied.",
        )
    cautions = []
    if extras.ratio:
        if low <= 0:
            raise NumberProblem(
                f"A ratio of {low:g} has no logarithm.", hint="Leave --ratio out for differences."
            )
        low, high = math.log(low), math.log(high)
        cautions.append("The standard error is that of the logarithm of the ratio.")
    df = extras.df if extras.df is not None else None if extras.n is None else extras.n - 1
    if df is None and not extras.ratio:
        cautions.append(
            "The interval was taken as built with the normal distribution; for t add --df or --n."
        )
    q = critical_value(extras.level, df)
    value = (high - low) / (2 * q)
    formula = "(ln high − ln low)/(2q)" if extras.ratio else "(high − low)/(2q)"
    step = derive("SE", formula, "Cochrane Handbook 6.3.1", value, low=x[0], high=x[1], q=q)
    return tell_figure("standard error from an interval", "SE", value, [step], cautions=cautions)


def _median_to_mean(x: Sequence[float], extras: Extras) -> Worked:
    n = _people(extras, "the number of people behind the median.")
    if extras.quartiles is None and extras.range is None:
        raise BadInput(
            "A median alone has no spread.", hint='Add --quartiles "Q1 Q3", --range "MIN MAX", or both.'
        )
    q1, q3 = (
        read_numbers("--quartiles", extras.quartiles, ("low", "high")) if extras.quartiles else (None, None)
    )
    least, most = read_numbers("--range", extras.range, ("low", "high")) if extras.range else (None, None)
    got = summarise_median(FiveNumbers(x[0], n, least, most, q1, q3))
    return _summary("mean and SD from a median", got.summary, got.steps, got.assumptions)


def _sds_to_correlation(x: Sequence[float], _: Extras) -> Worked:
    got = conversions.correlation_from_sds(*x)
    return tell_figure("correlation from three SDs", "r", got.value, got.steps, assumptions=got.assumptions)


def _change_sd(x: Sequence[float], extras: Extras) -> Worked:
    need(extras.r, "--r", "the correlation between before and after.")
    assert extras.r is not None
    require_correlation(extras.r)
    value = difference_sd(Summary(0, x[0], 2), Summary(0, x[1], 2), extras.r)
    formula = "√(SDA² + SDB² − 2·r·SDA·SDB)"
    step = derive("SD of change", formula, "Cochrane Handbook 6.5.2.8", value, SDA=x[0], SDB=x[1], r=extras.r)
    return tell_figure("SD of change from two SDs and r", "SD of change", value, [step])


def _change_sd_from_t(x: Sequence[float], extras: Extras) -> Worked:
    n = _people(extras, "the number of pairs.")
    got = conversions.difference_sd_from_t(x[0], x[1], n)
    return tell_figure("SD of change from a paired t", "SD of change", got.value, got.steps)


def _change_sd_from_p(x: Sequence[float], extras: Extras) -> Worked:
    n = _people(extras, "the number of pairs.")
    got = conversions.difference_sd_from_p(x[0], x[1], n)
    return tell_figure("SD of change from a paired p", "SD of change", got.value, got.steps)


def require_df(df: float | None) -> None:
    """Refuse degrees of freedom at or below 0, which would give no figure. Raises BadInput."""
    if df is not None and not df > 0:
        raise BadInput(f"{df:g} degrees of freedom cannot be.", where="--df", hint="They are above 0.")


def _p_to_t(x: Sequence[float], extras: Extras) -> Worked:
    require_df(extras.df)
    value = t_from_p(x[0], extras.df)
    name = "z" if extras.df is None else "t"
    step = derive(name, "quantile at 1 − p/2", "Cochrane Handbook 6.5.2.3", value, p=x[0])
    said = () if extras.df is not None else ("Without --df this is z, the normal distribution.",)
    return tell_figure(f"{name} from a two-sided p", name, value, [step], cautions=said)


def _t_to_p(x: Sequence[float], extras: Extras) -> Worked:
    require_df(extras.df)
    value = two_sided_p(x[0], extras.df)
    said = () if extras.df else ("Without --df this is the p of z, the normal distribution.",)
    return tell_figure(
        "two-sided p", "p", value, [derive("p", "2·tail", "definition", value, t=x[0])], cautions=said
    )


CONVERSIONS = (
    Conversion("se-to-sd", ("se",), "SD (--n)", _se_to_sd),
    Conversion("sd-to-se", ("sd",), "SE (--n)", _sd_to_se),
    Conversion("interval-to-sd", ("low", "high"), "SD of one group (--n, --level)", _interval_to_sd),
    Conversion("interval-to-se", ("low", "high"), "SE (--n or --df, --ratio, --level)", _interval_to_se),
    Conversion("median-to-mean", ("median",), "mean and SD (--quartiles or --range, --n)", _median_to_mean),
    Conversion("sds-to-correlation", ("sd-a", "sd-b", "sd-of-change"), "r", _sds_to_correlation),
    Conversion("correlation-to-change-sd", ("sd-before", "sd-after"), "SD of change (--r)", _change_sd),
    Conversion("t-to-change-sd", ("mean-change", "t"), "SD of change (--n)", _change_sd_from_t),
    Conversion("p-to-change-sd", ("mean-change", "p"), "SD of change (--n)", _change_sd_from_p),
    Conversion("p-to-t", ("p",), "t (--df), or z", _p_to_t),
    Conversion("t-to-p", ("t",), "two-sided p (--df), or that of z", _t_to_p),
    *SCALES,
)
