"""The commands of `publish`: what goes out, made from claims, drafts and programmes."""

from dataclasses import replace as replaced
from pathlib import Path
from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from evidence.workflows.documents.outputs import Output
    from evidence.workflows.opening import Catalogue

app = typer.Typer(help="What goes out: articles, source lists, handouts, answers.", no_args_is_help=True)

TO = typer.Option(
    None,
    "--to",
    metavar="FILE",
    help="File to write; its ending says the format. Left out: the screen, as plain text.",
)
FORMAT = typer.Option(
    None, "--format", help="md, html, pdf, docx, txt, xlsx or csv; else by --to's ending, else txt."
)
PAPER = typer.Option("a4", "--paper", help="a4 or letter, for .pdf and .docx.")
LINK = typer.Option("", "--link", help="A web address to put at the end.")


@app.command()
@tells_problems
def article(
    file: Path = typer.Argument(..., help="The draft: Markdown, DOCX or plain text."),
    to: Path = TO,
    form: str = FORMAT,
    style: str = typer.Option("plain", "--style", help="plain, ama, apa, jscr, vancouver, or a .csl file."),
    paper: str = PAPER,
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Set a draft as an article.

    Citations in a style, an evidence box for each claim, the list of sources.

    Example: steelyard publish article hamstrings.md --style vancouver --to hamstrings.html
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.documents.articles import publish_article
    from evidence.workflows.making import require_free

    wanted = choose_format(form, to, paper, replace)
    require_free(to, replace)
    catalogue = opened()
    found = tell_findings(catalogue, file)
    if found and not as_json:
        warn(found)
    done = publish_article(catalogue, file, to, acting_person(), wanted, style)
    tell(replaced(done, notes=(found, *done.notes)) if found and as_json else done, as_json)


def tell_findings(catalogue: "Catalogue", file: Path) -> str:
    """What a check of the draft still finds, and of what weight: the article goes out with it. Nothing: empty."""
    from evidence.cli.drafts_text import count
    from evidence.workflows.drafts.findings import Severity
    from evidence.workflows.drafts.running import Checker

    found = [finding.severity for finding in Checker(catalogue).check(file).at_least(Severity.WARNING)]
    errors = found.count(Severity.ERROR)
    told = [(errors, "error"), (len(found) - errors, "warning")]
    if not found:
        return ""
    listed = " and ".join(count(number, name) for number, name in told if number)
    return f"Before it goes out: the check finds {listed} in it. To see what: steelyard draft check {file}"


@app.command()
@tells_problems
def sources(
    file: Path = typer.Argument(
        ..., help="The script or its captions: WebVTT, SubRip, Markdown, DOCX, text."
    ),
    to: Path = TO,
    form: str = FORMAT,
    limit: int = typer.Option(None, "--limit", metavar="N", help="Most characters the text may have."),
    link: str = LINK,
    paper: str = PAPER,
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """List the sources of a script.

    With time stamps, DOI and what each supports, within a number of characters.

    Example: steelyard publish sources video.vtt --limit 4500 --to sources.txt
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.documents.source_lists import publish_sources

    wanted = choose_format(form, to, paper, replace)
    tell(publish_sources(opened(), file, to, acting_person(), wanted, limit, link), as_json)


@app.command()
@tells_problems
def handout(
    claim: list[str] = typer.Option(
        [], "--claim", metavar="KEY", help="A claim to tell of; may be repeated."
    ),
    region: list[str] = typer.Option([], "--region", help="All claims about a region; may be repeated."),
    title: str = typer.Option("", "--title", help="Title of the handout."),
    to: Path = TO,
    form: str = FORMAT,
    questions: bool = typer.Option(True, "--questions/--no-questions", help="With questions and answers."),
    paper: str = PAPER,
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Write a course handout.

    Claims by topic with figures, people and confidence, reading list, questions.

    Example: steelyard publish handout --region calves --title "Calves" --to calves.pdf
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.documents.handouts import publish_handout

    wanted = choose_format(form, to, paper, replace)
    done = publish_handout(opened(), claim, region, to, acting_person(), wanted, title, questions=questions)
    tell(done, as_json)


@app.command()
@tells_problems
def answer(
    key: str = typer.Argument(..., help="Key of the claim."),
    limit: int = typer.Option(600, "--limit", metavar="N", help="Most characters the answer may have."),
    link: str = LINK,
    to: Path = TO,
    form: str = FORMAT,
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Answer a comment in two or three sentences.

    What was measured, in whom, how large, what is against.

    Example: steelyard publish answer seated-curl-growth --limit 400
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.documents.answers import answer_comment

    wanted = choose_format(form, to, None, replace)
    tell(answer_comment(opened(), key, to, acting_person(), wanted, limit, link), as_json)


def tell(done: "Output", as_json: bool) -> None:
    """Show what came of writing an output: the text or the file, and what a person has to look at."""
    if as_json:
        show_json(done)
        return
    for note in done.notes:
        warn(note)
    say(f"Wrote {done.path}." if done.path else done.text.rstrip("\n"))
