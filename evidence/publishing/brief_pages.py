"""A brief as Markdown and as one self-contained HTML file (inline styles and figure, no scripts, nothing
fetched).
"""

from typing import Any

from evidence.appraisal.confidence import Choice, DomainRating, format_levels
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
from evidence.publishing.figures import forest_svg
from evidence.publishing.mark import mark_svg, mark_text, mark_words
from evidence.publishing.markdown import bullets, code_block, escape, heading, join_blocks, link, table
from evidence.publishing.sources import INVENTED, NO_ADVICE
from evidence.publishing.templating import render
from evidence.publishing.terminal import forest_text

DOMAIN_NAMES = {
    "risk_of_bias": "Risk of bias",
    "inconsistency": "Inconsistency",
    "indirectness": "Indirectness",
    "imprecision": "Imprecision",
    "publication_bias": "Publication bias",
}


def brief_html(brief: Brief) -> str:
    """The brief as one HTML file."""
    from markupsafe import Markup

    confidence = brief.confidence
    return render(
        "brief.html",
        brief=brief,
        made=brief.made,
        invented=brief.invented,
        invented_text=INVENTED,
        no_advice=NO_ADVICE,
        verdict_text=_capital(brief.verdict.text),
        confidence_words=_capital(mark_words(confidence.level, confidence.low, confidence.high)),
        mark=Markup(mark_svg(confidence.level, confidence.low, confidence.high)),  # made by our own template
        forest=Markup(forest_svg(brief_forest(brief))),  # likewise
        domains=[_show_domain(brief, d) for d in confidence.domains],
        overall_choice=_tell_choice(_choice(brief, "overall")),
        notes=_all_notes(brief),
        rules=_tell_rules(brief),
        studies=[_show_study(brief, s) for s in brief.studies],
        contradiction=tell_contradiction(brief),
        assumptions=[_show_assumption(brief, a) for a in brief.assumptions],
    )


def brief_markdown(brief: Brief) -> str:
    """The brief as Markdown (CommonMark with tables)."""
    confidence, verdict = brief.confidence, brief.verdict
    mark = mark_text(confidence.level, confidence.low, confidence.high)
    notes = [escape(note) for note in _all_notes(brief)]
    blocks = [
        f"**{escape(INVENTED)}**" if brief.invented else "",
        heading(1, brief.statement),
        f"**Verdict** (what the evidence says): {escape(verdict.text)}. {escape(verdict.sentence)}",
        f"**Confidence** (how far that can be trusted): {escape(mark)}",
        *(f"> **Caution.** {escape(text)}" for text in brief.cautions),
        escape(brief.wordings.plain),
        f"People the claim is about: {escape(brief.people)}" if brief.people else "",
        bullets(notes),
        heading(2, "Why this confidence"),
        escape(f"Starts {confidence.start}: {confidence.start_reason}. Rated for: {confidence.target}."),
        _domain_table(brief),
        escape(_tell_choice(_choice(brief, "overall"))),
        bullets(escape(note) for note in confidence.notes),
        escape(_tell_rules(brief)),
        heading(2, "Studies"),
        *_study_blocks(brief),
        heading(2, "What speaks against it"),
        escape(tell_contradiction(brief)),
        bullets(f"Left out: {escape(o.label)}. {escape(o.reason)}" for o in brief.left_out),
        *_assumption_blocks(brief),
        heading(2, "Words that fit"),
        f"Short: {escape(brief.wordings.short)}",
        f"In full: {escape(brief.wordings.full)}",
        heading(2, "What would change it") if brief.changes or brief.review_due else "",
        bullets(escape(change) for change in brief.changes),
        escape(f"To be reviewed by {brief.review_due}.") if brief.review_due else "",
        heading(2, "Sources"),
        reference_list(brief),
        "---",
        escape(brief.made.line),
        escape(NO_ADVICE),
    ]
    return join_blocks(blocks)


def reference_list(brief: Brief) -> str:
    """The numbered sources as Markdown."""
    lines = []
    for number, item in enumerate(brief.references, 1):
        notice = f"**{escape(item.notice)}.** " if item.notice else ""
        address = f" {link(item.url, item.url)}" if item.url else ""
        lines.append(f"{number}. {notice}{escape(item.text)}{address}")
    return "\n".join(lines) or "No source is listed."


def _all_notes(brief: Brief) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*brief.verdict.notes, *brief.notes)))


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


def _show_domain(brief: Brief, domain: DomainRating) -> dict[str, Any]:
    mark = {"memory": " (the rule is from memory)", "project": " (a convention of this project)"}
    return {
        "name": DOMAIN_NAMES[domain.domain],
        "levels": _tell_levels(domain),
        "reason": domain.reason,
        "options": domain.options,
        "choice": _tell_choice(_choice(brief, domain.domain)),
        "rule": f"Rule {domain.rule_id}{mark.get(domain.conf, '')}",
    }


def _tell_rules(brief: Brief) -> str:
    """Where the rules that fired come from, each source once."""
    keys = dict.fromkeys(key for domain in brief.confidence.domains for key in domain.sources)
    sources = "; ".join(cite_source(key) for key in keys)
    book = f"set {brief.confidence.rule_set}, version {brief.confidence.version}"
    return f"Rules: {book}. Their sources: {sources}."


def _domain_table(brief: Brief) -> str:
    rows = []
    for domain in brief.confidence.domains:
        shown = _show_domain(brief, domain)
        reason = " ".join([shown["reason"], *shown["options"], shown["choice"]]).strip()
        rows.append((shown["name"], shown["levels"], reason, shown["rule"]))
    return table(("Domain", "Levels", "Reason", "Rule"), rows)


def _number_of(brief: Brief, study: StudyEntry) -> int | None:
    return next((i for i, r in enumerate(brief.references, 1) if r.key == study.reference), None)


def _tell_reading(study: StudyEntry) -> str:
    if not study.read_from:
        return ""
    checked = "checked by a second reader" if study.verified else "not checked by a second reader"
    return f"{_capital(study.read_from)}; {checked}."


def _show_study(brief: Brief, study: StudyEntry) -> dict[str, Any]:
    return {
        "entry": study,
        "number": _number_of(brief, study),
        "effect": tell_effect(brief, study).replace(" to ", "\u00a0to\u00a0"),
        "read": _tell_reading(study),
    }


def _study_blocks(brief: Brief) -> list[str]:
    if not brief.studies:
        return ["No study in the catalogue bears on this claim."]
    rows = []
    for study in brief.studies:
        number = _number_of(brief, study)
        label = f"{study.label} (source {number})" if number else study.label
        printed = "; ".join(f"{p.condition}: {p.figure} ({p.locator})" for p in study.printed)
        indirect = "".join(f" Indirect: {reason}." for reason in study.indirect)
        note = f" {study.note}" if study.note else ""
        rows.append(
            (
                ". ".join([label, *study.notices]),
                str(study.n),
                f"{study.people}; {study.design}",
                f"{printed} {_tell_reading(study)}".strip(),
                f"{tell_effect(brief, study)}{indirect}{note}",
                study.bias,
            )
        )
    pooling = f"Pooled by {escape(brief.pooling)}." if brief.pooling else ""
    head = ("Study", "n", "People and design", "As printed", "Effect (95 % interval)", "Risk of bias")
    return [code_block(forest_text(brief_forest(brief), 92)), pooling, table(head, rows)]


def _conclude(assumption: Assumption) -> str:
    if assumption.changes_verdict:
        return "The verdict changes with the value assumed: take it as open until the true value is known."
    return "The verdict is the same for every value tried."


def _show_assumption(brief: Brief, assumption: Assumption) -> dict[str, Any]:
    grid = [
        {
            "name": row.name if row.value is None else f"{row.name} ({row.value:g})",
            "figures": tell_grid_row(brief, row),
            "verdict": row.verdict,
        }
        for row in assumption.grid
    ]
    return {"entry": assumption, "grid": grid, "conclusion": _conclude(assumption)}


def _assumption_blocks(brief: Brief) -> list[str]:
    if not brief.assumptions:
        return []
    blocks = [heading(2, "What the figures assume")]
    for assumption in brief.assumptions:
        shown = _show_assumption(brief, assumption)
        source = f" ({escape(assumption.source)})" if assumption.source else ""
        blocks.append(f"{escape(assumption.text)}{source}")
        if assumption.grid:
            rows = [(row["name"], row["figures"], row["verdict"]) for row in shown["grid"]]
            blocks += [
                table(("Value assumed", "Estimate (95 % interval)", "Verdict"), rows),
                shown["conclusion"],
            ]
    return blocks


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
