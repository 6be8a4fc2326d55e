"""A draft cut into passages: its text in order, each sentence of which something was found with that right below it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from evidence.reading.drafts.model import Sentence
from evidence.workflows.drafts.findings import Finding
from evidence.workflows.drafts.tying import Tying


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a passage. `begins`: numbers of the findings whose words begin with it."""

    text: str
    marked: bool
    begins: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """Text as it was written, up to and with a sentence, and what was found or may be tied in it."""

    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    ties: tuple[Tying, ...]

    def first_at(self, finding: Finding) -> int:
        """The number under which the words of a finding stand: that of the first finding of the same words."""
        return next((p.begins[0] for p in self.pieces if finding.number in p.begins), finding.number)


def cut_passages(
    source: str, sentences: Sequence[Sentence], findings: Sequence[Finding], ties: Sequence[Tying] = ()
) -> tuple[Passage, ...]:
    """The whole source, cut behind every sentence with findings or ties; only blank lines at a cut are left out."""
    told = {f.start for f in findings} | {t.replacement.start for t in ties}
    starts = sorted({s.start for s in sentences if s.start > 0} | {0, len(source)})
    cuts = [0]
    for start, end in pairwise(starts):
        if any(start <= place < end for place in told):
            cuts += [start, end]
    edges = sorted({*cuts, len(source)})
    return tuple(
        passage
        for start, end in pairwise(edges)
        if (passage := cut_one(source, start, end, findings, ties)).findings
        or passage.ties
        or source[start:end].strip()
    )


def cut_one(source: str, start: int, end: int, findings: Sequence[Finding], ties: Sequence[Tying]) -> Passage:
    """One passage: what begins in it belongs to it."""
    mine = tuple(f for f in findings if start <= f.start < end or (f.start >= end == len(source)))
    tied = tuple(t for t in ties if start <= t.replacement.start < end)
    text = source[start:end]
    first, last = start + len(text) - len(text.lstrip("\n")), start + len(text.rstrip())
    edges = sorted({first, last, *(min(max(place, first), last) for f in mine for place in (f.start, f.end))})
    pieces = tuple(
        Piece(
            source[a:b],
            any(f.start <= a and b <= f.end for f in mine),
            tuple(f.number for f in mine if f.start == a),
        )
        for a, b in pairwise(edges)
    )
    return Passage(pieces, mine, tied)
