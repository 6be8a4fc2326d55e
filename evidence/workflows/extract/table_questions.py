"""What a person is asked before a pasted table can be stored, each once, with the way to answer it."""

from collections.abc import Sequence

from evidence.reading.table import Question, ReadCell
from evidence.workflows.extract.mixed_decimals import ANSWER, OtherDecimal
from evidence.workflows.extract.table_mapping import Unclear

BESIDE_THE_MEAN = "what is the figure beside the mean?"  # asked in these words wherever it is asked
SHOWN = 3  # cells named where a question is about more


def ask_about_labels(
    unclear: Sequence[Unclear], parts: Sequence[str], conditions: Sequence[str]
) -> list[str]:
    """Questions about labels that could not be placed, or, where each could, about what none of them says.

    `conditions`: keys of the study's conditions, named where a label is like nothing and a condition is missing.
    """
    questions = []
    own = f" The study has: {', '.join(conditions)}." if conditions and "condition" in parts else ""
    for item in unclear:
        choices = f" It may be: {', '.join(item.candidates[:8])}." if item.candidates else own
        questions.append(f'what is "{item.label}"?{choices} Answer with --says "{item.label}=ID" (or =skip).')
    if parts and not unclear:
        questions.append(
            f"the table does not say: {', '.join(sorted(set(parts)))}. "
            "Answer with --says, --region, --time or --outcome."
        )
    return questions


def ask_about_cells(cells: Sequence[ReadCell], of_table: Sequence[Question]) -> list[str]:
    """Questions about cells that can be read in several ways: one for all cells that are asked the same.

    `of_table`: what is asked once for the whole table; where one of them settles the cells, it is named first.
    """
    asked: dict[str, list[ReadCell]] = {}
    for cell in cells:
        for doubt in told_doubts(cell):
            asked.setdefault(doubt, []).append(cell)
    return [f"{name_cells(of)}: {doubt} {tell_way(doubt, of, of_table)}" for doubt, of in asked.items()]


def tell_set_aside(cells: Sequence[ReadCell], asked: Sequence[OtherDecimal]) -> list[str]:
    """The cells that hold something but no figure that could be read, but those that are `asked` about anyway."""
    known = {other.text for other in asked}
    return [
        f"{name_cells([cell])}: {'; '.join(d.text for d in cell.doubts)}. "
        "Mend it in the table; as it stands it is left out."
        for cell in cells
        if cell.printed not in known
    ]


def told_doubts(cell: ReadCell) -> list[str]:
    """A cell's doubts with their candidate readings."""
    return [f"{d.text}: {' or '.join(d.candidates)}." if d.candidates else f"{d.text}." for d in cell.doubts]


def name_cells(cells: Sequence[ReadCell]) -> str:
    """One cell with its place, several as a number with the first of them."""
    if len(cells) == 1:
        place = ", ".join(label for label in (cells[0].row, cells[0].column) if label)
        return f"{cells[0].printed} ({place})" if place else cells[0].printed
    return f"{len(cells)} cells ({shortened([c.printed for c in cells], '; ')})"


def tell_way(doubt: str, cells: Sequence[ReadCell], of_table: Sequence[Question]) -> str:
    """How the question is answered: for the table where that is possible, else cell by cell."""
    each = f'--answer "{cells[0].id}=CHOICE"'
    if len(cells) > 1:
        each += f" ({'each' if len(cells) <= SHOWN + 1 else 'and so on'}: {shortened([c.id for c in cells[1:]], ', ')})"
    for question in of_table:
        sign = question.id.removeprefix("character ")
        if question.id.startswith("character ") and f"arrives as {sign!r}" in doubt:
            return f'Answer all with --answer "{question.id}={question.candidates[0]}", or one with {each}.'
    return f"Answer with {each}."


def shortened(texts: Sequence[str], between: str) -> str:
    """The first few, and a sign that there are more."""
    return between.join([*texts[:SHOWN], *(["..."] if len(texts) > SHOWN else [])])


def ask_about_signs(others: Sequence[OtherDecimal]) -> list[str]:
    """Questions about figures whose decimal sign is not that of the table."""
    return [f"{other}: it was not read. Answer with --answer {ANSWER} to read both." for other in others]
