"""What goes out, written: a document in the format that is asked for, kept as a use of the claims it tells."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Reference
from evidence.publishing.document import Document
from evidence.publishing.formats import Wanted
from evidence.workflows.making import require_free, write_bytes
from evidence.workflows.upkeep.uses import Told, register_use


@dataclass(frozen=True, slots=True)
class Output:
    """What came of it: the text for the screen, or the file written. `notes`: what a person has to look at."""

    text: str
    path: Path | None
    notes: tuple[str, ...] = ()


def hand_out(
    catalogue: Catalogue,
    document: Document,
    output: Path | None,
    wanted: Wanted,
    kind: str,
    weighings: Sequence[Told],
    who: str,
    notes: Sequence[str] = (),
    text: str = "",
    references: Sequence[Reference] = (),
) -> Output:
    """Write a document and remember what it told of which claim; without a file it is text for the screen.

    `references`: the sources that it names; each is remembered too, so that a later notice on one lists the document.
    `text` stands for the document where the format is plain text or Markdown: what has to fit a number of characters.
    Raises BadInput where a file is there already and may not be written over.
    """
    from evidence.publishing.formats import tell_overfull, tell_unshown, write_as_text, write_document

    short = text if wanted.format in ("txt", "md") else ""
    if output is None:
        return Output(short or write_as_text(document, wanted.format), None, tuple(notes))
    require_free(output, wanted.replace)
    write_bytes(output, short.encode("utf-8") if short else write_document(document, wanted))
    place = wanted.name or str(output)
    register_use(
        catalogue,
        kind,
        place,
        who,
        weighings=weighings,
        references=references,
        place=place,
        format=wanted.format,
    )
    told = (*tell_overfull(document, wanted), *tell_unshown(document, wanted.format))
    return Output("", output, (*notes, *told))
