"""Documents as PDF: tagged, by the accessibility standard PDF/UA-1 (ISO 14289-1), with open fonts embedded.

The typesetter is typst. A document reaches it as data, never as source. The same document gives the same bytes: it is
dated by the state of the catalogue, and no font of the machine is looked at.
"""

import json
from dataclasses import asdict
from datetime import UTC, date, datetime
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from evidence.errors import BadInput
from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Code,
    Columns,
    Document,
    Figure,
    Heading,
    Items,
    Mark,
    Notice,
    PageBreak,
    Paragraph,
    Prose,
    Table,
    plain_text,
    settle_levels,
    strong,
    walk,
)
from evidence.publishing.glyphs import breakable, showable
from evidence.publishing.mark import mark_svg, mark_words
from evidence.publishing.row_headers import mark_row_headers
from evidence.publishing.templating import safe_url

PAPERS = {"a4": "a4", "letter": "us-letter"}
SIZE, TIGHTER, ONE_PAGE = 10.5, 10.2, (11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)  # points
SHORT = 900  # characters of a table that is not broken over pages
LONG = 400_000  # characters of a document as data, some 50 pages, of which one more or less is nothing
SANS = "Source Sans 3"


def write_pdf(document: Document, paper: str = "a4") -> bytes:
    """The document as a PDF file. `paper`: a4 or letter. A document for one page is set as large as the page allows."""
    if paper not in PAPERS:
        raise BadInput(f'"{paper}" is no paper that is known.', hint=f"There are: {', '.join(PAPERS)}.")
    room = files("evidence.publishing")
    source = (room / "templates" / "document.typ").read_bytes()
    with as_file(room / "fonts") as fonts:
        compiler = _start(source, fonts, _fit(document, paper, source, fonts))
        made: bytes = compiler.compile(format="pdf", pdf_standards=["ua-1"], timestamp=moment_of(document))
    return mark_row_headers(made)


def _fit(document: Document, paper: str, source: bytes, fonts: Path) -> dict[str, str]:
    """The document as data in the size that fits: the largest that holds on one page where one is asked for; else
    the usual one, or one a little smaller where that saves a page that would hold a few lines only. Setting a long
    document takes its time, and is done once.
    """

    def sized(size: float) -> dict[str, str]:
        return {"document": json.dumps(as_data(document, paper, size), ensure_ascii=False)}

    if document.one_page:
        fitting = (s for s in ONE_PAGE[:-1] if _count_pages(_start(source, fonts, sized(s))) == 1)
        return sized(next(fitting, ONE_PAGE[-1]))
    usual = sized(SIZE)
    if len(usual["document"]) > LONG:
        return usual
    tighter = sized(TIGHTER)
    fewer = _count_pages(_start(source, fonts, tighter)) < _count_pages(_start(source, fonts, usual))
    return tighter if fewer else usual


def fitted_size(document: Document, paper: str) -> float:
    """The size of letters, in points, in which a document is set as PDF."""
    source = (files("evidence.publishing") / "templates" / "document.typ").read_bytes()
    with as_file(files("evidence.publishing") / "fonts") as fonts:
        fitted = _fit(document, paper, source, fonts)
    return float(json.loads(fitted["document"])["size"])


def fewest_pages(document: Document, paper: str) -> int:
    """How many pages a document takes in the smallest letters in which one for one page is set."""
    source = (files("evidence.publishing") / "templates" / "document.typ").read_bytes()
    data = {"document": json.dumps(as_data(document, paper, ONE_PAGE[-1]), ensure_ascii=False)}
    with as_file(files("evidence.publishing") / "fonts") as fonts:
        return _count_pages(_start(source, fonts, data))


def running_title(document: Document) -> str:
    """What stands at the foot of every page."""
    running = " · ".join(filter(None, [_running_notice(document), document.title]))
    return running if len(running) < 95 else f"{running[:94]}…"


def draw_png(svg: str, width_mm: float, ppi: float = 220) -> bytes:
    """A drawing of ours as a picture of points, for formats that know no other; text in the embedded fonts."""
    page = f"#set page(width: {width_mm}mm, height: auto, margin: 0pt, fill: none)"
    source = f'{page}\n#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    with as_file(files("evidence.publishing") / "fonts") as fonts:
        compiler = _start(source.encode(), fonts, {"svg": fix_svg(svg)})
        made: bytes = compiler.compile(format="png", ppi=ppi)
    return made


def _start(source: bytes, fonts: Path, inputs: dict[str, str]) -> Any:
    """The typesetter on a source of ours, with our fonts and no others of the machine."""
    import typst

    start: Any = typst.Compiler
    return start(input=source, font_paths=[str(fonts)], ignore_system_fonts=True, sys_inputs=inputs)


def moment_of(document: Document) -> datetime:
    """The moment that files are dated by: the start of the day of the catalogue's state."""
    day = date.fromisoformat(document.made.date)
    return datetime(day.year, day.month, day.day, tzinfo=UTC)


def _count_pages(compiler: Any) -> int:
    found = json.loads(compiler.query("<pages>", field="value", one=True))
    return int(found)


def as_data(document: Document, paper: str, size: float) -> dict[str, Any]:
    """The document as plain data for the typesetter."""
    day = date.fromisoformat(document.made.date)
    return {
        "title": _text(document.title).strip() or "Untitled",
        "author": _text(document.author) or "Steelyard",
        "language": document.language,
        "paper": PAPERS[paper],
        "size": size,
        "compact": document.one_page,
        "year": day.year,
        "month": day.month,
        "day": day.day,
        "running": _text(running_title(document)),
        "blocks": [_block(b) for b in (*document.opening, *settle_levels(document.blocks))],
        "anchors": _anchors(document),
        "footing": [_text(line) for line in document.footing],
    }


def _running_notice(document: Document) -> str:
    if not document.invented:
        return ""
    return "Partly invented data" if document.made_up else "Invented data"


def _anchors(document: Document) -> list[str]:
    """The places that can be linked to; a link to any other is set as text."""
    found = [
        b.anchor
        for b in walk(document.blocks)
        if isinstance(b, Heading) and _text(plain_text(b.text)).strip()
    ]
    found += [
        anchor for b in walk(document.blocks) if isinstance(b, Items) for anchor in b.anchors[: len(b.items)]
    ]
    return [anchor for anchor in found if anchor]


def _text(text: str) -> str:
    return _narrow(breakable(showable(text)).replace(" %", "\u00a0%"))


def _narrow(text: str) -> str:
    """No-break spaces as the narrow ones: the fonts draw the wide one with the glyph of the space, and what is copied
    out of the file would then hold one for the other.
    """
    return text.replace("\u00a0", "\u202f")


def _prose(text: Prose) -> list[dict[str, Any]]:
    parts: list[dict[str, Any]] = []
    for part in text:
        if isinstance(part, Mark):
            words = mark_words(part.level, part.low, part.high)
            svg = mark_svg(part.level, part.low, part.high).replace("currentColor", "#74500f")
            parts.append({"kind": "mark", "svg": svg, "alt": f"Mark of confidence: {words}"})
        else:
            shown = asdict(part) | {"text": _text(part.text), "url": safe_url(part.url)}
            parts.append({"kind": "span", **shown})
    return parts


def _cell(lines: Cell) -> list[list[dict[str, Any]]]:
    return [_prose(line) for line in lines]


def _blocks(blocks: tuple[Block, ...]) -> list[dict[str, Any]]:
    return [_block(b) for b in blocks]


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Heading() if not _text(plain_text(block.text)).strip():  # the standard knows no empty heading
            return {"kind": "paragraph", "role": "", "text": _prose(block.text)}
        case Heading():
            return {
                "kind": "heading",
                "level": block.level,
                "text": _prose(block.text),
                "anchor": block.anchor,
            }
        case Paragraph():
            return {"kind": "paragraph", "role": block.role, "text": _prose(block.text)}
        case Notice():
            said = (strong("Caution. "), *block.text) if block.kind == "caution" else block.text
            return {"kind": "notice", "style": block.kind, "text": _prose(said)}
        case Items():
            items = [_blocks(item) for item in block.items]
            return {"kind": "items", "items": items, "ordered": block.ordered, "anchors": block.anchors}
        case Table():
            return _table(block)
        case Figure():
            return {
                "kind": "figure",
                "svg": fix_svg(block.svg),
                "alt": _text(block.alt).strip() or "Figure",
                "caption": _prose(block.caption),
            }
        case Columns():
            return {"kind": "columns", "parts": [_blocks(part) for part in block.parts]}
        case Box():
            return {"kind": "box", "role": block.role, "blocks": _blocks(block.blocks)}
        case Code():
            return {"kind": "code", "text": showable(block.text)}
        case PageBreak():
            return {"kind": "break"}


def _table(block: Table) -> dict[str, Any]:
    widths: list[float | str] = list(block.shares) or ["auto"] * len(block.head)
    return {
        "kind": "table",
        "head": [_text(h) for h in block.head],
        "rows": [[_cell(c) for c in row] for row in block.rows],
        "numeric": block.numeric,
        "widths": widths,
        "caption": _prose(block.caption),
        "whole": sum(len(plain_text(line)) for row in block.rows for c in row for line in c) < SHORT,
    }


def fix_svg(svg: str) -> str:
    """A drawing of ours with its colour and fonts named, as no page stands around it here."""
    named = svg.replace('font-family="inherit"', f"font-family=\"'{SANS}'\"")
    return _narrow(showable(named.replace("currentColor", "#1d1b18")))
