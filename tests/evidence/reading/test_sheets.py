"""Saved tables go the same way as a paste; what the text alone would hide is said."""

import io
import zipfile
from datetime import datetime

import pytest

from evidence.errors import Ambiguous, BadInput
from evidence.reading.sheets import read_saved_table, read_sheet, sniff_separator
from evidence.vocabulary.terms import Spread

ROWS = [
    ["Muscle", "Squat", "Lunge"],
    ["VL", "71.4 (12.3)", "55.1 (14.8)"],
    ["BF", "28.9 (9.1)", "49.6 (13.3)"],
    ["Mean (SD)"],
]


def workbook(sheets):
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize("separator", ["\t", ";", ","])
def test_separators_are_found(separator, tmp_path):
    path = tmp_path / "table.csv"
    path.write_text("\n".join(separator.join(row) for row in ROWS), encoding="utf-8")
    reading = read_saved_table(path)
    first = reading.cells[0]
    assert (first.row, first.column, first.value, first.spread) == ("VL", "Squat", 71.4, 12.3)
    assert {c.spread_kind for c in reading.cells} == {Spread.SD}


def test_decimal_commas_with_semicolons_are_read():
    reading = read_saved_table(
        "Übung;Mittelwert;SD\nKniebeuge;92,5;14,1\nBeinpresse;180,0;25,3\n".encode(), "t.csv"
    )
    assert [(c.row, c.value, c.spread, c.spread_kind) for c in reading.cells] == [
        ("Kniebeuge", 92.5, 14.1, Spread.SD),
        ("Beinpresse", 180.0, 25.3, Spread.SD),
    ]


def test_a_comma_in_running_text_divides_nothing():
    assert sniff_separator("Squat, deep 10 ± 2\nLunge, long 11 ± 2\n") is None


def test_a_workbook_is_read_by_its_values():
    rows = [["Outcome", "Mean", "SD"], ["Squat (kg)", 92.5, 14.1], ["Leg press (kg)", 180, 25.25]]
    reading = read_saved_table(workbook({"Table 2": rows}), "t.xlsx")
    assert [(c.row, c.value, c.spread) for c in reading.cells] == [
        ("Squat (kg)", 92.5, 14.1),
        ("Leg press (kg)", 180.0, 25.25),
    ]


def test_formulas_dates_and_errors_are_said():
    rows = [
        ["Outcome", "Pre", "Post"],
        ["Squat (kg)", "=90+2", datetime(2024, 4, 3)],
        ["Lunge (kg)", "60.0", "#DIV/0!"],
    ]
    notes = read_sheet(workbook({"A": rows}), "t.xlsx").notes
    assert any("row 2, column 2" in n and "formula without a stored value" in n for n in notes)
    assert any("row 2, column 3" in n and "date" in n for n in notes)
    assert any("row 3, column 3" in n and "#DIV/0!" in n for n in notes)


def test_several_filled_sheets_are_asked_by_name():
    data = workbook({"Table 1": ROWS, "Table 2": ROWS})
    with pytest.raises(Ambiguous) as caught:
        read_sheet(data, "t.xlsx")
    assert caught.value.candidates == ("Table 1", "Table 2")
    assert read_sheet(data, "t.xlsx", sheet="Table 2").sheet == "Table 2"


@pytest.mark.parametrize(
    "data", [b"", b"PK\x03\x04 not a zip", workbook({"A": [[None]]}), b"\x00\x01\x02\x03" * 50]
)
def test_what_is_no_table_file_is_bad_input(data):
    with pytest.raises(BadInput):
        read_sheet(data, "t.xlsx")


def test_a_sheet_that_is_not_there_is_named():
    with pytest.raises(BadInput, match="no sheet"):
        read_sheet(workbook({"A": ROWS}), "t.xlsx", sheet="B")


def test_a_workbook_whose_packed_bytes_are_damaged_is_refused_in_words() -> None:
    rows = [["Back squat", row, row * 7919 % 1013] for row in range(200)]
    data = bytearray(workbook({"one": rows}))
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        entry = packed.getinfo("xl/worksheets/sheet1.xml")
    middle = entry.header_offset + 60 + entry.compress_size // 2
    data[middle : middle + 8] = b"\xff" * 8
    with pytest.raises(BadInput, match="not a readable workbook"):
        read_sheet(bytes(data), "t.xlsx")
