"""Timed captions: WebVTT (W3C) and SubRip. Cues as they come; out of order or overlapping ones are said to be so."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from evidence.reading.drafts.inline import Inline
from evidence.reading.drafts.model import Acceptance, Block, Cue

_TIME = r"(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2})[.,](\d{1,3})"
_TIMING = re.compile(rf"^\s*{_TIME}\s*-->\s*{_TIME}(?:\s.*)?$")
_ACCEPT = re.compile(r"^NOTE\s+accept\s+([a-z-]+)\s*:\s*(\S.*?)\s*$")
LONGEST_GAP = 2.0  # seconds of silence that end a run of cues
LONGEST_RUN = 60  # words without a full stop, as captions made by machines have them, that end a run


@dataclass
class Captions:
    """What a caption file holds."""

    blocks: list[Block]
    cues: list[Cue]
    notes: list[str]


def read_captions(source: str) -> Captions:
    """Cues and their running text. A sentence may run over several cues."""
    cues: list[Cue] = []
    notes: list[str] = []
    blocks: list[Block] = []
    run: Inline | None = None
    waiting: list[Acceptance] = []
    words = 0
    for cue, accepted in _read_cues(source, notes):
        if accepted is not None:
            waiting.append(accepted)
            continue
        if cue is None:
            continue
        before = cues[-1] if cues else None
        if before and cue.start < before.start:
            notes.append(f"line {cue.line}: this cue starts before the one above it")
        elif before and cue.start < before.end - 0.001:
            notes.append(f"line {cue.line}: this cue overlaps the one above it")
        if cue.end < cue.start:
            notes.append(f"line {cue.line}: this cue ends before it starts")
        gap = cue.start - before.end if before else 0.0
        ended = run is not None and run.last in '.!?…"”'
        if run is None or ended or abs(gap) > LONGEST_GAP or words > LONGEST_RUN or waiting:
            if run is not None:
                blocks.append(run.finish())
            run, words = Inline("cues", markdown=False), 0
            run.accepted += waiting
            waiting = []
        run.join()
        text = source[cue.source_start : cue.source_end]
        run.scan(text, cue.source_start)
        words += len(text.split())
        cues.append(cue)
    if run is not None:
        blocks.append(run.finish())
    return Captions(blocks, cues, notes)


def _read_cues(source: str, notes: list[str]) -> Iterator[tuple[Cue | None, Acceptance | None]]:
    lines = source.split("\n")
    starts = []
    at = 0
    for text in lines:
        starts.append(at)
        at += len(text) + 1
    number = 0
    while number < len(lines):
        line = lines[number]
        timing = _TIMING.match(line)
        if timing is None:
            accepted = _ACCEPT.match(line)
            if accepted:
                yield None, Acceptance(accepted[1], accepted[2], starts[number], 0, 0, True)
            elif line.startswith(("NOTE", "STYLE", "REGION")):
                while number + 1 < len(lines) and lines[number + 1].strip():
                    number += 1
            elif "-->" in line:
                notes.append(f"line {number + 1}: this time cannot be read: {line.strip()[:60]}")
            number += 1
            continue
        first = number + 1
        number = first
        while number < len(lines) and lines[number].strip() and not _TIMING.match(lines[number]):
            number += 1
        last = number
        if (
            number < len(lines)
            and _TIMING.match(lines[number])
            and last > first
            and lines[last - 1].strip().isdigit()
        ):
            last -= 1  # the number of the next cue, where no empty line stands between
        start, end = _seconds(timing.groups()[:4]), _seconds(timing.groups()[4:])
        if last > first:
            yield Cue(start, end, starts[first], starts[last - 1] + len(lines[last - 1]), first), None


def _seconds(parts: tuple[str | None, ...]) -> float:
    hours, minutes, seconds, fraction = parts
    part = int((fraction or "0").ljust(3, "0")[:3])
    return int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds or 0) + part / 1000
