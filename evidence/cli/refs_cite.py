"""Commands that give references out again: cite, write."""

from pathlib import Path

import typer

from evidence.cli.frame import (
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    tells_problems,
    warn,
)
from evidence.cli.refs_add import count


@tells_problems
def cite(
    keys: list[str] = typer.Argument(..., metavar="KEY...", help="Keys of the references."),
    style: str = typer.Option(
        "plain",
        "--style",
        help="plain, ama, apa, jscr, vancouver, or a .csl file; all but plain need pandoc.",
    ),
    form: str = typer.Option(
        None, "--as", metavar="FORM", help="text, html, markdown, docx or pdf; else by --to's ending."
    ),
    at: list[str] = typer.Option([], "--at", metavar="KEY=PLACE", help="A place in one: anvil2019='p. 3'."),
    in_text: bool = typer.Option(False, "--in-text", help="One citation for running text, not the list."),
    to: Path = typer.Option(
        None, "--to", metavar="FILE", help="Write the list to a file: .txt, .html, .md, .docx or .pdf."
    ),
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Cite references as a list, or in running text.

    Example: steelyard refs cite anvil2019 barbell2020 --as markdown
    """
    from evidence.workflows.documents.citing import choose_output, cite, publish_citations
    from evidence.workflows.making import require_free

    require_free(to, replace)
    output = choose_output(form, to)
    catalogue = opened()
    cited = cite(catalogue, keys, style, output, dict(read_place(text) for text in at))
    for warning in cited.warnings:
        warn(f"Look first: {warning}")
    if to is not None:
        publish_citations(catalogue, to, cited, acting_person())
    if as_json:
        show_json(cited)
    elif to is not None:
        say(f"Wrote {to}: {count(len(cited.entries), 'reference')}, style {style}.")
    elif in_text:
        say(cited.in_text)
    else:
        for entry in cited.entries:
            say(f"<p>{entry}</p>" if output == "html" else entry)


def read_place(text: str) -> tuple[str, str]:
    """A key and a place in that reference, from `KEY=PLACE`."""
    from evidence.errors import BadInput

    key, sign, place = text.rpartition("=")
    if not sign or not key.strip() or not place.strip():
        raise BadInput(f"--at {text!r} names no place", hint="Write KEY=PLACE, for example anvil2019='p. 3'.")
    return key.strip(), place.strip()


@tells_problems
def write(
    file: Path = typer.Argument(
        ..., help="File to write: .bib, .ris, .nbib, .xml, .json or .txt (identifiers)."
    ),
    keys: list[str] = typer.Argument(None, metavar="[KEY]...", help="Only these references; left out: all."),
    form: str = typer.Option(
        None, "--format", help="bib, ris, nbib, xml, csl-json or identifiers; left out: by the file's ending."
    ),
    replace: bool = typer.Option(False, "--replace", help="Write over a file that is there."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Write references to a file that reads back to the same.

    Example: steelyard refs write my-library.bib
    """
    from evidence.workflows.documents.reference_files import write_file

    written = write_file(opened(), file, keys or (), form, replace)
    if as_json:
        show_json(written)
        return
    say(f"Wrote {written.file}: {count(written.references, 'reference')} ({written.format}).")
    if written.left_out:
        say(
            f"{len(written.left_out)} without DOI, PMID or PMCID are not in it: {', '.join(written.left_out)}"
        )


def register(app: typer.Typer) -> None:
    """Add the commands to the group `refs`."""
    app.command()(cite)
    app.command()(write)
