"""DOCX drafts, made here with the library that reads them, and ones that are damaged."""

import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from evidence.errors import BadInput
from evidence.reading.drafts import read_draft


def make(path: Path) -> Path:
    from docx import Document

    document: Any = Document()
    document.add_heading("Squats 🏋️ and more", 1)
    paragraph = document.add_paragraph("Full squats ")
    paragraph.add_run("may grow").bold = True
    paragraph.add_run(" the glutes [@eskdale2015]. ")
    paragraph.add_run("\tTab.")
    table = document.add_table(2, 2)
    table.cell(0, 0).merge(table.cell(0, 1)).text = "Merged."
    table.cell(1, 0).text = "Left."
    document.add_paragraph("")
    document.add_paragraph("שלום עולם. Last.", style="List Bullet")
    document.save(str(path))
    return path


def test_paragraphs_and_cells_are_read_with_paragraph_and_character(tmp_path: Path) -> None:
    draft = read_draft(make(tmp_path / "a.docx"))
    told = [(str(draft.place(s.start)), s.text) for s in draft.sentences]
    assert told[0] == ("1:1", "Squats 🏋️ and more")
    assert told[1] == ("2:1", "Full squats may grow the glutes.")
    assert [t for _, t in told].count("Merged.") == 1
    assert told[-1] == ("7:12", "Last.")
    assert draft.sentences[1].citations[0].keys[0].key == "eskdale2015"


@pytest.mark.parametrize("content", [b"not a zip", b"PK\x03\x04 cut off"])
def test_what_is_no_docx_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.docx"
    path.write_bytes(content)
    with pytest.raises(BadInput, match="DOCX"):
        read_draft(path)


def test_a_zip_that_is_no_document_and_one_that_unpacks_to_too_much_are_refused(tmp_path: Path) -> None:
    other = BytesIO()
    with zipfile.ZipFile(other, "w") as packed:
        packed.writestr("x.txt", "x")
    (tmp_path / "a.docx").write_bytes(other.getvalue())
    with pytest.raises(BadInput, match="no DOCX"):
        read_draft(tmp_path / "a.docx")
    bomb = BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("word/document.xml", b"0" * 201_000_000)
    (tmp_path / "b.docx").write_bytes(bomb.getvalue())
    with pytest.raises(BadInput, match="unpacks"):
        read_draft(tmp_path / "b.docx")


@pytest.mark.parametrize(
    "inside",
    [
        b"<?xml version='1.0'?><w:other xmlns:w='http://schemas.openxmlformats.org/wordprocessingml/2006/main'/>",
        b"<?xml version='1.0'?><w:document xmlns:w='http://schemas.openxmlformats.org/wordprocessingml/2006/main'/>",
        b"<document/>",
        b"",
    ],
)
def test_a_docx_whose_text_is_of_another_make_is_refused_in_words(tmp_path: Path, inside: bytes) -> None:
    whole = make(tmp_path / "whole.docx")
    path = tmp_path / "a.docx"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            new.writestr(name, inside if name == "word/document.xml" else old.read(name))
    with pytest.raises(BadInput, match="damaged or locked"):
        read_draft(path)
