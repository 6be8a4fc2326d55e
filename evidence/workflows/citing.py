"""Citing: stored references as bibliographies and in-text citations, and as files of references."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, reference_by_key
from evidence.errors import BadInput
from evidence.workflows.gathering import as_record
from references.citing import format_bibliography, label_records
from references.record import Record

OUTPUTS = ("text", "html", "markdown")
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
class Label:
    """The short form of one reference, with its year letter where two would read the same."""

    key: str
    short: str


@dataclass(frozen=True, slots=True)
class Citations:
    """A bibliography entry by entry in the order of the style, and the short form of each reference.

    `warnings`: references that a notice concerns, and lists that take long.
    """

    style: str
    output: str
    labels: tuple[Label, ...]
    entries: tuple[str, ...]
    warnings: tuple[str, ...]


def cite(catalogue: Catalogue, keys: Sequence[str], style: str = "plain", output: str = "text") -> Citations:
    """Cite references by their keys; each once, however often it is named. Raises NotFound, BadInput."""
    if output not in OUTPUTS:
        raise BadInput(f"{output!r} is no form of citation", hint=f"There are: {', '.join(OUTPUTS)}.")
    with catalogue.reading() as session:
        rows = [reference_by_key(session, key) for key in dict.fromkeys(keys)]
    records = [as_record(row) for row in rows]
    labels = label_records(records)
    return Citations(
        style,
        output,
        tuple(Label(key, labels[key]) for key in labels),
        format_bibliography(records, style, output),
        tuple(f"{row.key} is marked as {row.notice}" for row in rows if row.notice),
    )


def lay_out(citations: Citations) -> str:
    """The bibliography as one document of its form."""
    if citations.output == "html":
        items = "\n".join(f"<p>{entry}</p>" for entry in citations.entries)
        return f"{items}\n"
    return "\n\n".join(citations.entries) + "\n"


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
    path.write_text(write_records(records, format), encoding="utf-8", newline="\n")
    return Written(str(path), format, len(records) - len(left_out), left_out)


def has_identifier(record: Record) -> bool:
    """Whether a list of identifiers can name the record."""
    return bool(record.doi or record.pmid or record.pmcid)
