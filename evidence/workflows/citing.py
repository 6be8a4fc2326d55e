"""Citing: stored references as bibliographies, short forms and citations in running text."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import reference_by_key
from evidence.errors import BadInput
from evidence.workflows.gathering import as_record
from references.citing import format_bibliography, inline, label_records
from references.record import Record
from references.text import plain, to_html, to_markdown

OUTPUTS = ("text", "html", "markdown")
ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown", ".txt": "text"}


@dataclass(frozen=True, slots=True)
class Label:
    """The short form of one reference, with its year letter where two would read the same."""

    key: str
    short: str


@dataclass(frozen=True, slots=True)
class Citations:
    """A bibliography entry by entry in the order of the style, with one citation of all for running text.

    `labels`: the short form of each reference, for captions and tables. `warnings`: notices on what is cited, and
    lists that take long.
    """

    style: str
    output: str
    labels: tuple[Label, ...]
    in_text: str
    entries: tuple[str, ...]
    warnings: tuple[str, ...]


def cite(
    catalogue: Catalogue,
    keys: Sequence[str],
    style: str = "plain",
    output: str = "text",
    places: Mapping[str, str] | None = None,
) -> Citations:
    """Cite references by their keys; each once, however often it is named.

    `style`: plain, a packaged style, or a `.csl` file; `places`: a place in a reference ("p. 3") by its key.
    Raises NotFound, BadInput, and StyleProblem where a style cannot be applied.
    """
    if output not in OUTPUTS:
        raise BadInput(f"{output!r} is no form of citation", hint=f"There are: {', '.join(OUTPUTS)}.")
    at = dict(places or {})
    if strange := next((key for key in at if key not in keys), None):
        raise BadInput(f"a place is given in {strange!r}, which is not cited", hint="Name its key too.")
    with catalogue.reading() as session:
        rows = [reference_by_key(session, key) for key in dict.fromkeys(keys)]
    records = [as_record(row) for row in rows]
    labels = label_records(records)
    in_text, entries = format_citations(records, style, output, at)
    warnings = [f"{row.key} is marked as {row.notice}" for row in rows if row.notice]
    return Citations(
        style,
        output,
        tuple(Label(key, label) for key, label in labels.items()),
        in_text,
        entries,
        tuple(warnings),
    )


def format_citations(
    records: Sequence[Record], style: str, output: str, places: Mapping[str, str]
) -> tuple[str, tuple[str, ...]]:
    """One citation of all records in running text, and the bibliography entry by entry."""
    convert = {"text": plain, "html": to_html, "markdown": to_markdown}[output]
    if style == "plain":
        return convert(inline(records, locators=places)), format_bibliography(records, style, output)
    from references.csl import Cited, format_document

    made = format_document([[Cited(record, places.get(record.key)) for record in records]], style)
    return convert(made.citations[0]), tuple(map(convert, made.bibliography))


def choose_output(named: str | None, path: Path | None) -> str:
    """The form of a citation: as named, else by the file's ending, else text. Raises BadInput."""
    if named is not None:
        return named.lower()
    if path is None:
        return "text"
    if path.suffix.lower() not in ENDINGS:
        raise BadInput(
            f'ends in "{path.suffix}".',
            where=str(path),
            hint=f"Name a file that ends in {', '.join(ENDINGS)}, or add --as.",
        )
    return ENDINGS[path.suffix.lower()]


def write_citations(path: Path, citations: Citations) -> None:
    """Write the bibliography as a file of its form."""
    from evidence.workflows.documents import write_text

    write_text(path, lay_out(citations))


def publish_citations(catalogue: Catalogue, path: Path, citations: Citations, who: str) -> None:
    """Write the bibliography and remember that its references went out, so that a notice on one can list it."""
    from evidence.workflows.uses import register_use

    write_citations(path, citations)
    with catalogue.reading() as session:
        rows = [reference_by_key(session, label.key) for label in citations.labels]
    place = str(path)
    register_use(catalogue, "source list", place, who, references=rows, place=place, format=citations.output)


def lay_out(citations: Citations) -> str:
    """The bibliography as one document of its form."""
    if citations.output != "html":
        return "\n\n".join(citations.entries) + "\n"
    entries = "\n".join(f"<p>{entry}</p>" for entry in citations.entries)
    head = '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n<title>References</title>'
    return f"{head}\n<h1>References</h1>\n{entries}\n</html>\n"
