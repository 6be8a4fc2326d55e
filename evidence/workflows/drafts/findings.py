"""Findings of a draft: what is wrong, where, why, with the figures and a wording that would do."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from evidence.appraisal.draft_cues import Cue
from evidence.reading.drafts import Place
from evidence.workflows.drafts.readings import Reading


class Severity(StrEnum):
    """How much a finding matters, most first."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


ORDER = (Severity.NOTE, Severity.WARNING, Severity.ERROR)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A wording that would do. `register`: short, plain or full."""

    register: str
    text: str


@dataclass(frozen=True, slots=True)
class Replacement:
    """New text for a stretch of the source, given by offsets."""

    start: int
    end: int
    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. `number` counts from 1 in the order of the draft; `start`, `end` are offsets of the source.

    `accepted`: the author's reason, where it was accepted in the draft.
    """

    number: int
    kind: str
    severity: Severity
    place: Place
    end_place: Place
    start: int
    end: int
    line: str
    what: str
    why: str
    figures: tuple[str, ...]
    suggestions: tuple[Suggestion, ...]
    replacement: Replacement | None
    claim: str | None
    references: tuple[str, ...]
    accepted: str | None
    sentence: int


@dataclass(frozen=True, slots=True)
class Draught:
    """A finding before it has its number and place. `mark`: the words meant, by their place in the sentence."""

    kind: str
    what: str
    why: str
    mark: tuple[int, int] | None = None
    source: tuple[int, int] | None = None  # of a citation, whose text is not part of the sentence
    figures: tuple[str, ...] = ()
    suggestions: tuple[Suggestion, ...] = ()
    rewrite: str | None = None  # for the whole sentence
    swap: str | None = None  # for the words marked
    claim: str | None = None
    references: tuple[str, ...] = ()
    severity: Severity | None = None


@cache
def load_kinds() -> dict[str, dict[str, Any]]:
    """Every kind of finding: its severity, and what it says when asked."""
    import yaml

    text = files("evidence.workflows.drafts").joinpath("kinds.yaml").read_text("utf-8")
    return dict(yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))["kinds"])


def mark_of(cue: Cue | None) -> tuple[int, int] | None:
    """The place of a cue, to mark it."""
    return (cue.start, cue.end) if cue else None


def place_finding(draught: Draught, reading: Reading) -> Finding:
    """A finding with its place in the draft; its number is given later."""
    draft, sentence = reading.draft, reading.sentence
    block = draft.blocks[sentence.block]
    if draught.source is not None:
        start, end = draught.source
    elif draught.mark is not None:
        first, last = draught.mark
        start, end = block.source_span(sentence.plain_start + first, sentence.plain_start + last)
    else:
        start, end = sentence.start, sentence.end
    replacement = None
    if draught.swap is not None and draught.mark is not None:
        replacement = Replacement(start, end, draught.swap)
    elif draught.rewrite is not None:
        replacement = Replacement(sentence.start, sentence.end, draught.rewrite)
    place = draft.place(start)
    accepted = next((a.reason for a in sentence.accepted if a.kind in (draught.kind, "all")), None)
    return Finding(
        0,
        draught.kind,
        draught.severity or Severity(load_kinds()[draught.kind]["severity"]),
        place,
        draft.place(max(end, start)),
        start,
        end,
        draft.line_text(place.line),
        draught.what,
        draught.why,
        draught.figures,
        draught.suggestions,
        replacement,
        draught.claim,
        draught.references,
        accepted,
        reading.number,
    )
