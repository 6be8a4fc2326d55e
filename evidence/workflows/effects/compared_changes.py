"""Two conditions compared by what changed in each: means before and after, changes as printed, and their yardstick.

Standardised differences stand in SDs before training. Where only the SD of the changes is known they are put on that
yardstick by the correlation before to after (Morris & DeShon 2002), which is told and varied; never pooled as they are.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Result
from evidence.errors import NumberProblem
from evidence.statistics import independent, paired, prepost
from evidence.statistics.conversions import correlation_from_sds
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import Effect, Metric
from evidence.statistics.yardsticks import convert_from_sd_of_change, standardise_by_sds_before
from evidence.vocabulary.terms import Statistic, Timepoint
from evidence.workflows.effects.effects_found import Found, Printed, note_bare, pick_result, same_people
from evidence.workflows.effects.links import Links


def compare_before_and_after(
    found: Found, rows: StudyRows, results: Printed, a: Condition, b: Condition, links: Links
) -> None:
    """Means before and after in both conditions: difference of the changes."""
    cells: dict[tuple[str, Timepoint], Result] = {}
    for side, condition in (("a", a), ("b", b)):
        for time in (Timepoint.PRE, Timepoint.POST):
            result = pick_result(results, condition, Statistic.MEAN, time)
            if result is None:
                return
            cells[side, time] = result
    arms: dict[str, prepost.Arm] = {}
    for side, condition in (("a", a), ("b", b)):
        before, after = cells[side, Timepoint.PRE], cells[side, Timepoint.POST]
        try:
            start, end = same_people(
                found.summary_of(before, condition, rows), found.summary_of(after, condition, rows)
            )
            arms[side] = prepost.Arm(start, end, link_of_arm(found, rows, results, condition, links))
        except NumberProblem as problem:
            found.reasons.append(str(problem))
            return
    used = list(cells.values())
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
    found: Found, rows: StudyRows, results: Printed, condition: Condition, links: Links
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


def link_of_changes(results: Printed, a: Condition, b: Condition, links: Links) -> Correlation:
    """The correlation between the changes of two limbs or periods: printed with the changes, or assumed."""
    for statistic in (Statistic.CHANGE, Statistic.PERCENT_CHANGE):
        one, other = (pick_result(results, side, statistic, Timepoint.OVER) for side in (a, b))
        if one is not None and other is not None:
            return links.between(one, other, "between changes")
    return links.assumed("between changes")


def compare_changes(
    found: Found,
    rows: StudyRows,
    results: Printed,
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
    difference: Callable[[], Effect]
    in_changes: Callable[[], Effect]
    if found.within:
        pair = same_people(*pair)
        r = links.between(one, other, "between changes")
        difference = partial(paired.mean_difference, *pair, r)
        in_changes = partial(paired.standardised_mean_difference, *pair, r)
    else:
        difference = partial(independent.mean_difference, *pair)
        in_changes = partial(independent.standardised_mean_difference, *pair)
    found.attempt(used, difference, called=called)
    if not percent:
        standardise_changes(found, rows, results, (a, b), links, used, difference, in_changes)


def standardise_changes(
    found: Found,
    rows: StudyRows,
    results: Printed,
    sides: tuple[Condition, Condition],
    links: Links,
    used: Sequence[Result],
    difference: Callable[[], Effect],
    in_changes: Callable[[], Effect],
) -> None:
    """A difference of changes in SDs before training: by those that were printed, else by the correlation."""
    if "smd" in found.effects:
        return
    before = [pick_result(results, side, Statistic.MEAN, Timepoint.PRE) for side in sides]
    one, other = before
    if one is not None and other is not None:
        try:
            a, b = (found.summary_of(r, side, rows) for r, side in ((one, sides[0]), (other, sides[1])))
            same = found.within
            found.keep(
                standardise_by_sds_before(difference(), a.sd, a.n, b.sd, b.n, same_people=same), *used, one, other
            )  # fmt: skip
            return
        except NumberProblem as problem:
            found.reasons.append(str(problem))
    found.attempt(used, lambda: convert_from_sd_of_change(in_changes(), links.assumed("pre-post")))
