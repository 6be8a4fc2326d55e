"""Documents as DOCX: real headings, lists and table headers, alternative text, language, no date of the machine."""

import io
import re
from typing import TYPE_CHECKING, Any

from evidence.publishing.document import (
    Block,
    Box,
    Cell,
    Code,
    Columns,
    Document,
    Figure,
    Heading,
    Inline,
    Items,
    Mark,
    Notice,
    PageBreak,
    Paragraph,
    Prose,
    Table,
    plain_text,
    prose,
    settle_levels,
    soft,
)
from evidence.publishing.docx_parts import (
    add_anchor,
    add_link,
    add_picture,
    anchor_name,
    describe_table,
    drop_theme_fonts,
    edge,
    keep_row_whole,
    narrow_cells,
    number_pages,
    repeat_as_header,
    restart_list,
    rule_table,
    set_language,
    shade,
)
from evidence.publishing.mark import mark_svg, mark_words
from evidence.publishing.pdf import SHORT, draw_png, fitted_size, moment_of, running_title
from evidence.publishing.sealing import seal_zip
from evidence.publishing.templating import clean_text, safe_url

if TYPE_CHECKING:
    from docx.document import Document as Word

BODY, SANS, BRASS, SOFT, WASH = "Georgia", "Calibri", "74500F", "57514A", "F5F1E8"
USUAL = 10.5  # points
LESS = 0.86  # of the size in which a page holds as PDF: a word processor's fonts and spaces take more; from trials
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def write_docx(document: Document, paper: str = "a4") -> bytes:
    """The document as a DOCX file. `paper`: a4 or letter."""
    writer = _Writer(document, paper)
    for block in (*document.opening, *settle_levels(document.blocks)):
        writer.show(block)
    for line in document.footing:
        writer.add(writer.body, "Footing").add_run(clean_text(line))
    return writer.finish()


class _Writer:
    """A Word document being filled."""

    def __init__(self, document: Document, paper: str) -> None:
        import docx

        self._document = document
        self.word: Word = docx.Document()
        self.body: Any = self.word
        self._anchors = 0
        self._set_up(paper)

    def _set_up(self, paper: str) -> None:
        from docx.shared import Mm

        page = self.word.sections[0]
        page.page_width, page.page_height = (Mm(size) for size in PAPERS_MM[paper])
        side = 16 if self._document.one_page else 24
        page.left_margin = page.right_margin = Mm(side)
        self._room = PAPERS_MM[paper][0] - 2 * side
        page.top_margin = page.bottom_margin = Mm(14 if self._document.one_page else 22)
        self._set_styles(fitted_size(self._document, paper) * LESS if self._document.one_page else USUAL)
        properties = self.word.core_properties
        moment = moment_of(self._document).replace(tzinfo=None)
        properties.title = clean_text(self._document.title)[:255]
        properties.author = properties.last_modified_by = (
            clean_text(self._document.author)[:255] or "Steelyard"
        )
        properties.language = self._document.language
        properties.created = properties.modified = moment
        properties.revision = 1
        properties.comments = clean_text(self._document.made.line)
        number_pages(page.footer.paragraphs[0], clean_text(running_title(self._document)), "Footing")
        set_language(self.word, self._document.language)

    def _set_styles(self, base: float) -> None:
        from docx.enum.style import WD_STYLE_TYPE
        from docx.shared import Pt, RGBColor

        styles: Any = self.word.styles
        normal = styles["Normal"]
        normal.font.name, normal.font.size = BODY, Pt(base)
        close = self._document.one_page
        normal.paragraph_format.space_after = Pt(base * (0.4 if close else 0.5))
        normal.paragraph_format.line_spacing = 1.08 if close else 1.15
        for level, size in ((1, 1.8), (2, 1.25), (3, 1.08), (4, 1.0)):
            style = styles[f"Heading {level}"]
            style.font.name, style.font.size, style.font.bold = BODY, Pt(base * size), True
            style.font.italic, style.font.color.rgb = False, RGBColor.from_string("1D1B18")
            drop_theme_fonts(style)
            style.paragraph_format.space_before = Pt(
                base * (0.4 if level == 1 else 1.4 if level == 2 else 0.9)
            )
            style.paragraph_format.space_after = Pt(base * 0.35)
        for name, size, colour, font in (
            ("Aside", 0.9, SOFT, SANS), ("Kicker", 0.88, SOFT, SANS), ("Said", 1.2, None, BODY),
            ("Warning", 0.93, None, SANS), ("Cells", 0.88, None, SANS), ("Footing", 0.8, SOFT, SANS),
            ("Kept lines", 0.8, None, "Consolas"), ("Quoted", 1.0, None, BODY),
        ):  # fmt: skip
            style = styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH)
            style.base_style = normal
            style.font.name, style.font.size = font, Pt(base * size)
            if colour:
                style.font.color.rgb = RGBColor.from_string(colour)
        styles["Said"].font.bold = True
        styles["Quoted"].font.italic = True
        styles["Kicker"].paragraph_format.space_after = Pt(2)
        styles["Footing"].paragraph_format.space_after = Pt(1)
        styles["Cells"].paragraph_format.space_after = Pt(1)
        styles["Cells"].paragraph_format.line_spacing = 1.05

    def finish(self) -> bytes:
        out = io.BytesIO()
        self.word.save(out)
        return seal_zip(out.getvalue(), moment_of(self._document))

    def add(self, place: Any, style: str | None = None) -> Any:
        return place.add_paragraph(style=style)

    def fill(self, paragraph: Any, text: Prose, *, strong: bool = False) -> Any:
        for part in text:
            self._inline(paragraph, part, strong)
        return paragraph

    def _inline(self, paragraph: Any, part: Inline, strong: bool) -> None:
        from docx.shared import RGBColor

        if isinstance(part, Mark):
            svg = mark_svg(part.level, part.low, part.high).replace("currentColor", f"#{BRASS}")
            alt = f"Mark of confidence: {mark_words(part.level, part.low, part.high)}"
            paragraph.add_run("\u00a0")  # it never begins a line
            width = 11.0 if self._document.one_page else 14.0
            add_picture(paragraph, draw_png(svg, width, 400), alt, width_mm=width)
            return
        said = re.sub(r"(?<=\d) %", "\u00a0%", clean_text(part.text))
        if safe_url(part.url):
            add_link(paragraph, said, BRASS, url=safe_url(part.url))
        elif part.target:
            add_link(paragraph, said, BRASS, anchor=anchor_name(part.target))
        else:
            run = paragraph.add_run(said)
            run.bold = True if part.strong or strong else False if part.soft else None
            run.italic = True if part.emphasis else None
            if part.soft:
                run.font.color.rgb = RGBColor.from_string(SOFT)

    def anchor(self, paragraph: Any, name: str) -> None:
        self._anchors += 1
        add_anchor(paragraph, anchor_name(name), self._anchors)

    def show(self, block: Block) -> None:
        from docx.shared import Mm

        match block:
            case Heading():
                made = self.fill(self.add(self.body, f"Heading {min(block.level, 4)}"), block.text)
                if block.anchor:
                    self.anchor(made, block.anchor)
            case Paragraph():
                style = {"": None, "lead": "Said", "soft": "Aside", "label": "Kicker"}[block.role]
                self.fill(self.add(self.body, style), block.text)
            case Notice():
                made = self.add(self.body, "Warning")
                made.paragraph_format.left_indent = Mm(3)
                if block.kind == "caution":
                    edge(made, ("left",), BRASS)
                    made.add_run("Caution. ").bold = True
                else:
                    made.paragraph_format.right_indent = Mm(3)
                    edge(made, ("top", "left", "bottom", "right"), BRASS, dashed=True)
                self.fill(made, block.text, strong=block.kind == "invented")
            case Items():
                self._items(block)
            case Table():
                self._table(block)
            case Figure():
                width = self._room * (0.82 if self._document.one_page else 1)
                add_picture(
                    self.add(self.body), draw_png(block.svg, width), clean_text(block.alt), width_mm=width
                )
                if block.caption:
                    self.fill(self.add(self.body, "Aside"), block.caption)
            case Columns():
                for part in block.parts:
                    self._all(part)
            case Box():
                first = len(self.word.paragraphs)
                self._all(block.blocks)
                self._box(block.role, self.word.paragraphs[first:])
            case Code():
                for line in clean_text(block.text).splitlines():
                    self.add(self.body, "Kept lines").add_run(line)
            case PageBreak():
                self.body.add_page_break()

    def _all(self, blocks: tuple[Block, ...]) -> None:
        for block in blocks:
            self.show(block)

    def _box(self, role: str, inside: list[Any]) -> None:
        """What holds the paragraphs of a box together."""
        from docx.shared import Mm, Pt

        for place, made in enumerate(inside):
            form, last = made.paragraph_format, place == len(inside) - 1
            if role == "claim":
                form.keep_with_next, form.space_after = not last or None, None if last else Pt(0)
            elif role in ("evidence", "against"):
                form.left_indent = form.right_indent = Mm(3)
                form.keep_with_next = not last or None
                shade(made, WASH)
            elif role == "bare":
                form.left_indent = Mm(3)
                edge(made, ("left",), SOFT, dashed=True)
            elif role == "quote":
                made.style = "Quoted"
                form.left_indent = form.right_indent = Mm(6)

    def _items(self, block: Items, depth: int = 1) -> None:
        number = restart_list(self.word) if block.ordered else None
        style = "List Number" if block.ordered else "List Bullet"
        for place, item in enumerate(block.items):
            for index, inner in enumerate(item):
                if isinstance(inner, Items):
                    self._items(inner, depth + 1)
                    continue
                if index or not isinstance(inner, Paragraph):
                    self.show(inner)
                    continue
                made = self.add(self.body, style if depth == 1 else f"{style} {min(depth, 3)}")
                if number is not None and depth == 1:
                    number(made)
                if place < len(block.anchors):
                    self.anchor(made, block.anchors[place])
                self.fill(made, inner.text)

    def _table(self, block: Table) -> None:
        if block.caption:
            self.fill(self.add(self.body, "Aside"), block.caption)
        made = self.word.add_table(rows=1, cols=len(block.head))
        describe_table(made, clean_text(block.name))
        rule_table(made)
        narrow_cells(made)
        for index, name in enumerate(block.head):
            self._cell(made.rows[0].cells[index], (prose(soft(name)),), index in block.numeric, strong=False)
        repeat_as_header(made.rows[0])
        for row in block.rows:
            cells = made.add_row().cells
            for index, lines in enumerate(row):
                self._cell(cells[index], lines, index in block.numeric, strong=index == 0)
        self._widths(made, block)
        self._keep(made, block)
        after = self.add(self.body, "Footing").paragraph_format
        after.space_after, after.line_spacing = 0, 0.6

    def _keep(self, made: Any, block: Table) -> None:
        """No row is broken over pages, the header is never alone, and a short table stays in one piece."""
        short = sum(len(plain_text(line)) for row in block.rows for c in row for line in c) < SHORT
        rows = list(made.rows)
        for place, row in enumerate(rows):
            keep_row_whole(row)
            for paragraph in (p for c in row.cells for p in c.paragraphs):
                joined = place == 0 or (short and place < len(rows) - 1)
                paragraph.paragraph_format.keep_with_next = joined or None

    def _cell(self, place: Any, lines: Cell, right: bool, *, strong: bool) -> None:
        from docx.enum.text import WD_ALIGN_PARAGRAPH

        for index, line in enumerate(lines):
            made = place.paragraphs[0] if index == 0 else place.add_paragraph()
            made.style = "Cells"
            if right:
                made.alignment = WD_ALIGN_PARAGRAPH.RIGHT
            self.fill(made, line, strong=strong and index == 0)
        if not lines:
            place.paragraphs[0].style = "Cells"

    def _widths(self, made: Any, block: Table) -> None:
        from docx.shared import Mm

        if not block.shares:
            return
        made.autofit = False
        room = self._room
        for index, share in enumerate(block.shares):
            width = Mm(room * share / sum(block.shares))
            made.columns[index].width = width
            for c in made.columns[index].cells:
                c.width = width
