"""Individual data: one row per person and condition, before and after, summed up as a paper would have printed it.

What a study file can hold is means, SDs, n and correlations; these are computed here from the people who
have them all, and marked as computed. The data file itself is not stored.
"""

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from evidence.errors import BadInput
from evidence.reading.files import open_input
from evidence.reading.study_draft import CorrelationDraft, Problem, ResultDraft
from evidence.vocabulary.terms import ReadFrom, Spread, Statistic, Timepoint

ORIGIN = "computed from individual data"
_MISSING = {"", "na", "nan", "n/a", "null", ".", "-"}


@dataclass(frozen=True, slots=True)
class Roles:
    """Which column holds what. `conditions` maps the words in the condition column to condition keys of the study.

    `pre` None: the figures were taken once (`post` then holds them, at `timepoint`). Rows whose `keep` column does not
    hold one of `kept` are left out.
    """

    subject: str
    condition: str
    post: str
    pre: str | None = None
    conditions: dict[str, str] = field(default_factory=dict)
    timepoint: Timepoint = Timepoint.ACUTE
    keep: str | None = None
    kept: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DataSummary:
    """What individual data come to: results and correlations ready for a study, and what was left out.

    With `pre`: per condition the means before and after, the mean change and the mean percent change; correlations of
    before with after in each condition, and of the changes and of the percent changes between conditions.
    """

    results: tuple[ResultDraft, ...]
    correlations: tuple[CorrelationDraft, ...]
    warnings: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class _Person:
    pre: float | None
    post: float


def read_data_table(
    path: Path | str, roles: Roles, *, outcome: str, region: str | None = None, locator: str | None = None
) -> DataSummary:
    """Sum up a CSV file of individual data. BadInput with the line for a missing column, a word, a row given twice."""
    source = open_input(path)
    where = locator or f"open data, {Path(path).name}"
    return summarise_data(source.text, roles, outcome=outcome, region=region, locator=where, name=source.name)


def summarise_data(
    text: str, roles: Roles, *, outcome: str, region: str | None = None, locator: str, name: str = "data"
) -> DataSummary:
    """Sum up the text of a table of individual data (comma, semicolon or tab between columns)."""
    people, warnings = _read_people(text, roles, name)
    results: list[ResultDraft] = []
    correlations: list[CorrelationDraft] = []
    for condition, rows in people.items():
        base = _Base(outcome, region, condition, locator)
        results += _summarise_condition(base, list(rows.values()), roles)
        if roles.pre is not None:
            pairs = [(p.pre, p.post) for p in rows.values() if p.pre is not None]
            key = (base.key(Timepoint.PRE), base.key(Timepoint.POST))
            correlations += _correlate(*key, pairs, locator)
    correlations += _correlate_conditions(people, roles, outcome, region, locator)
    return DataSummary(tuple(results), tuple(correlations), tuple(warnings))


@dataclass(frozen=True, slots=True)
class _Base:
    """What the results of one condition share."""

    outcome: str
    region: str | None
    condition: str
    locator: str

    def key(self, timepoint: Timepoint, statistic: Statistic = Statistic.MEAN) -> str:
        kind = "" if statistic is Statistic.MEAN else statistic.value
        return ".".join(p for p in (self.outcome, self.region, self.condition, timepoint.value, kind) if p)

    def result(self, values: Sequence[float], timepoint: Timepoint, statistic: Statistic) -> ResultDraft:
        mean, sd = _mean_and_sd(values)
        shown = f"{mean:.4g}" if sd is None else f"{mean:.4g} (SD {sd:.4g})"
        return ResultDraft(
            key=self.key(timepoint, statistic),
            outcome=self.outcome,
            condition=self.condition,
            printed=f"{shown}, n = {len(values)}",
            region=self.region,
            timepoint=timepoint,
            statistic=statistic,
            value=mean,
            spread=sd,
            spread_kind=Spread.NONE if sd is None else Spread.SD,
            n=len(values),
            printed_unit="%" if statistic is Statistic.PERCENT_CHANGE else None,
            locator=self.locator,
            read_from=ReadFrom.DATA,
            note=ORIGIN,
        )


def _summarise_condition(base: _Base, people: Sequence[_Person], roles: Roles) -> list[ResultDraft]:
    after = [p.post for p in people]
    if roles.pre is None:
        return [base.result(after, roles.timepoint, Statistic.MEAN)]
    before = [p.pre for p in people if p.pre is not None]
    change = [b - a for a, b in zip(before, after, strict=True)]
    results = [
        base.result(before, Timepoint.PRE, Statistic.MEAN),
        base.result(after, Timepoint.POST, Statistic.MEAN),
        base.result(change, Timepoint.OVER, Statistic.CHANGE),
    ]
    if all(value > 0 for value in before):
        percent = [100 * (b - a) / a for a, b in zip(before, after, strict=True)]
        results.append(base.result(percent, Timepoint.OVER, Statistic.PERCENT_CHANGE))
    return results


def _correlate_conditions(
    people: dict[str, dict[str, _Person]], roles: Roles, outcome: str, region: str | None, locator: str
) -> list[CorrelationDraft]:
    """Between every two conditions, over the people who did both."""
    found: list[CorrelationDraft] = []
    names = list(people)
    for number, one in enumerate(names):
        for other in names[number + 1 :]:
            both = [(people[one][s], people[other][s]) for s in people[one] if s in people[other]]
            a, b = _Base(outcome, region, one, locator), _Base(outcome, region, other, locator)
            if roles.pre is None:
                keys = (a.key(roles.timepoint), b.key(roles.timepoint))
                found += _correlate(*keys, [(p.post, q.post) for p, q in both], locator)
                continue
            for statistic in (Statistic.CHANGE, Statistic.PERCENT_CHANGE):
                pairs = [(_change(p, statistic), _change(q, statistic)) for p, q in both]
                if all(x is not None and y is not None for x, y in pairs):
                    keys = (a.key(Timepoint.OVER, statistic), b.key(Timepoint.OVER, statistic))
                    found += _correlate(
                        *keys, [(x, y) for x, y in pairs if x is not None and y is not None], locator
                    )
    return found


def _change(person: _Person, statistic: Statistic) -> float | None:
    if person.pre is None:
        return None
    if statistic is Statistic.CHANGE:
        return person.post - person.pre
    return 100 * (person.post - person.pre) / person.pre if person.pre > 0 else None


def _correlate(a: str, b: str, pairs: Sequence[tuple[float, float]], locator: str) -> list[CorrelationDraft]:
    """Pearson's r of pairs, where there are three or more and both vary."""
    if len(pairs) < 3:
        return []
    mean_x, mean_y = (math.fsum(values) / len(pairs) for values in zip(*pairs, strict=True))
    xx = math.fsum((x - mean_x) ** 2 for x, _ in pairs)
    yy = math.fsum((y - mean_y) ** 2 for _, y in pairs)
    if xx <= 0 or yy <= 0:
        return []
    r = math.fsum((x - mean_x) * (y - mean_y) for x, y in pairs) / math.sqrt(xx) / math.sqrt(yy)
    return [CorrelationDraft(a, b, max(-1.0, min(1.0, r)), ORIGIN, locator)]


def _mean_and_sd(values: Sequence[float]) -> tuple[float, float | None]:
    """Mean and sample SD (divisor n - 1); no SD of one value."""
    mean = math.fsum(values) / len(values)
    if len(values) < 2:
        return mean, None
    return mean, math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1))


def _read_people(text: str, roles: Roles, name: str) -> tuple[dict[str, dict[str, _Person]], list[Problem]]:
    """People by condition and subject; rows with a missing figure are left out and told."""
    first = text.lstrip("\n").split("\n", 1)[0]
    separator = max((",", ";", "\t"), key=first.count)
    reader = csv.DictReader(text.splitlines(), delimiter=separator)
    _check_columns(reader.fieldnames or (), roles, name)
    people: dict[str, dict[str, _Person]] = {}
    warnings: list[Problem] = []
    for row in reader:
        where = f"{name}, line {reader.line_num}"
        if roles.keep and (row.get(roles.keep) or "").strip() not in roles.kept:
            continue
        subject, word = (row[roles.subject] or "").strip(), (row[roles.condition] or "").strip()
        condition = roles.conditions.get(word) if roles.conditions else word
        if not subject or condition is None or not condition:
            warnings.append(Problem("a row without a person or a known condition was left out", where))
            continue
        figures = {c: _figure(row.get(c), where, c) for c in (roles.pre, roles.post) if c}
        if any(value is None for value in figures.values()):
            warnings.append(Problem(f"{subject}: a figure is missing, the row was left out", where))
            continue
        rows = people.setdefault(condition, {})
        if subject in rows:
            raise BadInput(
                f'"{subject}" stands twice under "{word}".',
                where=where,
                hint="One row per person and condition.",
            )
        post = figures[roles.post]
        assert post is not None
        rows[subject] = _Person(figures[roles.pre] if roles.pre else None, post)
    if not people:
        raise BadInput("no row could be used.", where=name, hint="Check the roles of the columns.")
    return people, warnings


def _check_columns(names: Sequence[str], roles: Roles, name: str) -> None:
    wanted = [c for c in (roles.subject, roles.condition, roles.pre, roles.post, roles.keep) if c]
    missing = [c for c in wanted if c not in names]
    if missing:
        known = ", ".join(names)
        raise BadInput(
            f'there is no column "{missing[0]}".', where=f"{name}, line 1", hint=f"Columns: {known}."
        )


def _figure(text: str | None, where: str, column: str) -> float | None:
    plain = (text or "").strip()
    if plain.casefold() in _MISSING:
        return None
    try:
        value = float(plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(
            f'{column} holds "{plain}", which is no figure.', where=where, hint="Correct or empty the cell."
        )
    return value
