"""The tables of a document as a workbook (XLSX) or as comma-separated rows (CSV).

A text cell that a spreadsheet would take for a formula is marked as text: in a workbook by its own flag for quoted
text, in CSV by an apostrophe in front. Numbers stay numbers.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from typing import Any

from evidence.errors import BadInput
from evidence.publishing.document import Block, Cell, Document, Table, plain_text, walk
from evidence.publishing.pdf import moment_of
from evidence.publishing.sealing import seal_zip
from evidence.publishing.templating import clean_text

STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "|", "＝", "＋", "－", "＠")
NUMBER = re.compile(r"[-−+]?\d{1,15}(\.\d{1,12})?")


def tables_of(blocks: Iterable[Block]) -> Iterator[Table]:
    """Every table in order."""
    return (block for block in walk(blocks) if isinstance(block, Table))


def write_csv(document: Document) -> str:
    """The tables under one another with a blank row between, each after its name; lines end as RFC 4180 says."""
    out = io.StringIO()
    rows = csv.writer(out)
    for place, found in enumerate(_need_tables(document)):
        if place:
            rows.writerow([])
        rows.writerow([quote_formula(found.name)])
        rows.writerow([quote_formula(name) for name in found.head])
        rows.writerows([[quote_formula(flat(c)) for c in row] for row in found.rows])
    rows.writerow([])
    rows.writerows([[quote_formula(line)] for line in _told(document)])
    return out.getvalue()


def write_xlsx(document: Document) -> bytes:
    """A sheet for each table, and one that says what it was made from."""
    from openpyxl import Workbook

    book = Workbook()
    about = book.active
    assert about is not None
    about.title = "About"
    for line in (document.kicker, document.title, *_told(document)):
        about.append([clean_text(line)])
    about.column_dimensions["A"].width = 100
    names = {"about"}
    for found in _need_tables(document):
        sheet = book.create_sheet(sheet_name(found.name, names))
        sheet.append(list(map(clean_text, found.head)))
        for cells in found.rows:
            sheet.append([as_value(flat(c)) for c in cells])
        _lay_out(sheet, found)
    for sheet in book.worksheets:
        _keep_as_text(sheet)
    moment = moment_of(document).replace(tzinfo=None)
    book.properties.creator = clean_text(document.author) or "Steelyard"
    book.properties.title = clean_text(document.title)
    book.properties.language = document.language
    book.properties.created = book.properties.modified = moment
    book.active = 1
    out = io.BytesIO()
    book.save(out)
    return _undated(out.getvalue(), document)


def _lay_out(sheet: Any, found: Table) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.freeze_panes = "B2"
    for index, column in enumerate(sheet.columns):
        longest = max(len(str(c.value or "")) for c in column)
        sheet.column_dimensions[column[0].column_letter].width = min(max(10, longest + 2), 60)
        column[0].font = Font(bold=True)
        side = "right" if index in found.numeric else None
        for c in column[1:]:
            c.alignment = Alignment(wrap_text=True, vertical="top", horizontal=side)


def _keep_as_text(sheet: Any) -> None:
    """Cells of text stay text, whatever they begin with."""
    for row in sheet.iter_rows():
        for c in row:
            if isinstance(c.value, str):
                c.data_type = "s"
                c.quotePrefix = c.value.startswith(STARTS_FORMULA)


def _undated(data: bytes, document: Document) -> bytes:
    """The workbook with the moment of saving, which the library writes by itself, set to that of the catalogue."""
    import zipfile

    moment = moment_of(document)
    stamp = f"{moment:%Y-%m-%dT%H:%M:%SZ}".encode()
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(target, "w") as changed:
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            changed.writestr(name, content)
    return seal_zip(target.getvalue(), moment)


def _told(document: Document) -> list[str]:
    return [*([document.banner] if document.invented else []), *document.footing]


def _need_tables(document: Document) -> list[Table]:
    found = list(tables_of(document.blocks))
    if not found:
        raise BadInput(
            "this output holds no table, so there is nothing to put into a spreadsheet.",
            hint="Write it as .html, .pdf, .docx, .md or .txt.",
        )
    return found


def sheet_name(name: str, taken: set[str]) -> str:
    """A name that a workbook allows (31 characters, none of []:*?/\\) and that is not taken yet."""
    plain = re.sub(r"[\[\]:*?/\\']", " ", clean_text(name)).strip()[:28] or "Table"
    made, number = plain, 2
    while made.casefold() in taken:
        made, number = f"{plain[:26]} {number}", number + 1
    taken.add(made.casefold())
    return made


def flat(lines: Cell) -> str:
    """A cell as one text, a line under another."""
    return "\n".join(clean_text(plain_text(line)) for line in lines)


def as_value(text: str) -> str | float | int:
    """A number where the text is one and nothing else, else the text."""
    if NUMBER.fullmatch(text) and not re.match(r"[-−+]?0\d", text):
        number = float(text.replace("−", "-"))
        return int(number) if "." not in text else number
    return text


def quote_formula(text: str) -> str:
    """Text for a CSV cell: an apostrophe in front where a spreadsheet would begin to compute; numbers as they are."""
    text = clean_text(text)
    if NUMBER.fullmatch(text.replace("−", "-")):
        return text.replace("−", "-").removeprefix("+")
    return (
        f"'{text}"
        if text.lstrip(" \n").startswith(STARTS_FORMULA) or text.startswith(STARTS_FORMULA)
        else text
    )
