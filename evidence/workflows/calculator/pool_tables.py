"""Tables of effects for the calculator: what stands for the estimate, its uncertainty and its study."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput
from evidence.statistics.effect import Step, critical_value, derive
from evidence.statistics.heterogeneity import ESTIMATORS
from evidence.statistics.network import find_look_alikes
from evidence.workflows.calculator.computing import require_inside
from evidence.workflows.calculator.tables import Sheet, read_sheet
from evidence.workflows.calculator.text import show_number


@dataclass(frozen=True, slots=True)
class PoolQuestion:
    """The columns asked for (None: found by their usual names) and what to do with them."""

    file: Path
    estimate: str | None = None
    variance: str | None = None
    se: str | None = None
    low: str | None = None
    high: str | None = None
    study: str | None = None
    arm: str | None = None
    label: str | None = None
    ratio: bool = False
    by: str | None = None
    moderators: tuple[str, ...] = ()
    leave_one_out: bool = False
    as_independent: bool = False
    rho: float | None = None
    method: str = "REML"

    @property
    def tau2_method(self) -> str | None:
        """The estimator of tau²; None for the common-effect model."""
        known = {name.casefold(): name for name in ESTIMATORS}
        return None if self.method.casefold() == "common" else known.get(self.method.casefold(), self.method)


@dataclass(frozen=True, slots=True)
class PoolTable:
    """Effects ready to be pooled; ratios are logarithms. `studies` is None when the file has no such column."""

    name: str
    sheet: Sheet
    labels: tuple[str, ...]
    estimates: tuple[float, ...]
    variances: tuple[float, ...]
    studies: tuple[str, ...] | None
    arms: tuple[str, ...] | None
    ratio: bool
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]

    @property
    def repeats(self) -> bool:
        """Whether a study gives more than one result."""
        return self.studies is not None and len(set(self.studies)) < len(self.studies)

    def say(self, value: float, low: float, high: float) -> str:
        """An effect with its interval; ratios as ratios."""
        shown = [show_number(math.exp(x) if self.ratio else x) for x in (value, low, high)]
        return f"{shown[0]} ({shown[1]} to {shown[2]})"


def read_pool_table(asked: PoolQuestion) -> PoolTable:
    """Find the columns and turn what stands for uncertainty into variances.

    Raises:
        BadInput: a column missing or unclear, a cell that is no number.
    """
    sheet = read_sheet(asked.file)
    if not sheet.lines:
        raise BadInput(
            "There is no row under the headings.", where=sheet.name, hint="Add at least one result."
        )
    place = sheet.find("estimate", asked.estimate)
    if place is None:
        raise BadInput(
            f"No column looks like the estimate among {', '.join(sheet.headings)}.",
            where=sheet.name,
            hint="Name it with --estimate COLUMN.",
        )
    values = sheet.numbers(place)
    if asked.ratio:
        values = tuple(_log(value, sheet, i, place) for i, value in enumerate(values))
    variances, step, cautions = _read_variances(sheet, asked, values)
    study = sheet.find("study", asked.study)
    arm = sheet.find("arm", asked.arm) if study is not None else None
    label = sheet.find("label", asked.label)
    studies = _named(sheet, study)
    labels = tuple(
        " · ".join(part for part in (a, b) if part)
        for a, b in zip(
            studies or ("",) * len(values),
            sheet.columns[label] if label else ("",) * len(values),
            strict=True,
        )
    )
    labels = tuple(text or f"row {n}" for n, text in enumerate(labels, 1))
    if studies:
        cautions += tuple(
            f"{a!r} and {b!r} have nearly the same name: are they one study?"
            for a, b in find_look_alikes(studies)
        )
    else:
        cautions += (
            "No column names the study: every row was taken as a study of its own (--study COLUMN).",
        )
    return PoolTable(
        sheet.name,
        sheet,
        labels,
        values,
        variances,
        studies,
        _named(sheet, arm),
        asked.ratio,
        (step,),
        cautions,
    )


def _read_variances(
    sheet: Sheet, asked: PoolQuestion, values: Sequence[float]
) -> tuple[tuple[float, ...], Step, tuple[str, ...]]:
    variance, se = sheet.find("variance", asked.variance), sheet.find("se", asked.se)
    low, high = sheet.find("low", asked.low), sheet.find("high", asked.high)
    where = f"column {variance or se or low}"
    if variance is not None and (asked.variance or not asked.se):
        found = sheet.numbers(variance)
        step = derive("sampling variance", "as given", where, found[0])
    elif se is not None:
        found = tuple(one**2 for one in sheet.numbers(se))
        if any(one < 0 for one in sheet.numbers(se)):
            raise BadInput(
                "A standard error is negative.", where=f"{sheet.name}, column {se}", hint="Check the signs."
            )
        step = derive("sampling variance", "SE²", where, found[0])
    elif low is not None and high is not None:
        limits = list(zip(sheet.numbers(low), sheet.numbers(high), strict=True))
        found = tuple(_from_limits(sheet, i, pair, asked.ratio) for i, pair in enumerate(limits))
        for i, (value, (a, b)) in enumerate(zip(values, limits, strict=True)):
            printed = math.exp(value) if asked.ratio else value
            inside = a <= printed <= b or math.isclose(printed, a) or math.isclose(printed, b)
            if not inside:
                require_inside(printed, a, b, f"{sheet.name}, line {sheet.lines[i]}")
        formula = "((ln high − ln low)/(2·1.96))²" if asked.ratio else "((high − low)/(2·1.96))²"
        step = derive("sampling variance", formula, "Cochrane Handbook 6.3.1", found[0])
        off = [
            i
            for i, (value, (a, b)) in enumerate(zip(values, limits, strict=True))
            if abs(value - (_scale(a, asked.ratio) + _scale(b, asked.ratio)) / 2)
            > 0.05 * (_scale(b, asked.ratio) - _scale(a, asked.ratio))
        ]
        said = ["The intervals were taken as 95 %, built with the normal distribution."]
        if off:
            rows = ", ".join(str(sheet.lines[i]) for i in off[:5])
            ask = "" if asked.ratio else " Are they ratios? Then add --ratio."
            said.append(f"Estimates off the middle of their intervals (line {rows}): check them.{ask}")
        return found, step, tuple(said)
    else:
        raise BadInput(
            f"No column holds a variance, standard error or interval among {', '.join(sheet.headings)}.",
            where=sheet.name,
            hint="Name it with --variance, --se, or --low and --high.",
        )
    for i, value in enumerate(found):
        if value <= 0:
            raise BadInput(
                f"The variance is {value:g}; it must be above 0.",
                where=f"{sheet.name}, line {sheet.lines[i]}",
                hint="Check the figure, or take the row out.",
            )
    return found, step, ()


def _from_limits(sheet: Sheet, i: int, pair: tuple[float, float], ratio: bool) -> float:
    low, high = pair
    if low >= high or (ratio and low <= 0):
        raise BadInput(
            f"{low:g} to {high:g} is no interval.",
            where=f"{sheet.name}, line {sheet.lines[i]}",
            hint="A minus sign may have been lost, or the columns be swapped.",
        )
    return ((_scale(high, ratio) - _scale(low, ratio)) / (2 * critical_value(0.95))) ** 2


def _scale(value: float, ratio: bool) -> float:
    return math.log(value) if ratio else value


def _log(value: float, sheet: Sheet, i: int, heading: str) -> float:
    if value <= 0:
        raise BadInput(
            f"A ratio of {value:g} has no logarithm.",
            where=f"{sheet.name}, line {sheet.lines[i]}, column {heading}",
            hint="Leave --ratio out if these are differences or logarithms.",
        )
    return math.log(value)


def _named(sheet: Sheet, heading: str | None) -> tuple[str, ...] | None:
    if heading is None:
        return None
    cells = sheet.columns[heading]
    if "" in cells:
        line = sheet.lines[cells.index("")]
        raise BadInput(f"The column {heading} is empty.", where=f"{sheet.name}, line {line}", hint="Name it.")
    return cells
