"""Writing stored references to a file of any format that can be read; reading it back loses nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, reference_by_key
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import as_record
from references.record import Record

ENDINGS = {
    ".bib": "bibtex",
    ".ris": "ris",
    ".nbib": "medline",
    ".xml": "pubmed_xml",
    ".json": "csl_json",
    ".txt": "identifiers",
}
FORMATS = {
    "bib": "bibtex",
    "bibtex": "bibtex",
    "ris": "ris",
    "nbib": "medline",
    "medline": "medline",
    "xml": "pubmed_xml",
    "pubmed-xml": "pubmed_xml",
    "csl-json": "csl_json",
    "json": "csl_json",
    "identifiers": "identifiers",
}


@dataclass(frozen=True, slots=True)
class Written:
    """A file of references that was written."""

    file: str
    format: str
    references: int
    left_out: tuple[str, ...]  # keys of references that the format cannot hold


def choose_format(path: Path, named: str | None) -> str:
    """The format of a file to be written: as named, else by the file's ending. Raises BadInput."""
    if named is not None:
        if named.lower() not in FORMATS:
            raise BadInput(f"no format is called {named!r}", hint=f"There are: {', '.join(FORMATS)}.")
        return FORMATS[named.lower()]
    if path.suffix.lower() not in ENDINGS:
        raise BadInput(
            "the ending of the file does not tell its format",
            where=str(path),
            hint=f"Use one of {', '.join(ENDINGS)}, or --format with one of {', '.join(FORMATS)}.",
        )
    return ENDINGS[path.suffix.lower()]


def write_file(
    catalogue: Catalogue,
    path: Path,
    keys: Sequence[str] = (),
    named: str | None = None,
    replace: bool = False,
) -> Written:
    """Write references, all where no key is given, to a file that reads back to the same records."""
    from evidence.workflows.making import write_text
    from references.writing import write_records

    format = choose_format(path, named)
    if path.exists() and not replace:
        raise BadInput("there is a file already", where=str(path), hint="Add --replace to write over it.")
    with catalogue.reading() as session:
        wanted = dict.fromkeys(keys)
        rows = [reference_by_key(session, key) for key in wanted] if keys else all_references(session)
    records = [as_record(row) for row in rows]
    left_out = (
        tuple(record.key for record in records if not has_identifier(record))
        if format == "identifiers"
        else ()
    )
    write_text(path, write_records(records, format))
    return Written(str(path), format, len(records) - len(left_out), left_out)


def has_identifier(record: Record) -> bool:
    """Whether a list of identifiers can name the record."""
    return bool(record.doi or record.pmid or record.pmcid)
