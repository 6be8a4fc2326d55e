"""DOCX: the text of its paragraphs and table cells, one per line. Pictures, text boxes and notes are not read."""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from evidence.errors import BadInput

LIMIT_UNPACKED = 200_000_000  # bytes


@dataclass(frozen=True, slots=True)
class WordText:
    """The text of a DOCX file: paragraphs joined by line ends, with the kind of each."""

    text: str
    kinds: tuple[str, ...]
    notes: tuple[str, ...]


def read_word(data: bytes, name: str) -> WordText:
    """The paragraphs of a DOCX file. Raises BadInput where it is none, is locked, or unpacks to too much."""
    document = open_word(data, name)
    with _told_as_damaged(name):  # its parts are only looked at while they are walked through
        found = [(paragraph_text(paragraph), kind) for paragraph, kind in walk_word(document)]
        body = document.element.xml if len(data) < 5_000_000 else ""
    notes = []
    if "<w:del " in body or "<w:ins " in body:
        notes.append("the file holds tracked changes: text that was inserted is read, deleted text is not")
    if "<w:txbxContent" in body:
        notes.append("text boxes are not read")
    if "w:footnoteReference" in body:
        notes.append("footnotes are not read")
    return WordText("\n".join(text for text, _ in found), tuple(kind for _, kind in found), tuple(notes))


def open_word(data: bytes, name: str) -> Any:
    """The document, opened. Raises BadInput."""
    with _told_as_damaged(name):
        with zipfile.ZipFile(BytesIO(data)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > LIMIT_UNPACKED:
                raise BadInput("this file unpacks to more than is read.", where=name)
            if "word/document.xml" not in packed.namelist():
                raise BadInput("this is no DOCX file.", where=name, hint="Save it as DOCX or as text.")
        from docx import Document

        return Document(BytesIO(data))


@contextmanager
def _told_as_damaged(name: str) -> Iterator[None]:
    """The many kinds of exception that a damaged file raises in the library for DOCX, as one refusal."""
    try:
        yield
    except BadInput:
        raise
    except Exception as problem:
        raise BadInput(
            f"this DOCX file is damaged or locked ({type(problem).__name__}).",
            where=name,
            hint="Open it in a word processor and save it again.",
        ) from None


def walk_word(document: Any) -> Iterator[tuple[Any, str]]:
    """Paragraphs in reading order, table cells once each, with their kind."""
    from docx.table import Table
    from docx.text.paragraph import Paragraph

    for item in document.iter_inner_content():
        if isinstance(item, Paragraph):
            style = (item.style.name or "") if item.style is not None else ""
            kind = "heading" if style.startswith(("Heading", "Title")) else "paragraph"
            yield item, "item" if style.startswith("List") else kind
        elif isinstance(item, Table):
            seen: set[int] = set()
            for row in item.rows:
                for cell in row.cells:
                    if id(cell._tc) in seen:  # a merged cell is listed once for each place it covers
                        continue
                    seen.add(id(cell._tc))
                    for paragraph in cell.paragraphs:
                        yield paragraph, "cell"


def paragraph_text(paragraph: Any) -> str:
    """The text of one paragraph on one line: inserted runs count, deleted ones do not."""
    return "".join(node.text or "" for node in text_nodes(paragraph)).replace("\n", " ").replace("\r", " ")


def text_nodes(paragraph: Any) -> list[Any]:
    """The text elements of a paragraph in order, those in links and insertions too."""
    return list(paragraph._p.xpath(".//w:t[not(ancestor::w:txbxContent)]"))
