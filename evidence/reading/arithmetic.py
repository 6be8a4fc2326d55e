"""Arithmetic decides between readings: an estimate lies in its interval, post minus pre is the change, parts
make the whole.

Every repair is shown with what supports it. Where two readings fit, the cell stays doubtful and both are
named.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import product

from evidence.reading.legend import Notes
from evidence.reading.table import ReadCell, Repair, add_doubt
from evidence.vocabulary.terms import Spread, Statistic

_NEAR = 0.06  # of half the width: an interval's middle this close to its estimate is taken to be the estimate
_FAR = 0.15


def decimals(printed: str) -> int:
    """The fewest decimals among the figures of a printed token."""
    found = [len(m.partition(".")[2] or m.partition(",")[2]) for m in re.findall(r"\d+(?:[.,]\d+)?", printed)]
    return min(found, default=0)


def off_centre(value: float, low: float, high: float, slack: float = 0.0) -> float:
    """How far the estimate stands from the middle of its interval, as a share of half its width; 9 when
    outside.
    """
    if not low <= high or not low - slack <= value <= high + slack:
        return 9.0
    half = (high - low) / 2
    distance = max(0.0, abs(value - (low + high) / 2) - slack)
    return distance / half if half else 0.0


def repair_intervals(cells: Sequence[ReadCell], signs_restored: bool) -> tuple[list[ReadCell], list[Repair]]:
    """Signs of estimates and interval ends, where a minus was lost or may have been.

    `signs_restored`: whether minus signs were inferred from a damaged character, so that every interval is
    checked.
    """
    lost = any(_is_reversed(cell) for cell in cells)
    repaired: list[ReadCell] = []
    repairs: list[Repair] = []
    for cell in cells:
        if not _is_estimate(cell):
            repaired.append(cell)
            continue
        new, repair = _repair_interval(cell, lost or signs_restored)
        repaired.append(new)
        repairs += [repair] if repair else []
    return repaired, repairs


def _is_estimate(cell: ReadCell) -> bool:
    whole = cell.value is not None and cell.low is not None and cell.high is not None
    return whole and cell.spread is None and cell.interval_of is None


def _is_reversed(cell: ReadCell) -> bool:
    return _is_estimate(cell) and cell.low is not None and cell.high is not None and cell.low > cell.high


def _repair_interval(cell: ReadCell, suspicious: bool) -> tuple[ReadCell, Repair | None]:
    value, low, high = cell.value, cell.low, cell.high
    assert value is not None and low is not None and high is not None
    slack = 10.0 ** -decimals(cell.printed)
    stray = bool(re.search(r"\d\s?[-–−](?=\s*(?:to|,|;))", cell.printed))
    now = off_centre(value, low, high, slack)
    checked = cell.value_kind in (
        Statistic.CHANGE,
        Statistic.DIFFERENCE,
        Statistic.SMD,
        Statistic.PERCENT_CHANGE,
        Statistic.MEAN,
    )
    if not stray and now < _NEAR:
        return cell, None
    if not stray and now <= 1.0 and not suspicious:
        return _doubt_flip(cell, value, low, high, slack) if checked else (cell, None)
    ways = sorted(
        (off_centre(a * value, b * low, c * high, slack), (a * value, b * low, c * high))
        for a, b, c in product((1, -1), repeat=3)
        if _may_flip(value, a, suspicious) and _may_flip(low, b, True) and _may_flip(high, c, True)
    )
    fitting = [(share, way) for share, way in ways if share <= 1.0]
    best = fitting[0] if fitting else None
    apart = len(fitting) < 2 or fitting[1][0] > _FAR or fitting[1][1] == (best[1] if best else None)
    if best and best[0] < _NEAR and apart and checked:
        new = replace(cell, value=best[1][0], low=best[1][1], high=best[1][2])
        text = f"{_show(*best[1])}"
        return new, Repair(
            "a minus was restored", cell.printed, text, "only so is the estimate the middle of its interval"
        )
    options = list(dict.fromkeys([(value, low, high), *(way for _, way in fitting[:3])]))
    if len(options) < 2:
        options.append((-value, low, high))
    effects = tuple((("value", v), ("low", lo), ("high", hi)) for v, lo, hi in options)
    why = (
        "the estimate is not the middle of its interval"
        if now <= 1.0
        else "the estimate does not lie in its interval"
    )
    return add_doubt(cell, f"{why}: a minus may be lost", [_show(*o) for o in options], effects), None


def _may_flip(figure: float, sign: int, allowed: bool) -> bool:
    """A printed minus stays; a figure without one may have lost it."""
    return sign == 1 or (allowed and figure > 0)


def _doubt_flip(
    cell: ReadCell, value: float, low: float, high: float, slack: float
) -> tuple[ReadCell, Repair | None]:
    """An interval that is crooked as printed and would be even with a minus more."""
    for option in ((value, -low, high), (-value, -high, -low)):
        if (
            low > 0
            and option[1] == -low
            and off_centre(*option, slack) < 0.02
            and off_centre(value, low, high, slack) > _FAR
        ):
            effects = tuple(
                (("value", v), ("low", lo), ("high", hi)) for v, lo, hi in ((value, low, high), option)
            )
            shown = [_show(value, low, high), _show(*option)]
            return add_doubt(
                cell, "the interval would be even with a minus before its lower end", shown, effects
            ), None
    return cell, None


def _show(value: float, low: float, high: float) -> str:
    return f"{value:g} ({low:g} to {high:g})".replace("-", "−")


def assign_intervals(cells: Sequence[ReadCell]) -> list[ReadCell]:
    """An interval beside a percent change: of the percent change, or of the change in the outcome's unit?
    Post minus pre decides.
    """
    result = list(cells)
    for column in {c.column for c in cells if c.value_kind is Statistic.PERCENT_CHANGE and c.low is not None}:
        members = [i for i, c in enumerate(result) if c.column == column and c.low is not None]
        pairs = []
        for i in members:
            cell, change = result[i], _change_beside(result, i)
            if cell.value is None or cell.low is None or cell.high is None or change is None:
                continue
            slack = 0.2 * 10.0 ** -decimals(cell.printed)
            pairs.append(
                (
                    off_centre(change, cell.low, cell.high, slack),
                    off_centre(cell.value, cell.low, cell.high, slack),
                )
            )
        of_change, of_percent = sum(c for c, _ in pairs), sum(p for _, p in pairs)
        if (
            pairs
            and len(pairs) >= 0.6 * len(members)
            and max(c for c, _ in pairs) < 0.1
            and of_percent > 3 * of_change + 0.05
        ):
            chosen: Statistic | None = Statistic.CHANGE
        elif pairs and max(p for _, p in pairs) < 0.3 and of_change > 3 * of_percent + 0.05:
            continue
        else:
            chosen = None
        for i in members:
            if chosen is not None:
                result[i] = replace(result[i], interval_of=chosen)
            elif pairs or off_scale(result[i]):
                result[i] = add_doubt(
                    result[i], "which figure does the interval belong to?", ("the percent change", "the change in "
                                                                                                   "the outcome's "
                                                                                                   "unit"),
                    ((("interval_of", None),), (("interval_of", Statistic.CHANGE),)),
                )  # fmt: skip
    return result


def off_scale(cell: ReadCell) -> bool:
    """Whether the estimate lies outside its interval."""
    return (
        cell.value is None or cell.low is None or cell.high is None or not cell.low <= cell.value <= cell.high
    )


def _change_beside(cells: Sequence[ReadCell], index: int) -> float | None:
    """Last minus first time point of the same row, group and upper header, standing before the cell."""
    cell = cells[index]
    upper = cell.column.rpartition(" / ")[0]
    values = []
    for other in reversed(cells[:index]):
        if (other.row, other.group, other.section) != (cell.row, cell.group, cell.section):
            break
        if (
            other.column.rpartition(" / ")[0] != upper
            or other.value_kind is not Statistic.MEAN
            or other.timepoint is None
        ):
            break
        values.append(other.value)
    real = [v for v in values if v is not None]
    return real[0] - real[-1] if len(real) >= 2 and len(real) == len(values) else None


def doubt_digit_marks(cells: Sequence[ReadCell], notes: Notes) -> list[ReadCell]:
    """A figure with a decimal more than its fellow, ending in a digit that the notes explain as a mark.

    "39.9 ± 11.83" may be 11.8 and note 3.
    """
    if not notes.number_marks:
        return list(cells)
    result = []
    for cell in cells:
        tails = re.findall(r"\d+\.(\d+)", cell.printed)
        last = tails[-1] if tails else ""
        longer = len(tails) == 2 and len(last) == len(tails[0]) + 1 and last[-1] in notes.number_marks
        if longer and cell.spread is not None:
            shorter = float(f"{cell.spread:.{len(last)}f}"[:-1])
            effects = ((("spread", cell.spread),), (("spread", shorter), ("marks", (*cell.marks, last[-1]))))
            shown = (f"{cell.spread:g}", f"{shorter:g} with mark {last[-1]}")
            cell = add_doubt(cell, "the last digit may be a footnote mark", shown, effects)
        elif cell.value is not None and len(tails) == 1 and len(last) > 1 and last[-1] in notes.number_marks:
            cell = add_doubt(cell, "the last digit may be a footnote mark", ("a digit", "a mark"))
        result.append(cell)
    return result


def check_changes(cells: Sequence[ReadCell]) -> tuple[list[ReadCell], list[str]]:
    """Change and percent change against the means beside them: a sign that differs is asked, a size that
    differs is said.
    """
    result = list(cells)
    warnings: list[str] = []
    for i, cell in enumerate(result):
        if (
            cell.value is None
            or cell.value_kind not in (Statistic.CHANGE, Statistic.PERCENT_CHANGE)
            or cell.doubts
        ):
            continue
        found = _pre_post(result, i)
        if found is None:
            continue
        pre, post = found
        expected = (
            post - pre if cell.value_kind is Statistic.CHANGE else 100 * (post - pre) / pre if pre else None
        )
        if expected is None:
            continue
        slack = 1.5 * 10.0 ** -decimals(cell.printed) + 0.12 * abs(expected)
        place = f"{cell.row}{', ' + cell.group if cell.group else ''}"
        if abs(cell.value - expected) <= slack:
            continue
        if abs(cell.value + expected) <= slack and abs(expected) > slack:
            shown = (f"{cell.value:g}", f"{-cell.value:g}")
            effects = ((("value", cell.value),), (("value", -cell.value),))
            why = f"post minus pre is {expected:.4g}: the sign differs"
            result[i] = add_doubt(cell, why, shown, effects)
        else:
            warnings.append(
                f"{place}: {cell.column} {cell.value:g} does not follow from the two means ({expected:.4g})"
            )
    return result, warnings


def _pre_post(cells: Sequence[ReadCell], index: int) -> tuple[float, float] | None:
    cell = cells[index]
    upper = cell.column.rpartition(" / ")[0]
    same = [
        c for c in cells
        if (c.row, c.group, c.section) == (cell.row, cell.group, cell.section) and c.column.rpartition(" / "
                                                                                                       "")[0] == upper
        and c.value_kind is Statistic.MEAN and c.timepoint and c.value is not None
    ]  # fmt: skip
    return (
        (same[0].value, same[1].value)
        if len(same) == 2 and same[0].value is not None and same[1].value is not None
        else None
    )


def check_wholes(cells: Sequence[ReadCell]) -> list[str]:
    """An overall figure lies between its subgroups, and its n is their sum."""
    warnings: list[str] = []
    places: dict[tuple[str, str | None, str], list[ReadCell]] = {}
    for cell in cells:
        if cell.group and cell.value is not None and cell.value_kind is Statistic.MEAN:
            places.setdefault((cell.row, cell.section, _without_group(cell)), []).append(cell)
    seen: set[str] = set()
    for (row, _, _), members in places.items():
        whole = [c for c in members if re.match(r"overall|total|all\b|whole", c.group or "", re.IGNORECASE)]
        parts = [c for c in members if c not in whole]
        if len(whole) != 1 or len(parts) < 2:
            continue
        counts = [c.n for c in parts]
        if whole[0].n and all(counts):
            total = sum(n for n in counts if n)
            text = f"{row}: {whole[0].group} n = {whole[0].n}, but the groups add up to {total}"
            if total != whole[0].n and text not in seen:
                seen.add(text)
                warnings.append(text)
        values = [c.value for c in parts if c.value is not None]
        slack = 10.0 ** -decimals(whole[0].printed)
        if whole[0].value is not None and not min(values) - slack <= whole[0].value <= max(values) + slack:
            warnings.append(f"{row}, {whole[0].column}: the overall figure does not lie between its groups")
    return warnings


def _without_group(cell: ReadCell) -> str:
    return cell.timepoint or cell.column


def check_spreads(cells: Sequence[ReadCell]) -> list[str]:
    """A spread above the mean of a figure that cannot be negative, said once per row."""
    return [
        f"{c.row}, {c.column}: the SD ({c.spread:g}) is more than twice the mean ({c.value:g})"
        for c in cells
        if c.spread_kind is Spread.SD and c.spread and c.value and c.value > 0 and c.value_kind is Statistic.MEAN
        and c.spread > 2 * c.value
    ]  # fmt: skip
