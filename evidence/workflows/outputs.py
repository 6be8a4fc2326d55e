"""What goes out, written: a document in the format that is asked for, kept as a use of the claims it tells."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.publishing.document import Document
from evidence.publishing.formats import Wanted
from evidence.workflows.documents import register_use, write_bytes
from evidence.workflows.uses import register_use
from evidence.workflows.weighing import Weighing


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
    weighings: Sequence[Weighing],
    who: str,
    notes: Sequence[str] = (),
) -> Output:
    """Write a document and remember what it told of which claim; without a file it is text for the screen."""
    from evidence.publishing.formats import write_as_text, write_document

    if output is None:
        return Output(write_as_text(document, wanted.format), None, tuple(notes))
    write_bytes(output, write_document(document, wanted))
    place = str(output)
    register_use(catalogue, kind, place, who, weighings=weighings, place=place, format=wanted.format)
    return Output("", output, tuple(notes))
