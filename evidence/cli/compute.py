"""The commands compute ...: a calculator for someone with a paper open; no catalogue is needed."""

from pathlib import Path
from typing import Any

import typer

from evidence.cli import compute_several
from evidence.cli.compute_shown import RATIO, show
from evidence.cli.frame import JSON_OPTION, tells_problems

app = typer.Typer(
    help="Calculator: effects, pools, checks from typed figures.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

SAME_PEOPLE = typer.Option(False, "--same-people", help="A and B are the same people.")
R = typer.Option(None, "--r", help="Correlation between two measurements of the same people.")
OUTCOME = typer.Option(
    None, "--outcome", help="In place of --r: take the usual correlation of this outcome, named and varied."
)


@app.command("effect")
@tells_problems
def effect(
    a: str = typer.Option(None, "--a", metavar='"MEAN SD N"', help="Group or condition A."),
    b: str = typer.Option(None, "--b", metavar='"MEAN SD N"', help="Group or condition B."),
    spread: str = typer.Option(
        None, "--spread", help='What stands behind the mean: sd, se, or interval ("MEAN LOW HIGH N").'
    ),
    same_people: bool = SAME_PEOPLE,
    r: float = R,
    outcome: str = OUTCOME,
    a_before: str = typer.Option(None, "--a-before", metavar='"MEAN SD N"', help="A before."),
    a_after: str = typer.Option(None, "--a-after", metavar='"MEAN SD N"', help="A after."),
    b_before: str = typer.Option(None, "--b-before", metavar='"MEAN SD N"', help="B before."),
    b_after: str = typer.Option(None, "--b-after", metavar='"MEAN SD N"', help="B after."),
    events_a: str = typer.Option(None, "--events-a", metavar="4/30", help="People with the event in A."),
    events_b: str = typer.Option(None, "--events-b", metavar="9/28", help="People with the event in B."),
    rate_a: str = typer.Option(None, "--rate-a", metavar="4/1200", help="Events per hours in A."),
    rate_b: str = typer.Option(None, "--rate-b", metavar="9/1150", help="Events per hours in B."),
    correlation: float = typer.Option(None, "--correlation", help="A correlation, with --n."),
    t: float = typer.Option(None, "--t", help="A t, with --n-a and --n-b (or --same-people and --n)."),
    f: float = typer.Option(None, "--f", help="An F with 1 df above, and --higher."),
    p: float = typer.Option(None, "--p", help="An exact two-sided p."),
    higher: str = typer.Option(
        None, "--higher", metavar="a|b", help="Which side is higher (F and p do not say)."
    ),
    n: int = typer.Option(None, "--n", help="People, for one group or the same people."),
    n_a: int = typer.Option(None, "--n-a", help="People in A."),
    n_b: int = typer.Option(None, "--n-b", help="People in B."),
    estimate: float = typer.Option(None, "--estimate", help="A printed effect, with --scale."),
    interval: str = typer.Option(None, "--interval", metavar='"LOW HIGH"', help="Its 95 % interval."),
    se: float = typer.Option(None, "--se", help="Its standard error (for ratios that of the logarithm)."),
    scale: str = typer.Option(
        None,
        "--scale",
        help="smd, difference, percent, risk-ratio, odds-ratio, rate-ratio or risk-difference; left out: all that fit. "
        "Of the spreads, only where asked: spread-ratio, cv-ratio.",
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Work out the effect of A against B.

    With its uncertainty, from what a paper prints.

    Example: steelyard compute effect --a "112.5 14.2 20" --b "105 13.8 20"

    Example: steelyard compute effect --a "68 14 12" --b "54 13 12" --same-people --outcome activation

    Example: steelyard compute effect --events-a 4/30 --events-b 9/28

    Example: steelyard compute effect --a "142.5 18.3 12" --b "131 16.7 12" --scale cv-ratio
    """
    from evidence.vocabulary import load_vocabulary
    from evidence.workflows.calculator.answers import EffectQuestion
    from evidence.workflows.calculator.effects import compute_effect

    asked = EffectQuestion(
        a, b, a_before, a_after, b_before, b_after, spread, same_people, r, outcome, events_a, events_b,
        rate_a, rate_b, correlation, t, f, p, None if higher is None else higher.lower(), n, n_a, n_b,
        estimate, interval, se, scale,
    )  # fmt: skip
    show(compute_effect(asked, load_vocabulary()), as_json=as_json)


FIGURES_IN_ORDER = (
    "The figures to convert. Of several the order counts: LOW HIGH of an interval; SD-A SD-B SD-OF-CHANGE for "
    'sds-to-correlation; SD-BEFORE SD-AFTER for correlation-to-change-sd; MEAN-CHANGE T, or P, for an SD; "MEAN SD N" '
    "of each group."
)


@app.command("convert", context_settings={"ignore_unknown_options": True})
@tells_problems
def convert(
    kind: str = typer.Argument(
        ...,
        help="se-to-sd, sd-to-se, interval-to-sd, interval-to-se, median-to-mean, combine-groups, sds-to-correlation, "
        "correlation-to-change-sd, t-to-change-sd, p-to-change-sd, p-to-t, t-to-p, percent-to-log-ratio, "
        "log-ratio-to-percent, smd-to-log-odds-ratio, log-odds-ratio-to-smd, odds-ratio-to-smd, "
        "odds-ratio-to-risk-ratio, odds-ratio-to-number-needed, smd-to-correlation, correlation-to-smd, "
        "smd-to-superiority, smd-to-overlap.",
    ),
    figures: list[str] = typer.Argument(..., help=FIGURES_IN_ORDER),
    n: int = typer.Option(None, "--n", help="People."),
    df: float = typer.Option(None, "--df", help="Degrees of freedom."),
    r: float = R,
    level: float = typer.Option(0.95, "--level", help="Level of the interval."),
    ratio: bool = RATIO,
    quartiles: str = typer.Option(None, "--quartiles", metavar='"Q1 Q3"', help="Quartiles beside a median."),
    range_: str = typer.Option(
        None, "--range", metavar='"MIN MAX"', help="Smallest and largest beside a median."
    ),
    baseline: float = typer.Option(None, "--baseline", help="Risk in group B, such as 0.2."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Turn one printed figure into another, with the formula.

    Example: steelyard compute convert se-to-sd 3.2 --n 14

    Example: steelyard compute convert median-to-mean 24 --quartiles "20 31" --n 40
    """
    from evidence.workflows.calculator import conversions as computing_conversions
    from evidence.workflows.calculator.scales import Extras

    extras = Extras(n, df, r, level, ratio, quartiles, range_, baseline)
    if kind.casefold() == "combine-groups":
        show(computing_conversions.combine_groups(figures), as_json=as_json)
    else:
        show(computing_conversions.convert(kind, figures, extras), as_json=as_json)


@app.command("pool")
@tells_problems
def pool(
    file: Path = typer.Argument(..., help="CSV with a line of headings."),
    estimate: str = typer.Option(None, "--estimate", metavar="COLUMN", help="The effects."),
    variance: str = typer.Option(None, "--variance", metavar="COLUMN", help="Their variances,"),
    se: str = typer.Option(None, "--se", metavar="COLUMN", help="or standard errors,"),
    low: str = typer.Option(None, "--low", metavar="COLUMN", help="or 95 % limits."),
    high: str = typer.Option(None, "--high", metavar="COLUMN", help="The upper limits."),
    study: str = typer.Option(None, "--study", metavar="COLUMN", help="The study of each result."),
    arm: str = typer.Option(None, "--arm", metavar="COLUMN", help="The arm or sample inside a study."),
    label: str = typer.Option(None, "--label", metavar="COLUMN", help="What each result is called."),
    ratio: bool = RATIO,
    by: str = typer.Option(
        None, "--by", metavar="COLUMN", help="Pool each group of this column and compare."
    ),
    moderator: list[str] = typer.Option(
        [], "--moderator", metavar="COLUMN", help="Regress on it; may be repeated."
    ),
    leave_one_out: bool = typer.Option(False, "--leave-one-out", help="Show the pool without each study."),
    as_independent: bool = typer.Option(
        False, "--as-independent", help="Ignore that results share a study (wrong; says so)."
    ),
    rho: float = typer.Option(
        None, "--rho", help="Correlation of sampling errors inside a study; 0.5 is assumed."
    ),
    method: str = typer.Option("REML", "--method", help="REML, DL, PM, ML, EB, SJ, HE or HS; common."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Pool the effects of a CSV file.

    Results of one study are pooled as nested (three levels, robust errors).

    Example: steelyard compute pool effects.csv --leave-one-out
    """
    from evidence.workflows.calculator.pool_tables import PoolQuestion
    from evidence.workflows.calculator.pools import compute_pool

    asked = PoolQuestion(
        file, estimate, variance, se, low, high, study, arm, label, ratio, by, tuple(moderator), leave_one_out,
        as_independent, rho, method,
    )  # fmt: skip
    show(compute_pool(asked), as_json=as_json)


@app.command("trend")
@tells_problems
def trend(
    file: Path = typer.Argument(None, help="CSV with level, mean, sd, n (and study)."),
    at: list[str] = typer.Option([], "--at", metavar='"LEVEL=MEAN SD N"', help="One level; repeat."),
    same_people: bool = typer.Option(False, "--same-people", help="The same people at all levels."),
    r: float = R,
    outcome: str = OUTCOME,
    scale: str = typer.Option(
        "percent", "--scale", help="percent (of the mean) or difference (in the unit)."
    ),
    shape: str = typer.Option(
        "line", "--shape", help="line, quadratic or restricted-cubic (four levels or more)."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say whether an outcome rises or falls.

    With an angle, a load, a range.

    Example: steelyard compute trend --at "0=40 9 14" --at "30=46 10 14" --at "60=53 11 14" --same-people --r 0.8
    """
    from evidence.vocabulary import load_vocabulary
    from evidence.workflows.calculator.trends import TrendQuestion, compute_trend

    asked = TrendQuestion(tuple(at), file, same_people, r, outcome, scale, shape)
    show(compute_trend(asked, load_vocabulary()), as_json=as_json)


@app.command("sameness")
@tells_problems
def sameness(
    estimate: float = typer.Option(..., "--estimate", help="The difference (with --ratio: the ratio)."),
    margin: float = typer.Option(None, "--margin", help="The largest difference that would not matter."),
    se: float = typer.Option(None, "--se", help="Standard error (for ratios that of the logarithm)."),
    interval: str = typer.Option(None, "--interval", metavar='"LOW HIGH"', help="95 % interval."),
    ratio: bool = RATIO,
    df: float = typer.Option(None, "--df", help="Degrees of freedom, if the interval is to use t."),
    alpha: float = typer.Option(0.05, "--alpha", help="Error rate of each one-sided test."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say whether two things are the same.

    Within a margin: no clear difference is not sameness.

    Example: steelyard compute sameness --estimate 0.03 --se 0.07 --margin 0.2
    """
    from evidence.workflows.calculator.decisions import SamenessQuestion, compute_sameness

    show(
        compute_sameness(SamenessQuestion(estimate, margin, se, interval, ratio, df, alpha)), as_json=as_json
    )


@app.command("power")
@tells_problems
def power(
    d: float = typer.Option(None, "--d", help="The difference to be shown, in SDs between people."),
    difference: float = typer.Option(None, "--difference", help="Or in the unit, with --sd."),
    sd: float = typer.Option(None, "--sd", help="SD between people, in the unit."),
    same_people: bool = typer.Option(
        False, "--same-people", help="Everyone does both (crossover); needs --r."
    ),
    r: float = R,
    n: int = typer.Option(None, "--n", help="People (per group): then the power is worked out."),
    power_wanted: float = typer.Option(0.8, "--power", help="Power wanted."),
    alpha: float = typer.Option(0.05, "--alpha", help="Two-sided error rate."),
    lost: float = typer.Option(0.0, "--lost", help="Share of people expected to drop out, such as 0.15."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say how many people a comparison needs.

    In two groups, or with everyone doing both.

    Example: steelyard compute power --d 0.5

    Example: steelyard compute power --difference 5 --sd 12 --same-people --r 0.8 --lost 0.15
    """
    from evidence.workflows.calculator.decisions import PowerQuestion, compute_power

    asked = PowerQuestion(d, difference, sd, same_people, r, n, power_wanted, alpha, lost)
    show(compute_power(asked), as_json=as_json)


@app.command("fragility")
@tells_problems
def fragility(
    file: Path = typer.Argument(None, help="CSV of effects, as for compute pool."),
    events_a: str = typer.Option(None, "--events-a", metavar="4/30", help="People with the event in A."),
    events_b: str = typer.Option(None, "--events-b", metavar="9/28", help="People with the event in B."),
    ratio: bool = RATIO,
    threshold: float = typer.Option(0.0, "--threshold", help="The value that the interval must shut out."),
    alpha: float = typer.Option(0.05, "--alpha", help="For counts: the p to pass."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say how little would change the answer.

    People in a 2 by 2 table, or studies in a pool.

    Example: steelyard compute fragility --events-a 2/40 --events-b 11/41
    """
    from evidence.errors import BadInput
    from evidence.workflows.calculator import decisions as computing_decisions
    from evidence.workflows.calculator.pool_tables import PoolQuestion, read_pool_table

    if (file is None) == (events_a is None and events_b is None):
        raise BadInput(
            "Give either a file or counts.", hint="Write --events-a 2/40 --events-b 11/41, or a CSV."
        )
    if file is None:
        show(computing_decisions.compute_count_fragility(events_a, events_b, alpha), as_json=as_json)
    else:
        table = read_pool_table(PoolQuestion(file, ratio=ratio))
        show(computing_decisions.compute_pool_fragility(table, threshold), as_json=as_json)


@app.command("check")
@tells_problems
def check(
    t: str = typer.Option(None, "--t", help="A printed t (with --df and --p)."),
    f: str = typer.Option(None, "--f", help="A printed F (with --df1, --df and --p)."),
    chi2: str = typer.Option(None, "--chi2", help="A printed chi-square (with --df and --p)."),
    z: str = typer.Option(None, "--z", help="A printed z (with --p)."),
    correlation: str = typer.Option(None, "--correlation", help="A printed r (with --df = n - 2 and --p)."),
    df: float = typer.Option(None, "--df", help="Degrees of freedom (of F: the second)."),
    df1: float = typer.Option(None, "--df1", help="First degrees of freedom of F."),
    p: str = typer.Option(None, "--p", metavar='0.03|"<0.05"', help="The p as printed."),
    a: str = typer.Option(None, "--a", metavar='"MEAN SD N"', help="Group A as printed."),
    b: str = typer.Option(None, "--b", metavar='"MEAN SD N"', help="Group B as printed."),
    same_people: bool = SAME_PEOPLE,
    smd: str = typer.Option(None, "--smd", help="A printed standardised difference of A and B."),
    percent: str = typer.Option(
        None, "--percent", help="A printed percent: A against B, or after against before."
    ),
    mean: str = typer.Option(None, "--mean", help="One mean as printed."),
    sd: str = typer.Option(None, "--sd", help="Its SD as printed."),
    n: int = typer.Option(None, "--n", help="Its number of people (with --smd: all people)."),
    whole_numbers: bool = typer.Option(
        False, "--whole-numbers", help="The data are whole numbers (counts, scores)."
    ),
    items: int = typer.Option(1, "--items", help="Items averaged per person, for scores."),
    between: str = typer.Option(
        None, "--between", metavar='"LOW HIGH"', help="The range possible or printed."
    ),
    estimate: str = typer.Option(None, "--estimate", help="An estimate as printed."),
    interval: str = typer.Option(None, "--interval", metavar='"LOW HIGH"', help="Its interval as printed."),
    ratio: bool = RATIO,
    before: str = typer.Option(None, "--before", help="Mean before."),
    after: str = typer.Option(None, "--after", help="Mean after."),
    change: str = typer.Option(None, "--change", help="Mean change as printed."),
    analysed: int = typer.Option(None, "--analysed", help="People analysed."),
    recruited: int = typer.Option(None, "--recruited", help="People recruited."),
    unit: str = typer.Option(
        "", "--unit", help="Unit of the means, such as cm, kg or %MVIC: what is even differs."
    ),
    p_a: str = typer.Option(None, "--p-a", help="The p of the change within A (with --p-b)."),
    p_b: str = typer.Option(None, "--p-b", help="The p of the change within B."),
    total: str = typer.Option(None, "--total", help="A total as printed (with --parts)."),
    parts: str = typer.Option(None, "--parts", metavar='"12 14"', help="Its parts as printed."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Check a printed line of figures.

    Does p fit its test, the interval its estimate, the mean its n? Exit status 1: look again.

    Example: steelyard compute check --t 2.31 --df 18 --p 0.03

    Example: steelyard compute check --mean 3.48 --sd 1.2 --n 21 --whole-numbers

    Example: steelyard compute check --smd 0.45 --interval "0.30 0.60" --n 24
    """
    from evidence.workflows.calculator.checks import CheckQuestion, compute_checks

    asked: dict[str, Any] = {
        "t": t, "f": f, "chi2": chi2, "z": z, "r": correlation, "df": df, "df1": df1, "p": p, "a": a, "b": b,
        "same_people": same_people, "smd": smd, "percent": percent, "mean": mean, "sd": sd, "n": n,
        "whole_numbers": whole_numbers, "items": items, "ends": between, "estimate": estimate,
        "interval": interval, "ratio": ratio, "before": before, "after": after, "change": change,
        "analysed": analysed, "recruited": recruited, "unit": unit,
        "p_a": p_a, "p_b": p_b, "total": total, "parts": parts,
    }  # fmt: skip
    show(compute_checks(CheckQuestion(**asked)), as_json=as_json)


compute_several.register(app)
