"""A printed figure followed to what is computed with: where it stands, who read it, and each conversion on the way.

Which figures stand behind an effect is found by leaving one out at a time: a figure without which the effect is
another one was used.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Result
from evidence.errors import NumberProblem
from evidence.statistics.effect import Assumption, Step, Summary
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Statistic
from evidence.workflows.effects.contrasts import Contrast, build_contrast
from evidence.workflows.effects.effects_found import people_of
from evidence.workflows.effects.printed import summarise
from evidence.workflows.relevance.contributions import StudyEvidence

CONVERTIBLE = (Statistic.MEAN, Statistic.MEDIAN, Statistic.CHANGE, Statistic.PERCENT_CHANGE)


@dataclass(frozen=True, slots=True)
class TracedFigure:
    """One printed figure. `mean`, `sd`, `n`: as computed with, None where the paper's own comparison is used."""

    study: str
    result: str
    what: str
    printed: str
    unit: str
    statistic: str
    spread: str
    place: str
    read_from: str
    read_by: str
    read_on: str
    verified_by: str | None
    table: str
    cell: str
    line: str  # of the raw table in which the cell stands
    note: str
    n: int | None
    n_from: str
    mean: float | None
    sd: float | None
    problem: str  # why it cannot be computed with
    conversions: tuple[Step, ...]
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True, slots=True)
class TracedCorrelation:
    """A correlation that was printed, or computed from individual data, between two figures."""

    a: str
    b: str
    r: float
    origin: str
    place: str


def trace_figure(result: Result, rows: StudyRows, vocabulary: Vocabulary) -> TracedFigure:
    """A printed figure with its place, its reader, and what it is converted to."""
    conditions = {c.id: c for c in rows.conditions}
    condition = conditions[result.condition_id]
    n = people_of(result, condition, rows)
    table = next((t for t in rows.raw_tables if t.id == result.raw_table_id), None)
    summary: Summary | None = None
    problem = ""
    conversions: tuple[Step, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    if result.comparator_id is None and result.statistic in CONVERTIBLE:
        try:
            converted = summarise(result, n)
            summary, conversions, assumptions = converted.summary, converted.steps, converted.assumptions
        except NumberProblem as cannot:
            problem = str(cannot)
    outcome = next(o for o in rows.outcomes if o.id == result.outcome_id)
    return TracedFigure(
        study=rows.study.key,
        result=result.key,
        what=name_figure(result, conditions, vocabulary),
        printed=result.printed,
        unit=result.printed_unit or outcome.unit,
        statistic=result.statistic.replace("_", " "),
        spread=result.spread_kind,
        place=result.locator,
        read_from=result.read_from,
        read_by=result.read_by,
        read_on=result.read_at.date().isoformat(),
        verified_by=result.verified_by,
        table=table.name if table else "",
        cell=result.raw_cell or "",
        line=raw_line(table.text, result.raw_cell) if table else "",
        note=result.note or "",
        n=n,
        n_from=origin_of_people(result, condition, rows),
        mean=summary.mean if summary else None,
        sd=summary.sd if summary else None,
        problem=problem,
        conversions=conversions,
        assumptions=assumptions,
    )


def name_figure(result: Result, conditions: dict[int | None, Condition], vocabulary: Vocabulary) -> str:
    """What a figure is of: condition, region, time."""
    condition = conditions[result.condition_id]
    name = condition.printed or condition.key
    if result.comparator_id is not None:
        other = conditions[result.comparator_id]
        name = f"{name} against {other.printed or other.key}"
    known = vocabulary.regions.get(result.region or "")
    parts = [name, known.name if known else result.region or "", result.timepoint_label or result.timepoint]
    return ", ".join(part for part in parts if part)


def origin_of_people(result: Result, condition: Condition, rows: StudyRows) -> str:
    """Where the number of people behind a figure comes from."""
    if result.n is not None:
        return "printed with it"
    if condition.n is not None:
        return "its condition's"
    return "analysed in its group" if people_of(result, condition, rows) is not None else "not known"


def raw_line(text: str, cell: str | None) -> str:
    """The line of a raw table that a cell ("line 3, column 2") stands in, with tabs made visible as bars."""
    words = (cell or "").replace(",", " ").split()
    lines = text.splitlines()
    if (
        len(words) < 2
        or words[0] != "line"
        or not words[1].isdecimal()
        or not 0 < int(words[1]) <= len(lines)
    ):
        return ""
    return " | ".join(part.strip() for part in lines[int(words[1]) - 1].split("\t"))


def figures_behind(evidence: StudyEvidence, contrast: Contrast, scale: str) -> tuple[Result, ...]:
    """The printed results without which the effect (or the bare estimate) on a scale would be another, or none."""
    if len(contrast.figures) < 2:
        return contrast.figures
    rows, figures = evidence.rows, contrast.figures
    keys = {r.key for r in figures}
    used = tuple(r for r in figures if not same_outcome(evidence, contrast, scale, without(rows, {r.key})))
    rest = keys - {r.key for r in used}
    # Twins (the same figure twice) can each stand in for the other: then all that was looked at is shown.
    return used if used and same_outcome(evidence, contrast, scale, without(rows, rest)) else figures


def without(rows: StudyRows, keys: set[str]) -> StudyRows:
    """A study without some of its results."""
    return replace(rows, results=tuple(r for r in rows.results if r.key not in keys))


def same_outcome(evidence: StudyEvidence, contrast: Contrast, scale: str, rows: StudyRows) -> bool:
    """Whether fewer results give the very same figure on the scale."""
    again = build_contrast(
        rows, contrast.exercise, contrast.comparator, contrast.outcome, contrast.region, evidence.links
    )
    if again is None:
        return False
    if scale in contrast.effects:
        return again.effects.get(scale) == contrast.effects[scale]
    return again.bare.get(scale) == contrast.bare.get(scale)


def trace_correlations(rows: StudyRows, used: Sequence[Result]) -> tuple[TracedCorrelation, ...]:
    """Stored correlations between figures that are used."""
    keys = {r.id: r.key for r in used}
    return tuple(
        TracedCorrelation(keys[c.result_a_id], keys[c.result_b_id], c.r, c.origin, c.locator)
        for c in rows.correlations
        if c.result_a_id in keys and c.result_b_id in keys
    )


def show_figure(value: float) -> str:
    """A figure to six places, with a real minus sign."""
    return f"{value:.6g}".replace("e-", "e\N{MINUS SIGN}").replace("-", "\N{MINUS SIGN}")
