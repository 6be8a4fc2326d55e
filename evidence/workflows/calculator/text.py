"""Answers of the calculator as text: figures with sensible digits, then how they came about."""

import math

from evidence.statistics.effect import Step
from evidence.workflows.calculator.computing import Figure, Grid, Worked


def worked_text(worked: Worked) -> str:
    """The whole answer, for a terminal."""
    parts = [worked.answer]
    if worked.figures:
        parts.append(_figures(worked.figures))
    parts += [_grid(grid) for grid in worked.grids]
    if worked.steps:
        parts.append("\n".join(["How it was worked out", *map(_step, _once(worked.steps))]))
    if worked.assumptions:
        said = dict.fromkeys(
            one.text + (f" [{one.source}]" if one.source else "") for one in worked.assumptions
        )
        parts.append("\n".join(["Assumed", *(f"  - {text}" for text in said)]))
    if worked.cautions:
        parts.append("\n".join(["Caution", *(f"  - {text}" for text in dict.fromkeys(worked.cautions))]))
    return "\n\n".join(parts)


def show_number(value: float | None, significant: int = 3) -> str:
    """A figure with `significant` digits, never in powers of ten for everyday sizes."""
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    if value == 0:
        return "0"
    if isinstance(value, int):
        return str(value).replace("-", "−")
    size = abs(value)
    if size < 1e-4:
        return f"{value:.1e}".replace("-", "−")
    places = max(0, significant - 1 - math.floor(math.log10(size)))
    text = f"{value:,.{places}f}" if size >= 10_000 else f"{value:.{places}f}"
    return text.replace("-", "−")


def show_p(p: float) -> str:
    """A p-value: three decimals, and "< 0.001" below that."""
    return "< 0.001" if p < 0.001 else f"{p:.3f}"


def say_p(p: float) -> str:
    """ "= 0.012" or "< 0.001", to stand after "p"."""
    text = show_p(p)
    return text if text.startswith("<") else f"= {text}"


def _figures(figures: tuple[Figure, ...]) -> str:
    rows: list[tuple[str | float | None, ...]] = []
    for one in figures:
        interval = ""
        if one.low is not None or one.high is not None:
            interval = f"{show_number(one.low)} to {show_number(one.high)}"
        rows.append(
            (
                one.name,
                show_number(one.value),
                interval,
                "" if one.se is None else show_number(one.se),
                one.unit,
            )
        )
    return _grid(Grid("", ("figure", "value", "95 % interval", "SE", "unit"), tuple(rows)))


def _grid(grid: Grid) -> str:
    cells = [tuple(cell if isinstance(cell, str) else show_number(cell) for cell in row) for row in grid.rows]
    keep = [i for i in range(len(grid.headings)) if any(row[i] for row in cells)]
    rows = [tuple(grid.headings[i] for i in keep), *(tuple(row[i] for i in keep) for row in cells)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(keep))]
    lines = ["  " + "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    return "\n".join([*([grid.title] if grid.title else []), *lines])


def _step(step: Step) -> str:
    given = ", ".join(
        f"{name.replace('_', ' ')} = {value if isinstance(value, str) else _given(value)}"
        for name, value in step.inputs
    )
    source = f"  [{step.source}]" if step.source else ""
    return (
        f"  {step.name} = {step.formula} = {show_number(step.value, 4)}"
        + (f"  ({given})" if given else "")
        + source
    )


def _given(value: float) -> str:
    """A figure that went in: as typed where it is short."""
    text = f"{value:.6g}"
    return text.replace("-", "−") if len(text) <= 7 and "e" not in text else show_number(value, 4)


def _once(steps: tuple[Step, ...]) -> list[Step]:
    seen: dict[tuple[str, str, float], Step] = {}
    for step in steps:
        seen.setdefault((step.name, step.formula, step.value), step)
    return list(seen.values())
