"""A weighing told: the figure, and the text for a terminal."""

import textwrap

from evidence.appraisal.confidence import DomainRating, format_levels
from evidence.appraisal.metrics import find_metric, format_interval, format_value
from evidence.publishing.figures import ForestPlot, ForestRow, ForestSummary
from evidence.workflows.weighing import Weighing

WIDTH = 80
GRID_OF = {"within people": "within people", "results of one study": "between results of one study"}


def forest_of(weighing: Weighing, figure_id: str = "forest") -> ForestPlot:
    """The forest plot of a weighing."""
    pooled = weighing.pooled
    rows = tuple(
        ForestRow(c.label, c.n, c.estimate, c.low, c.high, c.weight, c.note) for c in weighing.contributions
    )
    summary = None
    if pooled is not None and pooled.k > 1:
        summary = ForestSummary(
            "Pooled",
            pooled.estimate,
            pooled.low,
            pooled.high,
            weighing.verdict.people,
            pooled.prediction_low,
            pooled.prediction_high,
        )
    return ForestPlot(
        title=weighing.statement,
        metric=find_metric(weighing.scale),
        rows=rows,
        summary=summary,
        less="less with the exercise",
        more="more with the exercise",
        margin=weighing.claim.margin,
        figure_id=figure_id,
    )


def weighing_as_text(weighing: Weighing) -> str:
    """Everything that was found of a claim, for a terminal."""
    from evidence.publishing.terminal import forest_text

    lines: list[str] = []
    if weighing.invented:
        lines += ["INVENTED demonstration data", ""]
    lines += [*wrapped(weighing.statement), ""]
    lines += wrapped(f"Verdict: {weighing.verdict.text}")
    lines += wrapped(f"Confidence: {weighing.confidence.level} (range: {weighing.confidence.span})")
    lines += wrapped(weighing.verdict.sentence)
    if weighing.contributions:
        lines += ["", forest_text(forest_of(weighing), width=WIDTH)]
    lines += [
        "",
        "Why this confidence:",
        f"  starts {weighing.confidence.start}: {weighing.confidence.start_reason}",
    ]
    for domain in weighing.confidence.domains:
        lines += wrapped(tell_domain(domain), "  ")
    for choice in weighing.confidence.choices:
        stale = " (made on earlier figures)" if choice.stale else ""
        lines += wrapped(
            f"{choice.domain}: {choice.person} chose {choice.chosen} over {choice.proposed}: {choice.reason}{stale}",
            "  ",
        )
    lines += tell_grid(weighing)
    told = [*weighing.verdict.notes, *weighing.confidence.notes, *weighing.notes]
    if told:
        lines += ["", "Notes:"]
        for note in dict.fromkeys(told):
            lines += wrapped(f"- {note}", "  ")
    if weighing.would_change:
        lines += ["", "What would change it:"]
        for line in weighing.would_change:
            lines += wrapped(f"- {line}", "  ")
    if weighing.left_out:
        lines += ["", "Left out:"]
        for item in weighing.left_out:
            lines += wrapped(f"- {item.label}: {item.reason} ({item.by})", "  ")
    lines += ["", "In a sentence:", *wrapped(weighing.wordings.plain, "  ")]
    return "\n".join(lines)


def tell_domain(domain: DomainRating) -> str:
    """A domain's rating with its reason."""
    open_ = " (borderline)" if domain.borderline else ""
    return f"{domain.domain.replace('_', ' ')}: {format_levels(domain.proposed)}{open_}. {domain.reason}"


def tell_grid(weighing: Weighing) -> list[str]:
    """The verdict under other assumed correlations."""
    if not weighing.grid:
        return []
    metric = find_metric(weighing.scale)
    lines: list[str] = []
    varied = ""
    for row in weighing.grid:
        if row.varied != varied:
            varied = row.varied
            lines += ["", f"No correlation {GRID_OF[varied]} was printed; under other assumed ones:"]
        values = ", ".join(f"{r:g}" for r in row.correlations)
        lines.append(
            f"  r {values}: {format_value(metric, row.estimate, sign=True)} "
            f"[{format_interval(metric, row.low, row.high)}]: {row.verdict}"
        )
    if not weighing.grid_agrees:
        lines += wrapped("The verdict depends on the correlation that is assumed.", "  ")
    return lines


def wrapped(text: str, indent: str = "") -> list[str]:
    """Text broken to the width of a terminal."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + ("  " if indent else "")
    ) or [""]
