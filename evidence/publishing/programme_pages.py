"""An annotated programme as Markdown and as one self-contained HTML file."""

from typing import Any

from evidence.publishing.mark import mark_svg, mark_text, mark_words
from evidence.publishing.markdown import bullets, escape, heading, join_blocks, link, table
from evidence.publishing.programmes import (
    COUNTING,
    AnnotatedProgramme,
    Pick,
    PickClaim,
    Session,
    count_profile,
    format_sets,
)
from evidence.publishing.sources import INVENTED, NO_ADVICE
from evidence.publishing.templating import render

NOTHING = "Rests on nothing in the catalogue: no study here bears on this pick."
COLUMNS = ("sets", "reps", "load", "effort", "rest", "tempo")


def programme_html(programme: AnnotatedProgramme) -> str:
    """The programme as one HTML file."""
    return render(
        "programme.html",
        programme=programme,
        made=programme.made,
        invented=programme.invented,
        invented_text=INVENTED,
        no_advice=NO_ADVICE,
        facts=_facts(programme),
        profile=count_profile(programme),
        sessions=[_show_session(session) for session in programme.sessions],
        counting=COUNTING,
        format_sets=format_sets,
        nothing=NOTHING,
    )


def programme_markdown(programme: AnnotatedProgramme) -> str:
    """The programme as Markdown (CommonMark with tables)."""
    blocks = [
        f"**{escape(INVENTED)}**" if programme.invented else "",
        heading(1, programme.title),
        bullets(f"{escape(name)}: {escape(value)}" for name, value in _facts(programme)),
        *(f"> **Caution.** {escape(text)}" for text in programme.cautions),
        escape(count_profile(programme)),
    ]
    for session in programme.sessions:
        blocks += _session_blocks(session)
    blocks += _closing_blocks(programme)
    return join_blocks(blocks)


def _facts(programme: AnnotatedProgramme) -> list[tuple[str, str]]:
    named = (
        ("By", programme.author),
        ("For", programme.audience),
        ("Goal", programme.goal),
        ("Length", programme.weeks),
        ("Equipment", programme.equipment),
    )
    return [(name, value) for name, value in named if value]


def _used_columns(session: Session) -> list[str]:
    return [c for c in COLUMNS if any(getattr(pick.prescription, c) for pick in session.picks)]


def _show_session(session: Session) -> dict[str, Any]:
    return {
        "title": session.title,
        "columns": _used_columns(session),
        "picks": [_show_pick(pick) for pick in session.picks],
    }


def _show_pick(pick: Pick) -> dict[str, Any]:
    cells = {column: getattr(pick.prescription, column) for column in COLUMNS}
    return {"pick": pick, "cells": cells, "claims": [_show_claim(claim) for claim in pick.claims]}


def _show_claim(claim: PickClaim) -> dict[str, Any]:
    from markupsafe import Markup

    return {
        "claim": claim,
        "confidence": mark_words(claim.level, claim.low, claim.high),
        "mark": Markup(mark_svg(claim.level, claim.low, claim.high)),  # made by our own template
        "stance": _tell_stance(claim),
        "flags": _tell_flags(claim),
    }


def _tell_flags(claim: PickClaim) -> list[str]:
    """Each flag as a sentence."""
    return [f"{flag[:1].upper()}{flag[1:].rstrip('.')}." for flag in claim.flags if flag]


def _tell_stance(claim: PickClaim) -> str:
    if not claim.bears_evidence:
        return "No study bears on it."
    if claim.favours_pick is None:
        return "Speaks neither for this pick nor against it."
    return "Speaks for this pick." if claim.favours_pick else "Speaks against this pick."


def _session_blocks(session: Session) -> list[str]:
    columns = _used_columns(session)
    rows = []
    for pick in session.picks:
        name = f"{pick.group} {pick.exercise}".strip()
        note = f" ({pick.note})" if pick.note else ""
        rows.append((f"{name}{note}", *(getattr(pick.prescription, c) for c in columns)))
    blocks = [heading(2, session.title)]
    if not rows:
        return [*blocks, "No picks."]
    blocks.append(table(("Exercise", *(c.capitalize() for c in columns)), rows))
    blocks.append(heading(3, "Why each pick"))
    blocks += [_pick_block(pick) for pick in session.picks]
    return blocks


def _pick_block(pick: Pick) -> str:
    regions = f" ({escape(', '.join(pick.regions))})" if pick.regions else ""
    lines = [f"**{escape(pick.exercise)}**{regions}", ""]
    if pick.rests_on_nothing:
        lines.append(f"- **{NOTHING}**")
    for claim in pick.claims:
        mark = mark_text(claim.level, claim.low, claim.high)
        flags = "".join(f" {flag}" for flag in _tell_flags(claim))
        confidence = f" Confidence: {mark}." if claim.bears_evidence else ""
        cited = f" ({claim.citation})" if claim.citation else ""
        said = f"{claim.wording} Verdict: {claim.verdict_text}. {claim.figures}{confidence}"
        lines.append(f"- {escape(f'{said} {_tell_stance(claim)}{flags}{cited}')}")
    if pick.reason:
        lines.append(f"- The author's reason: {escape(pick.reason)}")
    lines += [f"- Swap: {escape(swap)}" for swap in pick.swaps]
    lines += [f"- To settle: {escape(problem)}" for problem in pick.problems]
    return "\n".join(lines)


def _closing_blocks(programme: AnnotatedProgramme) -> list[str]:
    sets = [
        (
            w.region,
            format_sets(w.direct),
            format_sets(w.fractional),
            format_sets(w.total),
            str(w.days),
            w.priority,
        )
        for w in programme.weekly_sets
    ]
    gaps = programme.audience_gaps or (
        "No difference was found between those it is for and those who were studied.",
    )
    references = []
    for number, item in enumerate(programme.references, 1):
        notice = f"**{escape(item.notice)}.** " if item.notice else ""
        address = f" {link(item.url, item.url)}" if item.url else ""
        references.append(f"{number}. {notice}{escape(item.text)}{address}")
    return [
        heading(2, "Weekly sets per region") if sets else "",
        escape(COUNTING) if sets else "",
        table(("Region", "Direct", "Fractional", "Total", "Days", "Priority"), sets) if sets else "",
        heading(2, "Who it is for, and who was studied"),
        bullets(escape(gap) for gap in gaps),
        heading(2, "Open questions") if programme.open_questions else "",
        bullets(escape(question) for question in programme.open_questions),
        heading(2, "Read from the file with an assumption") if programme.assumed else "",
        bullets(escape(reading) for reading in programme.assumed),
        heading(2, "Sources"),
        "\n".join(references) or "No source is listed.",
        "---",
        escape(programme.made.line),
        escape(NO_ADVICE),
    ]
