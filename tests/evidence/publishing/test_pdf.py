"""PDF files held against what PDF/UA-1 (ISO 14289-1) and PDF 1.7 (ISO 32000-1, 14.8) ask, as pikepdf shows it.

veraPDF is no Python library and is not run here. The typesetter refuses by itself what it can see to break PDF/UA-1.
"""

import io
import re
from collections.abc import Iterator
from itertools import pairwise

import pikepdf
import pytest

from evidence.appraisal.levels import Level
from evidence.errors import BadInput
from evidence.publishing.brief_pages import brief_document
from evidence.publishing.document import (
    Document,
    Figure,
    Heading,
    Mark,
    bullets,
    paragraph,
    prose,
    section,
    sources,
    table,
)
from evidence.publishing.pdf import write_pdf
from evidence.publishing.programme_pages import programme_document, programme_sheet
from evidence.publishing.sources import Made, Reference

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10">'
    '<text x="1" y="5" font-family="inherit" font-size="3">a</text></svg>'
)
POINTS = {"a4": (595.28, 841.89), "letter": (612, 792)}


def small(**changes) -> Document:
    blocks = (
        paragraph("First.", Mark(Level.LOW, Level.LOW, Level.LOW)),
        section("Second"),
        table("Figures", ("Name", "n"), [("alpha", "12"), ("beta", "7")], numeric=(1,)),
        Figure(SVG, "A figure that shows an a"),
        bullets(["third", "fourth"]),
        *sources([Reference("k", "A source.", "https://doi.org/10.5555/x")]),
    )
    base = {"title": "A small one", "blocks": blocks, "made": Made("abc123", "2026-11-25", "0.1")}
    return Document(**{**base, **changes})


OPEN: list[pikepdf.Pdf] = []  # objects of a file are gone once nothing holds the file


@pytest.fixture(autouse=True)
def let_go() -> Iterator[None]:
    yield
    OPEN.clear()


def opened(data: bytes) -> pikepdf.Pdf:
    OPEN.append(pikepdf.open(io.BytesIO(data)))
    return OPEN[-1]


def elements(pdf: pikepdf.Pdf) -> list[tuple[str, pikepdf.Object]]:
    """Every structure element in reading order: its kind and the element."""

    def walk(node) -> Iterator[tuple[str, pikepdf.Object]]:
        if isinstance(node, pikepdf.Array):
            for part in node:
                yield from walk(part)
        elif isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                yield str(node.S).lstrip("/"), node
            if "/K" in node:
                yield from walk(node.K)

    return list(walk(pdf.Root.StructTreeRoot.K))


def text_of(data: bytes) -> str:
    """All text of a file through its own font maps, page after page."""
    from pypdf import PdfReader

    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


@pytest.fixture(scope="module")
def whole() -> bytes:
    return write_pdf(small())


def test_a_file_says_that_it_is_tagged_and_keeps_to_pdf_ua_1(whole):
    pdf = opened(whole)
    assert bool(pdf.Root.MarkInfo.Marked)
    with pdf.open_metadata() as data:
        assert data["pdfuaid:part"] == "1"
        assert data["dc:title"] == "A small one"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)


def test_a_file_names_its_language(whole):
    assert str(opened(whole).Root.Lang) == "en"
    assert str(opened(write_pdf(small(language="de"))).Root.Lang) == "de"


def test_every_font_is_embedded_and_maps_to_characters(whole):
    fonts = [
        font
        for page in opened(whole).pages
        for font in page.resources.get("/Font", pikepdf.Dictionary()).values()
    ]
    assert fonts
    for font in fonts:
        assert "/ToUnicode" in font
        (inner,) = font.DescendantFonts
        assert {"/FontFile2", "/FontFile3"} & set(inner.FontDescriptor.keys())


def test_headings_lists_tables_and_figures_are_tagged_as_what_they_are(whole):
    kinds = [kind for kind, _ in elements(opened(whole))]
    for kind in ("H1", "H2", "P", "Table", "THead", "TH", "TBody", "TD", "L", "LI", "Figure", "Link"):
        assert kind in kinds, kind


def test_tables_have_column_headers_with_their_scope(whole):
    headers = [element for kind, element in elements(opened(whole)) if kind == "TH"]
    assert [scope_of(header) for header in headers] == ["/Column", "/Column", "/Row", "/Row"]


def scope_of(element: pikepdf.Object) -> str:
    """The scope that a table cell says it heads (ISO 32000-1, table 349)."""
    owners = [element.A] if isinstance(element.A, pikepdf.Dictionary) else list(element.A)
    return str(next(owner.Scope for owner in owners if owner.O == "/Table"))


def test_the_first_cell_of_each_row_heads_it_and_the_file_stays_whole(whole):
    rows = [e for kind, e in elements(opened(whole)) if kind == "TR"]
    assert [[str(cell.S) for cell in row.K] for row in rows] == [
        ["/TH", "/TH"],
        ["/TH", "/TD"],
        ["/TH", "/TD"],
    ]
    # qpdf reads every object by the table of places, and tells of one that had to be searched for
    assert opened(whole).check_pdf_syntax() == []


def test_a_file_built_in_another_way_is_left_as_it_is():
    from evidence.publishing.row_headers import mark_row_headers

    out = io.BytesIO()
    with pikepdf.new() as other:
        other.save(out, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    for data in (out.getvalue(), b"", b"%PDF-1.7\nstartxref\n5\n%%EOF"):
        assert mark_row_headers(data) == data


def test_every_figure_has_a_text_in_its_place(whole):
    figures = [element for kind, element in elements(opened(whole)) if kind == "Figure"]
    texts = {str(element.Alt) for element in figures if "/Alt" in element}
    assert "A figure that shows an a" in texts
    assert "Mark of confidence: low" in texts


def test_what_is_read_aloud_comes_in_the_order_of_the_page(whole):
    said = text_of(whole)
    places = [
        said.index(word)
        for word in ("A small one", "First.", "Second", "alpha", "third", "A source.", "Made by")
    ]
    assert places == sorted(places)
    kinds = [kind for kind, _ in elements(opened(whole)) if kind in ("H1", "Table", "L", "H2")]
    assert kinds[:4] == ["H1", "H2", "Table", "L"]


def test_page_numbers_and_running_titles_are_no_part_of_the_text(whole):
    content = b"".join(p.Contents.read_bytes() for p in opened(whole).pages)
    assert b"/Artifact" in content


def test_a_file_is_the_same_each_time_and_dated_by_the_catalogue(whole):
    assert write_pdf(small()) == whole
    assert str(opened(whole).docinfo["/CreationDate"]).startswith("D:20261125")


def test_links_lead_where_they_say(whole):
    found = [a for page in opened(whole).pages for a in page.get("/Annots", [])]
    assert any(str(a.A.URI) == "https://doi.org/10.5555/x" for a in found if "/URI" in a.get("/A", {}))
    assert all("/Contents" in a for a in found)  # ISO 14289-1, 7.18.5


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_file_is_on_the_paper_that_is_asked_for(programme, paper):
    box = opened(write_pdf(programme_sheet(programme()), paper)).pages[0].mediabox
    assert [round(float(v)) for v in box[2:]] == [round(v) for v in POINTS[paper]]


def test_an_unknown_paper_is_refused():
    with pytest.raises(BadInput, match="no paper"):
        write_pdf(small(), "a0")


@pytest.mark.parametrize("days", [1, 2, 5])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_plan_holds_on_one_page(programme, days, paper):
    plan = programme()
    plan = programme(sessions=plan.sessions[:1] * days)
    assert len(opened(write_pdf(programme_sheet(plan), paper)).pages) == 1


def test_whole_briefs_and_programmes_are_set_as_pdf_ua(brief, programme):
    for document in (brief_document(brief()), programme_document(programme())):
        pdf = opened(write_pdf(document))
        with pdf.open_metadata() as data:
            assert data["pdfuaid:part"] == "1"
        levels = [int(kind[1]) for kind, _ in elements(pdf) if re.fullmatch(r"H[1-6]", kind)]
        assert levels[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_headings_that_skip_a_level_in_a_draft_do_not_skip_in_the_file():
    document = small(
        blocks=(Heading(prose("Deep"), 5), Heading(prose("Deeper"), 6), Heading(prose("Top"), 1))
    )
    assert [k for k, _ in elements(opened(write_pdf(document))) if k.startswith("H")] == [
        "H1",
        "H2",
        "H3",
        "H2",
    ]


def test_emoji_chinese_and_right_to_left_text_stop_nothing():
    said = text_of(write_pdf(small(blocks=(paragraph("🏋️ 漢字 and שלום and سلام and τ²"),))))
    assert "[U+1F3CB] [U+6F22][U+5B57] and" in said
    assert "τ²" in said


def test_a_long_document_is_set_once_and_not_in_two_sizes_to_save_a_page(monkeypatch):
    from evidence.publishing import pdf

    counted = []
    monkeypatch.setattr(pdf, "_count_pages", lambda compiler: counted.append(1) or 2)
    write_pdf(small())
    assert len(counted) == 2
    monkeypatch.setattr(pdf, "LONG", 100)
    assert write_pdf(small()) and len(counted) == 2
