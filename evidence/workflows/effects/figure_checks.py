"""Printed figures of the catalogue held against each other: a hint to look at the source, never a judgement."""

import re
from collections.abc import Callable, Iterator

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, list_studies, study_rows_of
from evidence.catalogue.tables import Result
from evidence.errors import SteelyardError
from evidence.statistics import integrity, integrity_intervals, integrity_reports
from evidence.statistics.integrity import Finding
from evidence.vocabulary.terms import ReadFrom, Spread, Statistic, Timepoint
from evidence.workflows.effects.checking import CheckFinding
from evidence.workflows.effects.comparison_checks import check_compared, list_compared, shown
from evidence.workflows.effects.effects_found import people_of

NUMBER = r"([-−+]?\d*\.?\d+)"
T_TEST = re.compile(rf"\bt\s*\(\s*{NUMBER}\s*\)\s*=\s*{NUMBER}", re.IGNORECASE)
F_TEST = re.compile(rf"\bF\s*\(\s*{NUMBER}\s*,\s*{NUMBER}\s*\)\s*=\s*{NUMBER}")
FEWEST_FOR_SPREADS = (
    10  # of fewer, an SD doubles by chance more than once in twenty (F = 4 on 8 and 8 df, by both tails)
)
P_VALUE = re.compile(r"^\s*p?\s*([<>=≤≥]?)\s*(0?\.\d+)\s*$", re.IGNORECASE)


def check_figures(catalogue: Catalogue) -> list[CheckFinding]:
    """Every study's figures, recomputed and compared where the paper printed enough."""
    with catalogue.reading() as session:
        studies = study_rows_of(session, list_studies(session))
    return [
        CheckFinding(finding.severity.value, where, told(finding))
        for rows in studies
        for where, finding in check_study(rows)
    ]


def told(finding: Finding) -> str:
    """A finding with its arithmetic."""
    steps = "; ".join(f"{s.name}: {s.formula} = {s.value:.4g}" for s in finding.arithmetic)
    return f"{finding.text} [{steps}]" if steps else finding.text


def check_study(rows: StudyRows) -> tuple[tuple[str, Finding], ...]:
    """What one study's figures say of each other, each with its place; worked out once for a reading of the study."""
    if "checks" not in rows.worked_out:
        rows.worked_out["checks"] = tuple(run_checks(rows))
    found: tuple[tuple[str, Finding], ...] = rows.worked_out["checks"]
    return found


def run_checks(rows: StudyRows) -> Iterator[tuple[str, Finding]]:
    """Every check on one study's figures."""
    for group in rows.people:
        if group.analysed is not None and group.recruited is not None:
            where = f"{rows.study.key}, {group.key}"
            yield from kept(where, integrity_reports.check_people, group.analysed, group.recruited)
    conditions = {c.id: c for c in rows.conditions}
    for result in rows.results:
        where = f"{rows.study.key}, {result.key} ({result.locator})"
        yield from kept(where, check_test, result)
        yield from kept(where, check_limits, result)
        yield from kept(where, check_as_printed, result)
        n = people_of(result, conditions[result.condition_id], rows)
        yield from kept(where, check_spread, result, n, rows)
    yield from check_changes(rows)
    yield from check_spreads_over_time(rows)
    for compared in list_compared(rows):
        where = f"{rows.study.key}, {compared.result.key} ({compared.result.locator})"
        yield from kept(where, check_compared, compared)
    copies = {
        f"{r.region or ''} {conditions[r.condition_id].key} {r.timepoint} ({r.key})": (
            shown(r.value),
            shown(r.spread),
        )
        for r in rows.results
        if r.value is not None and r.spread is not None
    }
    for finding in integrity_reports.check_copies(copies):
        yield rows.study.key, finding


def kept(where: str, check: Callable[..., Finding | None], *figures: object) -> Iterator[tuple[str, Finding]]:
    """A check's finding with its place; figures that a check cannot work with are left alone."""
    try:
        finding = check(*figures)
    except SteelyardError:
        return
    if finding is not None:
        yield where, finding


def check_test(result: Result) -> Finding | None:
    """A printed p against its test statistic and degrees of freedom."""
    p = P_VALUE.match(result.p or "")
    if p is None or not result.test:
        return None
    operator = {"": "=", "≤": "<", "≥": ">"}.get(p[1], p[1])
    if found := T_TEST.search(result.test):
        return integrity.check_p_value(
            "t", found[2].replace("−", "-"), p[2], df2=float(found[1]), operator=operator
        )
    if found := F_TEST.search(result.test):
        return integrity.check_p_value(
            "F", found[3], p[2], df1=float(found[1]), df2=float(found[2]), operator=operator
        )
    return None


def check_limits(result: Result) -> Finding | None:
    """An estimate against the interval printed around it."""
    if result.value is None or result.low is None or result.high is None or result.spread_kind == Spread.IQR:
        return None
    if result.statistic == Statistic.MEDIAN or result.spread_kind == Spread.RANGE:
        return None
    figures = (shown(x) for x in (result.value, result.low, result.high))
    return integrity_intervals.check_interval_centre(
        *figures,
        ratio=result.statistic == Statistic.RATIO,
        correlation=result.statistic == Statistic.CORRELATION,
        standardised=result.statistic == Statistic.SMD,
        bootstrap="bootstrap" in (result.note or "").casefold(),
    )


def check_as_printed(result: Result) -> Finding | None:
    """The figure computed with against the cell as printed: one of the two was mistyped."""
    if result.value is None or result.read_from == ReadFrom.DATA:
        return None
    digits = result.printed.replace("\N{MINUS SIGN}", "-").replace("\N{EN DASH}", "-")
    figures = [float(text.replace(",", ".")) for text in re.findall(r"\d+(?:[.,]\d+)?", digits)]
    whole = re.sub(r"(?<=\d)[ ,\u2009\u00a0](?=\d{3})", "", digits)  # 1,234 and 1 234 as one figure
    joined = [float(text) for text in re.findall(r"\d+(?:\.\d+)?", whole)]
    if not figures or any(abs(abs(result.value) - number) < 1e-9 for number in (*figures, *joined)):
        return None
    text = f"{shown(result.value)} is used, and {result.printed!r} is what stands in the paper."
    return integrity.tell(
        "as printed", integrity.Severity.WARNING, text, value=result.value, printed=result.printed
    )


def check_spread(result: Result, n: int | None, rows: StudyRows) -> Finding | None:
    """An SD that looks like a standard error."""
    usable = result.value is not None and result.spread and n and n > 1
    if not usable or result.spread_kind != Spread.SD or result.statistic != Statistic.MEAN:
        return None
    unit = next(o.unit for o in rows.outcomes if o.id == result.outcome_id)
    assert result.value is not None and result.spread is not None and n is not None
    return integrity_reports.check_spread(result.value, result.spread, n, unit=unit)


def check_changes(rows: StudyRows) -> Iterator[tuple[str, Finding]]:
    """Mean changes against after minus before."""
    cells = {
        (r.outcome_id, r.condition_id, r.region, r.timepoint, r.statistic): r
        for r in rows.results
        if r.comparator_id is None and r.value is not None
    }
    for (outcome, condition, region, _, statistic), change in cells.items():
        if statistic != Statistic.CHANGE:
            continue
        before = cells.get((outcome, condition, region, Timepoint.PRE, Statistic.MEAN))
        after = cells.get((outcome, condition, region, Timepoint.POST, Statistic.MEAN))
        if (
            before
            and after
            and before.value is not None
            and after.value is not None
            and change.value is not None
        ):
            figures = tuple(shown(x) for x in (before.value, after.value, change.value))
            where = f"{rows.study.key}, {change.key} ({change.locator})"
            yield from kept(where, integrity_reports.check_change, *figures)


def check_spreads_over_time(rows: StudyRows) -> Iterator[tuple[str, Finding]]:
    """The spread before against the spread after, of the same people and thing, where the mean stays about the same.

    A spread rightly follows its mean (pain that goes away), and few people give any spread: both are left alone.
    """
    conditions = {c.id: c for c in rows.conditions}
    before = {place_of_spread(r): r for r in rows.results if has_spread_at(r, Timepoint.PRE)}
    for after in rows.results:
        start = before.get(place_of_spread(after)) if has_spread_at(after, Timepoint.POST) else None
        n = people_of(after, conditions[after.condition_id], rows)
        if start is None or n is None or n < FEWEST_FOR_SPREADS or not is_near(start.value, after.value):
            continue
        where = f"{rows.study.key}, {after.key} ({after.locator})"
        spreads = (shown(start.spread), shown(after.spread))
        yield from kept(where, integrity_reports.check_spread_change, *spreads)


def place_of_spread(result: Result) -> tuple[object, ...]:
    """What two spreads must share to be of the same people and thing."""
    people = (result.condition_id, result.people_id, result.n)
    return (result.outcome_id, result.region, result.spread_kind, *people)


def has_spread_at(result: Result, time: Timepoint) -> bool:
    """Whether the SD or SE of one condition's mean is printed for this time."""
    mean = result.comparator_id is None and result.statistic == Statistic.MEAN
    return mean and result.timepoint == time and bool(result.spread) and result.spread_kind in ("SD", "SE")


def is_near(start: float | None, end: float | None) -> bool:
    """Whether two means, both above 0, differ by less than half of the smaller."""
    return start is not None and end is not None and 0 < max(start, end) < 1.5 * min(start, end)
