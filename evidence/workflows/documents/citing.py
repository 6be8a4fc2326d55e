"""Citing: stored references as bibliographies, short forms and citations in running text."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import reference_by_key
from evidence.errors import BadInput
from evidence.publishing.document import Document, Items, Paragraph, Prose, Span
from evidence.publishing.sources import Made
from evidence.workflows.gather.gathering import as_record
from references.citing import format_bibliography, inline, label_records
from references.csl import Cited, format_document, is_long
from references.record import Record
from references.text import plain, to_html, to_markdown

OUTPUTS = ("text", "html", "markdown", "docx", "pdf")
FILES_ONLY = ("docx", "pdf")
ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown", ".txt": "text", ".docx": "docx", ".pdf": "pdf"}


@dataclass(frozen=True, slots=True)
class Label:
    """The short form of one reference, with its year letter where two would read the same."""

    key: str
    short: str


@dataclass(frozen=True, slots=True)
class Citations:
    """A bibliography entry by entry in the order of the style, with one citation of all for running text.

    `labels`: the short form of each reference, for captions and tables. `warnings`: notices on what is cited, and
    lists that take long. `tagged`: the entries with CSL's few tags (`<i>`, `<sub>`, ...), for files with layout.
    """

    style: str
    output: str
    labels: tuple[Label, ...]
    in_text: str
    entries: tuple[str, ...]
    warnings: tuple[str, ...]
    tagged: tuple[str, ...]


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
    warnings = [f"{row.key} is marked as {row.notice}" for row in rows if row.notice]
    in_text, tagged = format_citations(records, style, at)
    if style != "plain" and is_long(records):
        warnings.append(
            f"a list of {len(records)} references takes long in the style {style}; plain is quick"
        )
    convert = {"html": to_html, "markdown": to_markdown}.get(output, plain)
    return Citations(
        style,
        output,
        tuple(Label(key, label) for key, label in labels.items()),
        convert(in_text),
        tuple(map(convert, tagged)),
        tuple(warnings),
        tagged,
    )


def format_citations(
    records: Sequence[Record], style: str, places: Mapping[str, str]
) -> tuple[str, tuple[str, ...]]:
    """One citation of all records in running text, and the bibliography entry by entry, with CSL's tags."""
    if style == "plain":
        return inline(records, locators=places), format_bibliography(records, style, "tagged")
    made = format_document([[Cited(record, places.get(record.key)) for record in records]], style)
    return made.citations[0], made.bibliography


def choose_output(named: str | None, path: Path | None) -> str:
    """The form of a citation: as named, else by the file's ending, else text. Raises BadInput."""
    if named is not None:
        if named.lower() in FILES_ONLY and path is None:
            raise BadInput(
                f"a .{named.lower()} file cannot be shown on the screen", hint="Name a file with --to."
            )
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


def write_citations(catalogue: Catalogue, path: Path, citations: Citations) -> None:
    """Write the bibliography as a file of its form."""
    from evidence.workflows.making import made_from, write_bytes, write_text

    if citations.output in FILES_ONLY:
        from evidence.publishing.formats import Wanted, write_document

        document = as_document(citations, made_from(catalogue))
        write_bytes(path, write_document(document, Wanted(citations.output)))
    else:
        write_text(path, lay_out(citations))


def as_document(citations: Citations, made: Made) -> Document:
    """The bibliography as a document with layout."""
    entries = tuple((Paragraph(read_spans(entry)),) for entry in citations.tagged)
    invented = any("[Invented]" in entry for entry in citations.tagged)
    return Document(title="References", blocks=(Items(entries),), made=made, invented=invented, closing=())


def read_spans(tagged: str) -> Prose:
    """Text with CSL's tags as spans: italics and bold kept, digits raised and lowered, small capitals as they are."""
    spans: list[Span] = []
    manner: list[str] = []
    for piece in _TAG.split(tagged):
        tag = _TAG.fullmatch(piece)
        if tag is None:
            shifted = piece.translate(_SHIFTED.get(manner[-1] if manner else "", {}))
            spans.append(Span(shifted, strong="b" in manner, emphasis="i" in manner))
        elif piece.startswith("</"):
            del manner[-1:]
        else:
            manner.append(piece[1:-1].split()[0].casefold())
    return tuple(span for span in spans if span.text)


_TAG = re.compile(r"(</?(?:i|b|sub|sup|sc|span)(?:\s[^<>]*)?>)", re.IGNORECASE)
_SHIFTED = {
    "sub": str.maketrans("0123456789+-=()", "₀₁₂₃₄₅₆₇₈₉₊₋₌₍₎"),
    "sup": str.maketrans("0123456789+-=()", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁼⁽⁾"),
}


def publish_citations(catalogue: Catalogue, path: Path, citations: Citations, who: str) -> None:
    """Write the bibliography and remember that its references went out, so that a notice on one can list it."""
    from evidence.workflows.upkeep.uses import register_use

    write_citations(catalogue, path, citations)
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
