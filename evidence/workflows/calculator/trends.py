"""The calculator's trends: an outcome over a graded detail (angle, load, range), within studies and pooled."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evidence.errors import BadInput
from evidence.statistics.conditions import join_different_people, join_same_people
from evidence.statistics.correlations import Correlation, given
from evidence.statistics.effect import Metric, Summary, derive
from evidence.statistics.trend import Curve, Direction, Shape, fit_conditions, pool_curves
from evidence.vocabulary import Vocabulary
from evidence.workflows.calculator.answers import usual_correlation
from evidence.workflows.calculator.computing import Figure, Grid, Worked, read_numbers, read_people
from evidence.workflows.calculator.tables import Sheet, read_sheet
from evidence.workflows.calculator.text import show_number

SHAPES = {"line": Shape.LINEAR, "quadratic": Shape.QUADRATIC, "restricted-cubic": Shape.SPLINE}
SCALES = {"percent": Metric.LOG_RATIO_OF_MEANS, "difference": Metric.MEAN_DIFFERENCE}
_SOURCE = "Greenland & Longnecker 1992; Crippa & Orsini 2016"


@dataclass(frozen=True, slots=True)
class TrendQuestion:
    """Levels typed ("30=45.2 8.1 14") or a file with level, mean, sd and n; the design; scale and shape."""

    typed: tuple[str, ...] = ()
    file: Path | None = None
    same_people: bool = False
    r: float | None = None
    outcome: str | None = None
    scale: str = "percent"
    shape: str = "line"


@dataclass(frozen=True, slots=True)
class Levels:
    """The levels of one study with the summaries at each."""

    study: str
    levels: tuple[float, ...]
    summaries: tuple[Summary, ...]


def compute_trend(asked: TrendQuestion, vocabulary: Vocabulary) -> Worked:
    """Fit each study, pool where there are several, and say what the range studied allows.

    Raises:
        BadInput: levels missing or unreadable, an unknown scale or shape. NumberProblem: too few levels.
    """
    if asked.scale not in SCALES:
        raise BadInput(
            f"There is no scale {asked.scale!r}.", where="--scale", hint=f"Choose {', '.join(SCALES)}."
        )
    if asked.shape not in SHAPES:
        raise BadInput(
            f"There is no shape {asked.shape!r}.", where="--shape", hint=f"Choose {', '.join(SHAPES)}."
        )
    if (asked.file is None) == (not asked.typed):
        raise BadInput(
            "Give either a file or levels.",
            hint='Write --at "30=45.2 8.1 14" for each level (LEVEL=MEAN SD N), or name a CSV with level, mean, sd, n.',
        )
    studies = _read_typed(asked.typed) if asked.file is None else _read_file(read_sheet(asked.file))
    link = _link(asked, vocabulary)
    curve = _fit(studies, asked, link)
    grids = [_changes(curve, asked, studies)]
    cautions = [*curve.notes]
    if link is not None and not link.printed:
        others = [(r, _fit(studies, asked, given(r))) for r in link.grid]
        grids.append(_varied(others, asked))
        if len({one.direction() for _, one in others}) > 1:
            cautions.append("What can be said of the direction depends on the assumed correlation.")
    cautions.append(f"Nothing is known below {curve.lowest:g} or above {curve.highest:g}.")
    distinct = {level for study in studies for level in study.levels}
    if SHAPES[asked.shape] is Shape.LINEAR:
        cautions.append(
            "A straight line was taken; with four levels or more also try --shape quadratic."
            if len(distinct) >= 4
            else "Too few levels to see whether the trend is straight."
        )
    return Worked(
        "trend over levels",
        _say(curve, asked),
        _figures(curve, asked),
        tuple(grids),
        (
            derive(
                "slope" if curve.shape is Shape.LINEAR else "first coefficient",
                "(X'V⁻¹X)⁻¹X'V⁻¹y",
                _SOURCE,
                float(curve.coefficients[0]),
            ),
            derive(
                "standard error",
                "√ of the diagonal of (X'V⁻¹X)⁻¹",
                _SOURCE,
                math.sqrt(float(curve.covariance[0, 0])),
            ),
        ),
        curve.assumptions,
        tuple(cautions),
    )


def _fit(studies: Sequence[Levels], asked: TrendQuestion, link: Correlation | None) -> Curve:
    metric, shape = SCALES[asked.scale], SHAPES[asked.shape]
    curves = []
    for study in studies:
        joined = (
            join_same_people(study.summaries, link, metric=metric)
            if link is not None
            else join_different_people(study.summaries, metric=metric)
        )
        curves.append(fit_conditions(study.levels, joined, shape=shape))
    return pool_curves(curves)


def _link(asked: TrendQuestion, vocabulary: Vocabulary) -> Correlation | None:
    if not asked.same_people:
        if asked.r is not None:
            raise BadInput(
                "A correlation belongs to the same people at several levels.",
                where="--r",
                hint="Add --same-people.",
            )
        return None
    return usual_correlation(asked.r, asked.outcome, vocabulary, "between conditions")


def _read_typed(typed: Sequence[str]) -> list[Levels]:
    levels, summaries = [], []
    for text in typed:
        level, sign, rest = text.partition("=")
        if not sign:
            raise BadInput(
                f"{text!r} names no level.",
                where="--at",
                hint='Write --at "30=45.2 8.1 14" (LEVEL=MEAN SD N).',
            )
        levels.append(read_numbers("--at", level, ("level",))[0])
        mean, sd, n = read_numbers("--at", rest, ("mean", "sd", "n"))
        summaries.append(Summary(mean, sd, read_people("--at", n)))
    return [Levels("typed", tuple(levels), tuple(summaries))]


def _read_file(sheet: Sheet) -> list[Levels]:
    found = {}
    for role in ("level", "mean", "sd", "n"):
        heading = sheet.find(role)
        if heading is None:
            raise BadInput(
                f"No column looks like the {role} among {', '.join(sheet.headings)}.",
                where=sheet.name,
                hint="A trend needs the columns level, mean, sd and n (and study where there are several).",
            )
        found[role] = sheet.numbers(heading)
    study = sheet.find("study")
    names = sheet.columns[study] if study else ("typed",) * len(sheet.lines)
    studies = []
    for name in dict.fromkeys(names):
        rows = [i for i, one in enumerate(names) if one == name]
        studies.append(
            Levels(
                name,
                tuple(found["level"][i] for i in rows),
                tuple(
                    Summary(
                        found["mean"][i],
                        found["sd"][i],
                        read_people(f"{sheet.name}, line {sheet.lines[i]}", found["n"][i]),
                    )
                    for i in rows
                ),
            )
        )
    return studies


def _say(curve: Curve, asked: TrendQuestion) -> str:
    where = f"from {curve.lowest:g} to {curve.highest:g}"
    studies = "" if curve.studies == 1 else f" ({curve.studies} studies)"
    if curve.lowest >= curve.highest:
        return f"The studies share no range of levels{studies}."
    change, low, high = (_shown(x, asked) for x in curve.change(curve.lowest, curve.highest))
    size = f"{show_number(change)}{_unit(asked)} ({show_number(low)} to {show_number(high)})"
    direction = curve.direction()
    if direction is Direction.RISES:
        return f"Rises {where}{studies}: {size} over that range."
    if direction is Direction.FALLS:
        return f"Falls {where}{studies}: {size} over that range."
    return f"Neither a rise nor a fall can be told all the way {where}{studies}: {size} between the ends."


def _figures(curve: Curve, asked: TrendQuestion) -> tuple[Figure, ...]:
    figures = []
    if curve.shape is Shape.LINEAR and curve.lowest + 1 <= curve.highest:
        values = [_shown(x, asked) for x in curve.change(curve.lowest, curve.lowest + 1)]
        figures.append(Figure("per unit of the level", values[0], values[1], values[2], _unit(asked).strip()))
    bend = curve.nonlinearity()
    if bend is not None:
        figures.append(Figure("p that it is a straight line", bend[2]))
    if curve.q_df > 0:
        from evidence.statistics.quantiles import chi2_tail

        name = "p that the levels lie on the trend" if curve.studies == 1 else "p that the studies agree (Q)"
        figures.append(Figure(name, chi2_tail(curve.q, curve.q_df)))
    return tuple(figures)


def _changes(curve: Curve, asked: TrendQuestion, studies: Sequence[Levels]) -> Grid:
    levels = sorted({level for study in studies for level in study.levels})
    inside = [level for level in levels if curve.lowest <= level <= curve.highest]
    if len(inside) > 8:
        inside = [float(x) for x in np.linspace(curve.lowest, curve.highest, 7)]
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (f"{level:g}", *(_shown(x, asked) for x in curve.change(curve.lowest, level))) for level in inside[1:]
    )
    return Grid(
        f"Against the level {curve.lowest:g}, in {_unit(asked).strip() or 'units'}",
        ("level", "change", "low", "high"),
        rows,
    )


def _varied(others: Sequence[tuple[float, Curve]], asked: TrendQuestion) -> Grid:
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (f"{r:g}", *(_shown(x, asked) for x in one.change(one.lowest, one.highest)), one.direction().value)
        for r, one in others
    )
    return Grid(
        "With the correlation varied", ("r", "change over the range", "low", "high", "direction"), rows
    )


def _shown(value: float, asked: TrendQuestion) -> float:
    return 100 * math.expm1(value) if asked.scale == "percent" else value


def _unit(asked: TrendQuestion) -> str:
    return " %" if asked.scale == "percent" else ""
