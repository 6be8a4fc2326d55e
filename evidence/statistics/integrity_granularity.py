"""Whole-number measures (repetitions, ratings, ages in years, counts): can this mean and SD exist at all?

Only for data that are whole numbers. Activation in %MVIC, thickness, cross-section and loads are not.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from evidence.errors import NumberProblem
from evidence.statistics.effect import derive, require_people
from evidence.statistics.integrity import Finding, Printed, Severity, read_printed, read_spread, tell

_LIMIT = 4_000_000  # cells of the bounded search; beyond it a scale's ends are left out of account
_MOST = 50_000  # totals and sums of squares that are looked through: of more, nothing is ruled out


@dataclass(frozen=True, slots=True)
class MeanCheck:
    """Whether some whole-number total gives the printed mean (Brown & Heathers 2017).

    `informative` is False when the digits are too few to rule anything out; `sums` is empty where they are too many.
    """

    possible: bool
    sums: tuple[int, ...]
    nearest: tuple[float, ...]
    informative: bool


@dataclass(frozen=True, slots=True)
class SpreadCheck:
    """Whether whole-number data exist with both the printed mean and SD (after Allard 2018, exact)."""

    mean_possible: bool
    possible: bool
    sds: tuple[float, ...]


def weigh_mean(mean: "str | float", n: int, items: int = 1, *, percent: bool = False) -> MeanCheck:
    """Totals of n·items whole numbers whose mean rounds to the printed one; half-way is possible."""
    require_people(n, at_least=1)
    require_people(items, at_least=1, name="the number of items")
    printed = read_printed(mean)
    scale = Fraction(n * items, 100 if percent else 1)
    first, last = math.ceil(printed.low * scale), math.floor(printed.high * scale)
    sums = tuple(range(first, last + 1)) if last - first < _MOST else ()
    target = printed.value * scale
    nearest = sorted({math.floor(target), math.ceil(target)})
    digits = 10 ** (printed.decimals + (2 if percent else 0))
    return MeanCheck(first <= last, sums, tuple(float(s / scale) for s in nearest), n * items < digits)


def weigh_spread(
    mean: "str | float",
    sd: "str | float",
    n: int,
    items: int = 1,
    *,
    scale_min: int | None = None,
    scale_max: int | None = None,
) -> SpreadCheck:
    """All SDs (n − 1) of whole-number data that round to the printed mean and SD, in rising order.

    For five or more people without a bounded scale every sum of squares of the parity of the sum, from the
    evenest spread upwards, occurs (by Cauchy's lemma on four squares); fewer people and bounded scales are
    searched.
    """
    require_people(n, at_least=2)
    printed_mean, printed_sd = read_printed(mean), read_spread(sd)
    means = weigh_mean(printed_mean.text, n, items)
    ends = None if scale_min is None or scale_max is None else (scale_min * items, scale_max * items)
    if _are_too_many(means, n, printed_sd, items):
        raise NumberProblem(
            "So many whole numbers could stand behind these figures that they rule nothing out.",
            hint="This check is for ratings, repetitions or counts of few people.",
        )
    found = {
        Fraction(n * squares - total**2, n * (n - 1) * items**2)
        for total in means.sums
        for squares in _list_squares(total, n, printed_sd, items, ends)
    }
    sds = tuple(math.sqrt(variance) for variance in sorted(found))
    return SpreadCheck(means.possible, bool(sds), sds)


def weigh_yes_no(mean: "str | float", sd: "str | float", n: int) -> SpreadCheck:
    """Mean and SD of yes/no data (0 or 1): the SD follows from the mean, √(n/(n−1)·m(1−m))."""
    require_people(n, at_least=2)
    printed = read_printed(sd)
    sums = [total for total in weigh_mean(mean, n).sums if 0 <= total <= n]
    sds = tuple(math.sqrt(total * (n - total) / (n * (n - 1))) for total in sums)
    fits = any(
        max(Fraction(0), printed.low) ** 2 <= Fraction(total * (n - total), n * (n - 1)) <= printed.high**2
        for total in sums
    )
    return SpreadCheck(bool(sums), fits, sds)


def check_mean_granularity(mean: "str | float", n: int, items: int = 1) -> Finding | None:
    """C3: a mean of whole numbers that no total can give."""
    got = weigh_mean(mean, n, items)
    if got.possible:
        return None
    total = float(read_printed(mean).value) * n * items
    step = derive("total behind the mean", "mean·n·items", "Brown & Heathers 2017", total, n=n, items=items)
    nearest = " and ".join(f"{value:.4g}" for value in got.nearest)
    text = (
        f"{n * items} whole numbers cannot have a mean of {read_printed(mean).text}; nearest are "
        f"{nearest}. Is n right, and are the data whole numbers?"
    )
    return tell("C3", Severity.WARNING, text, step, mean=mean, n=n, items=items)


def check_spread_granularity(
    mean: "str | float",
    sd: "str | float",
    n: int,
    items: int = 1,
    *,
    scale_min: int | None = None,
    scale_max: int | None = None,
) -> Finding | None:
    """C4: an SD that no whole numbers with this mean can have."""
    require_people(n, at_least=2)
    if _are_too_many(weigh_mean(mean, n, items), n, read_spread(sd), items):
        return None
    got = weigh_spread(mean, sd, n, items, scale_min=scale_min, scale_max=scale_max)
    if got.possible or not got.mean_possible:
        return None
    total = weigh_mean(mean, n, items).sums[0]
    smallest = math.sqrt(_least_variance(total, n)) / items
    step = derive(
        "smallest SD with this mean", "evenest spread of the total", "Allard 2018", smallest, total=total
    )
    text = (
        f"{n} whole numbers with a mean of {read_printed(mean).text} cannot have an SD of "
        f"{read_printed(sd).text}; the smallest possible is {smallest:.3g}."
    )
    return tell("C4", Severity.WARNING, text, step, mean=mean, sd=sd, n=n, items=items)


def _list_squares(total: int, n: int, sd: Printed, items: int, ends: tuple[int, int] | None) -> Iterator[int]:
    """Sums of squares of n whole numbers with this total whose SD rounds to the printed one."""
    base = Fraction(total**2, n)
    low = math.ceil(base + (n - 1) * (max(Fraction(0), sd.low) * items) ** 2)
    high = math.floor(base + (n - 1) * (sd.high * items) ** 2)
    low = max(low, _least_squares(total, n))
    low += (low - total) % 2
    candidates = range(low, high + 1, 2)
    if ends is not None:
        reachable = _reach_squares(total, n, ends)
        if reachable is not None:
            yield from (squares for squares in candidates if squares in reachable)
            return
    yield from (squares for squares in candidates if n >= 5 or _can_reach(n, total, squares))


def _are_too_many(means: MeanCheck, n: int, sd: Printed, items: int) -> bool:
    """Whether more sums of squares, and for fewer than five people values behind each, would be looked through."""
    if means.possible and not means.sums:
        return True
    widest, least = sd.high * items, max(Fraction(0), sd.low) * items
    squares = (n - 1) * (widest**2 - least**2) / 2 + 1  # exact: of large figures the difference would be lost
    values = (2 * widest * n + 3) ** max(0, n - 2) if n < 5 else 1
    return len(means.sums) * squares * values > _MOST


def _least_squares(total: int, n: int) -> int:
    share, rest = divmod(total, n)
    return (n - rest) * share**2 + rest * (share + 1) ** 2


def _least_variance(total: int, n: int) -> float:
    return float(Fraction(n * _least_squares(total, n) - total**2, n * (n - 1)))


def _can_reach(n: int, total: int, squares: int) -> bool:
    """Whether n whole numbers have this total and sum of squares; searched, for fewer than five people."""
    if n * squares < total**2:
        return False
    if n == 1:
        return total**2 == squares
    if n == 2:
        gap = 2 * squares - total**2
        return math.isqrt(gap) ** 2 == gap
    # A single value lies within √((n−1)/n · spread) of the mean
    reach = math.isqrt((n - 1) * (n * squares - total**2)) // n + 1
    middle = total // n
    return any(
        _can_reach(n - 1, total - value, squares - value**2)
        for value in range(middle - reach, middle + reach + 1)
    )


def _reach_squares(total: int, n: int, ends: tuple[int, int]) -> set[int] | None:
    """Reachable sums of squares on a bounded scale, or None when the search would be too large."""
    low, high = ends
    width = high - low
    if width < 0 or not low * n <= total <= high * n:
        return set()
    if n * n * width * (width + 1) > _LIMIT:
        return None
    # Shifted to start at 0: per total, bit q of the mask says that sum of squares q occurs
    masks: dict[int, int] = {0: 1}
    for _ in range(n):
        grown: dict[int, int] = {}
        for reached, mask in masks.items():
            for value in range(width + 1):
                if reached + value <= total - low * n:
                    grown[reached + value] = grown.get(reached + value, 0) | mask << value**2
        masks = grown
    shifted = total - low * n
    bits = masks.get(shifted, 0)
    offset = 2 * low * shifted + n * low**2
    return {q + offset for q in range(bits.bit_length()) if bits >> q & 1}
