"""A draft cut into passages: its text in order, each sentence of which something was found with that right below it."""

from bisect import bisect_right
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
    starts = sorted({s.start for s in sentences if s.start > 0} | {0, len(source)})
    cuts = {0, len(source)}
    for place in (*(f.start for f in findings), *(t.replacement.start for t in ties)):
        at = bisect_right(starts, place)
        cuts.update(starts[max(at - 1, 0) : at + 1])
    edges = sorted(cuts)
    mine: dict[int, list[Finding]] = {}
    tied: dict[int, list[Tying]] = {}
    for finding in findings:
        mine.setdefault(passage_of(edges, finding.start), []).append(finding)
    for tie in ties:
        tied.setdefault(passage_of(edges, tie.replacement.start), []).append(tie)
    return tuple(
        cut_one(source, start, end, tuple(mine.get(number, ())), tuple(tied.get(number, ())))
        for number, (start, end) in enumerate(pairwise(edges))
        if number in mine or number in tied or source[start:end].strip()
    )


def passage_of(edges: Sequence[int], place: int) -> int:
    """The number of the passage that a place stands in; what stands at the very end is in the last."""
    return min(bisect_right(edges, place), len(edges) - 1) - 1


def cut_one(source: str, start: int, end: int, mine: tuple[Finding, ...], tied: tuple[Tying, ...]) -> Passage:
    """One passage, with what begins in it."""
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
