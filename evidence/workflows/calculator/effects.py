"""The calculator's effects: two groups, the same people twice, before and after, counts, rates, tests, intervals."""

from collections.abc import Callable
from dataclasses import replace

from evidence.errors import BadInput, NumberProblem
from evidence.statistics import association, counts, independent, paired, prepost
from evidence.statistics.correlations import Correlation
from evidence.statistics.counts import Events, Rate
from evidence.statistics.effect import Effect, Metric
from evidence.vocabulary import Vocabulary
from evidence.workflows.calculator.answers import (
    NAMES,
    EffectQuestion,
    answer_effects,
    choose_metrics,
    use_t,
    usual_correlation,
    vary_answer,
)
from evidence.workflows.calculator.computing import (
    TypedGroup,
    Worked,
    need,
    read_group,
    read_numbers,
    read_people,
)
from evidence.workflows.calculator.reported import answer_estimate, answer_test


def compute_effect(asked: EffectQuestion, vocabulary: Vocabulary) -> Worked:
    """Work out the effect on every scale that the figures allow (or on the one asked for).

    Raises:
        BadInput: something is missing; the message names the option. NumberProblem: figures that cannot be.
    """
    require_one_source(asked)
    if asked.a_before or asked.a_after or asked.b_before or asked.b_after:
        return _before_after(asked, vocabulary)
    if asked.a or asked.b:
        return _two_conditions(asked, vocabulary)
    if asked.events_a or asked.events_b:
        return _counts(asked)
    if asked.rate_a or asked.rate_b:
        return _rates(asked)
    if asked.correlation is not None:
        need(asked.n, "--n", "a correlation needs the number of people.")
        assert asked.n is not None
        return answer_effects("a correlation", [association.fisher_z(asked.correlation, asked.n)])
    if asked.estimate is not None:
        return answer_estimate(asked)
    if asked.t is not None or asked.f is not None or asked.p is not None:
        return answer_test(asked, vocabulary)
    raise BadInput(
        "Nothing to compute an effect from.",
        hint='Give two groups (--a "MEAN SD N" --b "MEAN SD N"), before and after (--a-before, --a-after, --b-before, '
        "--b-after), counts (--events-a 4/30 --events-b 9/28), a test (--t 2.3 --n-a 12 --n-b 13) or an estimate "
        '(--estimate 0.4 --interval "0.1 0.7").',
    )


def require_one_source(asked: EffectQuestion) -> None:
    """Refuse figures of two kinds at once: only one would be used, and nothing would say which. Raises BadInput."""
    kinds = {
        "before and after (--a-before ...)": (asked.a_before, asked.a_after, asked.b_before, asked.b_after),
        "two groups (--a, --b)": (asked.a, asked.b),
        "counts (--events-a, --events-b)": (asked.events_a, asked.events_b),
        "rates (--rate-a, --rate-b)": (asked.rate_a, asked.rate_b),
        "a correlation (--correlation)": (asked.correlation,),
        "an estimate (--estimate)": (asked.estimate,),
        "a test (--t, --f)": (asked.t, asked.f),
    }
    given = [name for name, options in kinds.items() if any(one is not None for one in options)]
    if len(given) > 1:
        raise BadInput(
            f"Figures of {len(given)} kinds were given: {'; '.join(given)}.",
            hint="Give one kind. `steelyard compute check` holds them against each other.",
        )


def _two_conditions(asked: EffectQuestion, vocabulary: Vocabulary) -> Worked:
    need(asked.a, "--a", 'the group (or condition) A, as "MEAN SD N".')
    need(asked.b, "--b", 'the group (or condition) B, as "MEAN SD N".')
    assert asked.a is not None
    assert asked.b is not None
    a, b = (read_group(*one, asked.spread) for one in (("--a", asked.a), ("--b", asked.b)))
    if not asked.same_people:
        makers: dict[Metric, Callable[[], Effect]] = {
            Metric.MEAN_DIFFERENCE: lambda: use_t(
                independent.mean_difference(a.summary, b.summary), a.summary, b.summary
            ),
            Metric.LOG_RATIO_OF_MEANS: lambda: independent.log_ratio_of_means(a.summary, b.summary),
            Metric.SMD: lambda: independent.standardised_mean_difference(a.summary, b.summary),
            Metric.LOG_VARIABILITY_RATIO: lambda: independent.log_variability_ratio(a.summary, b.summary),
            Metric.LOG_CV_RATIO: lambda: independent.log_cv_ratio(a.summary, b.summary),
        }
        worked = _make("A against B, different people", makers, asked.scale, (a, b))
        if asked.r is not None:
            raise BadInput(
                "A correlation belongs to the same people measured twice.",
                where="--r",
                hint="Add --same-people, or leave --r out.",
            )
        return worked
    link = _link(asked, vocabulary, "between conditions")
    paired_makers: dict[Metric, Callable[[float | Correlation], Effect]] = {
        Metric.MEAN_DIFFERENCE: lambda r: use_t(paired.mean_difference(a.summary, b.summary, r), a.summary),
        Metric.LOG_RATIO_OF_MEANS: lambda r: paired.log_ratio_of_means(a.summary, b.summary, r),
        Metric.SMD: lambda r: paired.standardised_mean_difference(a.summary, b.summary, r),
        Metric.LOG_VARIABILITY_RATIO: lambda r: paired.log_variability_ratio(a.summary, b.summary, r),
        Metric.LOG_CV_RATIO: lambda r: paired.log_cv_ratio(a.summary, b.summary, r),
    }
    worked = _make(
        "A against B, the same people",
        {m: _bind(make, link) for m, make in paired_makers.items()},
        asked.scale,
        (a, b),
    )
    return vary_answer(worked, paired_makers, link, asked.scale)


def _before_after(asked: EffectQuestion, vocabulary: Vocabulary) -> Worked:
    link = _link(asked, vocabulary, "pre-post")
    typed = {
        option: read_group(option, text, asked.spread)
        for option, text in (
            ("--a-before", asked.a_before),
            ("--a-after", asked.a_after),
            ("--b-before", asked.b_before),
            ("--b-after", asked.b_after),
        )
        if text
    }
    for option in ("--a-before", "--a-after"):
        need(typed.get(option), option, 'the people of A, as "MEAN SD N".')
    before, after = typed["--a-before"], typed["--a-after"]
    if "--b-before" not in typed and "--b-after" not in typed:
        one_arm: dict[Metric, Callable[[float | Correlation], Effect]] = {
            Metric.MEAN_DIFFERENCE: lambda r: use_t(
                paired.mean_difference(after.summary, before.summary, r), after.summary
            ),
            Metric.LOG_RATIO_OF_MEANS: lambda r: paired.log_ratio_of_means(after.summary, before.summary, r),
            Metric.SMD_CHANGE: lambda r: paired.standardise_by_b(after.summary, before.summary, r),
        }
        worked = _make(
            "after against before, one group",
            {m: _bind(f, link) for m, f in one_arm.items()},
            asked.scale,
            (before, after),
        )
        said = "One group before and after has nothing to be compared with: time, practice and tests change people too."
        return vary_answer(replace(worked, cautions=(*worked.cautions, said)), one_arm, link, asked.scale)
    for option in ("--b-before", "--b-after"):
        need(typed.get(option), option, 'the people of B, as "MEAN SD N".')

    def arms(r: float | Correlation) -> tuple[prepost.Arm, prepost.Arm]:
        return (
            prepost.Arm(before.summary, after.summary, r),
            prepost.Arm(typed["--b-before"].summary, typed["--b-after"].summary, r),
        )

    two_arms: dict[Metric, Callable[[float | Correlation], Effect]] = {
        Metric.MEAN_DIFFERENCE: lambda r: use_t(
            prepost.mean_change_difference(*arms(r)), *(arm.change for arm in arms(r))
        ),
        Metric.LOG_RATIO_OF_MEANS: lambda r: prepost.log_ratio_of_ratios(*arms(r)),
        Metric.SMD_CHANGE: lambda r: prepost.standardised_change_difference(*arms(r)),
    }
    worked = _make(
        "change of A against change of B",
        {m: _bind(f, link) for m, f in two_arms.items()},
        asked.scale,
        tuple(typed.values()),
    )
    return vary_answer(worked, two_arms, link, asked.scale)


def _counts(asked: EffectQuestion) -> Worked:
    need(asked.events_a, "--events-a", "people with the event of all people, such as 4/30.")
    need(asked.events_b, "--events-b", "people with the event of all people, such as 9/28.")
    a, b = (read_events(*one) for one in (("--events-a", asked.events_a), ("--events-b", asked.events_b)))
    makers: dict[Metric, Callable[[], Effect]] = {
        Metric.LOG_RISK_RATIO: lambda: counts.log_risk_ratio(a, b),
        Metric.LOG_ODDS_RATIO: lambda: counts.log_odds_ratio(a, b),
        Metric.RISK_DIFFERENCE: lambda: counts.risk_difference(a, b),
    }
    return _make("events in A against B", makers, asked.scale, ())


def read_events(option: str, text: str | None) -> Events:
    """ "4/30": four of thirty people."""
    events, people = read_numbers(
        option, (text or "").replace("/", " ").replace(" of ", " "), ("events", "people")
    )
    return Events(int(events) if events == int(events) else events, read_people(option, people))  # type: ignore[arg-type]


def _rates(asked: EffectQuestion) -> Worked:
    need(asked.rate_a, "--rate-a", "events and hours (or sessions), such as 4/1200.")
    need(asked.rate_b, "--rate-b", "events and hours (or sessions), such as 9/1150.")
    a, b = (
        Rate(int(read[0]) if read[0] == int(read[0]) else read[0], read[1])  # type: ignore[arg-type]
        for read in (
            read_numbers(option, (text or "").replace("/", " "), ("events", "hours"))
            for option, text in (("--rate-a", asked.rate_a), ("--rate-b", asked.rate_b))
        )
    )
    return answer_effects("events over time, A against B", [counts.log_rate_ratio(a, b)])


def _link(asked: EffectQuestion, vocabulary: Vocabulary, situation: str) -> Correlation:
    return usual_correlation(asked.r, asked.outcome, vocabulary, situation)


def _bind(make: Callable[[float | Correlation], Effect], r: Correlation) -> Callable[[], Effect]:
    return lambda: make(r)


def _make(
    asked: str,
    makers: dict[Metric, Callable[[], Effect]],
    scale: str | None,
    typed: tuple[TypedGroup, ...],
) -> Worked:
    """Every scale that can be had; one that cannot is told, unless it is the one asked for."""
    chosen = choose_metrics(makers, scale)
    effects, cautions = [], []
    for metric in chosen:
        try:
            effects.append(makers[metric]())
        except NumberProblem as problem:
            if len(chosen) == 1:
                raise
            cautions.append(f"No {NAMES[metric][0]}: {problem}")
    if not effects:
        raise NumberProblem("No effect can be computed from these figures.", hint=" ".join(cautions))
    worked = answer_effects(asked, effects, tuple(cautions))
    return replace(
        worked,
        steps=(*(step for group in typed for step in group.steps), *worked.steps),
        assumptions=(*(said for group in typed for said in group.assumptions), *worked.assumptions),
    )
