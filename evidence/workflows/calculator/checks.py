"""The calculator's checks of a line as printed: does p fit its statistic, the interval its estimate, the mean its n?"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from evidence.errors import BadInput
from evidence.statistics import (
    integrity,
    integrity_granularity,
    integrity_intervals,
    integrity_reports,
    integrity_significance,
    integrity_t,
)
from evidence.statistics.effect import Step, Summary, derive
from evidence.statistics.independent import pool_sd
from evidence.statistics.integrity import Finding
from evidence.statistics.integrity_t import Side
from evidence.statistics.t_tests import compare_equal_spreads
from evidence.workflows.calculator.computing import Worked, read_figures, read_people
from evidence.workflows.calculator.text import say_p, show_number

P_FORM = re.compile(r"^\s*p?\s*([<>=≤≥]?)\s*(\d*\.\d+|[01])\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CheckQuestion:
    """A printed line, every figure as typed; None where nothing was."""

    t: str | None = None
    f: str | None = None
    chi2: str | None = None
    z: str | None = None
    r: str | None = None
    df: float | None = None
    df1: float | None = None
    p: str | None = None
    a: str | None = None
    b: str | None = None
    same_people: bool = False
    smd: str | None = None
    percent: str | None = None
    mean: str | None = None
    sd: str | None = None
    n: int | None = None
    whole_numbers: bool = False
    items: int = 1
    ends: str | None = None
    estimate: str | None = None
    interval: str | None = None
    ratio: bool = False
    before: str | None = None
    after: str | None = None
    change: str | None = None
    analysed: int | None = None
    recruited: int | None = None
    unit: str = ""
    p_a: str | None = None
    p_b: str | None = None
    total: str | None = None
    parts: str | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """One check that was made: its name, what came out, and its finding where something does not fit."""

    name: str
    text: str
    finding: Finding | None
    step: Step | None = None


def compute_checks(asked: CheckQuestion) -> Worked:
    """Run every check that the typed figures allow.

    Raises:
        BadInput: nothing that can be checked, or a figure that is none.
    """
    looks = [look for check in (_tests, _groups, _granularity, _intervals, _changes) for look in check(asked)]
    if not looks:
        raise BadInput(
            "These figures allow no check by themselves.",
            hint="Give a test with its p (--t 2.31 --df 18 --p 0.03), two groups (--a --b with --t, --p, --smd or "
            "--percent), a mean of whole numbers (--mean 3.48 --n 21 --whole-numbers), an interval "
            '(--estimate 0.4 --interval "0.1 0.7"), '
            "or a change (--before 10 --after 12 --change 2).",
        )
    findings = [look.finding for look in looks if look.finding is not None]
    count = len(findings)
    answer = (
        f"{'1 figure' if count == 1 else f'{count} figures'} to check against the source."
        if count
        else f"Nothing stands out: {'1 check' if len(looks) == 1 else f'{len(looks)} checks'} made."
    )
    lines = tuple(f"{look.name}: {look.finding.text if look.finding else look.text}" for look in looks)
    steps = [step for look in looks if look.finding for step in look.finding.arithmetic]
    steps += [look.step for look in looks if look.finding is None and look.step is not None]
    said = (
        ("Misreading and misprints are likelier than anything else: look at the source first.",)
        if count
        else ()
    )
    return Worked(
        "a printed line",
        "\n".join([answer, *(f"  - {line}" for line in lines)]),
        (),
        (),
        tuple(steps),
        (),
        said,
        bool(count),
    )


def _tests(asked: CheckQuestion) -> Iterator[Look]:
    named = {"t": asked.t, "F": asked.f, "chi2": asked.chi2, "z": asked.z, "r": asked.r}
    for name, statistic in named.items():
        if statistic is None:
            continue
        option = f"--{name.lower()}"
        (figure,) = read_figures(option, statistic, ("statistic",))
        if name in ("F", "chi2"):
            require_not_below_zero(option, figure, f"{'An F' if name == 'F' else 'A chi-square'}")
        groups = _read_groups(asked)
        df = asked.df
        if df is None and name in ("t", "r") and groups and not asked.same_people:
            df = groups[0][2] + groups[1][2] - 2
        elif df is None and name in ("t", "r") and groups:
            df = groups[0][2] - 1
        if asked.p is None:
            if name == "t" and groups:
                continue  # held against the means below
            raise BadInput(
                "--p is missing: nothing to hold the test against.", hint='Add --p 0.03 or --p "<0.05".'
            )
        if name != "z" and df is None:
            raise BadInput(
                f"--df is missing for {option}.", hint="Add the degrees of freedom printed with the test."
            )
        if name == "F" and asked.df1 is None:
            raise BadInput("--df1 is missing for --f.", hint="F has two: --df1 2 --df 27 for F(2, 27).")
        operator, p = _read_p(asked.p)
        df1 = asked.df1 if name == "F" else df if name == "chi2" else None
        df2 = df if name in ("t", "F", "r") else None
        finding = integrity.check_p_value(name, figure, p, df1=df1, df2=df2, operator=operator)
        got = integrity.recompute_p(name, figure, p, df1=df1, df2=df2, operator=operator)
        step = derive("p recomputed", f"tail of {name}", "Nuijten 2016", got.p, low=got.low, high=got.high)
        span = f"{show_number(got.low)} to {show_number(got.high)} by rounding"
        text = f"{name} = {figure} gives p = {show_number(got.p)} ({span}); fits."
        yield Look("test and p", text, finding, step)
        if name == "t" and groups and asked.df is not None:
            people = (groups[0][2],) if asked.same_people else (groups[0][2], groups[1][2])
            finding = integrity.check_df(asked.df, people, paired=asked.same_people)
            yield Look("degrees of freedom", f"{asked.df:g} fits the people.", finding)


def _groups(asked: CheckQuestion) -> Iterator[Look]:
    groups = _read_groups(asked)
    if groups is None:
        return
    (mean_a, sd_a, n_a), (mean_b, sd_b, n_b) = groups
    a, b = Summary(float(mean_a), float(sd_a), n_a), Summary(float(mean_b), float(sd_b), n_b)
    if not asked.same_people:
        if asked.p is not None:
            operator, p = _read_p(asked.p)
            finding = integrity.check_summary_p(
                (mean_a, sd_a, n_a), (mean_b, sd_b, n_b), p, operator=operator
            )
            test = compare_equal_spreads(a, b)
            step = derive(
                "t from the means", "(A − B)/(s√(1/nA + 1/nB))", "Student's t", test.t, df=test.df, p=test.p
            )
            yield Look(
                "means and p",
                f"The means give t = {show_number(test.t)}, p {say_p(test.p)}; fits.",
                finding,
                step,
            )
        if asked.smd is not None:
            (said,) = read_figures("--smd", asked.smd, ("smd",))
            finding = integrity_reports.check_smd(a, b, said)
            yield Look("means and SMD", f"{said} fits the means and SDs.", finding)
    if asked.t is not None:
        yield _t_against_means(asked.t, groups, asked.same_people)
    pooled = pool_sd(a, b)
    if pooled > 0:
        d = (a.mean - b.mean) / pooled
        step = derive("Cohen's d", "(meanA − meanB)/SDpooled", "Cohen 1988", d)
        yield Look(
            "size",
            f"d = {show_number(d)}: no sign of an SE taken for an SD.",
            integrity_reports.check_large_effect(d),
            step,
        )
    for name, summary in (("spread of A", a), ("spread of B", b)):
        if summary.mean > 0 and summary.sd > 0:
            finding = integrity_reports.check_spread(summary.mean, summary.sd, summary.n, unit=asked.unit)
            yield Look(
                name, f"SD {summary.sd:g} beside a mean of {summary.mean:g} looks like an SD.", finding
            )
    if asked.percent is not None:
        (said,) = read_figures("--percent", asked.percent.replace("%", ""), ("percent",))
        finding = integrity_reports.check_percent(mean_b, mean_a, said, both_percent=True)
        yield Look("means and percent", f"{said} % is A against B.", finding)


def _t_against_means(text: str, sides: tuple[Side, Side], same_people: bool) -> Look:
    """A printed t against the means, SDs and n, all within their rounding."""
    (printed,) = read_figures("--t", text, ("t",))
    check = integrity_t.check_paired_t if same_people else integrity_t.check_summary_t
    text = f"the means, SDs and n allow t = {printed}; fits."
    return Look("means and t", text, check(*sides, printed))


def _granularity(asked: CheckQuestion) -> Iterator[Look]:
    if asked.mean is None:
        return
    (mean,) = read_figures("--mean", asked.mean, ("mean",))
    sd = read_figures("--sd", asked.sd, ("sd",))[0] if asked.sd is not None else None
    if sd is not None:
        require_not_below_zero("--sd", sd, "An SD")
    if asked.n is not None:
        read_people("--n", asked.n)
    ends = _read_ends(asked.ends)
    if ends is not None:
        finding = integrity.check_range(mean, *ends, sd=sd, n=asked.n)
        yield Look("range", f"{mean} lies within {ends[0]} to {ends[1]}.", finding)
    if not asked.whole_numbers:
        if ends is None and asked.n is not None and sd is not None:
            finding = integrity_reports.check_spread(float(mean), float(sd), asked.n, unit=asked.unit)
            yield Look("spread", f"SD {sd} beside a mean of {mean} looks like an SD.", finding)
        return
    if asked.n is None:
        raise BadInput(
            "--n is missing: whether whole numbers can give a mean depends on how many there are.",
            hint="Add --n.",
        )
    n = read_people("--n", asked.n)
    got = integrity_granularity.weigh_mean(mean, n, asked.items)
    text = f"{n * asked.items} whole numbers can have a mean of {mean}."
    if not got.possible or got.informative:
        yield Look(
            "mean of whole numbers", text, integrity_granularity.check_mean_granularity(mean, n, asked.items)
        )
    else:
        yield Look("mean of whole numbers", f"{n} people are too many for {mean} to tell anything.", None)
    if sd is not None and n >= 2 and got.possible:
        limits = (None, None) if ends is None else (round(float(ends[0])), round(float(ends[1])))
        finding = integrity_granularity.check_spread_granularity(
            mean, sd, n, asked.items, scale_min=limits[0], scale_max=limits[1]
        )
        yield Look("SD of whole numbers", f"whole numbers can have an SD of {sd} with that mean.", finding)


def _intervals(asked: CheckQuestion) -> Iterator[Look]:
    if asked.estimate is None and asked.interval is None:
        return
    standardised = asked.estimate is None and asked.smd is not None
    printed = asked.smd if standardised else asked.estimate
    if printed is None or asked.interval is None:
        missing = "--estimate" if printed is None else "--interval"
        raise BadInput(f"{missing} is missing.", hint='Give --estimate 0.4 --interval "0.1 0.7".')
    (estimate,) = read_figures("--smd" if standardised else "--estimate", printed, ("estimate",))
    low, high = read_figures("--interval", asked.interval, ("low", "high"))
    finding = integrity_intervals.check_interval_centre(
        estimate, low, high, ratio=asked.ratio, standardised=standardised
    )
    got = integrity_intervals.weigh_interval(estimate, low, high, ratio=asked.ratio)
    step = derive(
        "SE from the interval", "(high − low)/(2·1.96)", "Cochrane Handbook 6.3.1", got.se, z=got.z, p=got.p
    )
    yield Look(
        "interval",
        f"{estimate} is in the middle of {low} to {high}; it goes with p {say_p(got.p)}.",
        finding,
        step,
    )
    if standardised and asked.n is not None and not asked.same_people:
        n = read_people("--n", asked.n)
        finding = integrity_intervals.check_smd_width(estimate, low, high, n)
        yield Look("width of the interval", f"{n} people in two groups allow {low} to {high}.", finding)
    if asked.p is not None:
        operator, p = _read_p(asked.p)
        finding = integrity_intervals.check_interval_against_p(
            estimate, low, high, p, operator=operator, ratio=asked.ratio
        )
        yield Look("interval and p", "both say the same.", finding)


def _changes(asked: CheckQuestion) -> Iterator[Look]:
    if asked.change is not None:
        if asked.before is None or asked.after is None:
            raise BadInput("--change needs --before and --after.", hint="Add the means before and after.")
        figures = [
            read_figures(option, text, ("mean",))[0]
            for option, text in (
                ("--before", asked.before),
                ("--after", asked.after),
                ("--change", asked.change),
            )
        ]
        finding = integrity_reports.check_change(figures[0], figures[1], figures[2])
        yield Look("change", f"{figures[2]} is {figures[1]} − {figures[0]}.", finding)
    elif asked.before is not None and asked.after is not None and asked.percent is not None:
        before = read_figures("--before", asked.before, ("mean",))[0]
        after = read_figures("--after", asked.after, ("mean",))[0]
        said = read_figures("--percent", asked.percent.replace("%", ""), ("percent",))[0]
        finding = integrity_reports.check_percent(before, after, said, both_percent=True)
        yield Look("percent", f"{said} % is after against before.", finding)
    if asked.p_a is not None or asked.p_b is not None:
        yield _within_groups(*_both(("--p-a", asked.p_a), ("--p-b", asked.p_b)), asked.p)
    if asked.total is not None or asked.parts is not None:
        whole, pieces = _both(("--total", asked.total), ("--parts", asked.parts))
        (total,) = read_figures("--total", whole, ("total",))
        parts = [one for part in pieces.split() for one in read_figures("--parts", part, ("part",))]
        finding = integrity_reports.check_sum(total, parts)
        yield Look("parts and total", f"the parts make {total}.", finding)
    if asked.analysed is not None and asked.recruited is not None:
        read_people("--analysed", asked.analysed)
        read_people("--recruited", asked.recruited)
        finding = integrity_reports.check_people(asked.analysed, asked.recruited)
        yield Look("people", f"{asked.analysed} of {asked.recruited} were analysed.", finding)


def _within_groups(p_a: str, p_b: str, between: str | None) -> Look:
    """The p of each group's own change, and that between the groups where it is printed."""
    a, b = _p_as_printed(p_a, "--p-a"), _p_as_printed(p_b, "--p-b")
    finding = integrity_significance.check_within_group_p(
        a, b, between_p=None if between is None else _p_as_printed(between, "--p")
    )
    return Look("p within each group", "no difference between groups is claimed from these alone.", finding)


def _p_as_printed(text: str, option: str) -> str:
    """A p with the sign of its bound, where it is one."""
    sign, figure = _read_p(text, option)
    return figure if sign == "=" else f"{sign}{figure}"


def _both(one: tuple[str, str | None], other: tuple[str, str | None]) -> tuple[str, str]:
    """Two options that only mean something together. Raises BadInput naming the one that is missing."""
    if one[1] is None or other[1] is None:
        missing, given = (one[0], other[0]) if one[1] is None else (other[0], one[0])
        raise BadInput(f"{missing} is missing.", hint=f"{given} is held against {missing}: give both.")
    return one[1], other[1]


def _read_groups(asked: CheckQuestion) -> tuple[tuple[str, str, int], tuple[str, str, int]] | None:
    if asked.a is None and asked.b is None:
        return None
    if asked.a is None or asked.b is None:
        missing = "--a" if asked.a is None else "--b"
        raise BadInput(f"{missing} is missing.", hint='Give both groups as "MEAN SD N".')
    return _group("--a", asked.a), _group("--b", asked.b)


def _group(option: str, text: str) -> tuple[str, str, int]:
    mean, sd, n = read_figures(option, text, ("mean", "sd", "n"))
    return mean, sd, read_people(option, float(n))


def _read_ends(text: str | None) -> tuple[str, str] | None:
    if text is None:
        return None
    low, high = read_figures("--between", text, ("low", "high"))
    return low, high


def require_not_below_zero(option: str, figure: str, name: str) -> None:
    """Refuse a figure that cannot be negative. Raises BadInput naming the option."""
    if float(figure) < 0:
        raise BadInput(
            f"{name} of {figure} cannot be: it is never below 0.",
            where=option,
            hint="Check the sign; a hyphen or a dash may have been taken for a minus.",
        )


def _read_p(text: str, option: str = "--p") -> tuple[str, str]:
    found = P_FORM.match(text.replace(",", "."))
    if found is None:
        raise BadInput(
            f"{text!r} is no p-value.", where=option, hint=f'Write {option} 0.03 or {option} "<0.05".'
        )
    return {"": "=", "≤": "<", "≥": ">"}.get(found[1], found[1]), found[2]
