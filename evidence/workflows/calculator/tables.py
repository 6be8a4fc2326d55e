"""CSV files for the calculator: columns found by their usual names, or by the names that were typed."""

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput
from evidence.reading.files import open_input

# The names under which tables of effects usually hold these columns (common practice, no source).
USUAL = {
    "estimate": (
        "estimate",
        "effect",
        "effectsize",
        "yi",
        "es",
        "te",
        "smd",
        "g",
        "d",
        "hedgesg",
        "md",
        "lnrr",
        "logrr",
        "logor",
    ),
    "variance": ("variance", "var", "vi", "v", "samplingvariance"),
    "se": ("se", "sete", "sei", "stderr", "standarderror", "selogor", "selogrr"),
    "low": ("low", "lower", "cilow", "cilower", "cilb", "lcl", "ll", "lowerlimit", "lowerci"),
    "high": ("high", "upper", "cihigh", "ciupper", "ciub", "ucl", "ul", "upperlimit", "upperci"),
    "study": ("study", "studyid", "studlab", "trial", "author", "authors", "paper", "reference", "article"),
    "label": ("label", "name", "result", "outcome", "comparison"),
    "arm": ("arm", "group", "sample", "cohort"),
    "level": ("level", "dose", "angle", "load", "x", "degrees", "kg", "volume"),
    "mean": ("mean", "m", "average"),
    "sd": ("sd", "standarddeviation", "stdev", "s"),
    "n": ("n", "people", "participants", "samplesize"),
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """A CSV file: `columns` hold the cells by heading, `lines` the line of each row in the file."""

    name: str
    headings: tuple[str, ...]
    columns: Mapping[str, tuple[str, ...]]
    lines: tuple[int, ...]

    def find(self, role: str, asked: str | None = None) -> str | None:
        """The heading for a role: the one asked for, else one that is usual for it, else None.

        Raises:
            BadInput: the column asked for is not there, or two columns could be meant.
        """
        if asked is not None:
            found = [one for one in self.headings if _key(one) == _key(asked)]
            if not found:
                raise BadInput(
                    f"There is no column {asked!r}.",
                    where=self.name,
                    hint=f"There are: {', '.join(self.headings)}.",
                )
            return found[0]
        found = [one for one in self.headings if _key(one) in USUAL.get(role, ())]
        own = [one for one in found if _key(one) == role]  # a column that bears the role's very name
        if own or (role == "label" and found):
            return (own or found)[0]
        if len(found) > 1:
            raise BadInput(
                f"Several columns could hold the {role}: {', '.join(found)}.",
                where=self.name,
                hint=f"Say which with --{role}.",
            )
        return found[0] if found else None

    def numbers(self, heading: str) -> tuple[float, ...]:
        """The column as numbers.

        Raises:
            BadInput: a cell that is empty or no number, with its line.
        """
        values = []
        for cell, line in zip(self.columns[heading], self.lines, strict=True):
            value = _number(cell)
            if value is None:
                what = "is empty" if not cell.strip() else f"holds {cell.strip()!r}, which is no number"
                raise BadInput(
                    f"The column {heading} {what}.",
                    where=f"{self.name}, line {line}",
                    hint="Enter the figure, or take the row out.",
                )
            values.append(value)
        return tuple(values)

    def are_numbers(self, heading: str) -> bool:
        """Whether every cell of the column is a number."""
        return all(_number(cell) is not None for cell in self.columns[heading])


def read_sheet(path: Path) -> Sheet:
    """Read a CSV file (comma, semicolon or tab; any usual encoding) with a heading line.

    Raises:
        BadInput: the file cannot be read, is empty, or rows differ from the heading in length.
    """
    name = path.name
    text = open_input(path).text
    first = next((line for line in text.splitlines() if line.strip()), "")
    divider = max(("\t", ";", ","), key=first.count)
    if not first.count(divider):
        raise BadInput(
            "This is no table: its first line holds one column only.",
            where=name,
            hint="Separate columns by commas, semicolons or tabs, with headings in the first line.",
        )
    reader = csv.reader(io.StringIO(text), delimiter=divider)
    rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    headings = tuple(cell.strip() for cell in rows[0][1])
    twice = next((one for one in headings if one and headings.count(one) > 1), None)
    if twice:
        raise BadInput(f"Two columns are called {twice!r}.", where=name, hint="Give each its own heading.")
    body = rows[1:]
    for line, row in body:
        if len(row) != len(headings):
            raise BadInput(
                f"{len(row)} cells under {len(headings)} headings.",
                where=f"{name}, line {line}",
                hint="A comma inside a figure? Put the cell in quotes, or separate columns by semicolons.",
            )
    columns = {
        heading: tuple(row[i].strip() for _, row in body) for i, heading in enumerate(headings) if heading
    }
    return Sheet(name, tuple(one for one in headings if one), columns, tuple(line for line, _ in body))


def _key(text: str) -> str:
    return "".join(c for c in text.casefold() if c.isalnum())


def _number(cell: str) -> float | None:
    text = cell.strip().replace("−", "-").removesuffix("%")
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
