"""A document as plain data: headings, prose, lists, tables, figures. Every format is written from it.

Text is kept as people typed it. No text is ever markup: each writer escapes for its own format.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from evidence.appraisal.levels import Level
from evidence.publishing.sources import NO_ADVICE, Made, Reference, tell_invented


@dataclass(frozen=True, slots=True)
class Span:
    """Some text in one manner. `url`: a web address it leads to; `target`: an anchor in the same document."""

    text: str
    strong: bool = False
    emphasis: bool = False
    soft: bool = False
    url: str = ""
    target: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of confidence; it follows the words and never stands in their place."""

    level: Level
    low: Level
    high: Level


Inline = Span | Mark
Prose = tuple[Inline, ...]
Cell = tuple[Prose, ...]  # lines of a cell, one under another


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the title's, so sections begin at 2."""

    text: Prose
    level: int = 2
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Prose. `role`: lead (said large), soft (aside), label (small, over what it names)."""

    text: Prose
    role: Literal["", "lead", "soft", "label"] = ""


@dataclass(frozen=True, slots=True)
class Notice:
    """What must not be overlooked: a caution, or that something is invented."""

    text: Prose
    kind: Literal["caution", "invented"] = "caution"


@dataclass(frozen=True, slots=True)
class Items:
    """A list. Each item is a run of blocks; `anchors` names items that are linked to."""

    items: tuple[tuple["Block", ...], ...]
    ordered: bool = False
    anchors: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose first column names its rows. `numeric`: columns set right; `shares`: widths in parts of the whole.

    `name` is what a workbook calls it, and what is said of it to those who do not see it.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    name: str
    numeric: tuple[int, ...] = ()
    shares: tuple[float, ...] = ()
    caption: Prose = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing. `alt` says what it shows; `drawn` is the same in characters, for formats without pictures."""

    svg: str
    alt: str
    caption: Prose = ()
    drawn: str = ""


@dataclass(frozen=True, slots=True)
class Columns:
    """Parts that stand side by side where there is room."""

    parts: tuple[tuple["Block", ...], ...]


@dataclass(frozen=True, slots=True)
class Box:
    """Blocks that belong together. `role`: evidence, against (what speaks against), bare (rests on nothing), pick.

    `claim`: one claim within a pick, never broken over pages.
    """

    blocks: tuple["Block", ...]
    role: Literal["evidence", "against", "bare", "pick", "quote", "claim"] = "pick"


@dataclass(frozen=True, slots=True)
class Code:
    """Text kept line by line."""

    text: str


@dataclass(frozen=True, slots=True)
class PageBreak:
    """On paper, what follows begins a new page."""


Block = Heading | Paragraph | Notice | Items | Table | Figure | Columns | Box | Code | PageBreak


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A whole document. `kicker`: what it is, over the title. `one_page`: set as small as one page of paper asks for.

    `made` dates it by the state of the catalogue, so that the same state gives the same bytes. `made_up`: what is
    invented, where not everything is.
    """

    title: str
    blocks: tuple[Block, ...]
    made: Made
    kicker: str = ""
    author: str = ""
    language: str = "en"
    invented: bool = False
    made_up: tuple[str, ...] = ()
    one_page: bool = False
    closing: tuple[str, ...] = field(default=(NO_ADVICE,))

    @property
    def banner(self) -> str:
        """What has to be said of invented data; empty where there is none."""
        return tell_invented(self.invented, self.made_up)

    @property
    def opening(self) -> tuple[Block, ...]:
        """The banner of invented data, kicker and title, in front of the blocks."""
        blocks: list[Block] = [Notice(prose(self.banner), "invented")] if self.invented else []
        if self.kicker:
            blocks.append(Paragraph(prose(self.kicker), "label"))
        return (*blocks, Heading(prose(self.title), 1))

    @property
    def footing(self) -> tuple[str, ...]:
        """The lines at the end: what it was made from, and what it is not."""
        return (self.made.line, *self.closing)


def prose(*parts: str | Inline) -> Prose:
    """Text and marks as prose; empty text is dropped."""
    made = (Span(p) if isinstance(p, str) else p for p in parts)
    return tuple(part for part in made if isinstance(part, Mark) or part.text)


def strong(text: str) -> Span:
    """Text that stands out."""
    return Span(text, strong=True)


def soft(text: str) -> Span:
    """Text that stays behind."""
    return Span(text, soft=True)


def paragraph(*parts: str | Inline) -> Paragraph:
    """A paragraph of text and marks."""
    return Paragraph(prose(*parts))


def aside(*parts: str | Inline) -> Paragraph:
    """A paragraph that stays behind."""
    return Paragraph(prose(*parts), "soft")


def section(title: str, level: int = 2) -> Heading:
    """A heading of plain text."""
    return Heading(prose(title), level)


def bullets(lines: Iterable[str | Prose], *, ordered: bool = False) -> Items:
    """A list with a paragraph in each item."""
    texts = (prose(line) if isinstance(line, str) else line for line in lines)
    return Items(tuple((Paragraph(text),) for text in texts), ordered)


def cell(*lines: str | Prose) -> Cell:
    """A cell of one or more lines."""
    return tuple(prose(line) if isinstance(line, str) else line for line in lines if line)


def table(
    name: str,
    head: Sequence[str],
    rows: Iterable[Sequence[str | Cell]],
    *,
    numeric: Sequence[int] = (),
    shares: Sequence[float] = (),
    caption: str = "",
) -> Table:
    """A table; a cell given as text is one line."""
    made = tuple(tuple(cell(c) if isinstance(c, str) else c for c in row) for row in rows)
    return Table(tuple(head), made, name, tuple(numeric), tuple(shares), prose(caption))


def plain_text(text: Prose) -> str:
    """Prose without its manner. A mark says nothing: its words stand before it."""
    return "".join(part.text for part in text if isinstance(part, Span))


def sources(references: Sequence[Reference]) -> tuple[Block, ...]:
    """The numbered list of sources under its heading, each with an anchor `ref-1`, `ref-2`."""
    if not references:
        return (section("Sources"), paragraph("No source is listed."))
    items = []
    for item in references:
        notice = strong(f"{item.notice}. ") if item.notice else ""
        address = Span(item.url, url=item.url)
        text = _without_address(item.text, item.url)
        items.append((Paragraph(prose(notice, text, " " if item.url else "", address)),))
    anchors = tuple(f"ref-{number}" for number in range(1, len(items) + 1))
    return (section("Sources"), Items(tuple(items), ordered=True, anchors=anchors))


def _without_address(text: str, url: str) -> str:
    """An entry without the DOI at its end, where the link behind it says the same."""
    doi = url.removeprefix("https://doi.org/")
    return text.removesuffix(f"doi:{doi}").removesuffix(url).rstrip() if doi and doi != url else text


def settle_levels(blocks: Iterable[Block]) -> tuple[Block, ...]:
    """Blocks whose headings begin at level 2 and never skip one, as readers by ear need them."""
    settled: list[Block] = []
    last = 1
    for block in blocks:
        if isinstance(block, Heading):
            last = min(max(block.level, 2), last + 1, 6)
            block = replace(block, level=last)
        settled.append(block)
    return tuple(settled)


def walk(blocks: Iterable[Block]) -> Iterable[Block]:
    """Every block, those inside others too, in reading order."""
    for block in blocks:
        yield block
        if isinstance(block, Items):
            for item in block.items:
                yield from walk(item)
        elif isinstance(block, Columns):
            for part in block.parts:
                yield from walk(part)
        elif isinstance(block, Box):
            yield from walk(block.blocks)


def all_text(document: Document) -> str:
    """Every word of a document, in reading order: what a format that cannot show all of it must tell of."""
    said = [document.title, document.author]
    for block in walk((*document.opening, *document.blocks)):
        match block:
            case Heading() | Paragraph() | Notice():
                said.append(plain_text(block.text))
            case Table():
                said += [*block.head, plain_text(block.caption)]
                said += [plain_text(line) for row in block.rows for c in row for line in c]
            case Figure():
                said += [block.alt, block.svg, plain_text(block.caption)]
            case Code():
                said.append(block.text)
    return "\n".join(said)
