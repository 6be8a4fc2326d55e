"""One condition against another within a study: every effect that the printed results allow, each traceable to them.

An effect is exercise minus comparator. Where a figure cannot be computed the reason is kept, and a bare estimate
without uncertainty is shown and never pooled.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Outcome, Result
from evidence.errors import NumberProblem
from evidence.statistics import independent, paired, prepost
from evidence.statistics.conversions import correlation_from_sds
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import Assumption, Effect, Metric, Summary
from evidence.vocabulary.terms import Pairing, Statistic, Timepoint
from evidence.workflows.links import Links
from evidence.workflows.printed import effect_from_test, effects_as_printed, summarise

# Effects on these scales can stand in one pooled figure.
SCALES = {
    Metric.SMD: "smd",
    Metric.SMD_CHANGE: "smd",
    Metric.LOG_RATIO_OF_MEANS: "log_ratio_of_means",
    Metric.MEAN_DIFFERENCE: "mean_difference",
    Metric.PERCENT_CHANGE_DIFFERENCE: "percent_change_difference",
    Metric.LOG_RISK_RATIO: "log_risk_ratio",
    Metric.LOG_RATE_RATIO: "log_rate_ratio",
}


IN_THE_UNIT = (Metric.MEAN_DIFFERENCE, Metric.PERCENT_CHANGE_DIFFERENCE)


YARDSTICK = Assumption(
    "yardstick",
    "Standardised by the SD of the changes, where other studies use the SD before: not the same yardstick.",
)
AFTER_ONLY = Assumption("after only", "Compared after training only: no figures from before were printed.")


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


@dataclass(frozen=True, slots=True)
class Contrast:
    """One condition against another on one outcome and region, with all that could be worked out of it."""

    exercise: Condition
    comparator: Condition
    outcome: Outcome
    region: str | None
    effects: dict[str, Effect]
    bare: dict[str, float]
    figures: tuple[Result, ...]
    reasons: tuple[str, ...]
    means: tuple[Summary, Summary] | None = None  # where the effects come from one mean in each condition


def build_contrast(
    rows: StudyRows, a: Condition, b: Condition, outcome: Outcome, region: str | None, links: Links
) -> Contrast | None:
    """The contrast of condition `a` against `b`, or None when the study printed nothing on it."""
    results = [r for r in rows.results if r.outcome_id == outcome.id and r.region == region]
    found = Found(rows.study.pairing == Pairing.WITHIN)
    compare_as_printed(found, results, a, b, rows)
    # The mean of individual percents, where printed, before the percent of the means; the SD before, where
    # printed, before the SD of the changes.
    compare_changes(found, rows, results, a, b, links, Statistic.PERCENT_CHANGE)
    compare_before_and_after(found, rows, results, a, b, links)
    compare_changes(found, rows, results, a, b, links, Statistic.CHANGE)
    compare_means(found, rows, results, a, b, links)
    compare_by_test(found, rows, results, a, b, links)
    if not found.effects and not found.bare:
        if not found.reasons:
            return None
        involved = {a.id, b.id}
        found.use(*(r for r in results if r.condition_id in involved))
    reasons = tuple(dict.fromkeys(found.reasons))
    figures = tuple(found.figures.values())
    return Contrast(a, b, outcome, region, found.effects, found.bare, figures, reasons, found.means)


def compare_as_printed(
    found: Found, results: Sequence[Result], a: Condition, b: Condition, rows: StudyRows
) -> None:
    """Comparisons that the paper itself printed, in either direction."""
    for result in results:
        ends = (result.condition_id, result.comparator_id)
        if ends not in ((a.id, b.id), (b.id, a.id)):
            continue
        turned = ends == (b.id, a.id)
        n_a, n_b = people_of(result, a, rows), people_of(result, b, rows)
        if turned:
            n_a, n_b = n_b, n_a
        effects, bare, reasons = effects_as_printed(result, n_a, n_b, Pairing(rows.study.pairing))
        found.reasons += reasons
        for effect in effects:
            found.keep(effect.swapped() if turned else effect, result)
        for scale, value in bare.items():
            found.bare.setdefault(scale, -value if turned else value)
            found.use(result)


def compare_before_and_after(
    found: Found, rows: StudyRows, results: Sequence[Result], a: Condition, b: Condition, links: Links
) -> None:
    """Means before and after in both conditions: difference of the changes."""
    cells = {
        (side, time): pick_result(results, condition, Statistic.MEAN, time)
        for side, condition in (("a", a), ("b", b))
        for time in (Timepoint.PRE, Timepoint.POST)
    }
    if any(result is None for result in cells.values()):
        return
    arms: dict[str, prepost.Arm] = {}
    for side, condition in (("a", a), ("b", b)):
        before, after = cells[side, Timepoint.PRE], cells[side, Timepoint.POST]
        assert before is not None and after is not None
        try:
            start, end = same_people(
                found.summary_of(before, condition, rows), found.summary_of(after, condition, rows)
            )
            arms[side] = prepost.Arm(start, end, link_of_arm(found, rows, results, condition, links))
        except NumberProblem as problem:
            found.reasons.append(str(problem))
            return
    used = [result for result in cells.values() if result is not None]
    if found.within:
        arms = {side: cut_to(arm, min(x.n for x in arms.values())) for side, arm in arms.items()}
        r = link_of_changes(results, a, b, links)
        found.attempt(used, prepost.within_person_standardised_change_difference, arms["a"], arms["b"], r)
        found.attempt(used, prepost.within_person_change_difference, arms["a"], arms["b"], r)
        found.attempt(used, prepost.percent_change_difference, arms["a"], arms["b"], r)
    else:
        found.attempt(used, prepost.standardised_change_difference, arms["a"], arms["b"])
        found.attempt(used, prepost.mean_change_difference, arms["a"], arms["b"])
        found.attempt(used, prepost.percent_change_difference, arms["a"], arms["b"])


def link_of_arm(
    found: Found, rows: StudyRows, results: Sequence[Result], condition: Condition, links: Links
) -> Correlation:
    """The correlation before to after in one arm: printed, else worked out from the three SDs, else assumed."""
    before, after, change = (
        pick_result(results, condition, statistic, time)
        for statistic, time in (
            (Statistic.MEAN, Timepoint.PRE),
            (Statistic.MEAN, Timepoint.POST),
            (Statistic.CHANGE, Timepoint.OVER),
        )
    )
    assert before is not None and after is not None
    link = links.between(before, after, "pre-post")
    if link.printed or change is None:
        return link
    try:
        sds = [found.summary_of(r, condition, rows).sd for r in (before, after, change)]
        r = correlation_from_sds(*sds).value
    except NumberProblem:
        return link
    return Correlation(
        r, r, r, True, "Worked out from the SDs before, after and of the change", "Cochrane Handbook 6.5.2.8"
    )


def cut_to(arm: prepost.Arm, n: int) -> prepost.Arm:
    """An arm with the number of people who did both."""
    return prepost.Arm(replace(arm.before, n=n), replace(arm.after, n=n), arm.r)


def link_of_changes(results: Sequence[Result], a: Condition, b: Condition, links: Links) -> Correlation:
    """The correlation between the changes of two limbs or periods: printed with the changes, or assumed."""
    for statistic in (Statistic.CHANGE, Statistic.PERCENT_CHANGE):
        one, other = (pick_result(results, side, statistic, Timepoint.OVER) for side in (a, b))
        if one is not None and other is not None:
            return links.between(one, other, "between changes")
    return links.assumed("between changes")


def compare_changes(
    found: Found,
    rows: StudyRows,
    results: Sequence[Result],
    a: Condition,
    b: Condition,
    links: Links,
    statistic: Statistic,
) -> None:
    """Mean changes as printed: in the unit (CHANGE) or in percent (PERCENT_CHANGE)."""
    one, other = (pick_result(results, side, statistic, Timepoint.OVER) for side in (a, b))
    if one is None or other is None:
        return
    percent = statistic is Statistic.PERCENT_CHANGE
    called = Metric.PERCENT_CHANGE_DIFFERENCE if percent else Metric.MEAN_DIFFERENCE
    used = (one, other)
    try:
        pair = found.summary_of(one, a, rows), found.summary_of(other, b, rows)
    except NumberProblem as problem:
        found.reasons.append(str(problem))
        note_bare(found, called, one, other)
        return
    if found.within:
        pair = same_people(*pair)
        r = links.between(one, other, "between changes")
        found.attempt(used, paired.mean_difference, *pair, r, called=called)
        if not percent:
            found.lean(one, YARDSTICK)
            found.attempt(used, paired.standardised_mean_difference, *pair, r, called=Metric.SMD_CHANGE)
    else:
        found.attempt(used, independent.mean_difference, *pair, called=called)
        if not percent:
            found.lean(one, YARDSTICK)
            found.attempt(used, independent.standardised_mean_difference, *pair, called=Metric.SMD_CHANGE)


def compare_means(
    found: Found, rows: StudyRows, results: Sequence[Result], a: Condition, b: Condition, links: Links
) -> None:
    """Means measured once in each condition: in one session, or after training where nothing was measured before."""
    for time in (Timepoint.ACUTE, Timepoint.POST):
        one, other = (pick_result(results, side, Statistic.MEAN, time) for side in (a, b))
        if one is None or other is None or found.effects:
            continue
        try:
            pair = found.summary_of(one, a, rows), found.summary_of(other, b, rows)
        except NumberProblem as problem:
            found.reasons.append(str(problem))
            note_bare(found, Metric.LOG_RATIO_OF_MEANS, one, other)
            continue
        used = (one, other)
        if time is Timepoint.POST:
            found.lean(one, AFTER_ONLY)
        if found.within:
            if pair[0].n != pair[1].n:
                note = f"n is {pair[0].n} and {pair[1].n} for the same people; the smaller was used."
                found.lean(one, Assumption("n differs", note))
            pair = same_people(*pair)
            r = links.between(one, other, "between conditions")
            for of_same_people in (
                paired.log_ratio_of_means,
                paired.standardised_mean_difference,
                paired.mean_difference,
            ):
                found.attempt(used, of_same_people, *pair, r)
        else:
            for of_groups in (
                independent.log_ratio_of_means,
                independent.standardised_mean_difference,
                independent.mean_difference,
            ):
                found.attempt(used, of_groups, *pair)
        found.means = pair


def compare_by_test(
    found: Found, rows: StudyRows, results: Sequence[Result], a: Condition, b: Condition, links: Links
) -> None:
    """A printed t, where nothing else gives a standardised difference."""
    for result in results:
        ends = (result.condition_id, result.comparator_id)
        if "smd" in found.effects or ends not in ((a.id, b.id), (b.id, a.id)):
            continue
        r = links.assumed("between conditions") if found.within else None
        n = [people_of(result, side, rows) if result.n is None else side.n for side in (a, b)]
        try:
            effect = effect_from_test(result, n[0], n[1], r)
        except NumberProblem as problem:
            found.reasons.append(str(problem))
            continue
        if effect is not None:
            found.keep(effect.swapped() if ends == (b.id, a.id) else effect, result)


def note_bare(found: Found, metric: Metric, one: Result, other: Result) -> None:
    """Keep the size without uncertainty, where two figures were printed without their spread."""
    if one.value is None or other.value is None:
        return
    if metric is Metric.LOG_RATIO_OF_MEANS:
        if one.value > 0 and other.value > 0:
            found.bare.setdefault(SCALES[metric], math.log(one.value / other.value))
        else:
            found.bare.setdefault(SCALES[Metric.MEAN_DIFFERENCE], one.value - other.value)
    else:
        found.bare.setdefault(SCALES[metric], one.value - other.value)
    found.use(one, other)


def pick_result(
    results: Sequence[Result], condition: Condition, statistic: Statistic, time: Timepoint
) -> Result | None:
    """The result of a condition at a time: the mean amplitude or the first printed, in the order recorded."""
    wanted = (statistic, Statistic.MEDIAN) if statistic is Statistic.MEAN else (statistic,)
    for kind in wanted:  # a median stands in for a mean that was not printed, and the effect says so
        for result in results:
            if (
                result.condition_id == condition.id
                and result.comparator_id is None
                and result.statistic == kind
                and result.timepoint == time
            ):
                return result
    return None


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
