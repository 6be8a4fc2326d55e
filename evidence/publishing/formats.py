"""The formats of documents, by the ending of a file or by name."""

from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput
from evidence.publishing.document import Document

ENDINGS = {
    ".md": "md", ".markdown": "md", ".html": "html", ".htm": "html", ".pdf": "pdf", ".docx": "docx", ".txt": "txt",
    ".xlsx": "xlsx", ".csv": "csv",
}  # fmt: skip
FORMATS = tuple(dict.fromkeys(ENDINGS.values()))
ON_SCREEN = ("md", "txt", "html", "csv")  # what may be printed where no file is named
PAPERS = ("a4", "letter")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to write: the format, on which paper where it is printed, and whether over a file that is there.

    `name`: what it is remembered by; empty: the file that is written.
    """

    format: str = "md"
    paper: str = "a4"
    replace: bool = False
    name: str = ""


def choose_format(
    named: str | None, output: Path | None, paper: str | None = None, replace: bool = False
) -> Wanted:
    """The format that is named, else that of the file's ending, else plain text. BadInput for one that is not known."""
    known = f"Name a file that ends in {', '.join(f'.{name}' for name in FORMATS)}."
    if named is not None:
        kind = ENDINGS.get("." + named.casefold().lstrip("."))
        if kind is None:
            raise BadInput(f'"{named}" is no format of documents.', hint=f"There are: {', '.join(FORMATS)}.")
    elif output is None:
        kind = "txt"
    else:
        kind = ENDINGS.get(output.suffix.casefold())
        if kind is None:
            raise BadInput(f'ends in "{output.suffix}".', where=str(output), hint=known)
    ending = ENDINGS.get(output.suffix.casefold()) if output is not None else None
    if output is not None and ending is not None and ending != kind:
        raise BadInput(
            f'ends in "{output.suffix}", and the format asked for is {kind}.',
            where=str(output),
            hint=f"Name a file that ends in .{kind}, or leave --format out.",
        )
    if output is None and kind not in ON_SCREEN:
        raise BadInput(f"a .{kind} file cannot be shown on the screen.", hint="Name a file with --to.")
    on = (paper or "a4").casefold()
    if on not in PAPERS:
        raise BadInput(f'"{paper}" is no paper that is known.', hint=f"There are: {', '.join(PAPERS)}.")
    return Wanted(kind, on, replace)


def write_document(document: Document, wanted: Wanted) -> bytes:
    """The document in the format that is wanted, as bytes (text in UTF-8)."""
    match wanted.format:
        case "pdf":
            from evidence.publishing.pdf import write_pdf

            return write_pdf(document, wanted.paper)
        case "docx":
            from evidence.publishing.docx import write_docx

            return write_docx(document, wanted.paper)
        case "xlsx":
            from evidence.publishing.sheets import write_xlsx

            return write_xlsx(document)
    return write_as_text(document, wanted.format).encode("utf-8")


def write_as_text(document: Document, kind: str) -> str:
    """The document in one of the formats that are text."""
    match kind:
        case "html":
            from evidence.publishing.document_html import write_html as write
        case "txt":
            from evidence.publishing.document_text import write_text as write
        case "csv":
            from evidence.publishing.sheets import write_csv as write
        case _:
            from evidence.publishing.document_markdown import write_markdown as write
    return write(document)


def tell_overfull(document: Document, wanted: Wanted) -> tuple[str, ...]:
    """That a document for one page takes more of them; nothing where it does not, or has no pages."""
    if not document.one_page or wanted.format not in ("pdf", "docx"):
        return ()
    from evidence.publishing.pdf import fewest_pages

    pages = fewest_pages(document, wanted.paper)
    if pages == 1:
        return ()
    return (f"It does not fit on one page: in the smallest letters that can be read it takes {pages}.",)


def tell_unshown(document: Document, kind: str) -> tuple[str, ...]:
    """What a person has to know of characters that the format cannot show; nothing where it shows all of them."""
    if kind != "pdf":
        return ()
    from evidence.publishing.document import all_text
    from evidence.publishing.glyphs import missing

    lost = missing(all_text(document))
    if not lost:
        return ()
    shown = " ".join(f"{c} (U+{ord(c):04X})" for c in lost[:12]) + (" ..." if len(lost) > 12 else "")
    one = len(lost) == 1
    return (
        f"{len(lost)} {'character' if one else 'characters'} cannot be shown in the PDF, as no embedded font holds "
        f"{'it' if one else 'them'}: {shown}. Each is printed as its code; DOCX and HTML show what the reader's "
        "machine has a font for.",
    )
