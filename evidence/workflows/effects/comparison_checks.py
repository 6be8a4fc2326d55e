"""A comparison's printed test against the means that it compares: only where the test can be no other than theirs."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Result
from evidence.statistics import integrity, integrity_t
from evidence.statistics.integrity import Finding, Printed
from evidence.vocabulary.terms import Pairing, Spread, Statistic, Timepoint
from evidence.workflows.effects.effects_found import people_of

NUMBER = r"([-\N{MINUS SIGN}+]?\d*\.?\d+)"
# The whole cell is the test: words beside it tell of adjustment, interaction or a model that the means do not show.
T_ALONE = re.compile(rf"t\s*\(\s*{NUMBER}\s*\)\s*=\s*{NUMBER}", re.IGNORECASE)
F_ALONE = re.compile(rf"F\s*\(\s*1\s*,\s*{NUMBER}\s*\)\s*=\s*{NUMBER}")


@dataclass(frozen=True, slots=True)
class Compared:
    """A printed comparison, the two cells it compares, their people, and whether the study has no other condition."""

    result: Result
    cells: tuple[Result, Result]
    people: tuple[int, int]
    same_people: bool
    only_two: bool


def list_compared(rows: StudyRows) -> Iterator[Compared]:
    """The printed comparisons of a study whose two means, with spread and people, are printed too."""
    conditions = {c.id: c for c in rows.conditions}
    for result in rows.results:
        if result.comparator_id is None or result.test is None:
            continue
        sides = conditions[result.condition_id], conditions[result.comparator_id]
        cells = [find_cell(rows, result, side) for side in sides]
        if cells[0] is None or cells[1] is None or is_of_change(rows, result):
            continue
        people = [people_of(cell, side, rows) for cell, side in zip(cells, sides, strict=True) if cell]
        if people[0] is None or people[1] is None:
            continue
        same = rows.study.pairing == Pairing.WITHIN
        yield Compared(result, (cells[0], cells[1]), (people[0], people[1]), same, len(rows.conditions) == 2)


def find_cell(rows: StudyRows, result: Result, side: Condition) -> Result | None:
    """The mean (over a period: the mean change) of one side of a comparison, where it has an SD or an SE."""
    wanted = Statistic.CHANGE if result.timepoint == Timepoint.OVER else Statistic.MEAN
    place = (result.outcome_id, result.region, result.timepoint, result.timepoint_label)
    for cell in rows.results:
        its_place = (cell.outcome_id, cell.region, cell.timepoint, cell.timepoint_label)
        of_side = cell.condition_id == side.id and cell.comparator_id is None and its_place == place
        usable = cell.value is not None and cell.spread and cell.spread_kind in (Spread.SD, Spread.SE)
        if of_side and usable and cell.statistic == wanted:
            return cell
    return None


def is_of_change(rows: StudyRows, result: Result) -> bool:
    """Whether a test after training may be one of the changes: where figures from before were printed too."""
    return result.timepoint != Timepoint.OVER and any(
        r.timepoint == Timepoint.PRE and (r.outcome_id, r.region) == (result.outcome_id, result.region)
        for r in rows.results
    )


def check_compared(compared: Compared) -> Finding | None:
    """The printed t, or F with 1 degree of freedom, against the df that the people give, then against the means."""
    (one, other), (n_a, n_b) = compared.cells, compared.people
    read = read_test(compared.result.test or "")
    if read is None or one.spread_kind != other.spread_kind:
        return None
    df, t = read
    if compared.same_people and n_a != n_b:
        return None
    most = n_a - 1 if compared.same_people else n_a + n_b - 2
    welch = not compared.same_people and df != int(df) and df < most
    if df != most and not welch:
        return check_people_of_t(compared, df)
    a, b = (
        (shown(cell.value), shown(cell.spread), n) for cell, n in zip((one, other), (n_a, n_b), strict=True)
    )
    check = integrity_t.check_paired_t if compared.same_people else integrity_t.check_summary_t
    return check(a, b, t, se=one.spread_kind == Spread.SE)


def check_people_of_t(compared: Compared, df: float) -> Finding | None:
    """The df of a t against the people; left alone where other conditions or a model may have lent it theirs."""
    if not compared.only_two or not T_ALONE.match((compared.result.test or "").strip()):
        return None
    groups = compared.people[:1] if compared.same_people else compared.people
    return integrity.check_df(df, groups, paired=compared.same_people)


def read_test(text: str) -> tuple[float, Printed] | None:
    """Degrees of freedom and t of a cell that is a t test, or an F with 1 above (its root), and nothing else."""
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    if found := T_ALONE.fullmatch(text):
        return float(found[1]), integrity.read_printed(found[2])
    if found := F_ALONE.fullmatch(text):
        return float(found[1]), integrity_t.read_root(found[2])
    return None


def shown(value: float | None) -> str:
    """A figure with no more digits than it needs: a lost final zero only widens what counts as agreement."""
    return f"{value or 0:.10g}"
