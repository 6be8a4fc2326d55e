"""Events compared: among the people of two groups, or over their exposure time."""

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Result
from evidence.errors import NumberProblem
from evidence.statistics import counts
from evidence.vocabulary.terms import Statistic, Timepoint
from evidence.workflows.effects.effects_found import Found, Printed, people_of, pick_result

TIMES = (Timepoint.OVER, Timepoint.POST, Timepoint.FOLLOW_UP, Timepoint.ACUTE)
SAME_PEOPLE = (
    "The same people stand on both sides, and how many had the event on both is not known: two such counts cannot be "
    "compared like those of two groups. Enter the paper's own ratio with its interval."
)


def compare_counts(found: Found, rows: StudyRows, results: Printed, a: Condition, b: Condition) -> None:
    """Counts of both conditions: rates where the exposure time was printed, shares where the people are known."""
    for time in TIMES:
        one, other = (pick_result(results, side, Statistic.COUNT, time) for side in (a, b))
        if one is not None and other is not None:
            compare_two(found, rows, (one, a), (other, b))
            return


def compare_two(
    found: Found, rows: StudyRows, one: tuple[Result, Condition], other: tuple[Result, Condition]
) -> None:
    """Two counts, on every scale that what was printed beside them allows."""
    used = (one[0], other[0])
    missing = [r.printed for r in used if r.events is None]
    if missing:
        found.reasons.append(f"{', '.join(missing)}: how many events is not known.")
        return
    if found.within:
        found.reasons.append(SAME_PEOPLE)
        return
    times = [r.person_time for r in used]
    people = [people_of(result, side, rows) for result, side in (one, other)]
    if None in times and None in people:
        both = f"{used[0].printed} against {used[1].printed}"
        found.reasons.append(f"{both}: neither the people nor the exposure time is known on both sides.")
        return
    try:
        if None not in times:
            rates = [counts.Rate(r.events or 0, r.person_time or 0.0) for r in used]
            for compare in (counts.log_rate_ratio, counts.rate_difference):
                found.attempt(used, compare, *rates)
        if None not in people:
            shares = [counts.Events(r.events or 0, n or 0) for r, n in zip(used, people, strict=True)]
            for of_people in (counts.log_risk_ratio, counts.log_odds_ratio, counts.risk_difference):
                found.attempt(used, of_people, *shares)
    except NumberProblem as problem:
        found.reasons.append(str(problem))
