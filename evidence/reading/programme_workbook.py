"""Programmes in a workbook (XLSX): each sheet that holds a table is a session, unless a column names the sessions."""

from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from evidence.errors import BadInput
from evidence.reading.files import open_bytes
from evidence.reading.programme_tables import TableRead, read_table_rows

LIMIT_ROWS = 5_000
LIMIT_COLUMNS = 60


def read_workbook(path: Path | str) -> TableRead | None:
    """The picks of all sheets; None where no sheet names its columns.

    BadInput where it is no sound workbook.
    """
    import warnings
    import zipfile
    from io import BytesIO

    from openpyxl import load_workbook

    data = open_bytes(path)
    if not data.startswith(b"PK"):
        raise BadInput("this is no XLSX workbook.", where=str(path), hint="Save it as XLSX or CSV.")
    try:
        if sum(entry.file_size for entry in zipfile.ZipFile(BytesIO(data)).infolist()) > 400_000_000:
            raise BadInput(
                "this workbook unpacks to more than 400 MB.", where=str(path), hint="Save it as CSV."
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that are not read
            book = load_workbook(BytesIO(data), read_only=True, data_only=True)
            formulas = load_workbook(BytesIO(data), read_only=True, data_only=False)
            read = _read_sheets(book, formulas)
    except BadInput:
        raise
    except Exception as problem:  # the library raises many kinds for damaged files
        raise BadInput(
            f"this workbook is damaged or not complete ({type(problem).__name__}).",
            where=str(path),
            hint="Open and save it again, or save it as CSV.",
        ) from None
    return read


def _read_sheets(book: Any, formulas: Any) -> TableRead | None:
    total = TableRead()
    known = False
    for sheet, written in zip(book.worksheets, formulas.worksheets, strict=True):
        rows = []
        values, sources = (
            s.iter_rows(max_row=LIMIT_ROWS, max_col=LIMIT_COLUMNS, values_only=True) for s in (sheet, written)
        )
        for number, (cells, source) in enumerate(zip(values, sources, strict=False), 1):
            where = f"{sheet.title}, row {number}"
            rows.append((where, [_as_text(cell) for cell in cells]))
            for cell, formula in zip(cells, source, strict=False):
                if cell is None and isinstance(formula, str) and formula.startswith("="):
                    total.problems.append(
                        f"{where}: the formula {formula} has no stored value; open and save the workbook"
                    )
        read = read_table_rows(rows, sheet.title)
        if read is None:
            continue
        known = True
        for name, picks in read.sessions.items():
            total.sessions.setdefault(name, []).extend(picks)
        total.dates += read.dates
        total.unknown += read.unknown
        total.problems += read.problems
    return total if known else None


def _as_text(cell: object) -> str:
    """A cell as a person sees it; dates in year-month-day, whole numbers without a decimal point."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)
