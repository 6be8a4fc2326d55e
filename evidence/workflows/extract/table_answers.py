"""What a person answers to the questions about a pasted table: NAME=CHOICE, as the preview names them."""

import re
from collections.abc import Sequence

from evidence.errors import BadInput
from evidence.reading.table import Answers, ReadCell, TableReading
from evidence.vocabulary.terms import Spread, Statistic

CELL = re.compile(r"L\d+C\d+")
STATISTICS = {"means": Statistic.MEAN, "medians": Statistic.MEDIAN}


def read_table_answers(texts: Sequence[str], spread: str | None = None) -> Answers:
    """The answers in the form that the table reader takes; `spread` holds where no answer names one.

    Raises `BadInput` for a text that is not NAME=CHOICE or answers no question.
    """
    said = Spread(spread) if spread else None
    characters: dict[str, str] = {}
    cells: dict[str, str] = {}
    roles: dict[str, str] = {}
    people: dict[str, int] = {}
    decimal: str | None = None
    statistic: Statistic | None = None
    for name, choice in (split_answer(text) for text in texts):
        if CELL.fullmatch(name):
            cells[name] = f"{cells[name]}\n{choice}" if name in cells else choice
        elif name.startswith("character "):
            characters[name.removeprefix("character ").strip()] = "" if choice.startswith("leave") else choice
        elif name in ("rows", "columns", "sections", "headers"):
            roles[name] = choice
        elif name == "decimal":
            decimal = "," if choice in (",", "decimal comma") else "."
        elif name == "statistic" and choice in STATISTICS:
            statistic = STATISTICS[choice]
        elif name == "spread" and choice in set(Spread):
            said = Spread(choice)
        elif (name == "n" or name.startswith("n ")) and choice.isdecimal():
            people[name[1:].strip()] = int(choice)
        else:
            raise BadInput(
                f'--answer "{name}={choice}" answers no question.',
                hint="Use a name of the preview: spread, decimal, statistic, n, character X, rows, columns, or a cell "
                "(L3C12), with one of the choices shown there.",
            )
    return Answers(
        spread=said,
        characters=characters,
        roles=roles,
        cells=cells,
        decimal=decimal,
        n=people,
        statistic=statistic,
    )


def split_answer(text: str) -> tuple[str, str]:
    """NAME=CHOICE as its two parts."""
    name, sign, choice = text.partition("=")
    if not sign or not name.strip() or not choice.strip():
        raise BadInput(
            f'--answer "{text}" is not NAME=CHOICE.', hint='Write for example --answer "spread=SD".'
        )
    return name.strip(), choice.strip()


def unused_choices(answers: Answers, reading: TableReading) -> list[str]:
    """Answers for single cells that settle nothing, each in words: a cell the table has not, a choice not offered.

    `reading`: the table read without answers for single cells.
    """
    cells = {cell.id: cell for cell in reading.cells}
    told = []
    for place, choices in answers.cells.items():
        if place not in cells:
            told.append(f"An answer was given for {place}, but the table has no such cell.")
            continue
        choices_left = offered(cells[place])
        for choice in choices.split("\n"):
            if choice not in choices_left:
                way = f"choose one of: {'; '.join(choices_left)}" if choices_left else "it is not in doubt"
                told.append(f'"{choice}" is no reading of {cells[place].printed} ({place}): {way}.')
    return told


def offered(cell: ReadCell) -> tuple[str, ...]:
    """The readings that the doubts of a cell offer."""
    return tuple(choice for doubt in cell.doubts for choice in doubt.candidates)
