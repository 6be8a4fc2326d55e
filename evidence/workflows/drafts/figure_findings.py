"""Checks of numbers: a figure that is not what the catalogue holds, and percents of the wrong kind."""

import re
from collections.abc import Iterator

from evidence.appraisal.draft_cues import find_cue
from evidence.workflows.drafts.findings import Draught
from evidence.workflows.drafts.knowledge import CORRELATION, SMD, Figure
from evidence.workflows.drafts.number_forms import NUMBER
from evidence.workflows.drafts.numbers import (
    WORDED_SLACK,
    Number,
    decimals_of,
    matches,
    read_number,
    replace_number,
)
from evidence.workflows.drafts.readings import Reading
from evidence.workflows.drafts.sizes import check_size

_TIMES = re.compile(rf"{NUMBER} times (?:as|more|the|bigger|larger|greater|higher)\b", re.IGNORECASE)
FOLDS = ("relative", "relative_change", "percent_change")


def check_figures(reading: Reading) -> Iterator[Draught]:
    """Every finding on the numbers of one sentence."""
    if reading.not_held:
        return
    kinds = list(check_percent_kind(reading))
    yield from kinds
    yield from check_values(reading, {d.mark for d in kinds})


def known_figures(reading: Reading) -> list[Figure]:
    """All figures the sentence could be telling."""
    held = [f for s in reading.studies for f in s.figures]
    own = {c.key for c in reading.claims}
    behind = [f for c in reading.claims for f in c.figures] if own else []
    return held + behind


def check_values(reading: Reading, skipped: set[tuple[int, int] | None]) -> Iterator[Draught]:
    """A number that none of the sources holds, its rounding respected."""
    if not reading.studies or (reading.prescribes and not reading.cited):
        return
    held = known_figures(reading)
    for number in reading.numbers:
        if (number.start, number.end) in skipped:
            continue
        if number.kind == "people":
            yield from check_size(number, reading)
            continue
        pool = comparable(number, held, reading)
        if not pool or any(matches(number, f.value) for f in pool):
            continue
        free = untold(pool, [n for n in reading.numbers if n is not number])
        near = sorted(free or pool, key=lambda f: abs(abs(f.value) - abs(number.value)))[:3]
        shown = tuple(dict.fromkeys(f"{show(f)} ({f.text})" for f in near))
        yield Draught(
            "figure-differs",
            f'"{number.text}" is not what the catalogue holds.',
            f"nearest: {show(near[0])} ({near[0].text})",
            (number.start, number.end),
            figures=shown,
            swap=replace_number(number, near[0].value)
            if plainly_meant(number, free) and not number.slack
            else None,
            claim=next((c.key for c in reading.claims), None),
            references=tuple(reading.cited),
        )


def comparable(number: Number, held: list[Figure], reading: Reading) -> list[Figure]:
    """The figures of the kind that a number tells."""
    if number.kind in ("per_hundred", "events"):
        return [f for f in held if f.kind == number.kind]
    if number.kind == "reading":
        means = [f for f in held if f.kind == "mean" and f.unit.strip().startswith("%")]
        return means if "activation" in {c for s in reading.studies for c in s.constructs} else []
    if number.kind == "unit":
        unit = number.unit
        if unit.startswith("point"):
            return [f for f in held if f.kind == "points"]
        return [f for f in held if f.unit.startswith(unit) and f.kind in ("mean", "change", "difference")]
    if number.kind == "effect":
        return comparable_effects(held, reading)
    if number.kind == "correlation":
        return [f for f in held if f.unit == CORRELATION and f.kind in ("estimate", "bound")]
    if number.kind == "moved":
        return [f for f in held if f.kind in ("change", "difference", "percent_change", "points")]
    if number.side == "changed" and not reading.cue("comparative"):
        changes = [f for f in held if f.kind == "percent_change"]
        if changes:
            return changes
    if number.side in ("more", "less"):
        return [f for f in held if f.unit == "%" and f.kind in ("relative", "relative_change")] + [
            f for f in held if f.kind == "percent_change" and number.side == "more"
        ]
    return [f for f in held if f.unit.strip().startswith("%") or f.kind in ("per_hundred",)]


def comparable_effects(held: list[Figure], reading: Reading) -> list[Figure]:
    """Standardised differences that an effect size can be held against.

    A paper's own may be worked out in another way than ours: where one study of several, or a claim of one study, is
    told with its source, only what is stored as printed counts.
    """
    effects = [f for f in held if f.unit == SMD and f.kind in ("estimate", "bound")]
    printed = [f for s in reading.studies for f in s.figures if f.unit == SMD]
    pooled = any(len(c.studies) > 1 for c in reading.claims)
    behind = {s for c in reading.claims for s in c.studies}
    whole = not reading.cited or (pooled and behind <= {s.key for s in reading.cited_studies})
    return effects if printed or whole else []


def untold(pool: list[Figure], others: list[Number]) -> list[Figure]:
    """Figures that no other number of the sentence tells; printed ones, where there are any."""
    left = [f for f in pool if not any(matches(n, f.value) for n in others)]
    printed = [f for f in left if f.kind in ("mean", "percent_change", "per_hundred", "change")]
    return printed or left


def show(figure: Figure) -> str:
    """A figure with its unit."""
    digits = 0 if float(figure.value).is_integer() else 1
    unit = "points" if figure.kind == "points" else "%" if figure.unit.startswith("%") else figure.unit
    return f"{figure.value:.{digits}f} {unit}".strip()


def plainly_meant(number: Number, pool: list[Figure]) -> bool:
    """Whether one figure is so much nearer than any other that it must be the one meant."""
    gaps = sorted({round(abs(abs(f.value) - abs(number.value)), 1) for f in pool})
    return len(gaps) == 1 or (len(gaps) > 1 and gaps[0] * 2 < gaps[1])


def check_percent_kind(reading: Reading) -> Iterator[Draught]:
    """Points told as percent, one percent both ways, a ratio of percents as a multiple."""
    text = reading.text
    fold = re.search(r"(\d+(?:[.,]\d+)?)[ -]?fold\b", text)
    times = read_number(fold[1]) if fold else None
    percents = [n for n in reading.numbers if n.kind == "percent" and not n.slack]
    if fold and len(percents) >= 2:
        yield Draught(
            "percent-kind",
            f'"{fold.group()}" is a ratio of two percents.',
            "a ratio of percent changes is no multiple of what was gained",
            (fold.start(), fold.end()),
        )
    elif fold and times is not None and is_percent_as_fold(fold, times, reading):
        yield Draught(
            "percent-kind",
            f'"{fold.group()}" is a percent told as a multiple.',
            f"{fold[1]} per cent more is {1 + times / 100:.2f} times as much",
            (fold.start(), fold.end()),
            swap=f"{fold[1]} per cent",
        )
    elif fold and times is not None and times < 1 and reading.cue("lowering"):
        share = 100 * (1 - times)
        yield Draught(
            "percent-kind",
            f'"{fold.group()}" is a ratio told as a cut.',
            f"a ratio of {fold[1]} is a cut of {share:.0f} per cent",
            (fold.start(), fold.end()),
        )
    yield from check_base(percents)
    yield from check_multiple(reading, percents)
    yield from check_points(reading)
    if reading.cue("points_said"):
        return
    values = [n for n in reading.numbers if n.kind in ("percent", "reading", "per_hundred")]
    for number in percents:
        near = text[number.end : number.end + 14], text[max(number.start - 14, 0) : number.start]
        won = find_cue("advantage", near[0]) or find_cue("won_by", near[1])
        lowered = near[1].endswith(" by ") and find_cue("lowering", text[: number.start])
        if number.side != "more" and not (won or lowered):
            continue
        others = [n.value for n in values if n is not number]
        if is_points(number, others) or is_known_points(number, reading):
            yield Draught(
                "percent-kind",
                f'"{number.text}" are percentage points, told as a relative percent.',
                "say points, or give the percent relative to the comparator's value",
                (number.start, number.end),
                figures=tuple(right_percent(number, others, reading)),
                swap=re.sub(r"\s*(%|per ?cents?|percents?)$", " points", number.text),
                claim=next((c.key for c in reading.claims), None),
            )


def check_multiple(reading: Reading, percents: list[Number]) -> Iterator[Draught]:
    """A ratio of two percent changes told as a multiple of what was gained: "four and a half times as much"."""
    told = _TIMES.search(reading.text)
    times = read_number(told["number"]) if told else None
    gained = [f.value for f in known_figures(reading) if f.kind == "percent_change"]
    held = [abs(n.value) for n in percents if any(matches(n, value) for value in gained)]
    if (
        told
        and times
        and any(b > a > 0 and abs(b / a - times) <= WORDED_SLACK * times for a in held for b in held)
    ):
        yield Draught(
            "percent-kind",
            f'"{told.group()}" is a ratio of two percents.',
            "a ratio of percent changes is no multiple of what was gained",
            told.span(),
        )


def check_points(reading: Reading) -> Iterator[Draught]:
    """A relative percent told as points: no two figures lie that far apart, but one is that percent above the other."""
    held = known_figures(reading)
    for number in reading.numbers:
        if number.unit != "point" or any(matches(number, f.value) for f in held if f.kind == "points"):
            continue
        relative = next((f for f in held if f.kind == "relative" and matches(number, f.value)), None)
        if relative is not None:
            yield Draught(
                "percent-kind",
                f'"{number.text}" is a relative percent, told as points.',
                f"{show(relative)} ({relative.text})",
                (number.start, number.end),
                swap=re.sub(r"[ -]*(?:(?:percentage|%|per ?cent)[- ])?points?$", " per cent", number.text),
                claim=next((c.key for c in reading.claims), None),
            )


def is_percent_as_fold(fold: re.Match[str], times: float, reading: Reading) -> bool:
    """Whether an "18.9-fold" is a percent that the catalogue holds, and no ratio that it holds."""
    place = fold.span()
    number = Number(times, "percent", "%", *place, decimals_of(fold[1]), False, "", fold.group())
    percents = [f.value for f in known_figures(reading) if f.unit == "%" and f.kind in FOLDS]
    ratios = [1 + value / 100 for value in percents] + [1 - value / 100 for value in percents]
    return any(matches(number, v) for v in percents) and not any(matches(number, r) for r in ratios)


def check_base(percents: list[Number]) -> Iterator[Draught]:
    """X is 35 % below Y, so Y is 35 % above X: the base changed, the percent cannot stay."""
    for i, one in enumerate(percents):
        for other in percents[i + 1 :]:
            if one.value == other.value >= 5 and {one.side, other.side} == {"more", "less"}:
                side = "more" if other.side == "more" else "less"
                factor = 1 - one.value / 100 if side == "more" else 1 + one.value / 100
                right = 100 * (1 / factor - 1) if factor > 0 else float("nan")
                yield Draught(
                    "percent-kind",
                    f'"{other.text}" has another base than the first percent.',
                    f"{one.value:g} % {'below' if side == 'more' else 'above'} is {abs(right):.0f} % the other way",
                    (other.start, other.end),
                    swap=f"{abs(right):.0f} %",
                )


def is_points(number: Number, others: list[float]) -> bool:
    """Whether a number is the difference of two others in the sentence, and not their relative percent."""
    for i, a in enumerate(others):
        for b in others[i + 1 :]:
            low, high = sorted((a, b))
            relative = (100 * (high - low) / low, 100 * (high - low) / high) if low > 0 else ()
            if low > 0 and matches(number, high - low) and not any(matches(number, r) for r in relative):
                return True
    return False


def is_known_points(number: Number, reading: Reading) -> bool:
    """Whether a number told as "more" is a difference in points in the catalogue and no percent there."""
    held = [f for s in reading.cited_studies for f in s.figures if f.kind == "points"]
    points = [f for f in held if f.unit.startswith("%") or f.unit == "in 100"]
    percents = [
        f
        for f in known_figures(reading)
        if f.unit.startswith("%") and f.kind in ("relative", "relative_change", "percent_change")
    ]
    return any(matches(number, f.value) for f in points) and not any(
        matches(number, f.value) for f in percents
    )


def right_percent(number: Number, others: list[float], reading: Reading) -> Iterator[str]:
    """The relative percent that belongs to the points."""
    for i, a in enumerate(others):
        for b in others[i + 1 :]:
            low, high = sorted((a, b))
            if low > 0 and matches(number, high - low):
                yield f"relative: {100 * (high - low) / low:.0f} % ({high:g} against {low:g})"
                return
    relative = [f for s in reading.cited_studies for f in s.figures if f.kind == "relative"]
    if relative:
        yield f"relative: {relative[0].value:.0f} % ({relative[0].text})"
