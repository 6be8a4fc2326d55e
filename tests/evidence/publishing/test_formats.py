"""What people typed is printed as text in every format, loses nothing, and starts nothing."""

import csv
import io
import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import docx
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from openpyxl import load_workbook
from pypdf import PdfReader

from evidence.appraisal.levels import Level
from evidence.errors import BadInput
from evidence.publishing.document import (
    Box,
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
    Span,
    bullets,
    cell,
    paragraph,
    prose,
    section,
    sources,
    table,
)
from evidence.publishing.formats import FORMATS, Wanted, choose_format, write_as_text, write_document
from evidence.publishing.glyphs import showable
from evidence.publishing.sheets import quote_formula, sheet_name
from evidence.publishing.sources import Made, Reference
from evidence.publishing.templating import clean_text

MADE = Made("abc123", "2026-11-25", "0.1")
# what each format could take for its own language
HOSTILE = (
    "#strong[x] #let y = 1; $x^2$ @ref <label> *b* _e_ `raw` // note /* */ \\u{48} #panic()",
    '#import "@preview/x:0.1.0" #read("/etc/passwd") #sys.inputs',
    "<script>alert(1)</script><img src=x onerror=alert(1)>&lt;b&gt; <!-- -->",
    "[a](javascript:alert(1)) ![i](http://example.org/x.png) <http://example.org> | `x` | # h",
    '=HYPERLINK("http://example.org","x")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A9)",
    "\t=1+1",
    "{{ 7*7 }} {% raw %} ${x} %(x)s {0}",
    "]]> <w:p> </w:t> &amp; \x0b \x1b[31m",
)
texts = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=60) | st.sampled_from(
    HOSTILE
)


def document(text: str) -> Document:
    return Document(
        title=f"T {text}",
        kicker=text,
        author=text,
        made=MADE,
        blocks=(
            Heading(prose(text), 2, "here"),
            paragraph(text, Span(text, strong=True, emphasis=True, url=text), Span(text, target="here")),
            Paragraph(prose(text), "lead"),
            Notice(prose(text)),
            bullets([text, text]),
            bullets([text], ordered=True),
            table(
                text or "t",
                ("A", text or "B"),
                [(f"r {text}", text), (text, cell(text, "second"))],
                shares=(1, 2),
            ),
            Figure('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"/>', text, prose(text), text),
            Columns(((paragraph(text),), (paragraph(text),))),
            Box((section(text, 3), paragraph(text)), "evidence"),
            Box((paragraph(text),), "quote"),
            Code(text),
            PageBreak(),
            paragraph("end", Mark(Level.LOW, Level.LOW, Level.HIGH)),
            *sources([Reference("k", text, text, text)]),
        ),
    )


class Tags(HTMLParser):
    """The tags and attributes of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs


def squeezed(text: str) -> str:
    """Without white space and what has no shape: writers may break lines anywhere."""
    return re.sub(r"[\s\u00ad\u200b-\u200f\u2028-\u202f\u2060-\u206f\ufeff]+", "", clean_text(text))


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("text", HOSTILE)
def test_text_that_looks_like_a_language_stops_no_writer_and_gives_the_same_bytes(kind, text):
    assert write_document(document(text), Wanted(kind)) == write_document(document(text), Wanted(kind))


@pytest.mark.parametrize("text", HOSTILE)
def test_a_pdf_prints_hostile_text_as_it_was_typed(text):
    pages = PdfReader(io.BytesIO(write_document(document(text), Wanted("pdf")))).pages
    said = squeezed("".join(page.extract_text() for page in pages))
    assert squeezed(showable(text)).replace("ﬁ", "fi") in said.replace("ﬁ", "fi")


@given(texts)
@hypothesis_settings(max_examples=25)
def test_any_text_can_be_set_as_pdf(text):
    assert write_document(document(text), Wanted("pdf")).startswith(b"%PDF-")


@given(texts)
@hypothesis_settings(max_examples=60)
def test_a_page_holds_typed_text_as_text_only(text):
    page = Tags(write_as_text(document(text), "html").split("</style>")[1])
    assert set(page.tags) <= {
        "body", "p", "main", "h1", "h2", "h3", "bdi", "strong", "em", "a", "ul", "ol", "li", "div", "table",
        "colgroup", "col", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "svg", "path", "section",
        "blockquote", "pre", "code", "footer", "span",
    }  # fmt: skip
    assert not [name for name, _ in page.attributes if name.startswith("on")]
    assert all(re.match("https?://|#", value) for name, value in page.attributes if name in ("href", "src"))


@given(texts)
@hypothesis_settings(max_examples=60)
def test_markdown_reads_back_as_the_text_that_was_typed(text):
    # read by a CommonMark parser of its own
    small = Document(title="T", made=MADE, blocks=(paragraph("a ", text, " z"),))
    tokens = MarkdownIt("commonmark").parse(write_as_text(small, "md"))
    said = next(t for t in tokens if t.type == "inline" and t.content.startswith("a"))
    assert {c.type for c in said.children} <= {"text", "softbreak", "text_special", "entity"}
    shown = "".join(c.content for c in said.children)
    assert squeezed(shown) == squeezed(f"a {text} z")


@given(texts)
@hypothesis_settings(max_examples=25)
def test_a_word_file_reads_back_with_the_text_that_was_typed(text):
    opened = docx.Document(io.BytesIO(write_document(document(text), Wanted("docx"))))
    title = next(p for p in opened.paragraphs if p.style.name == "Heading 1")
    assert squeezed(title.text) == squeezed(f"T {text}")
    assert squeezed(opened.tables[0].rows[1].cells[1].text) == squeezed(text)


@given(texts)
@hypothesis_settings(max_examples=40)
def test_a_workbook_holds_no_formula(text):
    data = write_document(document(text), Wanted("xlsx"))
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        sheets = [parts.read(n).decode() for n in parts.namelist() if n.startswith("xl/worksheets/sheet")]
    assert not any("<f>" in sheet or "<f " in sheet for sheet in sheets)


@given(texts)
@hypothesis_settings(max_examples=60)
def test_no_cell_of_a_csv_starts_a_formula(text):
    rows = csv.reader(io.StringIO(write_as_text(document(text), "csv")))
    for row in rows:
        for value in row:
            number = re.fullmatch(r"-?\d+(\.\d+)?", value)
            assert number or not value.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))


def test_numbers_stay_numbers_and_only_text_is_marked():
    assert quote_formula("−0.5") == "-0.5"
    assert quote_formula("-2+3") == "'-2+3"
    assert quote_formula("=1") == "'=1"
    small = Document(title="T", made=MADE, blocks=(table("t", ("A", "n"), [("=x", "12"), ("b", "−0.5")]),))
    book = load_workbook(io.BytesIO(write_document(small, Wanted("xlsx"))))
    sheet = book["t"]
    assert [(c.value, c.data_type) for c in sheet[2]] == [("=x", "s"), (12, "n")]
    assert sheet["A2"].quotePrefix
    assert sheet["B3"].value == -0.5


def test_names_of_sheets_are_those_a_workbook_allows_and_never_twice():
    taken: set[str] = set()
    names = [sheet_name(n, taken) for n in ("a/b:c*?[d]", "a/b:c*?[d]", "", "x" * 60, "x" * 60)]
    assert len({n.casefold() for n in names}) == 5
    assert all(len(n) <= 31 and not set(n) & set("[]:*?/\\") for n in names)


def test_a_word_file_has_real_headings_headers_alt_texts_and_language(brief):
    from evidence.publishing.brief_pages import brief_document

    data = write_document(brief_document(brief()), Wanted("docx", "letter"))
    opened = docx.Document(io.BytesIO(data))
    styles = [p.style.name for p in opened.paragraphs]
    assert styles.count("Heading 1") == 1
    assert "Heading 2" in styles
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        body, kinds = parts.read("word/document.xml").decode(), parts.read("word/styles.xml").decode()
        assert {entry.date_time for entry in parts.infolist()} == {(2026, 11, 25, 0, 0, 0)}
    assert body.count("<w:tblHeader") == body.count("<w:tbl>")
    pictures = re.findall(r"<wp:docPr [^>]*>", body)
    assert pictures
    assert all('descr="' in picture for picture in pictures)
    assert 'w:lang w:val="en-GB"' in kinds
    assert opened.core_properties.created.isoformat().startswith("2026-11-25")
    assert round(opened.sections[0].page_width.mm) == 216


def paragraphs_of(made: Document) -> tuple[docx.document.Document, dict[str, str]]:
    """A document opened, and the settings of each of its paragraphs by its text."""
    opened = docx.Document(io.BytesIO(write_document(made, Wanted("docx"))))
    found = {p.text: p._p.pPr.xml if p._p.pPr is not None else "" for p in opened.paragraphs}
    return opened, found


def test_a_word_file_shows_what_belongs_together_as_paper_does() -> None:
    blocks = (
        Notice(prose("Mind the step.")),
        Box((paragraph("The verdict."), paragraph("The figures.")), "evidence"),
        Box((paragraph("First of a claim."), paragraph("Last of a claim.")), "claim"),
        Box((paragraph("Said by another."),), "quote"),
        Items(((paragraph("outer"), Items(((paragraph("inner"),),))),)),
        table("Short", ("Name", "n"), [("alpha", "1"), ("beta", "2")]),
    )
    opened, found = paragraphs_of(Document(title="T", made=MADE, blocks=blocks, invented=True))
    notice = next(text for text in found if text.startswith("Invented data."))
    assert found[notice].count('w:val="dashed"') == 4
    assert "<w:left " in found["Caution. Mind the step."]
    assert "w:keepNext" in found["The verdict."] and "w:shd" in found["The figures."]
    assert "w:keepNext" in found["First of a claim."] and "w:keepNext" not in found["Last of a claim."]
    styles = {p.text: p.style.name for p in opened.paragraphs}
    assert (styles["Said by another."], styles["outer"], styles["inner"]) == (
        "Quoted",
        "List Bullet",
        "List Bullet 2",
    )
    rows = opened.tables[0].rows
    assert all("w:cantSplit" in row._tr.xml for row in rows)
    kept = [all(p.paragraph_format.keep_with_next for c in row.cells for p in c.paragraphs) for row in rows]
    assert kept == [True, True, False]


def test_a_word_file_counts_its_pages_and_names_itself_at_the_foot() -> None:
    opened, _ = paragraphs_of(Document(title="Two legs", made=MADE, blocks=(), invented=True))
    (foot,) = opened.sections[0].footer.paragraphs
    assert foot.text.startswith("Invented data · Two legs\t")
    assert [code in foot._p.xml for code in ('w:instr="PAGE"', 'w:instr="NUMPAGES"')] == [True, True]


def test_a_word_file_for_one_page_is_set_closer() -> None:
    spaces = []
    for one_page in (False, True):
        opened, _ = paragraphs_of(Document(title="T", made=MADE, blocks=(), one_page=one_page))
        spaces.append(opened.styles["Normal"].paragraph_format.line_spacing)
    assert spaces[1] < spaces[0]


def test_a_word_file_for_one_page_is_set_smaller_the_more_it_holds() -> None:
    sizes = []
    for rows in (4, 60):
        plan = table("Plan", ("Exercise", "Sets"), [(f"pick {n}", "3") for n in range(rows)])
        opened, _ = paragraphs_of(Document(title="T", made=MADE, blocks=(plan,), one_page=True))
        sizes.append(opened.styles["Normal"].font.size.pt)
    assert sizes[0] > sizes[1] >= 6


@pytest.mark.parametrize(
    ("named", "file", "kind"),
    [(None, "x.PDF", "pdf"), (None, "x.htm", "html"), ("docx", "x.anything", "docx"), (None, None, "txt")],
)
def test_a_format_is_named_or_said_by_the_ending(named, file, kind):
    assert choose_format(named, Path(file) if file else None).format == kind


@pytest.mark.parametrize(
    ("named", "file", "said"),
    [
        (None, "x.exe", 'ends in ".exe"'),
        ("odt", "x.odt", "no format of documents"),
        ("pdf", None, "cannot be shown on the screen"),
    ],
)
def test_a_format_that_is_not_known_is_refused_with_what_there_is(named, file, said):
    with pytest.raises(BadInput, match=re.escape(said)):
        choose_format(named, Path(file) if file else None)


def test_an_output_without_a_table_is_no_spreadsheet():
    with pytest.raises(BadInput, match="holds no table"):
        write_document(Document(title="T", made=MADE, blocks=(paragraph("x"),)), Wanted("csv"))


def test_plain_text_is_held_to_its_width(brief, programme):
    from evidence.publishing.brief_pages import brief_document
    from evidence.publishing.programme_pages import programme_document

    for made in (brief_document(brief(studies=brief().studies[:1])), programme_document(programme())):
        lines = [line for line in write_as_text(made, "txt").splitlines() if "http" not in line]
        assert max(map(len, lines)) <= 80
