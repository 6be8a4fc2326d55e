"""A trace as lines of text: one figure a line, with its formula, inputs and source."""

import textwrap
from collections.abc import Sequence

from evidence.appraisal.confidence import DomainRating, format_levels
from evidence.appraisal.metrics import find_metric, format_value
from evidence.statistics.effect import Assumption, Step
from evidence.workflows.trace.traced_figures import TracedFigure, show_figure
from evidence.workflows.trace.traced_rankings import RankingFed
from evidence.workflows.trace.traced_studies import TracedContrast, TracedStudy
from evidence.workflows.trace.tracing import ClaimTrace, Feed, ResultTrace

WIDTH = 100


def claim_trace_text(trace: ClaimTrace) -> str:
    """The chain of a claim, from the pages to the sentence."""
    lines = ["INVENTED demonstration data", ""] if trace.invented else []
    lines += wrap(f"{trace.statement} ({trace.claim})")
    lines += wrap(f"Scale: {name_scale(trace.scale)}. Every contrast is exercise minus comparator.")
    for number, study in enumerate(trace.studies, 1):
        lines += ["", *study_lines(number, study, trace.scale)]
    if not trace.studies:
        lines += ["", "No study in the catalogue bears on it."]
    for item in trace.left_out:
        lines += ["", *wrap(f"Left out: {item.label}: {item.reason} ({item.by})")]
    if trace.pooling:
        lines += ["", "POOLING", *steps_lines(trace.pooling, 2)]
    lines += ["", f"VERDICT: {trace.verdict}"]
    lines += [line for text in trace.verdict_steps for line in wrap(text, 2)]
    lines += ["", f"CONFIDENCE: {trace.confidence}", *wrap(f"starts {trace.start}", 2)]
    lines += [line for domain in trace.domains for line in domain_lines(domain)]
    lines += [line for text in trace.choices for line in wrap(f"chosen otherwise: {text}", 2)]
    if trace.shown:
        lines += ["", "AS PEOPLE READ IT", *steps_lines(trace.shown, 2)]
    lines += ["", "IN THE SENTENCE", *wrap(trace.sentence, 2)]
    if trace.notes:
        lines += ["", "NOTES", *(line for note in trace.notes for line in wrap(f"- {note}", 2))]
    return "\n".join(lines)


def study_lines(number: int, study: TracedStudy, scale: str) -> list[str]:
    """One study: sources, contrasts, how they are joined, and its figure."""
    share = "" if study.weight is None else f", weight {100 * study.weight:.4g} %"
    lines = [f"{number}. {study.label} ({study.key}){share}"]
    for source in study.sources:
        lines += wrap(f"reported in: {source}", 3)
    for notice in study.notices:
        lines += wrap(f"notice: {notice}", 3)
    for contrast in study.contrasts:
        lines += contrast_lines(contrast, scale)
    if study.joining:
        lines += ["   Joined:", *steps_lines(study.joining, 6)]
    shown = {a for c in study.contrasts for a in c.assumptions}
    lines += assumption_lines([a for a in study.assumptions if a not in shown], 6)
    metric = find_metric(scale)
    if study.estimate is None:
        return [*lines, *wrap(f"No figure on this scale: {study.note}", 3)]
    told = f"   The study's figure: {show_figure(study.estimate)} ({format_value(metric, study.estimate, sign=True)})"
    if study.variance is None:
        return [*lines, *wrap(f"{told.strip()}, without an interval: {study.note}", 3)]
    lines += wrap(f"{told.strip()}, variance {show_figure(study.variance)}, {study.people} people", 3)
    return [*lines, *steps_lines(study.interval, 6)]


def contrast_lines(contrast: TracedContrast, scale: str) -> list[str]:
    """One contrast: what is compared, the printed figures, the steps."""
    where = f"; {contrast.region}" if contrast.region else ""
    lines = wrap(f"{contrast.exercise} against {contrast.comparator}{where}; {contrast.outcome}", 3)
    for traced in contrast.figures:
        lines += figure_lines(traced, 6)
    for link in contrast.correlations:
        place = f", {link.place}" if link.place else ""
        lines += wrap(f"r = {show_figure(link.r)} between {link.a} and {link.b} ({link.origin}{place})", 6)
    lines += steps_lines(contrast.steps, 6)
    lines += assumption_lines(contrast.assumptions, 6)
    if contrast.note:
        lines += wrap(f"note: {contrast.note}", 6)
    if contrast.estimate is not None and contrast.variance is None:
        lines += wrap(f"estimate without uncertainty: {show_figure(contrast.estimate)}", 6)
    return lines


def figure_lines(traced: TracedFigure, indent: int) -> list[str]:
    """A printed figure with its place, reader and conversions."""
    kind = "" if traced.spread == "none" else f" ({traced.spread})"
    seen = f"checked by {traced.verified_by}" if traced.verified_by else "not checked by a second reader"
    lines = wrap(f'printed "{traced.printed}" {traced.unit}{kind}: {traced.what} [{traced.result}]', indent)
    lines += wrap(
        f"{traced.place}; read from {traced.read_from} by {traced.read_by} on {traced.read_on}; {seen}",
        indent + 3,
    )
    if traced.table:
        line = f': "{traced.line}"' if traced.line else ""
        lines += wrap(f"{traced.table}, {traced.cell}{line}", indent + 3)
    if traced.note:
        lines += wrap(traced.note, indent + 3)
    lines += steps_lines(traced.conversions, indent + 3)
    lines += assumption_lines(traced.assumptions, indent + 3)
    if traced.mean is not None and traced.sd is not None:
        people = f"n {traced.n} ({traced.n_from})"
        lines += wrap(
            f"used as: mean {show_figure(traced.mean)}, SD {show_figure(traced.sd)}, {people}", indent + 3
        )
    elif traced.problem:
        lines += wrap(f"cannot be used alone: {traced.problem}", indent + 3)
    return lines


def steps_lines(steps: Sequence[Step], indent: int) -> list[str]:
    """Steps, one a line: name = value: formula; inputs; source."""
    lines = []
    for step in steps:
        inputs = ", ".join(f"{name} {v if isinstance(v, str) else show_figure(v)}" for name, v in step.inputs)
        parts = "; ".join(part for part in (step.formula, inputs, step.source) if part)
        lines += wrap(f"{step.name} = {show_figure(step.value)}: {parts}", indent)
    return lines


def assumption_lines(assumptions: Sequence[Assumption], indent: int) -> list[str]:
    """What had to be assumed, with its source."""
    return [
        line
        for a in assumptions
        for line in wrap(f"assumed: {a.text}{f' ({a.source})' if a.source else ''}", indent)
    ]


def domain_lines(domain: DomainRating) -> list[str]:
    """One domain of confidence: levels, rule, the figures the rule saw, reason."""
    facts = ", ".join(f"{name} {show_fact(value)}" for name, value in domain.facts if value not in (None, ""))
    rule = f"rule {domain.rule_id} ({domain.conf}; {', '.join(domain.sources)})"
    text = f"{domain.domain.replace('_', ' ')} {format_levels(domain.proposed)}: {domain.reason} {rule}"
    return [*wrap(text, 2), *(wrap(f"saw: {facts}", 5) if facts else [])]


def show_fact(value: object) -> str:
    """A fact as the rule saw it."""
    return show_figure(value) if isinstance(value, float) else str(value)


def result_trace_text(trace: ResultTrace) -> str:
    """A printed figure and what it feeds."""
    lines = [f"{trace.figure.study}/{trace.figure.result}", *figure_lines(trace.figure, 3)]
    for source in trace.source:
        lines += wrap(f"reported in: {source}", 3)
    lines += ["", f"FEEDS {len(trace.feeds)} {'claim' if len(trace.feeds) == 1 else 'claims'}"]
    for feed in trace.feeds:
        lines += ["", *feed_lines(feed)]
    if trace.rankings:
        lines += ["", "RANKINGS WRITTEN OUT"]
        lines += [line for ranking in trace.rankings for line in wrap(ranking_line(ranking), 3)]
    if trace.unused:
        lines += ["", "BEARS ON, AND DOES NOT ENTER"]
        lines += [line for key, reason in trace.unused for line in wrap(f"{key}: {reason}", 3)]
    return "\n".join(lines)


def ranking_line(ranking: RankingFed) -> str:
    """One ranking that went out, and whether the figure enters it."""
    use = "it enters" if ranking.enters else f"it does not enter: {ranking.reason}"
    return (
        f"{ranking.name} ({ranking.outcome} of the {ranking.region.removeprefix('the ')}, written on "
        f"{ranking.written_on}): {use}. Order then: {ranking.order}."
    )


def feed_lines(feed: Feed) -> list[str]:
    """One claim that a figure feeds."""
    lines = wrap(f"{feed.claim}: {feed.statement}")
    for contrast in feed.contrasts:
        where = f"; {contrast.region}" if contrast.region else ""
        told = "" if contrast.estimate is None else f": {show_figure(contrast.estimate)}"
        spread = "" if contrast.variance is None else f", variance {show_figure(contrast.variance)}"
        lines += wrap(f"in {contrast.exercise} against {contrast.comparator}{where}{told}{spread}", 3)
    if feed.estimate is not None:
        share = "not pooled" if feed.weight is None else f"weight {100 * feed.weight:.4g} %"
        shown = format_value(find_metric(feed.scale), feed.estimate, sign=True)
        lines += wrap(f"the study's figure there: {show_figure(feed.estimate)} ({shown}), {share}", 3)
    lines += wrap(f"verdict: {feed.verdict}; confidence: {feed.confidence}", 3)
    lines += wrap(feed.sentence, 3)
    if feed.told_in:
        lines += wrap(f"told in: {', '.join(feed.told_in)}", 3)
    return lines


def name_scale(scale: str) -> str:
    """A scale as people call it, with how they read it."""
    metric = find_metric(scale)
    return f"{metric.name} (read as {metric.unit})"


def wrap(text: str, indent: int = 0) -> list[str]:
    """Text broken to the width, further lines set in."""
    start = " " * indent
    return textwrap.wrap(
        text, WIDTH, initial_indent=start, subsequent_indent=f"{start}   ", break_on_hyphens=False
    ) or [""]
