"""What every document that goes out shares: what it was made from, and its file, written whole or not at all."""

from importlib.metadata import version
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import last_content_change
from evidence.catalogue.state import catalogue_state, keep_state
from evidence.errors import BadInput
from evidence.publishing.sources import Made


def made_from(catalogue: Catalogue) -> Made:
    """The state of the catalogue, the day it dates from, and the version that a document names.

    The day is that of the last change to what the catalogue holds, so that one state always gives the same document.
    """
    keep_state(catalogue)
    with catalogue.reading() as session:
        changed = last_content_change(session) or catalogue.now()
        return Made(catalogue_state(session), changed.date().isoformat(), version("steelyard"))


def seen_now(catalogue: Catalogue) -> Made:
    """The same for what is only looked at: without the hash of the state, for which everything has to be read."""
    with catalogue.reading() as session:
        changed = last_content_change(session) or catalogue.now()
    return Made("", changed.date().isoformat(), version("steelyard"))


def ending_of(output: Path | None) -> str:
    """html or md, from the name of the file to write."""
    if output is None:
        return "md"
    kind = {".html": "html", ".htm": "html", ".md": "md", ".markdown": "md"}.get(output.suffix.lower())
    if kind is None:
        raise BadInput(
            f'ends in "{output.suffix}".', where=str(output), hint="Name a file that ends in .html or .md."
        )
    return kind


def require_free(output: Path | None, replace: bool) -> None:
    """Raise BadInput where a file would be written over and nobody said so: the rule of every --to."""
    if output is not None and output.is_file() and not replace:
        raise BadInput(
            "is there already, and was left as it is.",
            where=str(output),
            hint="Name another file, or add --replace to write over it.",
        )


def require_apart(output: Path | None, source: Path) -> None:
    """Raise BadInput where a file would be written over what it is made from, even where `--replace` was said."""
    if output is not None and output.exists() and source.exists() and output.samefile(source):
        raise BadInput(
            "is what this is made from.", where=str(output), hint="Name another file: it is never changed."
        )


def write_text(output: Path, text: str) -> None:
    """Write a document that is text, in UTF-8. See `write_bytes`."""
    write_bytes(output, text.encode("utf-8"))


def write_bytes(output: Path, data: bytes) -> None:
    """Write a document whole: to a file beside it first, so that a full disk leaves the old one."""
    if output.is_dir():
        raise BadInput("is a folder.", where=str(output), hint="Name a file.")
    if not output.parent.exists():
        raise BadInput("its folder does not exist.", where=str(output), hint="Make the folder first.")
    part = output.with_name(output.name + ".part")
    try:
        part.write_bytes(data)
        part.replace(output)
    finally:
        part.unlink(missing_ok=True)
