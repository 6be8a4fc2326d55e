"""A brief as a document: the answer with its drawing and what speaks against it, then reasons and figures."""

from evidence.appraisal.confidence import Choice, DomainRating, format_levels
from evidence.appraisal.origins import explain_origins, mark_origin
from evidence.appraisal.rulebook import cite_source
from evidence.publishing.briefs import (
    Assumption,
    Brief,
    StudyEntry,
    brief_forest,
    tell_contradiction,
    tell_effect,
    tell_grid_row,
)
from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Columns,
    Document,
    Figure,
    Items,
    Mark,
    Notice,
    Paragraph,
    Span,
    Table,
    aside,
    bullets,
    cell,
    paragraph,
    prose,
    section,
    soft,
    sources,
    strong,
    table,
)
from evidence.publishing.figures import describe_plot, forest_svg
from evidence.publishing.formats import write_as_text
from evidence.publishing.mark import mark_words
from evidence.publishing.sources import NO_ADVICE
from evidence.publishing.terminal import forest_text
from evidence.publishing.trend_figure import TrendPlot, caption_of, describe_trend, trend_svg
from evidence.publishing.trend_text import trend_text

DOMAIN_NAMES = {
    "risk_of_bias": "Risk of bias",
    "inconsistency": "Inconsistency",
    "indirectness": "Indirectness",
    "imprecision": "Imprecision",
    "publication_bias": "Publication bias",
}


def brief_document(brief: Brief) -> Document:
    """The brief as a document."""
    blocks: list[Block] = [
        *_first_page(brief),
        *_confidence(brief),
        *_studies(brief),
        *_assumptions(brief),
        section("Words that fit"),
        paragraph(strong("Short. "), brief.wordings.short),
        paragraph(strong("In full. "), brief.wordings.full),
        *sources(brief.references),
    ]
    return _document(brief, blocks)


def brief_sheet(brief: Brief) -> Document:
    """The answer on one page to hand over: what the evidence says, how sure, why, each study, and the sources."""
    rated = brief.graded and not brief.empty
    lowered = [d for d in brief.confidence.domains if d.counted] if rated else []
    blocks: list[Block] = [*_first_page(brief, tables=False)]
    if lowered:
        reasons = tuple((Paragraph(prose(strong(f"{DOMAIN_NAMES[d.domain]}. "), d.reason)),) for d in lowered)
        blocks += [section("Why this confidence"), Items(reasons)]
    return _document(brief, [*blocks, *sources(brief.references)], one_page=True)


def _document(brief: Brief, blocks: list[Block], *, one_page: bool = False) -> Document:
    return Document(
        title=brief.statement,
        kicker="Brief on one claim",
        blocks=tuple(blocks),
        made=brief.made,
        invented=brief.invented,
        made_up=brief.made_up,
        one_page=one_page,
        closing=(f"The claim is kept as {brief.key}.", NO_ADVICE),
    )


def _first_page(brief: Brief, *, tables: bool = True) -> list[Block]:
    """The answer: verdict and confidence, in words, drawn, what speaks against it, what would change it.

    `tables`: with the table beside a trend that is drawn, and each study's slope drawn too.
    """
    drawn = any(panel.trend is not None and panel.trend.drawn for panel in brief.panels)
    people = (aside(f"People the claim is about: {brief.people}"),) if brief.people else ()
    return [
        answer(brief),
        *(Notice(prose(text)) for text in brief.cautions),
        paragraph(brief.wordings.plain),
        *people,
        *(aside(note) for note in dict.fromkeys((*brief.verdict.notes, *brief.notes))),
        *_panels(brief, tables=tables),
        *(() if drawn and not tables else _drawing(brief)),
        _against(brief),
        *_changes(brief),
    ]


def brief_html(brief: Brief) -> str:
    """The brief as one HTML file."""
    return write_as_text(brief_document(brief), "html")


def brief_markdown(brief: Brief) -> str:
    """The brief as Markdown."""
    return write_as_text(brief_document(brief), "md")


def answer(brief: Brief) -> Columns:
    """Verdict and confidence side by side, each under what it is."""
    confidence = brief.confidence
    words = _capital(mark_words(confidence.level, confidence.low, confidence.high))
    marked: tuple[Mark, ...] = (Mark(confidence.level, confidence.low, confidence.high),)
    if not brief.graded:
        words, marked = "Not rated: no evidence is claimed", ()
    verdict: tuple[Block, ...] = (
        Paragraph(prose("Verdict: what the evidence says"), "label"),
        Paragraph(prose(_capital(brief.verdict.text)), "lead"),
        paragraph(brief.verdict.sentence),
    )
    trust: tuple[Block, ...] = (
        Paragraph(prose("Confidence: how far that can be trusted"), "label"),
        Paragraph(prose(words), "lead"),
        *((Paragraph(marked),) if marked else ()),
    )
    return Columns((verdict, trust))


def _drawing(brief: Brief) -> list[Block]:
    if not brief.studies:
        bare = brief.panels or not brief.graded
        return [] if bare else [paragraph("No study in the catalogue bears on this claim.")]
    if brief.panels and all(study.estimate is None for study in brief.studies):
        return []  # studies of a ranking have no figure of their own; the ranking stands above
    plot = brief_forest(brief)
    pooled = brief.verdict.k > 1
    bar = "the pooled estimate" if pooled else "the one estimate"
    parts = [
        "Squares: studies, larger with more weight. Open circle: no interval printed.",
        "Their intervals are normal ones, as they enter the pool; told alone, a study's is wider."
        if pooled
        else "",
        f"Bar on its pivot: {bar} and its 95 % interval.",
        "Dashed: where the result of a new study may fall." if brief.prediction else "",
        f"Pooled by {brief.pooling}." if brief.pooling else "",
    ]
    caption = " ".join(part for part in parts if part)
    alt = f"Forest plot. {describe_plot(plot)} The table of studies has the same figures."
    return [Figure(forest_svg(plot), alt, prose(caption), forest_text(plot, 78))]


def _panels(brief: Brief, *, tables: bool = True) -> list[Block]:
    """What this kind of claim has to show: the levels of a trend, a ranking, a band, the sources of a reason."""
    blocks: list[Block] = []
    for panel in brief.panels:
        blocks += [section(panel.heading), paragraph(panel.text)]
        drawn = panel.trend is not None and bool(panel.trend.drawn)
        if panel.trend is not None and drawn:
            blocks.append(_trend(panel.trend, tables=tables))
        if panel.rows and (tables or not drawn):
            blocks.append(table(panel.heading, panel.head, panel.rows))
        blocks += [aside(note) for note in panel.notes]
    return blocks


def _trend(plot: TrendPlot, *, tables: bool) -> Figure:
    alt = f"Drawing of a trend. {describe_trend(plot)}{' The table has the same figures.' if tables else ''}"
    return Figure(trend_svg(plot), alt, prose(caption_of(plot)), trend_text(plot))


def _against(brief: Brief) -> Box:
    blocks: list[Block] = [section("What speaks against it"), paragraph(tell_contradiction(brief))]
    if brief.left_out:
        blocks.append(paragraph("Left out, with the reason:"))
        blocks.append(bullets(f"{item.label}: {item.reason}" for item in brief.left_out))
    return Box(tuple(blocks), "against")


def _changes(brief: Brief) -> list[Block]:
    if not (brief.changes or brief.review_due):
        return []
    blocks: list[Block] = [section("What would change it")]
    if brief.changes:
        blocks.append(bullets(brief.changes))
    if brief.review_due:
        blocks.append(paragraph(f"To be reviewed by {brief.review_due}."))
    return blocks


def _confidence(brief: Brief) -> list[Block]:
    confidence = brief.confidence
    if not brief.graded:
        return []
    start = f"Starts {confidence.start}: {confidence.start_reason}. Rated for: {confidence.target}."
    overall = _tell_choice(_choice(brief, "overall"))
    if brief.empty:
        said = f"Starts {confidence.start}: {confidence.start_reason}."
        return [section("Why this confidence"), paragraph(said), *(aside(note) for note in confidence.notes)]
    return [
        section("Why this confidence"),
        paragraph(start),
        _domain_table(brief),
        *([paragraph(strong(overall))] if overall else []),
        *(aside(note) for note in confidence.notes),
        *(aside(text) for text in explain_origins(d.conf for d in confidence.domains)),
        aside(_tell_rules(brief)),
    ]


def _domain_table(brief: Brief) -> Table:
    rows = [
        (DOMAIN_NAMES[d.domain], _tell_levels(d), _domain_reason(brief, d)) for d in brief.confidence.domains
    ]
    return table("Why this confidence", ("Domain", "Levels", "Reason"), rows, shares=(2, 1.6, 7))


def _domain_reason(brief: Brief, domain: DomainRating) -> Cell:
    choice = _tell_choice(_choice(brief, domain.domain))
    options = (prose(soft(option)) for option in domain.options)
    mark = mark_origin(domain.conf)
    reason = f"{domain.reason} {mark}" if mark else domain.reason
    return cell(reason, *options, prose(strong(choice)))


def _choice(brief: Brief, domain: str) -> Choice | None:
    return next((c for c in brief.confidence.choices if c.domain == domain), None)


def _tell_choice(choice: Choice | None) -> str:
    if choice is None:
        return ""
    stale = " The evidence has changed since: look at this again." if choice.stale else ""
    said = f"{choice.person} ({choice.date}) chose {choice.chosen} over the proposed {choice.proposed}"
    return f"{said}: {choice.reason}{stale}"


def _tell_levels(domain: DomainRating) -> str:
    levels = format_levels(domain.proposed)
    if domain.proposed is None:
        return f"open (counted {format_levels(domain.counted)})"
    if domain.borderline:
        other = domain.best if domain.best != domain.proposed else domain.worst
        return f"{levels}, perhaps {format_levels(other)}"
    return levels


def _tell_rules(brief: Brief) -> str:
    """Where the rules that fired come from, each source once."""
    keys = dict.fromkeys(key for domain in brief.confidence.domains for key in domain.sources)
    named = "; ".join(cite_source(key) for key in keys)
    used = ", ".join(domain.rule_id for domain in brief.confidence.domains)
    book = f"of the {brief.confidence.rule_set} set, version {brief.confidence.version}"
    return f"Rules applied: {used} {book}. Their sources: {named}."


def _studies(brief: Brief) -> list[Block]:
    if not brief.studies:
        return []
    rows = [_study_row(brief, study) for study in brief.studies]
    head = ("Study and people", "n", "As printed", "Effect (95 % interval)", "Risk of bias")
    return [
        section("Studies"),
        table("Studies", head, rows, numeric=(1,), shares=(3.4, 0.7, 4, 2.9, 1.5)),
    ]


def _study_row(brief: Brief, study: StudyEntry) -> tuple[Cell, Cell, Cell, Cell, Cell]:
    number = next((i for i, r in enumerate(brief.references, 1) if r.key == study.reference), None)
    link = Span(f"[{number}]", target=f"ref-{number}") if number else ""
    notices = (prose(strong(notice)) for notice in study.notices)
    printed = (prose(f"{p.condition}: {p.figure} ", soft(f"({_together(p.locator)})")) for p in study.printed)
    reading = _tell_reading(study)
    indirect = (prose(soft(f"Indirect: {reason}")) for reason in study.indirect)
    return (
        cell(
            prose(study.label, " " if number else "", link),
            *notices,
            prose(soft(f"{study.people}; {study.design}")),
        ),
        cell(str(study.n)),
        cell(*printed, prose(soft(reading))),
        cell(tell_effect(brief, study), *indirect, prose(soft(study.note))),
        cell(study.bias),
    )


def _tell_reading(study: StudyEntry) -> str:
    if not study.read_from:
        return ""
    checked = "checked by a second reader" if study.verified else "not checked by a second reader"
    return f"{_capital(study.read_from)}; {checked}."


def _assumptions(brief: Brief) -> list[Block]:
    if not brief.assumptions:
        return []
    blocks: list[Block] = [section("What the figures assume")]
    bare: list[Assumption] = []
    for assumption in brief.assumptions:
        if not assumption.grid:
            bare.append(assumption)
            continue
        rows = [
            (
                row.name if row.value is None else f"{row.name} ({row.value:g})",
                tell_grid_row(brief, row),
                row.verdict,
            )
            for row in assumption.grid
        ]
        head = ("Value assumed", "Estimate (95 % interval)", "Verdict")
        blocks += [
            _tell_assumption(assumption),
            table(
                f"Under other assumed values: {assumption.text[:60].rstrip(' .,')}",
                head,
                rows,
                shares=(2, 3, 4),
            ),
            paragraph(_conclude(assumption)),
        ]
    if bare:
        blocks.append(Items(tuple((_tell_assumption(item),) for item in bare)))
    return blocks


def _tell_assumption(assumption: Assumption) -> Paragraph:
    source = soft(f" ({assumption.source})") if assumption.source else ""
    return paragraph(assumption.text, source)


def _conclude(assumption: Assumption) -> str:
    if assumption.changes_verdict:
        return "The verdict changes with the value assumed: take it as open until the true value is known."
    return "The verdict is the same for every value tried."


def _together(text: str) -> str:
    """A short text that is not broken over lines."""
    return text.replace(" ", "\u00a0") if len(text) < 16 else text


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
