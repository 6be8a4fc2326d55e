"""What a trend has to show: the levels of every study as a table, and drawn with the line over all."""

from collections.abc import Sequence

from evidence.appraisal.metrics import Metric, format_interval, format_value
from evidence.appraisal.verdict import Verdict
from evidence.catalogue.tables import Claim
from evidence.publishing.panels import Panel
from evidence.publishing.trend_figure import TrendPlot, TrendStudy
from evidence.workflows.relevance.contributions import name_study
from evidence.workflows.weigh.fitted_trends import Graded, over_step, range_studied


def show_trend(
    claim: Claim,
    graded: Sequence[Graded],
    detail: str,
    step: float,
    told_step: str,
    verdict: Verdict,
    scale: str,
) -> Panel:
    """The levels of every study, each against its lowest; the interval of a line alone is that of the answer.

    `detail`: as people call it; `told_step`: what the figures are told over, in words.
    """
    metric = verdict.metric
    alone = sum(g.curve is not None for g in graded) == 1
    rows = [row for g in graded for row in _rows(g, step, scale, metric, alone)]
    return Panel(
        "Levels",
        f"Each level against the lowest of its study ({metric.unit}), and the line through them {told_step}.",
        ("Study", detail[:1].upper() + detail[1:], "Against the lowest"),
        tuple(rows),
        trend=draw_trend(claim, graded, detail, step, told_step, verdict),
    )


def draw_trend(
    claim: Claim, graded: Sequence[Graded], detail: str, step: float, told_step: str, verdict: Verdict
) -> TrendPlot:
    """The levels of every study, and the line of the answer with its interval."""
    low, high = range_studied(graded)
    slope, least, most = (
        None if figure is None else figure / step for figure in (verdict.estimate, verdict.low, verdict.high)
    )
    return TrendPlot(
        f"Levels behind: {claim.statement}",
        verdict.metric,
        detail,
        tuple(_drawn(g) for g in graded),
        low,
        high,
        step,
        told_step,
        slope,
        least,
        most,
        "brief-trend",
    )


def _drawn(graded: Graded) -> TrendStudy:
    slope = None if graded.curve is None else float(graded.curve.coefficients[0])
    people = 0 if graded.curve is None else graded.curve.people
    return TrendStudy(
        name_study(graded.evidence.rows), people, graded.levels, graded.values, slope, graded.height
    )


def _rows(graded: Graded, step: float, scale: str, metric: Metric, alone: bool) -> list[tuple[str, str, str]]:
    label = name_study(graded.evidence.rows)
    rows = [(label, f"{level:g}", _against(graded, i, metric)) for i, level in enumerate(graded.levels)]
    effect = over_step(graded, step, scale)
    if effect is not None:
        told = format_value(metric, effect.estimate, sign=True)
        told += "" if alone else f" [{format_interval(metric, *effect.interval())}]"
        rows.append((label, f"line, over {step:g}", told))
    return rows


def _against(graded: Graded, place: int, metric: Metric) -> str:
    if place == 0:
        return "lowest level"
    return format_value(metric, graded.values[place] - graded.values[0], sign=True)
