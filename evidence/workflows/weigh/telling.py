"""A weighing told: the figure, and the text for a terminal."""

import textwrap
from collections.abc import Sequence

from evidence.appraisal.confidence import DomainRating, format_levels
from evidence.appraisal.metrics import find_metric, format_interval, format_value
from evidence.publishing.figures import ForestPlot, ForestRow, ForestSummary
from evidence.publishing.panels import panel_text
from evidence.publishing.sources import name_invented
from evidence.workflows.weigh.claims_in_words import SIDES
from evidence.workflows.weigh.inventing import find_inventions
from evidence.workflows.weigh.weighing import Weighing

WIDTH = 80
TWO_SIDED = ("less with the exercise", "more with the exercise")
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
        less=SIDES.get(weighing.claim.kind, TWO_SIDED)[0],
        more=SIDES.get(weighing.claim.kind, TWO_SIDED)[1],
        margin=weighing.claim.margin,
        figure_id=figure_id,
    )


def weighing_as_text(weighing: Weighing, cautions: Sequence[str] = ()) -> str:
    """Everything that was found of a claim, for a terminal; `cautions` stand right under the answer."""
    from evidence.publishing.terminal import forest_text

    lines: list[str] = []
    if weighing.invented:
        made_up = find_inventions(weighing.studies, weighing.sources).names
        lines += [*wrapped(name_invented(made_up)), ""]
    lines += [*wrapped(weighing.statement), ""]
    lines += wrapped(f"Verdict: {weighing.verdict.text}")
    lines += wrapped(f"Confidence: {tell_confidence(weighing)}")
    lines += wrapped(weighing.verdict.sentence)
    for caution in cautions:
        lines += ["", *wrapped(f"Caution: {caution}")]
    if weighing.contributions and weighing.claim.kind != "superlative":  # it has its ranking instead
        lines += ["", forest_text(forest_of(weighing), width=WIDTH)]
    for panel in weighing.panels:
        lines += ["", *panel_text(panel, WIDTH)]
    if weighing.graded:
        start = f"starts {weighing.confidence.start}: {weighing.confidence.start_reason}"
        lines += ["", "Why this confidence:", *wrapped(start, "  ")]
    for part in weighing.by_design:
        own = f"{part.name} ({count_studies(part.studies)}): {part.verdict.text}; confidence {part.confidence.span}"
        lines += wrapped(f"by themselves, {own}. {part.verdict.sentence}", "  ")
    # Of nothing no domain can be rated: the start says all there is to say.
    for domain in () if weighing.empty else weighing.confidence.domains:
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
    lines += tell_brought_in(weighing)
    if weighing.left_out:
        lines += ["", "Left out:"]
        for item in weighing.left_out:
            lines += wrapped(f"- {item.label}: {item.reason} ({item.by})", "  ")
    lines += ["", "In a sentence:", *wrapped(weighing.wordings.plain, "  ")]
    if weighing.wordings.cue:
        lines += ["As a cue:", *wrapped(weighing.wordings.cue, "  ")]
    return "\n".join(lines)


def tell_confidence(weighing: Weighing) -> str:
    """The level, with its range where it has one; an opinion has neither."""
    if not weighing.graded:
        return "not graded: this is an opinion"
    confidence = weighing.confidence
    kind = " (backing, not evidence of an effect)" if weighing.kind.evidence == "backing" else ""
    return f"{confidence.span}{kind}"


def tell_brought_in(weighing: Weighing) -> list[str]:
    """Every study that bears on the claim, with the rule that brought it and why it counts as indirect."""
    if not weighing.brought:
        return []
    what = "Studies looked at" if weighing.empty else "Studies that bear on it"
    lines = ["", f"{what}, each with the rule that brought it in:"]
    for item in weighing.brought:
        lines += wrapped(f"- {item.told}", "  ")
    return lines


def count_studies(number: int) -> str:
    """`1 study`, `2 studies`."""
    return "1 study" if number == 1 else f"{number} studies"


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
