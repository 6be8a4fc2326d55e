"""Findings and proposed ties of drafts as people read them in a terminal."""

import unicodedata
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence.workflows.drafts.checking import Checked
    from evidence.workflows.drafts.findings import Finding
    from evidence.workflows.drafts.tying import Tying

WIDTH = 96  # characters of a line that are shown


def tell_checked(
    checked: "Checked", findings: "tuple[Finding, ...]", register: str = "short"
) -> Iterator[str]:
    """All findings of one draft, with the line shown and the place marked, and a count."""
    name = safe(checked.draft.name)
    for note in checked.notes:
        yield f"{name}: note: {safe(note)}"
    for finding in findings:
        yield from tell_finding(name, finding, register)
    told = [f for f in findings if f.accepted is None]
    accepted = len(findings) - len(told)
    more = f", {accepted} accepted" if accepted else ""
    yield (
        f"{name}: {count(len(told), 'finding')}{more} in {count(checked.sentences, 'sentence')}, "
        f"{checked.tied} of them tied to a claim"
    )


def tell_finding(name: str, finding: "Finding", register: str) -> Iterator[str]:
    """One finding: place, kind, the line with the place marked, why, the figures, wordings that would do."""
    state = "accepted" if finding.accepted is not None else str(finding.severity)
    yield f"{finding.number}. {name}:{finding.place}: {state}: {finding.kind}"
    yield from mark_line(finding)
    yield f"   {safe(finding.what)} {capital(safe(finding.why))}."
    for figure in finding.figures:
        yield f"   - {safe(figure)}"
    if finding.accepted is not None:
        yield f"   accepted: {safe(finding.accepted)}"
    elif finding.replacement is not None:
        yield f"   write: {safe(finding.replacement.text)}"
    elif finding.suggestions:
        fitting = [s for s in finding.suggestions if s.register in (register, "caution")]
        yield f"   would do: {safe((fitting or finding.suggestions)[0].text)}"
    yield ""


def mark_line(finding: "Finding") -> Iterator[str]:
    """The line of the source and, below it, marks under the place; of a long line the part around it."""
    line, start = finding.line, finding.place.column - 1
    same = finding.end_place.line == finding.place.line
    end = finding.end_place.column - 1 if same else len(line)
    first = max(min(start - 20, len(line) - WIDTH), 0) if len(line) > WIDTH else 0
    part = line[first : first + WIDTH]
    lead = "... " if first else ""
    tail = " ..." if first + WIDTH < len(line) else ""
    before = lead + part[: max(start - first, 0)]
    marked = part[max(start - first, 0) : max(min(end - first, WIDTH), start - first + 1)]
    yield f"   {safe(lead + part + tail)}"
    yield f"   {' ' * columns(safe(before))}{'^' * max(columns(safe(marked)), 1)}"


def tell_tie(name: str, tie: "Tying") -> Iterator[str]:
    """One proposed tie: place, what is tied to what, the score and why."""
    yield f"{tie.number}. {safe(name)}:{tie.place}: {tie.kind}, score {tie.score:.2f}"
    yield f"   {safe(shorten(tie.text))}"
    yield f"   -> {safe(tie.target)}: {safe(shorten(tie.told))}"
    yield (
        f"   because it {safe('; '.join(tie.reasons))}"
        if tie.kind == "claim"
        else f"   {safe('; '.join(tie.reasons))}"
    )
    if tie.others:
        yield f"   or: {safe(', '.join(tie.others))}"
    yield ""


def safe(text: str) -> str:
    """Text without characters that would steer the terminal or turn the direction of what follows."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        " "
        if c in "\t\n"
        else "\ufffd"
        if unicodedata.category(c) in ("Cc", "Cf", "Cs") and c not in "\u200d\u200c"
        else c
        for c in text
    )


def columns(text: str) -> int:
    """How many columns a terminal gives a text."""
    return sum(
        0
        if unicodedata.combining(c) or c == "\u200d"
        else 2
        if unicodedata.east_asian_width(c) in "WF"
        else 1
        for c in text
    )


def shorten(text: str) -> str:
    """A text on one line, cut where it is long."""
    flat = " ".join(text.split())
    return flat if len(flat) <= WIDTH else f"{flat[: WIDTH - 4]} ..."


def capital(text: str) -> str:
    """A text with its first letter large and no full stop at its end."""
    return (text[:1].upper() + text[1:]).rstrip(".")


def count(number: int, noun: str) -> str:
    """A number with its noun, in the right number."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
