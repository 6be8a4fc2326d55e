"""Figures of a paste that have the other decimal sign than the rest: told with their place, and read on request.

Which sign the rest has, `evidence.reading.decimals` decides. A figure such as "1,363" may part thousands and is left
alone: only what can be nothing but a decimal sign is named.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from evidence.reading.decimals import infer_decimal
from evidence.reading.table import TableReading

ANSWER = "decimal=both"


@dataclass(frozen=True, slots=True)
class OtherDecimal:
    """A cell with the other decimal sign. `line` counts from 1 in the paste."""

    line: int
    row: str
    text: str
    sign: str

    def __str__(self) -> str:
        here, rest = ("comma", "point") if self.sign == "," else ("point", "comma")
        return (
            f'line {self.line} ({self.row}): "{self.text}" has a decimal {here} where the rest has a {rest}'
        )


def find_other_decimals(text: str, answered: str | None = None) -> tuple[OtherDecimal, ...]:
    """The cells with the other decimal sign, in their order."""
    lines = text.splitlines()
    sign = "," if infer_decimal(lines, answered)[0] == "." else "."
    pattern = other_pattern(sign)
    return tuple(
        OtherDecimal(number, cells[0].strip() or f"line {number}", cell.strip(), sign)
        for number, line in enumerate(lines, 1)
        if len(cells := split_cells(line)) > 1
        for cell in cells[1:]
        if pattern.search(cell)
    )


def find_unread(reading: TableReading, answered: str | None = None) -> tuple[OtherDecimal, ...]:
    """Those of a paste that its reading left unread."""
    read = {cell.printed for cell in reading.cells if cell.value is not None}
    return tuple(other for other in find_other_decimals(reading.raw, answered) if other.text not in read)


def split_cells(line: str) -> list[str]:
    """A line as cells: parted by tabs, else by wide gaps."""
    return line.split("\t") if "\t" in line else re.split(r"\s{2,}", line)


def other_pattern(sign: str) -> re.Pattern[str]:
    """A number whose decimal sign is `sign` and can be nothing else."""
    s = re.escape(sign)
    return re.compile(rf"(?<![\d.,])(\d+){s}(?=(?:\d{{1,2}}|\d{{4,}})(?![\d.,]*\d))")


def with_one_sign(text: str, answered: str | None = None) -> str:
    """The paste with every decimal sign as the rest has it, each character in its old place."""
    lines = text.splitlines(keepends=True)
    here = infer_decimal([line.rstrip("\r\n") for line in lines], answered)[0]
    pattern = other_pattern("," if here == "." else ".")
    return "".join(pattern.sub(rf"\1{here}", line) for line in lines)


def as_printed(reading: TableReading, raw: str) -> TableReading:
    """A reading of `with_one_sign(raw)` with each cell as the paste prints it."""
    lines = raw.splitlines()

    def restored() -> Iterator[str]:
        for cell in reading.cells:
            line, start = cell.position
            there = lines[line - 1][start - 1 : start - 1 + len(cell.printed)] if line <= len(lines) else ""
            same = there.replace(",", ".") == cell.printed.replace(",", ".")
            yield there if same else cell.printed

    cells = tuple(replace(c, printed=p) for c, p in zip(reading.cells, restored(), strict=True))
    return replace(reading, cells=cells, raw=raw)
