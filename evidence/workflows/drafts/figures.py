"""The numbers of a study or claim that a text may tell: printed ones, and what follows from two of them."""

import math
from collections.abc import Iterable

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Appraisal, Result
from evidence.vocabulary.terms import Statistic
from evidence.workflows.drafts.knowledge import CORRELATION, SMD, Figure

PRINTED = {
    Statistic.MEAN.value: "mean",
    Statistic.MEDIAN.value: "mean",
    Statistic.CHANGE.value: "change",
    Statistic.PERCENT_CHANGE.value: "percent_change",
    Statistic.DIFFERENCE.value: "change",
    Statistic.PERCENT_POINTS.value: "points",
    Statistic.SMD.value: "estimate",
    Statistic.RATIO.value: "estimate",
    Statistic.CORRELATION.value: "estimate",
}

SCALES = {Statistic.SMD.value: SMD, Statistic.CORRELATION.value: CORRELATION}  # without a unit of their own


def figures_of_study(rows: StudyRows) -> tuple[Figure, ...]:
    """Printed numbers of a study, changes and percents within each condition, and differences between two."""
    names = {c.id: (c.printed or c.key) for c in rows.conditions}
    found: list[Figure] = []
    grouped: dict[tuple[int, str | None], list[Result]] = {}
    for result in rows.results:
        grouped.setdefault((result.outcome_id, result.region), []).append(result)
    units = {o.id: o.unit for o in rows.outcomes}
    for (outcome, _region), results in grouped.items():
        unit = units.get(outcome, "")
        for result in results:
            found += printed_figures(result, names[result.condition_id], unit)
        changes = within_figures(results, names, unit)
        found += changes
        found += between_figures(results, changes, names, unit)
    return tuple(dict.fromkeys(found))


def printed_figures(result: Result, name: str, unit: str) -> Iterable[Figure]:
    """One result as printed."""
    where = f"{name}, {result.locator}"
    if result.events is not None and result.n:
        yield Figure(100 * result.events / result.n, "per_hundred", "in 100", where, name)
        yield Figure(result.events, "events", "", where, name)
    if result.value is not None and result.statistic in PRINTED:
        kind = PRINTED[result.statistic]
        told = SCALES.get(result.statistic) or result.printed_unit or unit
        yield Figure(result.value, kind, told, where, name)
    for bound in (result.low, result.high):
        if bound is not None:
            yield Figure(bound, "bound", unit, where, name)


def within_figures(results: list[Result], names: dict[int | None, str], unit: str) -> list[Figure]:
    """Change and percent change of each condition, from its first time point to its last."""
    made: list[Figure] = []
    by_side: dict[int, dict[str, Result]] = {}
    for r in results:
        if r.statistic == Statistic.MEAN and r.value is not None:
            by_side.setdefault(r.condition_id, {})[r.timepoint] = r
    for side, held in by_side.items():
        pre, post = held.get("pre"), held.get("post") or held.get("follow-up")
        if pre is None or post is None or pre.value is None or post.value is None:
            continue
        where = f"{names[side]}, {post.locator}"
        made.append(Figure(post.value - pre.value, "change", unit, where, names[side]))
        if pre.value:
            percent = 100 * (post.value - pre.value) / abs(pre.value)
            made.append(Figure(percent, "percent_change", "%", where, names[side]))
    return made


def between_figures(
    results: list[Result], changes: list[Figure], names: dict[int | None, str], unit: str
) -> Iterable[Figure]:
    """Points and relative percent between each two conditions, of their means and of their changes."""
    acute = [
        Figure(r.value, "mean", unit, f"{names[r.condition_id]}, {r.locator}", names[r.condition_id])
        for r in results
        if r.statistic == Statistic.MEAN and r.value is not None and r.timepoint in ("acute", "over")
    ]
    percents = [c for c in changes if c.kind == "percent_change"]
    percents += [
        Figure(r.value, "percent_change", "%", f"{names[r.condition_id]}, {r.locator}", names[r.condition_id])
        for r in results
        if r.statistic == Statistic.PERCENT_CHANGE and r.value is not None
    ]
    rates = [
        Figure(100 * r.events / r.n, "per_hundred", "in 100", names[r.condition_id], names[r.condition_id])
        for r in results
        if r.events is not None and r.n
    ]
    absolute = [c for c in changes if c.kind == "change"]
    for held in (acute, percents, rates, absolute):
        for one, other in pairs(held):
            text = f"{one.side} against {other.side}"
            kind = "difference" if held is absolute else "points"
            yield Figure(abs(one.value - other.value), kind, one.unit, text)
            if held is absolute:
                continue
            for top, base in ((one, other), (other, one)):
                if base.value:
                    relative = 100 * (top.value - base.value) / abs(base.value)
                    kind = "relative" if held is not percents else "relative_change"
                    yield Figure(abs(relative), kind, "%", f"{top.side} relative to {base.side}")


def pairs(figures: list[Figure]) -> Iterable[tuple[Figure, Figure]]:
    """Each two figures of different sides."""
    for i, one in enumerate(figures):
        for other in figures[i + 1 :]:
            if one.side != other.side:
                yield one, other


def figures_of_claim(appraisal: Appraisal | None) -> tuple[Figure, ...]:
    """The pooled estimate and its interval, as people read them."""
    if appraisal is None or appraisal.estimate is None:
        return ()
    metric = appraisal.metric or ""
    values = [appraisal.estimate, appraisal.low, appraisal.high]
    kinds = ["estimate", "bound", "bound"]
    made = []
    for value, kind in zip(values, kinds, strict=True):
        if value is None:
            continue
        made.append(Figure(value, kind, metric, "the pooled figure"))
        if metric in ("log_ratio_of_means", "log_risk_ratio", "log_odds_ratio", "log_rate_ratio"):
            shown = "relative" if kind == "estimate" else "bound"
            made.append(Figure(abs(100 * math.expm1(value)), shown, "%", "the pooled figure"))
            made.append(Figure(math.exp(value), kind, "ratio", "the pooled figure"))
        if metric == "fisher_z":
            made.append(Figure(math.tanh(value), kind, CORRELATION, "the pooled figure"))
    return tuple(made)
