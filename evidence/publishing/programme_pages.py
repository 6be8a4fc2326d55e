"""An annotated programme as documents: the plan with everything it rests on, and the plan alone on one page."""

import re

from evidence.appraisal.levels import Level
from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Document,
    Heading,
    Inline,
    Mark,
    Notice,
    Prose,
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
from evidence.publishing.formats import write_as_text
from evidence.publishing.mark import mark_words
from evidence.publishing.programmes import (
    AGAINST,
    COUNTING,
    ELSEWHERE,
    NOTHING_BEHIND,
    OPEN,
    RELATED,
    AnnotatedProgramme,
    Pick,
    PickClaim,
    Session,
    Swap,
    WeeklySets,
    all_picks,
    count_profile,
    find_standing,
    format_sets,
)

NOTHING = "Rests on nothing in the catalogue: no study here bears on this pick."
COLUMNS = ("sets", "reps", "load", "effort", "rest", "tempo", "weekly")
ROOM, LETTER, WIDEST = (
    0.5,
    0.12,
    1.8,
)  # of a column: beside its figures, a letter of the longest, and its most
UNCOMPARED = "Swaps for the same muscles, which no claim here compares with it: "
NO_GAP = "No difference was found between those it is for and those who were studied."
SHORT_STANDING = {
    OPEN: "open answers",
    AGAINST: "claims against",
    RELATED: "a related exercise only",
    ELSEWHERE: "another outcome or muscle",
    NOTHING_BEHIND: "rests on nothing",
}


def programme_document(programme: AnnotatedProgramme) -> Document:
    """The whole programme: sessions, why each pick, swaps, weekly sets, people, open questions, sources."""
    blocks: list[Block] = [
        *_facts(programme),
        *(Notice(prose(text)) for text in programme.cautions),
        paragraph(count_profile(programme)),
    ]
    used = _used_columns(programme)
    for session in programme.sessions:
        blocks += _session(session, used, programme)
    blocks += [*_weekly_sets(programme), *_overlaps(programme), *_people(programme), *_left_open(programme)]
    return _document(programme, "Programme with its evidence", [*blocks, *sources(programme.references)])


def programme_sheet(programme: AnnotatedProgramme) -> Document:
    """The plan alone, to hang on a wall: what each pick rests on in a word, and the cautions, on one page."""
    blocks: list[Block] = list(_facts(programme))
    used = _used_columns(programme)
    for session in programme.sessions:
        blocks += [section(session.title), _plan(session, used, programme)]
    blocks += [Notice(prose(text)) for text in programme.cautions]
    blocks.append(aside(count_profile(programme)))
    return _document(programme, "Programme", blocks, one_page=True)


def programme_html(programme: AnnotatedProgramme) -> str:
    """The programme as one HTML file."""
    return write_as_text(programme_document(programme), "html")


def programme_markdown(programme: AnnotatedProgramme) -> str:
    """The programme as Markdown (CommonMark with tables)."""
    return write_as_text(programme_document(programme), "md")


def _document(
    programme: AnnotatedProgramme, kicker: str, blocks: list[Block], *, one_page: bool = False
) -> Document:
    return Document(
        title=programme.title,
        kicker=kicker,
        blocks=tuple(blocks),
        made=programme.made,
        author=programme.author,
        invented=programme.invented,
        made_up=programme.made_up,
        one_page=one_page,
    )


def _facts(programme: AnnotatedProgramme) -> list[Block]:
    named = (
        ("By", programme.author),
        ("For", programme.audience),
        ("Goal", programme.goal),
        ("Length", programme.weeks),
        ("Equipment", programme.equipment),
    )
    told: list[Prose] = [prose(soft(f"{name}: "), value) for name, value in named if value]
    joined = [part for place, text in enumerate(told) for part in ((soft(" · "),) if place else ()) + text]
    facts: list[Block] = [paragraph(*joined)] if joined else []
    return [*facts, paragraph(programme.note)] if programme.note else facts


def _used_columns(programme: AnnotatedProgramme) -> list[str]:
    return [c for c in COLUMNS if any(getattr(pick.prescription, c) for pick in all_picks(programme))]


def _session(session: Session, used: list[str], programme: AnnotatedProgramme) -> list[Block]:
    if not session.picks:
        return [section(session.title), paragraph("No picks.")]
    why = [_pick(pick, session.title) for pick in session.picks]
    return [section(session.title), _plan(session, used, programme), section("Why each pick", 3), *why]


def _plan(session: Session, used: list[str], programme: AnnotatedProgramme) -> Table:
    rows = []
    for pick in session.picks:
        group = soft(f"{pick.group} ") if pick.group else ""
        name = cell(prose(group, pick.exercise), prose(soft(pick.note)))
        cells = [cell(_whole(getattr(pick.prescription, c))) for c in used]
        rows.append((name, *cells, _standing(pick)))
    head = ("Exercise", *(c.capitalize() for c in used), "Rests on")
    shares = (2.8, *(_share(programme, c) for c in used), 2.6)
    return table(session.title, head, rows, shares=shares)


def _share(programme: AnnotatedProgramme, column: str) -> float:
    """How wide a column of figures is beside the others, by the longest in it: alike in every session."""
    texts = [column, *(getattr(pick.prescription, column) for pick in all_picks(programme))]
    return min(ROOM + LETTER * max(map(len, texts)), WIDEST)


def _whole(text: str) -> str:
    """A figure that is not parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=[A-Za-z]{1,3}\b)|(?<=RPE) ", "\u00a0", text)


def _standing(pick: Pick) -> Cell:
    found = find_standing(pick)
    if isinstance(found, Level):
        return cell(prose(f"{found} confidence", Mark(found, found, found)))
    return cell(SHORT_STANDING[found])


def _pick(pick: Pick, session: str) -> Box:
    regions = soft(f" for {', '.join(pick.regions)}") if pick.regions else ""
    blocks: list[Block] = [Heading(prose(pick.exercise, regions), 4)]
    if pick.rests_on_nothing:
        blocks.append(paragraph(strong(NOTHING)))
    blocks += [_claim(claim) for claim in pick.claims]
    if pick.reason:
        blocks.append(paragraph(soft("The author's reason: "), pick.reason))
    if pick.needs:
        blocks.append(paragraph(strong("Not at hand: "), pick.needs))
    blocks += _swaps(pick, session)
    blocks += [paragraph(strong("To settle: "), problem) for problem in pick.problems]
    return Box(tuple(blocks), "bare" if pick.rests_on_nothing else "pick")


def _claim(claim: PickClaim) -> Box:
    cited = soft(f" ({claim.citation})") if claim.citation else ""
    said: list[str | Inline] = [strong(f"{claim.studied}. ")] if claim.studied else []
    if claim.bears_evidence:
        said += [
            "Verdict: ", strong(claim.verdict_text), ". Confidence: ",
            strong(mark_words(claim.level, claim.low, claim.high)), Mark(claim.level, claim.low, claim.high), " ",
        ]  # fmt: skip
    said += [f"{claim.figures} {_stance(claim)}".strip(), *(strong(f" {flag}") for flag in _flags(claim))]
    return Box((paragraph(claim.wording, cited), aside(*said)), "claim")


def _flags(claim: PickClaim) -> list[str]:
    """Each flag as a sentence."""
    return [f"{flag[:1].upper()}{flag[1:].rstrip('.')}." for flag in claim.flags if flag]


def _stance(claim: PickClaim) -> str:
    if not claim.bears_evidence:
        return ""  # the figures say so
    if not claim.about_region:
        return (
            "It is about a muscle for which this pick is not chosen: it counts neither for it nor against it."
        )
    if claim.favours_pick is None:
        return "Speaks neither for this pick nor against it."
    return "Speaks for this pick." if claim.favours_pick else "Speaks against this pick."


def _swaps(pick: Pick, session: str) -> list[Block]:
    compared = [swap for swap in pick.swaps if swap.level is not None]
    others = [swap.exercise for swap in pick.swaps if swap.level is None]
    blocks: list[Block] = []
    if compared:
        rows = [(swap.exercise, _comparison(swap), swap.figures, _trust(swap)) for swap in compared]
        head = ("Swap for it", "How the two compare", "Effect and interval", "Confidence")
        blocks.append(table(f"Swaps for {pick.exercise}, {session}", head, rows, shares=(2, 3.8, 2.8, 1.8)))
    if others:
        named = "Other swaps, which no claim here compares with it: " if compared else UNCOMPARED
        blocks.append(aside(named, ", ".join(others), "."))
    return blocks


def _comparison(swap: Swap) -> Cell:
    said = {True: "Speaks for the swap.", False: "Speaks for the pick.", None: "Speaks for neither."}[
        swap.better
    ]
    other = "" if swap.about_goal else " On another outcome than the goal."
    studied = [prose(strong(f"{swap.studied}."))] if swap.studied else []
    verdict = prose(soft(f"Verdict: {swap.verdict_text}. {said}{other}"))
    return cell(swap.wording, *studied, verdict, prose(soft(swap.citation)))


def _trust(swap: Swap) -> Cell:
    assert swap.level is not None
    low, high = swap.low or swap.level, swap.high or swap.level
    return cell(mark_words(swap.level, low, high), (Mark(swap.level, low, high),))


def _weekly_sets(programme: AnnotatedProgramme) -> list[Block]:
    if not programme.weekly_sets:
        return []
    ranked = any(row.priority for row in programme.weekly_sets)
    head = ("Region", "Direct", "Fractional", "Total", "Days", *(("Priority",) if ranked else ()))
    rows = [_sets_row(row, ranked) for row in programme.weekly_sets]
    shares = (4, 1.2, 1.5, 1.2, 1.2, *((1.4,) if ranked else ()))
    numeric = (1, 2, 3, 4, *((5,) if ranked else ()))
    notes = [bullets(programme.priority_notes)] if programme.priority_notes else []
    made = table("Weekly sets", head, rows, numeric=numeric, shares=shares)
    return [section("Weekly sets per region"), aside(COUNTING), made, *notes]


def _sets_row(row: WeeklySets, ranked: bool) -> tuple[str, ...]:
    figures = (format_sets(row.direct), format_sets(row.fractional), format_sets(row.total), str(row.days))
    return (row.region, *figures, *((row.priority,) if ranked else ()))


def _overlaps(programme: AnnotatedProgramme) -> list[Block]:
    if not programme.overlaps:
        return []
    rows = [(f"{o.session}: {o.region}", ", ".join(o.picks), format_sets(o.sets)) for o in programme.overlaps]
    return [
        section("Overlap"),
        aside("Regions that more than one pick of a session works as a main one."),
        table("Overlap", ("Session and region", "Picks", "Sets"), rows, numeric=(2,), shares=(3, 5, 1)),
    ]


def _people(programme: AnnotatedProgramme) -> list[Block]:
    return [section("Who it is for, and who was studied"), bullets(programme.audience_gaps or (NO_GAP,))]


def _left_open(programme: AnnotatedProgramme) -> list[Block]:
    parts = (
        ("Open questions", programme.open_questions),
        ("Read from the file with an assumption", programme.assumed),
        ("Not read from the file", programme.problems),
    )
    return [block for title, lines in parts if lines for block in (section(title), bullets(lines))]
