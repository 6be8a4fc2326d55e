"""A correction note as a document: what was published, what it said, what holds now, and what to do about it."""

from evidence.publishing.corrections import Correction, CorrectionNote, figures
from evidence.publishing.document import (
    Block,
    Document,
    Heading,
    aside,
    bullets,
    cell,
    paragraph,
    prose,
    soft,
    strong,
    table,
)
from evidence.publishing.sources import Made


def correction_document(note: CorrectionNote, made: Made) -> Document:
    """The note as a document, dated by the state of the catalogue that the correction rests on."""
    where = f" ({note.where})" if note.where else ""
    blocks: list[Block] = [
        paragraph(f"Published {note.published:%Y-%m-%d}{where}. Checked {note.at:%Y-%m-%d}.")
    ]
    for item in note.corrections:
        blocks += _tell(item, marked=item.invented and bool(note.made_up))
    return Document(
        title=note.title,
        kicker="Correction note",
        blocks=tuple(blocks),
        made=made,
        invented=note.invented,
        made_up=note.made_up,
    )


def _tell(item: Correction, *, marked: bool) -> list[Block]:
    rows = (
        (item.before, cell(item.told, prose(soft(figures(item.told_figures, item.told_confidence).strip())))),
        ("Now", cell(item.now, prose(soft(figures(item.now_figures, item.now_confidence).strip())))),
    )
    blocks: list[Block] = [
        Heading(prose(item.statement), 2),
        *([paragraph(strong("Rests on invented data."))] if marked else []),
        table(f"What changed: {item.key}", ("When", "Wording"), rows, shares=(1, 7)),
    ]
    if item.why:
        blocks += [aside("Why it changed:"), bullets(item.why)]
    return [*blocks, paragraph(strong("To do: "), item.do)]
