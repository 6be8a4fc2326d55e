"""The calculator's decisions: sameness against a margin, people needed, fragility."""

import math
from dataclasses import dataclass

from evidence.errors import BadInput
from evidence.statistics import equivalence, power
from evidence.statistics.effect import Step, critical_value, derive
from evidence.statistics.fragility import assess_fragility, fragility_index
from evidence.workflows.calculator.computing import (
    Figure,
    Worked,
    need,
    read_numbers,
    require_error_rate,
    require_inside,
)
from evidence.workflows.calculator.effects import read_events
from evidence.workflows.calculator.pool_tables import PoolTable
from evidence.workflows.calculator.text import show_number, show_p

_TOST = "two one-sided tests, Schuirmann 1987"
WIDEST_RATIO = 3  # a wider margin is a percentage typed as a ratio; project
_POWER = "noncentral t, Cohen 1988, section 2.4"


@dataclass(frozen=True, slots=True)
class SamenessQuestion:
    """An estimate with its uncertainty, and the margin; ratios as printed when `ratio`."""

    estimate: float
    margin: float | None
    se: float | None = None
    interval: str | None = None
    ratio: bool = False
    df: float | None = None
    alpha: float = 0.05


def compute_sameness(asked: SamenessQuestion) -> Worked:
    """Whether the difference is too small to matter, by two one-sided tests.

    Raises:
        BadInput: no margin, or no uncertainty. NumberProblem: a margin that spans nothing.
    """
    if asked.margin is None:
        raise BadInput(
            "--margin is missing: sameness is always sameness within a margin.",
            hint="Add the largest difference that would not matter, such as --margin 0.2 (ratios: --margin 1.10).",
        )
    require_error_rate(asked.alpha)
    if asked.ratio and asked.margin > 0 and not 1 / WIDEST_RATIO < asked.margin < WIDEST_RATIO:
        wide = max(asked.margin, 1 / asked.margin)
        raise BadInput(
            f"{asked.margin:g} would call everything from {1 / wide:.3g} times to {wide:.3g} times the same.",
            where="--margin",
            hint="With --ratio the margin is a ratio: 1.2 for 20 % more or less.",
        )
    source = "as typed"
    margin = (
        equivalence.ratio_margin(asked.margin, source)
        if asked.ratio
        else equivalence.symmetric_margin(asked.margin, source)
    )
    estimate, se, cautions = _read_estimate(asked)
    got = equivalence.assess_equivalence(estimate, se, margin, df=asked.df, alpha=asked.alpha)
    chances = equivalence.weigh_chances(estimate, se, margin, df=asked.df)
    wide = critical_value(1 - asked.alpha, asked.df) * se
    if got.equivalent and got.different:
        verdict = (
            "A difference, but one too small to matter: the interval lies inside the margin and shuts out 0."
        )
    elif got.equivalent:
        verdict = "The same within the margin: the whole interval lies inside it."
    elif got.different:
        verdict = "Different: the interval shuts out no difference."
    else:
        verdict = "Neither the same within the margin nor different: the figures leave both open."
        cautions = (*cautions, "That no difference was shown is not evidence of sameness.")
    level = f"{100 * (1 - 2 * asked.alpha):g} % interval (for the margin)"
    low, high = (math.exp(x) if asked.ratio else x for x in (margin.low, margin.high))
    figures = (
        Figure("margin", None, low, high),
        _interval(level, asked.ratio, estimate, got.low, got.high),
        _interval(
            f"{100 * (1 - asked.alpha):g} % interval", asked.ratio, estimate, estimate - wide, estimate + wide
        ),
        Figure("p for sameness (the larger of two)", got.p),
        Figure("chance above the margin", chances.above),
        Figure("chance within the margin", chances.within),
        Figure("chance below the margin", chances.below),
    )
    steps = (
        derive("upper one-sided p", "P((margin high − estimate)/SE)", _TOST, got.p, SE=se, estimate=estimate),
        derive("margin", "±ln(margin)" if asked.ratio else "±margin", "as typed", margin.high),
    )
    said = (*cautions, "The chances take every size as equally likely beforehand: a display, not a test.")
    return Worked("sameness within a margin", verdict, figures, (), steps, (), said)


def _interval(name: str, ratio: bool, value: float, low: float, high: float) -> Figure:
    if ratio:
        return Figure(name, math.exp(value), math.exp(low), math.exp(high))
    return Figure(name, value, low, high)


def _read_estimate(asked: SamenessQuestion) -> tuple[float, float, tuple[str, ...]]:
    estimate = asked.estimate
    if asked.ratio:
        if estimate <= 0:
            raise BadInput(
                f"A ratio of {estimate:g} cannot be.", where="--estimate", hint="1 is no difference."
            )
        estimate = math.log(estimate)
    if asked.interval is not None:
        low, high = read_numbers("--interval", asked.interval, ("low", "high"))
        if low >= high or (asked.ratio and low <= 0):
            raise BadInput(
                f"{low:g} to {high:g} is no interval.", where="--interval", hint="Give low, then high."
            )
        if asked.se is not None:
            raise BadInput("--interval and --se were both given.", hint="Give one of them.")
        require_inside(asked.estimate, low, high, "--estimate")
        if asked.ratio:
            low, high = math.log(low), math.log(high)
        said = (
            () if asked.df else ("The interval was taken as a 95 % one, built with the normal distribution.",)
        )
        return estimate, (high - low) / (2 * critical_value(0.95, asked.df)), said
    if asked.se is None:
        raise BadInput("An estimate alone has no uncertainty.", hint='Add --se or --interval "LOW HIGH".')
    said = ("The standard error was taken as that of the logarithm of the ratio.",) if asked.ratio else ()
    return estimate, asked.se, said


@dataclass(frozen=True, slots=True)
class PowerQuestion:
    """The difference to be shown (in SDs, or a difference with its SD), the design, and n or the wanted power."""

    d: float | None = None
    difference: float | None = None
    sd: float | None = None
    same_people: bool = False
    r: float | None = None
    n: int | None = None
    wanted: float = 0.8
    alpha: float = 0.05
    lost: float = 0.0


def compute_power(asked: PowerQuestion) -> Worked:
    """People needed for a difference, or the power that n people give.

    Raises:
        BadInput: no difference, no r for the same people. NumberProblem: a difference of 0 and the like.
    """
    d = _standardised(asked)
    if not 0 < asked.alpha < 1:
        raise BadInput(f"{asked.alpha:g} is no error rate.", where="--alpha", hint="Write 0.05 for 5 %.")
    if not 0 <= asked.lost < 1:
        raise BadInput(f"{asked.lost:g} is no share.", where="--lost", hint="Write 0.15 for 15 %.")
    if asked.same_people:
        need(asked.r, "--r", "for the same people twice, the correlation between the two measurements.")
        assert asked.r is not None
        dz = d / math.sqrt(2 * (1 - asked.r)) if asked.r < 1 else math.inf
        step = derive("difference in SDs of the differences", "d/√(2(1−r))", "Cohen 1988", dz, d=d, r=asked.r)
        if asked.n is not None:
            reached = power.power_of_pairs(d, asked.n, asked.r, alpha=asked.alpha)
            return _power_answer(asked, d, reached, f"{asked.n} people who do both", (step,))
        people = power.people_for_pairs(d, asked.r, power=asked.wanted, alpha=asked.alpha)
        return _people_answer(asked, d, people, "people who do both", (step,), total=people)
    if asked.n is not None:
        reached = power.power_of_groups(d, asked.n, asked.n, alpha=asked.alpha)
        return _power_answer(asked, d, reached, f"{asked.n} people per group", ())
    people = power.people_for_groups(d, power=asked.wanted, alpha=asked.alpha)
    return _people_answer(asked, d, people, "people per group", (), total=2 * people)


def _standardised(asked: PowerQuestion) -> float:
    if asked.d is not None:
        if asked.difference is not None:
            raise BadInput("--d and --difference were both given.", hint="Give one of them.")
        return asked.d
    if asked.difference is None:
        raise BadInput(
            "--d is missing: which difference should be shown?",
            hint="Add --d 0.5 (in SDs), or --difference 5 --sd 12 (in the unit).",
        )
    need(asked.sd, "--sd", "the SD between people, in the unit of the difference.")
    assert asked.sd is not None
    if asked.sd <= 0:
        raise BadInput(f"An SD of {asked.sd:g} cannot be.", where="--sd", hint="It must be above 0.")
    return asked.difference / asked.sd


_PLAN = (
    "Plan for the smallest difference that would matter, not for one that an earlier small study found: such figures "
    "are inflated."
)


def _people_answer(
    asked: PowerQuestion, d: float, people: int, unit: str, steps: tuple[Step, ...], *, total: int
) -> Worked:
    said = f"{people} {unit} for a power of {asked.wanted:g} at d = {show_number(d)} (two-sided {asked.alpha:g})."
    figures = [Figure(unit, people), Figure("in all", total)]
    if asked.lost:
        figures.append(
            Figure(
                f"to recruit if {100 * asked.lost:g} % are lost", math.ceil(total / (1 - asked.lost) - 1e-9)
            )
        )
    step = derive(
        unit, "smallest n with power ≥ wanted", _POWER, people, d=d, power=asked.wanted, alpha=asked.alpha
    )
    return Worked("people needed", said, tuple(figures), (), (*steps, step), (), (_PLAN,))


def _power_answer(
    asked: PowerQuestion, d: float, reached: float, people: str, steps: tuple[Step, ...]
) -> Worked:
    said = f"{people} give a power of {show_number(reached)} at d = {show_number(d)} (two-sided {asked.alpha:g})."
    step = derive("power", "P(|t| > critical | d)", _POWER, reached, d=d, n=asked.n or 0, alpha=asked.alpha)
    caution = (
        _PLAN,
        "Power is for planning: computed from a study's own result it says nothing beyond its p.",
    )
    return Worked("power", said, (Figure("power", reached),), (), (*steps, step), (), caution)


def compute_count_fragility(events_a: str, events_b: str | None, alpha: float) -> Worked:
    """How many people with another outcome would take a 2 × 2 table across `alpha` (Fisher's exact test)."""
    need(events_b, "--events-b", "people with the event of all people, such as 9/28.")
    a, b = read_events("--events-a", events_a), read_events("--events-b", events_b)
    from evidence.statistics.exact_tests import compare_exactly

    p = compare_exactly(a, b).p
    index = fragility_index(a, b, alpha=alpha)
    if index is None:
        answer = f"Fisher's p is {show_p(p)}: not below {alpha:g}, so there is nothing to overturn."
    else:
        people = "1 person" if index == 1 else f"{index} people"
        answer = f"{people} with another outcome would lift Fisher's p above {alpha:g} (now {show_p(p)})."
    step = derive("Fisher's exact p", "all tables as likely or less", "Fisher 1935", p)
    said = ("A small number says that the answer hangs on few people; it says nothing about bias.",)
    figures = (Figure("Fisher's p", p), Figure("fragility index", index))
    return Worked("fragility of a 2 × 2 table", answer, figures, (), (step,), (), said)


def compute_pool_fragility(table: PoolTable, threshold: float) -> Worked:
    """What would move the pooled interval across `threshold`."""
    if table.repeats:
        raise BadInput(
            "Several results come from one study; this look takes independent results.",
            where=table.name,
            hint="Keep one result a study, or combine them first.",
        )
    got = assess_fragility(table.estimates, table.variances, threshold=threshold)
    names = [table.labels[i] for i in got.leaving_out]
    if not got.clear:
        answer = f"The pooled interval includes {threshold:g} as it stands."
    else:
        answer = f"The pooled interval shuts out {threshold:g}."
    if names:
        answer += f" Leaving out {', '.join(names)} alone would change that."
    figures: tuple[Figure, ...] = (
        Figure("further null studies that would undo it", got.null_studies, unit="of typical size"),
        Figure(
            "one further result that would undo it", got.single_result, unit="on the scale of the estimates"
        ),
    )
    if not got.clear:
        figures = ()
    typical = math.sqrt(got.typical_variance)
    step = derive("typical standard error", "√(median variance)", "convention", typical)
    said = ("Studies are taken as independent, and weighed as in compute pool.",)
    return Worked("fragility of a pooled effect", answer, figures, (), (step,), (), said)
