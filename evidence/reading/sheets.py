"""Saved tables (CSV, TSV, plain text, XLSX) as text that `read_table` takes, one line per row of the sheet.

A workbook is read without running anything: stored values only. What a person cannot see in the text is said
in `notes`: formulas without a stored value, cells a spreadsheet turned into dates, hidden sheets, errors.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path

from evidence.errors import Ambiguous, BadInput
from evidence.reading.files import decode_input, open_bytes
from evidence.reading.pasted import read_table
from evidence.reading.table import Answers, TableReading

LIMIT_BYTES = 20_000_000
LIMIT_UNPACKED = 200_000_000
LIMIT_ROWS, LIMIT_COLUMNS = 5_000, 300


@dataclass(frozen=True, slots=True)
class SheetText:
    """A saved table as text. `notes`: what the text alone does not show, with places."""

    name: str
    text: str
    notes: tuple[str, ...] = ()
    sheet: str | None = None


def read_sheet(source: Path | str | bytes, name: str | None = None, *, sheet: str | None = None) -> SheetText:
    """A saved table as text.

    `source`: a path, or the bytes of a file called `name`. `sheet`: which sheet of a workbook. Raises
    BadInput where the file is not what it says or too large, Ambiguous where a workbook has several filled
    sheets and none was named.
    """
    if isinstance(source, bytes):
        data, label = source, name or "table"
        if not data.strip():
            raise BadInput("this file is empty.", where=label)
    else:
        data, label = open_bytes(source, limit_bytes=LIMIT_BYTES), name or str(source)
    if len(data) > LIMIT_BYTES:
        raise BadInput(
            f"this file has {len(data)} bytes; a table has far fewer.",
            where=label,
            hint="Save the table alone.",
        )
    if data.startswith(b"PK\x03\x04"):
        return _read_workbook(data, label, sheet)
    text = decode_input(data, label).text
    return SheetText(label, separate_fields(text))


def read_saved_table(
    source: Path | str | bytes,
    name: str | None = None,
    *,
    sheet: str | None = None,
    answers: Answers | None = None,
) -> TableReading:
    """Read a saved table as `read_table` reads a paste; the sheet's notes come first among the warnings."""
    found = read_sheet(source, name, sheet=sheet)
    reading = read_table(found.text, answers=answers)
    return replace(reading, warnings=(*found.notes, *reading.warnings))


def separate_fields(text: str) -> str:
    """CSV as tab-separated text; text that no separator divides evenly is left as it is."""
    separator = sniff_separator(text)
    if separator is None or separator == "\t":
        return text
    rows = csv.reader(io.StringIO(text), delimiter=separator)
    return "\n".join("\t".join(re.sub(r"\s+", " ", field).strip() for field in row) for row in rows)


def sniff_separator(text: str) -> str | None:
    """The character that divides most lines into the same number of fields (at least two)."""
    best: tuple[float, int, str] | None = None
    for separator in ("\t", ";", ",", "|"):
        try:
            widths = [
                len(row)
                for row in csv.reader(io.StringIO(text), delimiter=separator)
                if any(f.strip() for f in row)
            ]
        except csv.Error:
            continue
        if not widths:
            continue
        usual = max(set(widths), key=widths.count)
        share = widths.count(usual) / len(widths)
        if (
            usual >= 2
            and share >= 0.6
            and (best is None or (share, usual) > best[:2])
            and not _splits_numbers(text, separator, usual)
        ):
            best = (share, usual, separator)
    return best[2] if best else None


def _splits_numbers(text: str, separator: str, width: int) -> bool:
    """Whether commas are decimal signs or stand in running text: a comma file has no space after its
    separators everywhere.
    """
    if separator != ",":
        return False
    commas = re.findall(r",(.)", text)
    spaced = sum(char == " " for char in commas)
    inside = len(re.findall(r"(?<![\d,])\d+,\d+(?![\d,])", text))
    return bool(commas) and (
        spaced > 0.6 * len(commas) or inside > 0.8 * len(commas) or (";" in text and inside > 0)
    )


def _read_workbook(data: bytes, label: str, wanted: str | None) -> SheetText:
    from openpyxl import load_workbook

    _check_archive(data, label)
    try:
        values = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        formulas = load_workbook(io.BytesIO(data), read_only=True, data_only=False)
        names = [sheet.title for sheet in values.worksheets]
        chosen = _choose_sheet(values, names, label, wanted)
        rows = _rows(values[chosen], label)
        written = _rows(formulas[chosen], label)
        hidden = [
            sheet.title
            for sheet in values.worksheets
            if sheet.sheet_state != "visible" and sheet.title != chosen
        ]
        values.close()
        formulas.close()
    except BadInput:
        raise
    except Exception as problem:  # the library raises many kinds for damaged files
        raise BadInput(
            f"this is not a readable workbook ({problem}).", where=label, hint="Save the table as CSV."
        ) from None
    notes = [f"sheet {name!r} is hidden and was not read" for name in hidden]
    lines = []
    for number, (row, source) in enumerate(zip(rows, written, strict=False), 1):
        cells = []
        for column, value in enumerate(row):
            formula = source[column] if column < len(source) else None
            shown, note = show_value(value, formula)
            place = f"{chosen}, row {number}, column {column + 1}"
            notes += [f"{place}: {note}"] if note else []
            cells.append(shown)
        lines.append("\t".join(cells).rstrip("\t") if not any(cells) else "\t".join(cells))
    return SheetText(label, "\n".join(lines), tuple(notes), chosen)


def _check_archive(data: bytes, label: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            size = sum(item.file_size for item in archive.infolist())
            names = set(archive.namelist())
    except zipfile.BadZipFile:
        raise BadInput(
            "this workbook is damaged or cut off.", where=label, hint="Save it again, or as CSV."
        ) from None
    if size > LIMIT_UNPACKED:
        raise BadInput(
            "this workbook unpacks to more than 200 MB.", where=label, hint="Save the one table as CSV."
        )
    if "xl/workbook.xml" not in names:
        raise BadInput(
            "this is a zip container but not a workbook.", where=label, hint="Save the table as CSV or XLSX."
        )


def _choose_sheet(workbook: object, names: Sequence[str], label: str, wanted: str | None) -> str:
    sheets = {sheet.title: sheet for sheet in workbook.worksheets}  # type: ignore[attr-defined]
    if wanted is not None:
        if wanted not in sheets:
            raise BadInput(f"there is no sheet {wanted!r}.", where=label, hint=f"Sheets: {', '.join(names)}.")
        return wanted
    filled = [
        title
        for title, sheet in sheets.items()
        if sheet.sheet_state == "visible"
        and any(any(v is not None for v in row) for row in sheet.iter_rows(max_row=200, values_only=True))
    ]
    if not filled:
        raise BadInput("no sheet of this workbook holds anything.", where=label)
    if len(filled) > 1:
        raise Ambiguous(
            f"this workbook has {len(filled)} filled sheets.",
            candidates=filled,
            where=label,
            hint="Name the sheet to read.",
        )
    return str(filled[0])


def _rows(sheet: object, label: str) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for row in sheet.iter_rows():  # type: ignore[attr-defined]
        if len(rows) >= LIMIT_ROWS or len(row) > LIMIT_COLUMNS:
            raise BadInput(
                f"the sheet is larger than {LIMIT_ROWS} rows by {LIMIT_COLUMNS} columns.",
                where=label,
                hint="Keep the table alone.",
            )
        rows.append(tuple(_cell_value(cell) for cell in row))
    return rows


def _cell_value(cell: object) -> object:
    """A cell's value; a percentage is given as it is shown."""
    value = getattr(cell, "value", None)
    if (
        isinstance(value, (int, float))
        and not isinstance(value, bool)
        and "%" in str(getattr(cell, "number_format", ""))
    ):
        return f"{round(value * 100, 10):g}%"
    return value


def show_value(value: object, formula: object = None) -> tuple[str, str]:
    """A stored value as text, and a note when the text alone would mislead."""
    computed = isinstance(formula, str) and formula.startswith("=")
    if value is None:
        return (
            ("", "a formula without a stored value; open and save the workbook, or type the figure")
            if computed
            else ("", "")
        )
    if isinstance(value, bool):
        return str(value).upper(), ""
    if isinstance(value, (datetime, date, time)):
        shown: str = str(value)[:10]
        return shown, "a date; spreadsheets turn figures such as 3-4 into dates: compare with the paper"
    if isinstance(value, float):
        return f"{value:.12g}", "the figure comes from a formula" if computed else ""
    text = re.sub(r"[ \t\r\n]+", " ", str(value)).strip()
    if re.fullmatch(r"#(?:DIV/0!|N/A|NAME\?|NULL!|NUM!|REF!|VALUE!)", text):
        return "", f"the spreadsheet shows the error {text}"
    return text, "the figure comes from a formula" if computed else ""
