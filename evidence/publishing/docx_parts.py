"""What WordprocessingML (ECMA-376) knows and python-docx has no call for: links, anchors, described pictures, rules."""

import hashlib
import io
from collections.abc import Callable, Sequence
from typing import Any


def anchor_name(name: str) -> str:
    """A bookmark's name: letters, digits and underscores, at most 40."""
    plain = "".join(c if c.isascii() and c.isalnum() else "_" for c in name)
    return f"a_{plain}" if len(plain) < 36 else f"a_{hashlib.sha256(name.encode()).hexdigest()[:16]}"


def add_link(paragraph: Any, text: str, colour: str, *, url: str = "", anchor: str = "") -> None:
    """A link to a web address or to a bookmark."""
    from docx.opc.constants import RELATIONSHIP_TYPE
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn
    from docx.shared import RGBColor

    link = OxmlElement("w:hyperlink")
    if url:
        link.set(qn("r:id"), paragraph.part.relate_to(url, RELATIONSHIP_TYPE.HYPERLINK, is_external=True))
    else:
        link.set(qn("w:anchor"), anchor)
    run = paragraph.add_run(text)
    run.font.color.rgb = RGBColor.from_string(colour)
    link.append(run._r)
    paragraph._p.append(link)


def add_anchor(paragraph: Any, name: str, number: int) -> None:
    """A bookmark at the start of a paragraph."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    start, end = OxmlElement("w:bookmarkStart"), OxmlElement("w:bookmarkEnd")
    for element in (start, end):
        element.set(qn("w:id"), str(number))
    start.set(qn("w:name"), name)
    place = 1 if paragraph._p.pPr is not None else 0
    paragraph._p.insert(place, start)
    paragraph._p.append(end)


def add_picture(paragraph: Any, png: bytes, alt: str, *, width_mm: float) -> None:
    """A picture in the line, with what it shows in words."""
    from docx.shared import Mm

    picture = paragraph.add_run().add_picture(io.BytesIO(png), width=Mm(width_mm))
    named = picture._inline.docPr
    named.set("descr", alt)
    named.set("name", "Figure" if width_mm > 50 else "Mark")


def repeat_as_header(row: Any) -> None:
    """Mark a row as the table's header: read as such, and repeated on each page."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    header = OxmlElement("w:tblHeader")
    header.set(qn("w:val"), "true")
    row._tr.get_or_add_trPr().append(header)


def describe_table(table: Any, name: str) -> None:
    """A name for those who do not see the table."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    properties = table._tbl.tblPr
    caption = OxmlElement("w:tblCaption")
    caption.set(qn("w:val"), name)
    properties.append(caption)
    look = properties.find(qn("w:tblLook"))
    if look is not None:
        look.set(qn("w:firstRow"), "1")
        look.set(qn("w:firstColumn"), "1")


def rule_table(table: Any) -> None:
    """Lines above, below and between the rows, none between columns."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    borders = OxmlElement("w:tblBorders")
    for side, size, colour in (("top", "8", "1D1B18"), ("bottom", "4", "B9B1A2"), ("insideH", "4", "B9B1A2")):
        line = OxmlElement(f"w:{side}")
        for key, value in (("val", "single"), ("sz", size), ("space", "0"), ("color", colour)):
            line.set(qn(f"w:{key}"), value)
        borders.append(line)
    properties = table._tbl.tblPr
    look = properties.find(qn("w:tblLook"))
    properties.insert(list(properties).index(look), borders) if look is not None else properties.append(
        borders
    )


def narrow_cells(table: Any) -> None:
    """Little room at the sides of cells, so that columns are as wide as their figures."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    margins = OxmlElement("w:tblCellMar")
    for side, twentieths in (("left", "60"), ("right", "90")):
        margin = OxmlElement(f"w:{side}")
        margin.set(qn("w:w"), twentieths)
        margin.set(qn("w:type"), "dxa")
        margins.append(margin)
    properties = table._tbl.tblPr
    look = properties.find(qn("w:tblLook"))
    look.addprevious(margins) if look is not None else properties.append(margins)


def keep_row_whole(row: Any) -> None:
    """A row that is not broken over two pages."""
    from docx.oxml import OxmlElement

    row._tr.get_or_add_trPr().append(OxmlElement("w:cantSplit"))


def edge(paragraph: Any, sides: Sequence[str], colour: str, *, dashed: bool = False) -> None:
    """Lines at sides of a paragraph; where neighbours have the same, they are one box."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    borders = OxmlElement("w:pBdr")
    for side in sides:
        line = OxmlElement(f"w:{side}")
        for key, value in (
            ("val", "dashed" if dashed else "single"),
            ("sz", "8" if dashed else "16"),
            ("space", "6"),
            ("color", colour),
        ):
            line.set(qn(f"w:{key}"), value)
        borders.append(line)
    _put(paragraph._p.get_or_add_pPr(), borders)


def shade(paragraph: Any, colour: str) -> None:
    """A wash behind a paragraph."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    wash = OxmlElement("w:shd")
    for key, value in (("val", "clear"), ("color", "auto"), ("fill", colour)):
        wash.set(qn(f"w:{key}"), value)
    _put(paragraph._p.get_or_add_pPr(), wash)


def _put(properties: Any, element: Any) -> None:
    """An element among those of a paragraph, in the order of the schema (ECMA-376-1, 17.3.1.26)."""
    from docx.oxml.ns import qn

    later = ("shd", "tabs", "bidi", "spacing", "ind", "contextualSpacing", "jc", "outlineLvl", "rPr")
    names = [qn(f"w:{name}") for name in later if qn(f"w:{name}") != element.tag]
    follower = next((child for child in properties if child.tag in names), None)
    properties.append(element) if follower is None else follower.addprevious(element)


def number_pages(paragraph: Any, title: str, style: str) -> None:
    """The running title, and the number of the page and of all pages, as fields."""
    from docx.enum.text import WD_TAB_ALIGNMENT

    paragraph.style = style
    stops = paragraph.paragraph_format.tab_stops
    section = paragraph.part.package.main_document_part.document.sections[0]
    stops.add_tab_stop(
        section.page_width - section.left_margin - section.right_margin, WD_TAB_ALIGNMENT.RIGHT
    )
    paragraph.add_run(f"{title}\t")
    _field(paragraph, "PAGE")
    paragraph.add_run(" / ")
    _field(paragraph, "NUMPAGES")


def _field(paragraph: Any, code: str) -> None:
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), code)
    run = OxmlElement("w:r")
    text = OxmlElement("w:t")
    text.text = "1"
    run.append(text)
    field.append(run)
    paragraph._p.append(field)


def restart_list(word: Any) -> Callable[[Any], None]:
    """A numbering of its own for one list; returns what gives it to a paragraph."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    style = word.styles["List Number"]
    used = style.element.pPr.numPr.numId.val
    numbering = word.part.numbering_part.element
    abstract = next(n.abstractNumId.val for n in numbering.num_lst if n.numId == used)
    new = numbering.add_num(abstract)
    override = new.add_lvlOverride(ilvl=0)
    start = OxmlElement("w:startOverride")
    start.set(qn("w:val"), "1")
    override.append(start)

    def give(paragraph: Any) -> None:
        properties = paragraph._p.get_or_add_pPr().get_or_add_numPr()
        properties.get_or_add_ilvl().val = 0
        properties.get_or_add_numId().val = new.numId

    return give


def set_language(word: Any, language: str) -> None:
    """The language of all text, for spelling and for reading aloud."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    tag = {"en": "en-GB"}.get(language, language)
    properties = word.styles.element.find(qn("w:docDefaults")).find(qn("w:rPrDefault")).find(qn("w:rPr"))
    found = properties.find(qn("w:lang"))
    if found is None:
        found = OxmlElement("w:lang")
        properties.append(found)
    found.set(qn("w:val"), tag)


def drop_theme_fonts(style: Any) -> None:
    """Let the style's own font hold, which a theme's would otherwise override."""
    from docx.oxml.ns import qn

    fonts = style.element.rPr.rFonts
    for name in ("asciiTheme", "hAnsiTheme", "eastAsiaTheme", "cstheme"):
        fonts.attrib.pop(qn(f"w:{name}"), None)
