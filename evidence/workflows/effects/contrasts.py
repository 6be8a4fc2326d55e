"""One condition against another within a study: every effect that the printed results allow, each traceable to them.

An effect is exercise minus comparator. Where a figure cannot be computed the reason is kept, and a bare estimate
without uncertainty is shown and never pooled.
"""

from dataclasses import dataclass
from functools import partial

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Outcome, Result
from evidence.errors import NumberProblem
from evidence.statistics import independent, paired
from evidence.statistics.conversions_tests import smd_from_t
from evidence.statistics.effect import Assumption, Effect, Metric, Summary
from evidence.statistics.yardsticks import convert_from_sd_of_change
from evidence.vocabulary.terms import Pairing, Statistic, Timepoint
from evidence.workflows.effects.compared_changes import (
    compare_before_and_after,
    compare_changes,
    standardise_changes,
)
from evidence.workflows.effects.compared_counts import compare_counts
from evidence.workflows.effects.effects_found import (
    AFTER_ONLY,
    PRINTED_SMD,
    Found,
    Printed,
    lay_out_results,
    note_bare,
    people_of,
    pick_result,
    same_people,
)
from evidence.workflows.effects.links import Links
from evidence.workflows.effects.printed import effect_from_test, effects_as_printed


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
    sides, place = (a.id, b.id), (outcome.id, region)
    of_both = [r for r in rows.results if r.condition_id in sides and (r.outcome_id, r.region) == place]
    results = lay_out_results(of_both)
    found = Found(rows.study.pairing == Pairing.WITHIN)
    compare_as_printed(found, rows, results, a, b, links)
    # The mean of individual percents, where printed, before the percent of the means; the SD before, where
    # printed, before the SD of the changes.
    compare_changes(found, rows, results, a, b, links, Statistic.PERCENT_CHANGE)
    compare_before_and_after(found, rows, results, a, b, links)
    compare_changes(found, rows, results, a, b, links, Statistic.CHANGE)
    compare_means(found, rows, results, a, b, links)
    compare_by_test(found, rows, results, a, b, links)
    compare_counts(found, rows, results, a, b)
    if not found.effects and not found.bare:
        if not found.reasons:
            return None
        found.use(*of_both)
    reasons = tuple(dict.fromkeys(found.reasons))
    figures = tuple(found.figures.values())
    return Contrast(a, b, outcome, region, found.effects, found.bare, figures, reasons, found.means)


def compare_as_printed(
    found: Found, rows: StudyRows, results: Printed, a: Condition, b: Condition, links: Links
) -> None:
    """Comparisons that the paper itself printed, in either direction."""
    counted = links.vocabulary.constructs[links.construct].metric == Metric.LOG_RISK_RATIO
    for result in results.results:
        ends = (result.condition_id, result.comparator_id)
        if ends not in ((a.id, b.id), (b.id, a.id)):
            continue
        turned = ends == (b.id, a.id)
        n_a, n_b = people_of(result, a, rows), people_of(result, b, rows)
        sides = (n_b, n_a) if turned else (n_a, n_b)
        effects, bare, reasons = effects_as_printed(
            result, *sides, Pairing(rows.study.pairing), events=counted
        )
        found.reasons += reasons
        if result.statistic == Statistic.SMD:
            found.lean(result, PRINTED_SMD)
        for effect in effects:
            effect = effect.swapped() if turned else effect
            found.keep(effect, result)
            if effect.metric is Metric.MEAN_DIFFERENCE:
                standardise_printed(found, rows, results, (a, b), links, result, effect, (n_a, n_b))
        for scale, value in bare.items():
            found.bare.setdefault(scale, -value if turned else value)
            found.use(result)


def standardise_printed(
    found: Found,
    rows: StudyRows,
    results: Printed,
    sides: tuple[Condition, Condition],
    links: Links,
    result: Result,
    difference: Effect,
    people: tuple[int | None, int | None],
) -> None:
    """A printed difference of two groups of people in standard deviations: t = estimate / SE."""
    n_a, n_b = people
    if found.within or n_a is None or n_b is None:
        return
    by_test = partial(smd_from_t, difference.estimate / difference.se, n_a, n_b)
    if is_of_changes(result, links):
        standardise_changes(found, rows, results, sides, links, (result,), lambda: difference, by_test)
    else:
        found.attempt((result,), by_test)


def is_of_changes(result: Result, links: Links) -> bool:
    """Whether a comparison is one of changes over a training period, and not of figures at one time."""
    return result.timepoint == Timepoint.OVER and not links.vocabulary.constructs[links.construct].acute


def compare_means(
    found: Found, rows: StudyRows, results: Printed, a: Condition, b: Condition, links: Links
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
    found: Found, rows: StudyRows, results: Printed, a: Condition, b: Condition, links: Links
) -> None:
    """A printed t, where nothing else gives a standardised difference."""
    for result in results.results:
        ends = (result.condition_id, result.comparator_id)
        if "smd" in found.effects or ends not in ((a.id, b.id), (b.id, a.id)):
            continue
        changes = is_of_changes(result, links)
        r = links.assumed("between changes" if changes else "between conditions") if found.within else None
        n = [people_of(result, side, rows) if result.n is None else side.n for side in (a, b)]
        try:
            effect = effect_from_test(result, n[0], n[1], r)
            if effect is not None and changes:
                effect = convert_from_sd_of_change(effect, links.assumed("pre-post"))
        except NumberProblem as problem:
            found.reasons.append(str(problem))
            continue
        if effect is not None:
            found.keep(effect.swapped() if ends == (b.id, a.id) else effect, result)
