"""What a draft is once read: blocks of plain text, sentences, citations, ties, and where all of it stands."""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

# Where the citation of an address is set in what goes out: in its place, behind it (a link with words of its own), or
# nowhere, as what was typed names its source by itself.
Setting = Literal["here", "behind", "nowhere"]


@dataclass(frozen=True, slots=True)
class Place:
    """A place in the source: line and column from 1, in characters. `cue`: the start of the caption cue."""

    line: int
    column: int
    cue: str | None = None

    def __str__(self) -> str:
        return self.cue if self.cue is not None else f"{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Segment:
    """A run of plain text that stands unchanged in the source: offsets and length in characters."""

    plain: int
    source: int
    length: int


@dataclass(frozen=True, slots=True)
class CitedKey:
    """One key of a citation, with its locator ("p. 4") and the words before it ("see") where they are given."""

    key: str
    locator: str = ""
    prefix: str = ""


@dataclass(frozen=True, slots=True)
class Citation:
    """A citation by keys: `start`, `end` in the source; `plain`: where it stood in the block's text.

    `running`: the key stands bare in the sentence (`@key found that ...`), so that its names are words of it.
    `address`: it was typed as a DOI, not as a key.
    """

    keys: tuple[CitedKey, ...]
    start: int
    end: int
    plain: int
    running: bool = False
    address: bool = False
    setting: Setting = "here"


@dataclass(frozen=True, slots=True)
class Tie:
    """A stretch tied to a claim by an attributed span. `plain_start`, `plain_end` in the block's text."""

    claim: str
    start: int
    end: int
    plain_start: int
    plain_end: int


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A kind of finding accepted with a reason. `plain`: where it stood; `own_line`: it stands before its text."""

    kind: str
    reason: str
    start: int
    plain_start: int
    plain_end: int
    own_line: bool = False


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence: its text without markup, and the offsets of its first and last character in the source."""

    text: str
    block: int
    plain_start: int
    plain_end: int
    start: int
    end: int
    citations: tuple[Citation, ...] = ()
    claims: tuple[str, ...] = ()
    accepted: tuple[Acceptance, ...] = ()


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of running text. `kind`: heading, paragraph, item, quote, cell, html, cues."""

    kind: str
    text: str
    segments: tuple[Segment, ...]
    citations: tuple[Citation, ...] = ()
    ties: tuple[Tie, ...] = ()
    accepted: tuple[Acceptance, ...] = ()

    def source_offset(self, plain: int, *, end: bool = False) -> int:
        """Where a character of the text stood in the source; `end`: just behind the character before it."""
        if not self.segments:
            return 0
        if end and plain > 0:
            return self.source_offset(plain - 1) + 1
        at = max(bisect_right(self.segments, plain, key=lambda s: s.plain) - 1, 0)
        segment = self.segments[at]
        inside = plain - segment.plain
        if inside < segment.length:
            return segment.source + max(inside, 0)
        # A space that joins two pieces has no place of its own: the next piece stands for it.
        following = self.segments[at + 1 : at + 2]
        return following[0].source if following else segment.source + segment.length

    def source_span(self, start: int, end: int) -> tuple[int, int]:
        """The stretch of the source that a stretch of the text came from."""
        first = self.source_offset(start)
        return first, max(self.source_offset(end, end=True), first)


@dataclass(frozen=True, slots=True)
class Cue:
    """One timed caption: seconds, and where its text stands in the source."""

    start: float
    end: float
    source_start: int
    source_end: int
    line: int

    @property
    def label(self) -> str:
        """The start as a time stamp."""
        return show_time(self.start)


@dataclass(frozen=True)
class Draft:
    """A draft as read. `format`: markdown, webvtt, srt, docx, text. `notes`: what was odd about the file.

    `settings` is the front matter. For DOCX, `source` holds one paragraph per line.
    """

    name: str
    format: str
    source: str
    blocks: tuple[Block, ...]
    sentences: tuple[Sentence, ...]
    settings: Mapping[str, Any]
    cues: tuple[Cue, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """The title of the front matter, else the first heading, else the file's name."""
        named = self.settings.get("title")
        if isinstance(named, str | int | float) and str(named).strip():
            return str(named)
        return next((b.text for b in self.blocks if b.kind == "heading" and b.text), self.name)

    @property
    def audience(self) -> str | None:
        """Who the draft is for, in the author's words."""
        said = self.settings.get("audience")
        return said if isinstance(said, str) and said.strip() else None

    def place(self, offset: int) -> Place:
        """Line and column of an offset of the source, and the cue that holds it."""
        line = max(bisect_right(self._line_starts, offset), 1)
        column = offset - self._line_starts[line - 1] + 1
        return Place(line, column, self._cue_at(offset))

    def line_text(self, line: int) -> str:
        """A line of the source, numbered from 1."""
        if line not in self._line_texts:  # kept: a draft on one line would be copied for each of its findings
            start = self._line_starts[line - 1]
            end = self.source.find("\n", start)
            self._line_texts[line] = self.source[start : end if end >= 0 else len(self.source)]
        return self._line_texts[line]

    @cached_property
    def _line_texts(self) -> dict[int, str]:
        """Lines that were asked for already."""
        return {}

    @property
    def lines(self) -> int:
        """How many lines the source has."""
        return len(self._line_starts)

    def _cue_at(self, offset: int) -> str | None:
        if not self.cues:
            return None
        at = bisect_right(self.cues, offset, key=lambda c: c.source_start) - 1
        return self.cues[max(at, 0)].label

    @cached_property
    def _line_starts(self) -> list[int]:
        starts = [0]
        at = self.source.find("\n")
        while at >= 0:
            starts.append(at + 1)
            at = self.source.find("\n", at + 1)
        return starts


def show_time(seconds: float) -> str:
    """Seconds as HH:MM:SS.mmm."""
    whole = round(seconds * 1000)
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
