"""What one kind of claim has to show besides its studies: levels of a trend, a ranking, a band, sources of a reason."""

import textwrap
from dataclasses import dataclass

from evidence.publishing.trend_figure import TrendPlot


@dataclass(frozen=True, slots=True)
class Panel:
    """A small table with a sentence above it. `rows` have as many cells as `head`; `trend`: the same, drawn."""

    heading: str
    text: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()
    trend: TrendPlot | None = None


def panel_text(panel: Panel, width: int = 80) -> list[str]:
    """The panel as lines for a terminal: columns where they fit, else one line a row."""
    lines = [
        f"{panel.heading}:",
        *textwrap.wrap(panel.text, width, initial_indent="  ", subsequent_indent="  "),
    ]
    if panel.rows:
        sizes = [max(len(row[i]) for row in (panel.head, *panel.rows)) for i in range(len(panel.head))]
        if sum(sizes) + 2 * len(sizes) <= width:
            for row in (panel.head, *panel.rows):
                lines.append("  " + "  ".join(c.ljust(n) for c, n in zip(row, sizes, strict=True)).rstrip())
        else:
            for row in panel.rows:
                told = "; ".join(
                    f"{h}: {c}" if i else c for i, (h, c) in enumerate(zip(panel.head, row, strict=True)) if c
                )
                lines += textwrap.wrap(told, width, initial_indent="  - ", subsequent_indent="    ")
    for note in panel.notes:
        lines += textwrap.wrap(note, width, initial_indent="  ", subsequent_indent="  ")
    return lines
