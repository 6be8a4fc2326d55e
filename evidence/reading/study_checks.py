"""What in a study draft contradicts itself, cannot be, or should be looked at."""

import re
from collections.abc import Mapping

from evidence.reading.plain_yaml import Path
from evidence.reading.study_draft import ResultDraft, StudyDraft
from evidence.reading.study_entries import Notes
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Pairing, Spread, Statistic, Timepoint

_COMPARING = {Statistic.DIFFERENCE, Statistic.PERCENT_POINTS, Statistic.RATIO, Statistic.SMD}
_IN_PERCENT = {Statistic.PERCENT_CHANGE, Statistic.PERCENT_POINTS}  # in percent, whatever the outcome's unit
_RATIO_METRICS = {"log_ratio_of_means"}
_P_WORD = re.compile(r"n\.?\s?s\.?|not significant", re.IGNORECASE)
_P_NUMBER = re.compile(r"(?:p\s*)?(?P<sign>[<>=≤≥]{0,2})\s*(?P<number>\d*[.,]?\d+(?:e-\d+)?)", re.IGNORECASE)

LARGEST = 1e12  # no measurement of a person is larger, and its square can still be computed with


def check_study(draft: StudyDraft, places: Mapping[str, Path], vocabulary: Vocabulary, notes: Notes) -> None:
    """Note every problem and warning of a linked draft. `places` gives the path of each result by its key."""
    _check_design(draft, vocabulary, notes)
    _check_people(draft, notes)
    _check_outcomes(draft, vocabulary, notes)
    for result in draft.results:
        path = places.get(result.key, ("results",))
        _check_comparison(result, path, notes)
        _check_numbers(result, path, notes)
        _check_people_counted(draft, result, path, notes)
        _check_outcome_of(draft, result, path, vocabulary, notes)
        if result.p is not None:
            _check_p(result.p, path, notes)
    _check_people_said(draft, places, notes)
    if not draft.results:
        notes.warn((), "the study holds no results yet")


def _check_design(draft: StudyDraft, vocabulary: Vocabulary, notes: Notes) -> None:
    design = vocabulary.designs.get(draft.design)
    if design and design.pairing != "none" and draft.pairing.value != design.pairing:
        notes.warn(
            ("pairing",),
            f'pairing "{draft.pairing.value}" does not go with the design "{design.name}"',
            f"That design implies: {design.pairing}.",
        )
    if design and design.id.startswith("randomised") and draft.randomised == "no":
        notes.problem(
            ("randomised",), f'the design "{design.name}" is said not to be randomised', "Correct one."
        )
    if draft.pairing is Pairing.NONE and len(draft.conditions) > 1:
        notes.warn(("pairing",), "several conditions, and none is paired with or set against another")


def _check_people(draft: StudyDraft, notes: Notes) -> None:
    for number, group in enumerate(draft.people):
        if group.recruited is not None and group.analysed is not None and group.analysed > group.recruited:
            message = f"{group.analysed} analysed, but {group.recruited} recruited"
            notes.warn(("people", number, "analysed"), message, "Check this figure.")
    analysed = {group.key: group.analysed for group in draft.people}
    total = sum(n for n in analysed.values() if n is not None) if None not in analysed.values() else None
    for number, condition in enumerate(draft.conditions):
        most = analysed.get(condition.people) if condition.people else total
        if condition.n is not None and most is not None and condition.n > most > 0:
            message = f"n = {condition.n} in this condition, but {most} people were analysed"
            notes.warn(("conditions", number, "n"), message, "Check this figure.")


def _check_outcomes(draft: StudyDraft, vocabulary: Vocabulary, notes: Notes) -> None:
    for number, outcome in enumerate(draft.outcomes):
        if outcome.construct != "activation":
            continue
        relative = vocabulary.find_unit(outcome.unit)
        if outcome.normalisation == "not stated" and relative is not None and relative.relative:
            notes.warn(
                ("outcomes", number),
                f"{outcome.unit} says the EMG was normalised, not how",
                "Give the normalisation if the paper states it.",
            )


def _check_comparison(result: ResultDraft, path: Path, notes: Notes) -> None:
    if result.statistic in _COMPARING and result.comparator is None:
        notes.problem(path, f"a {result.statistic.value} without a comparator", "Name the other condition.")
    if result.comparator is not None and result.comparator == result.condition:
        notes.problem(path, "a condition is compared with itself", "Name the other condition.")
    single = {Statistic.MEAN, Statistic.MEDIAN, Statistic.CHANGE, Statistic.PERCENT_CHANGE, Statistic.COUNT}
    if result.comparator is not None and result.statistic in single:
        notes.problem(
            path,
            f"a {result.statistic.value} is of one condition, and a comparator is given",
            "Use statistic: difference, percent_points, ratio, smd or test.",
        )
    if result.statistic in (Statistic.CHANGE, Statistic.PERCENT_CHANGE) and result.timepoint is Timepoint.PRE:
        notes.problem(path, "a change at the time before", "Use timepoint: over, or post.")


def _check_numbers(result: ResultDraft, path: Path, notes: Notes) -> None:
    kind = result.spread_kind
    for figure in (result.value, result.spread, result.low, result.high, result.person_time):
        if figure is not None and abs(figure) > LARGEST:
            notes.problem(
                path, f"{figure:g} is larger than any measurement", "Check the figure and its unit."
            )
    if result.spread is not None and result.spread < 0:
        notes.problem(
            path, f"{_word(kind)} is negative ({result.spread:g})", "A spread cannot be below zero."
        )
    if kind is Spread.NOT_STATED:
        notes.warn(
            path, f'what stands behind ± or in brackets in "{result.printed}" is not said', "SD, SE, CI, IQR?"
        )
    if kind in (Spread.CI, Spread.IQR, Spread.RANGE) and result.low is None and result.spread is None:
        notes.problem(path, f"{kind.value} without its two ends", "Give both.")
    if kind in (Spread.SD, Spread.SE) and result.spread is None and result.value is not None:
        notes.warn(
            path, f'"{result.printed}" has no {kind.value}', "Such a figure is shown, but never pooled."
        )
    if result.low is not None and result.high is not None:
        _check_interval(result, result.low, result.high, path, notes)
    if (
        result.value is None
        and result.events is None
        and result.test is None
        and result.p is None
        and result.printed
    ):
        return
    if result.statistic is Statistic.CORRELATION and result.value is not None and abs(result.value) > 1:
        notes.problem(path, f"a correlation of {result.value:g}", "It lies between -1 and 1.")
    if result.statistic is Statistic.RATIO and result.value is not None and result.value <= 0:
        notes.problem(path, f"a ratio of {result.value:g}", "A ratio is above zero.")
    if result.statistic is Statistic.COUNT and result.events is None and result.value is None:
        notes.problem(path, "a count without events", "Give events.")
    if result.statistic is Statistic.TEST and result.test is None and result.p is None:
        notes.problem(path, "a test without its statistic or p", "Give test or p as printed.")
    if result.statistic not in (Statistic.TEST, Statistic.COUNT) and result.value is None:
        notes.problem(path, "value is missing", "Give the figure, or printed.")


def _check_interval(result: ResultDraft, low: float, high: float, path: Path, notes: Notes) -> None:
    if low > high:
        hint = "Perhaps a minus sign was lost, or the ends are swapped: check the source."
        notes.problem(path, f"an interval from {low:g} to {high:g}", hint)
    elif result.value is not None and not low <= result.value <= high:
        message = f"{result.value:g} lies outside its interval {low:g} to {high:g}"
        notes.warn(path, message, "Check this figure.")
    if result.level is None and result.spread_kind not in (Spread.IQR, Spread.RANGE):
        notes.warn(path, "the level of the interval is not said", "95 % is usual: level: 95.")


def people_of(draft: StudyDraft, result: ResultDraft) -> int | None:
    """How many people a figure stands for: said with it, with its condition, or of the one group that did all."""
    if result.n is not None:
        return result.n
    condition = next((c for c in draft.conditions if c.key == result.condition), None)
    if condition is None or condition.n is not None:
        return condition.n if condition else None
    groups = [p.analysed for p in draft.people if p.key == condition.people or len(draft.people) == 1]
    alone = len(groups) == 1 and (draft.pairing is Pairing.WITHIN or condition.people is not None)
    return groups[0] if alone else None


def _check_people_said(draft: StudyDraft, places: Mapping[str, Path], notes: Notes) -> None:
    """One warning for all means of which it is not known how many people stand behind them, at the first of them."""
    unsaid = [r for r in draft.results if r.statistic is Statistic.MEAN and people_of(draft, r) is None]
    if unsaid:
        several = f" for {len(unsaid)} results" if len(unsaid) > 1 else ""
        path = places.get(unsaid[0].key, ("results",))
        notes.warn(path, f"n is not said{several}", "Give n with the condition or the result.")


def _check_people_counted(draft: StudyDraft, result: ResultDraft, path: Path, notes: Notes) -> None:
    n = people_of(draft, result)
    if n == 0:
        notes.problem(path, "n is 0", "A result rests on at least one person.")
    if n == 1 and result.spread is not None:
        notes.problem(path, f"n is 1, and {_word(result.spread_kind)} is given", "One person has no spread.")
    elif n == 1:
        notes.warn(path, "n is 1", "Such a result cannot be pooled.")
    if result.events is not None and result.person_time is None and n is not None and result.events > n:
        hint = "Where people can have several, give person_time."
        notes.problem(path, f"{result.events} events among {n} people", hint)


def _check_outcome_of(
    draft: StudyDraft, result: ResultDraft, path: Path, vocabulary: Vocabulary, notes: Notes
) -> None:
    outcome = next((o for o in draft.outcomes if o.key == result.outcome), None)
    if outcome is None:
        return
    if result.printed_unit is not None:
        stated, own = vocabulary.find_unit(outcome.unit), vocabulary.find_unit(result.printed_unit)
        same = result.statistic in _IN_PERCENT and own is not None and own.quantity.startswith("percent")
        same = same or (
            stated is own if stated and own else result.printed_unit.strip() == outcome.unit.strip()
        )
        if not same:
            notes.problem(
                path,
                f'unit "{result.printed_unit}" in the outcome "{outcome.key}", which is in "{outcome.unit}"',
                "Make it an outcome of its own.",
            )
    construct = vocabulary.constructs.get(outcome.construct)
    metric = (
        construct.metric_within
        if construct and draft.pairing is Pairing.WITHIN
        else construct and construct.metric
    )
    if (
        result.statistic is Statistic.MEAN
        and result.value is not None
        and result.value <= 0
        and metric in _RATIO_METRICS
    ):
        notes.warn(
            path,
            f"a mean of {result.value:g}: no ratio can be formed with it",
            "The mean difference will be used for this outcome.",
        )


def _check_p(text: str, path: Path, notes: Notes) -> None:
    if _P_WORD.fullmatch(text.strip()):
        return
    found = _P_NUMBER.fullmatch(text.strip())
    value = float(found["number"].replace(",", ".")) if found else None
    if value is None or not 0 <= value <= 1:
        notes.problem(path, f'p is "{text}"', "Write it as printed: 0.040, <0.001, ns.")
    elif value == 0 and found is not None and found["sign"] != ">":
        notes.warn(path, f'p is "{text}"', "No p-value is 0; it is below what was printed.")


def _word(kind: Spread) -> str:
    return "the spread" if kind in (Spread.NONE, Spread.NOT_STATED) else f"the {kind.value}"
