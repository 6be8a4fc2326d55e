"""What has been found of one contrast so far: effects by scale, bare estimates, reasons, figures behind them."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Result
from evidence.errors import NumberProblem
from evidence.statistics.effect import Assumption, Effect, Metric, Summary
from evidence.vocabulary.terms import Pairing, Statistic, Timepoint
from evidence.workflows.effects.printed import summarise

# Effects on these scales can stand in one pooled figure.
SCALES = {
    Metric.LOG_RATIO_OF_MEANS: "log_ratio_of_means",
    Metric.MEAN_DIFFERENCE: "mean_difference",
    Metric.PERCENT_CHANGE_DIFFERENCE: "percent_change_difference",
    Metric.SMD: "smd",
    Metric.SMD_CHANGE: "smd",
    Metric.LOG_RISK_RATIO: "log_risk_ratio",
    Metric.LOG_RATE_RATIO: "log_rate_ratio",
    Metric.LOG_ODDS_RATIO: "log_odds_ratio",
    Metric.RISK_DIFFERENCE: "risk_difference",
    Metric.RATE_DIFFERENCE: "rate_difference",
}
# Of two scales that as many studies give, the one named first is told.
PREFERRED = tuple(dict.fromkeys(SCALES.values()))
IN_THE_UNIT = (Metric.MEAN_DIFFERENCE, Metric.PERCENT_CHANGE_DIFFERENCE)
AFTER_ONLY = Assumption("after only", "Compared after training only: no figures from before were printed.")
PRINTED_SMD = Assumption(
    "yardstick", "Standardised by the paper itself; by which SD (before, of the changes, ...) is not known."
)


@dataclass(slots=True)
class Found:
    """What has been found so far of one contrast: effects by scale, bare estimates, reasons, figures used."""

    within: bool
    effects: dict[str, Effect] = field(default_factory=dict)
    bare: dict[str, float] = field(default_factory=dict)
    reasons: list[str] = field(default_factory=list)
    figures: dict[str, Result] = field(default_factory=dict)
    means: tuple[Summary, Summary] | None = None
    assumed: dict[str, tuple[Assumption, ...]] = field(default_factory=dict)  # by key of the printed result

    def summary_of(self, result: Result, condition: Condition, rows: StudyRows) -> Summary:
        """Mean, SD and n of a result; what that leans on is kept. Raises NumberProblem saying what is missing."""
        converted = summarise(result, people_of(result, condition, rows))
        self.assumed[result.key] = converted.assumptions
        return converted.summary

    def lean(self, result: Result, assumption: Assumption) -> None:
        """Remember something that every effect of a result from here on leans on."""
        self.assumed[result.key] = (*self.assumed.get(result.key, ()), assumption)

    def attempt(
        self,
        used: Sequence[Result],
        compute: Callable[..., Effect],
        *figures: object,
        called: Metric | None = None,
    ) -> None:
        """Keep the effect that `compute` gives of the figures, or the reason why it cannot.

        `called`: the metric the effect stands for here, where that is another than the formula's own.
        """
        try:
            effect = compute(*figures)
        except NumberProblem as problem:
            self.reasons.append(str(problem))
            return
        effect = effect if called is None else replace(effect, metric=called)
        if effect.metric in IN_THE_UNIT and effect.n and effect.df is None:
            # A difference of means in its own unit is a t test; ratios and standardised ones are large-sample.
            effect = replace(effect, df=effect.n - (1 if self.within else 2))
        self.keep(effect, *used)

    def keep(self, effect: Effect, *used: Result) -> None:
        """Keep an effect and the printed results it comes from; the first on a scale stands."""
        leaning = tuple(a for result in used for a in self.assumed.get(result.key, ()))
        if leaning:
            effect = replace(effect, assumptions=tuple(dict.fromkeys((*leaning, *effect.assumptions))))
        self.effects.setdefault(SCALES.get(effect.metric, effect.metric.value), effect)
        self.use(*used)

    def use(self, *results: Result) -> None:
        """Remember which printed results the figures come from."""
        self.figures.update({result.key: result for result in results})


def note_bare(found: Found, metric: Metric, one: Result, other: Result) -> None:
    """Keep the size without uncertainty, where two figures were printed without their spread."""
    if one.value is None or other.value is None or not math.isfinite(one.value - other.value):
        return
    if metric is Metric.LOG_RATIO_OF_MEANS:
        if one.value > 0 and other.value > 0:
            found.bare.setdefault(SCALES[metric], math.log(one.value / other.value))
        else:
            found.bare.setdefault(SCALES[Metric.MEAN_DIFFERENCE], one.value - other.value)
    else:
        found.bare.setdefault(SCALES[metric], one.value - other.value)
    found.use(one, other)


@dataclass(frozen=True, slots=True)
class Printed:
    """Printed results in the order recorded, and by condition, statistic and time the first figure of each."""

    results: Sequence[Result]
    first: dict[tuple[int | None, str, str], Result]


def lay_out_results(results: Sequence[Result]) -> Printed:
    """Results as they are asked for: many times for each contrast."""
    first: dict[tuple[int | None, str, str], Result] = {}
    for result in results:
        if result.comparator_id is None:
            first.setdefault((result.condition_id, result.statistic, result.timepoint), result)
    return Printed(results, first)


def pick_result(
    printed: Printed, condition: Condition, statistic: Statistic, time: Timepoint
) -> Result | None:
    """The result of a condition at a time: the mean amplitude or the first printed, in the order recorded."""
    found = printed.first.get((condition.id, statistic, time))
    if found is None and statistic is Statistic.MEAN:
        # A median stands in for a mean that was not printed, and the effect says so.
        found = printed.first.get((condition.id, Statistic.MEDIAN, time))
    return found


def people_of(result: Result, condition: Condition, rows: StudyRows) -> int | None:
    """How many people a figure stands for: printed with it, else its condition's, else the only group's."""
    if result.n is not None:
        return result.n
    if condition.n is not None:
        return condition.n
    groups = [p.analysed for p in rows.people if p.id == condition.people_id or len(rows.people) == 1]
    within = rows.study.pairing == Pairing.WITHIN
    return groups[0] if len(groups) == 1 and (within or condition.people_id is not None) else None


def same_people(before: Summary, after: Summary) -> tuple[Summary, Summary]:
    """Both times with the smaller number of people: those measured twice cannot be more."""
    n = min(before.n, after.n)
    return Summary(before.mean, before.sd, n), Summary(after.mean, after.sd, n)
