"""The scale of a forest plot: its domain, its ticks, and where a value falls. Log scales stay on the log."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from evidence.appraisal.metrics import Metric

PERCENT_TICKS = (
    -95,
    -90,
    -80,
    -70,
    -50,
    -40,
    -30,
    -20,
    -10,
    -5,
    5,
    10,
    20,
    30,
    50,
    75,
    100,
    150,
    200,
    300,
    500,
    900,
    1900,
)
RATIO_TICKS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.33, 0.5, 0.75, 0.9, 1.1, 1.33, 2, 3, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on the axis: where (metric's own scale) and the text under it."""

    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Axis:
    """The part of the scale that is drawn. Anything beyond is cut off and marked as such."""

    low: float
    high: float
    ticks: tuple[Tick, ...]

    def place(self, value: float) -> float:
        """0 (left end) to 1 (right end); values beyond the ends are held at them."""
        share = (value - self.low) / (self.high - self.low)
        return min(max(share, 0.0), 1.0)

    def holds(self, value: float) -> bool:
        """Whether a value lies on the drawn part."""
        return self.low <= value <= self.high


def choose_axis(
    metric: Metric, spans: Sequence[tuple[float, float, float]], keep: Sequence[float] = ()
) -> Axis:
    """An axis over (low, estimate, high) spans that one wild interval cannot squeeze flat; 0 is always on it.

    `keep`: values that must be on it (the pooled interval, a margin).
    """
    kept = [0.0, *(v for v in keep if math.isfinite(v))]
    spans = [s for s in spans if all(map(math.isfinite, s))]
    if spans:
        middle = median(e for _, e, _ in spans)
        reach = 3.5 * max(median((h - low) / 2 for low, _, h in spans), max(map(abs, kept)) / 3.5, 1e-9)
        floor, ceiling = min(middle, *kept) - reach, max(middle, *kept) + reach
        for low, _, high in spans:
            kept += [min(max(limit, floor), ceiling) for limit in (low, high)]
    left, right = min(kept), max(kept)
    if right - left < 1e-9:
        left, right = -1.0, 1.0
    pad = 0.04 * (right - left)
    left, right = left - pad, right + pad
    return Axis(left, right, _choose_ticks(metric, left, right))


def scale_text(axis: Axis, room: int) -> str:
    """The ticks of an axis as a line of text under a drawing `room` characters wide, none upon another."""
    cells = [" "] * (room + 8)
    free = 0
    for tick in axis.ticks:
        start = max(0, round(axis.place(tick.value) * (room - 1)) - len(tick.text) // 2)
        if start >= free and start + len(tick.text) <= len(cells):
            cells[start : start + len(tick.text)] = tick.text
            free = start + len(tick.text) + 1
    return "".join(cells)


def even_axis(low: float, high: float) -> Axis:
    """An axis over a range of plain numbers with ticks at even steps; what stands at its ends is not cut off."""
    pad = 0.05 * (high - low) or 1.0
    left, right = low - pad, high + pad
    return Axis(left, right, _even_ticks(left, right, 1.0))


def _choose_ticks(metric: Metric, left: float, right: float) -> tuple[Tick, ...]:
    zero = Tick(0.0, {"percent": "0 %", "ratio": "1"}.get(metric.shown_as, "0"))
    if metric.shown_as == "percent":
        ticks = [Tick(math.log1p(p / 100), f"{'+' if p > 0 else '−'}{abs(p)} %") for p in PERCENT_TICKS]
    elif metric.shown_as == "ratio":
        ticks = [Tick(math.log(r), f"{r:g}") for r in RATIO_TICKS]
    elif metric.shown_as == "correlation":
        shares = [i / 10 for i in range(-9, 10) if i]
        ticks = [Tick(math.atanh(s), _number(s, 1)) for s in shares]
    else:
        return _even_ticks(left, right, 100.0 if metric.shown_as == "per_hundred" else 1.0)
    return _thin([t for t in ticks if left <= t.value <= right], zero, (right - left) / 6)


def _thin(ticks: list[Tick], zero: Tick, gap: float) -> tuple[Tick, ...]:
    """Ticks at least `gap` apart, counted outwards from zero, so that zero always stays."""
    chosen = [zero]
    for side in ([t for t in ticks if t.value > 0], [t for t in reversed(ticks) if t.value < 0]):
        last = 0.0
        for tick in side:
            if abs(tick.value - last) >= gap:
                chosen.append(tick)
                last = tick.value
    return tuple(sorted(chosen, key=lambda t: t.value))


def _even_ticks(left: float, right: float, factor: float) -> tuple[Tick, ...]:
    rough = (right - left) * factor / 5
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= rough * 0.999)
    digits = max(0, -math.floor(math.log10(step) + 1e-9)) + (1 if f"{step / power:g}" == "2.5" else 0)
    first = math.ceil(left * factor / step)
    last = math.floor(right * factor / step)
    ticks = (Tick(i * step / factor, _number(i * step, digits)) for i in range(first, last + 1))
    return tuple(
        tick for tick in ticks if left <= tick.value <= right
    )  # rounding can carry the last one over


def _number(value: float, digits: int) -> str:
    text = f"{abs(value):.{digits}f}"
    return f"−{text}" if value < 0 and float(text) else text
