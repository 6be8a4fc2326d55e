"""The data of a figure as comma-separated rows (RFC 4180): what was drawn, as numbers and as the figure tells it.

Numbers are on the scale that is named; those of a logged scale (a ratio, a percent difference) are natural logs.
"""

import csv
import io
from collections.abc import Iterable, Sequence

from evidence.appraisal.metrics import Metric
from evidence.publishing.briefs import Brief, brief_forest
from evidence.publishing.figures import tell_row, tell_summary
from evidence.publishing.rankings import Ranking, tell_exercise
from evidence.publishing.sheets import quote_formula
from evidence.publishing.sources import tell_invented

Value = str | float | int | None


def forest_csv(brief: Brief) -> str:
    """The studies of a forest plot, and under them what they come to."""
    plot = brief_forest(brief)
    head = ("study", "n", "estimate", "low", "high", "weight", "as told", "risk of bias", "note")
    rows: list[Sequence[Value]] = [
        (r.label, r.n, r.estimate, r.low, r.high, r.weight, tell_row(plot.metric, r), s.bias, r.note)
        for r, s in zip(plot.rows, brief.studies, strict=True)
    ]
    if plot.summary:
        s = plot.summary
        rows.append((s.label, s.n, s.estimate, s.low, s.high, None, tell_summary(plot), "", ""))
        if s.prediction_low is not None:
            rows.append(
                ("Prediction interval", None, None, s.prediction_low, s.prediction_high, None, "", "", "")
            )
    return write_rows(
        brief.statement,
        plot.metric,
        tell_invented(brief.invented, brief.made_up),
        brief.made.line,
        head,
        rows,
    )


def ranking_csv(ranking: Ranking) -> str:
    """The exercises of a ranking, part by part, each against the comparator of its part."""
    head = (
        "part", "exercise", "against", "estimate", "low", "high", "studies with both", "rank low", "rank high",
        "mean rank", "P-score", "as told",
    )  # fmt: skip
    rows: list[Sequence[Value]] = [
        (
            number, e.name, part.comparator, e.estimate, e.low, e.high, e.k_direct, e.rank_low, e.rank_high,
            e.mean_rank, e.p_score, tell_exercise(ranking.metric, e),
        )
        for number, part in enumerate(ranking.parts, 1)
        for e in part.exercises
    ]  # fmt: skip
    return write_rows(
        ranking.title,
        ranking.metric,
        tell_invented(ranking.invented, ranking.made_up),
        ranking.made.line,
        head,
        rows,
    )


def write_rows(
    title: str,
    metric: Metric,
    invented: str,
    made: str,
    head: Sequence[str],
    rows: Iterable[Sequence[Value]],
) -> str:
    """The rows under their heading, and after a blank one what they are of; text never starts a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([[told(value) for value in row] for row in rows])
    writer.writerow([])
    scale = f"Scale: {metric.unit}" + ("; numbers are natural logs of ratios" if metric.logged else "")
    for line in (title, scale, *([invented] if invented else []), made):
        writer.writerow([quote_formula(line)])
    return out.getvalue()


def told(value: Value) -> str | float | int:
    """A cell: numbers to six figures, text safe to open, nothing for what is not there."""
    if value is None:
        return ""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    return quote_formula(value) if isinstance(value, str) else value
