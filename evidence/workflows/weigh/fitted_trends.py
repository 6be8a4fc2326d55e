"""A line through the levels of each study, by generalised least squares: what a claim of a trend rests on."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evidence.catalogue.tables import Condition
from evidence.errors import NumberProblem
from evidence.statistics.effect import Effect, Metric, Step
from evidence.statistics.trend import Curve, fit_curve
from evidence.workflows.effects.study_results import by_place
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import StudyEvidence
from evidence.workflows.relevance.ranked_studies import Block, join_pairs

Floats = NDArray[np.floating[Any]]
NUMBER = re.compile(r"[-\N{MINUS SIGN}]?\d+(?:\.\d+)?")
METRICS = {
    "log_ratio_of_means": Metric.LOG_RATIO_OF_MEANS,
    "smd": Metric.SMD,
    "mean_difference": Metric.MEAN_DIFFERENCE,
}


@dataclass(frozen=True, slots=True)
class Graded:
    """A study's line over the levels of a detail; `levels` and `values` of its conditions, in rising order.

    `height`: of the line at the lowest level, on the scale of `values`.
    """

    evidence: StudyEvidence
    curve: Curve | None
    levels: tuple[float, ...]
    values: tuple[float, ...]
    reason: str = ""
    height: float | None = None


def read_level(condition: Condition, detail: str) -> float | None:
    """The level of a detail as a number: "70", "70 degrees", "70 % 1RM"; None where there is none or no number."""
    held = {**condition.dose, **condition.details}.get(detail)
    if held is None or isinstance(held, bool):
        return None
    if isinstance(held, int | float):
        return float(held)
    match = NUMBER.search(str(held))
    return float(match.group().replace("\N{MINUS SIGN}", "-")) if match else None


def levels_of(bearing: Bearing, detail: str) -> dict[int | None, float]:
    """The level of each condition that has one; empty where all have the same."""
    found = {
        side.condition.id: level
        for side in bearing.exercise_sides
        if (level := read_level(side.condition, detail)) is not None
    }
    return found if len(set(found.values())) > 1 else {}


def only_levels(bearing: Bearing, detail: str) -> Bearing:
    """The study with only the conditions that have a level."""
    levels = levels_of(bearing, detail)
    rows = bearing.rows
    kept = tuple(c for c in rows.conditions if c.id in levels)
    return replace(bearing, rows=replace(rows, conditions=kept))


def fit_study(evidence: StudyEvidence, detail: str, scale: str) -> Graded:
    """A line through the levels of one study: the mean of its outcomes and regions where it has several."""
    levels = {c.id: x for c in evidence.rows.conditions if (x := read_level(c, detail)) is not None}
    blocks: list[Block] = []
    reasons: list[str] = []
    for group in by_place(evidence.contrasts):
        try:
            block = join_pairs(group, scale, 1.0, evidence)
        except NumberProblem as problem:
            reasons.append(str(problem))
            continue
        if block is not None and len({levels[c.id] for c in block.conditions}) > 1:
            blocks.append(block)
    if not blocks:
        why = "; ".join(dict.fromkeys(reasons)) or "no spread was printed, so no line can be fitted"
        return Graded(evidence, None, (), (), why)
    curve = join_curves([fit_block(block, levels) for block in blocks], evidence)
    shown = join_levels(blocks)
    order = sorted(range(len(shown.conditions)), key=lambda i: levels[shown.conditions[i].id])
    held = tuple(levels[shown.conditions[i].id] for i in order)
    values = tuple(float(shown.levels[i]) for i in order)
    slope = float(curve.coefficients[0])
    rest = shown.levels - slope * np.array([levels[c.id] for c in shown.conditions])
    return Graded(evidence, curve, held, values, height=fit_height(rest, open_up(shown)) + slope * held[0])


def join_levels(blocks: Sequence[Block]) -> Block:
    """The levels that are shown: their mean over outcomes and regions with the same conditions; else the first's."""
    first = blocks[0]
    alike = [b for b in blocks if [c.id for c in b.conditions] == [c.id for c in first.conditions]]
    return replace(first, levels=np.mean([b.levels for b in alike], axis=0))


def fit_block(block: Block, levels: Mapping[int | None, float]) -> Curve:
    """The line of one outcome and region."""
    held = [levels[c.id] for c in block.conditions]
    return fit_curve(held, block.levels, open_up(block), people=block.people)


def open_up(block: Block) -> Floats:
    """The covariance of levels that stand around their mean, with the direction that it lacks.

    Adding any constant to it changes no difference between levels, and none of the slope.
    """
    size = len(block.conditions)
    return block.covariance + float(np.trace(block.covariance)) / size * np.ones((size, size))


def fit_height(rest: Floats, covariance: Floats) -> float:
    """The height of a line whose slope has been taken off its levels: their mean, weighted by their covariance."""
    weights = np.linalg.solve(covariance, np.ones(rest.size))
    return float(weights @ rest / weights.sum())


def join_curves(curves: Sequence[Curve], evidence: StudyEvidence) -> Curve:
    """Lines of several outcomes or regions of the same people as their mean, with the correlation assumed."""
    if len(curves) == 1:
        return curves[0]
    rho = evidence.links.assumed("results of one study").value
    errors = np.sqrt([float(c.covariance[0, 0]) for c in curves])
    joint = np.outer(errors, errors) * rho
    np.fill_diagonal(joint, errors**2)
    slope = float(np.mean([float(c.coefficients[0]) for c in curves]))
    variance = float(joint.sum()) / len(curves) ** 2
    return replace(curves[0], coefficients=np.array([slope]), covariance=np.array([[variance]]))


def over_step(graded: Graded, step: float, scale: str) -> Effect | None:
    """The change over a step of the detail as an effect."""
    if graded.curve is None:
        return None
    slope = float(graded.curve.coefficients[0])
    variance = float(graded.curve.covariance[0, 0]) * step**2
    told = Step(
        "slope times the step",
        "b · step; variance: step² · var(b)",
        (("b", slope), ("step", step)),
        slope * step,
        "generalised least squares on the levels",
    )
    metric = METRICS.get(scale, Metric.MEAN_DIFFERENCE)
    return Effect(metric, slope * step, variance, graded.curve.people or None, None, (told,))


def range_studied(graded: Sequence[Graded]) -> tuple[float, float]:
    """The lowest and the highest level of any study that has a line; of all where none has one."""
    levels = [x for g in graded if g.curve is not None for x in g.levels] or [
        x for g in graded for x in g.levels
    ]
    return (min(levels), max(levels)) if levels else (0.0, 0.0)
