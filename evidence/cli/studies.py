"""Commands on studies: a file to fill in, load, list, show, remove."""

from pathlib import Path

import typer

from evidence.cli import study_judgement
from evidence.cli.frame import (
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    opened,
    say,
    say_invented,
    show_json,
    table,
    tells_problems,
    warn,
)

app = typer.Typer(help="Studies: design, people, conditions, outcomes, results.", no_args_is_help=True)


@app.command()
@tells_problems
def template(
    design: str = typer.Argument(
        ...,
        help="How people came to what they did: randomised_parallel, randomised_crossover, "
        "within_subject_order_not_randomised, nonrandomised_comparative, single_arm_or_case_series, "
        "mechanistic_or_model_or_expert, systematic_review; or a usual name, such as RCT.",
    ),
    to: Path = typer.Option(None, "--to", metavar="FILE", help="File to write. Left out: the screen."),
    replace: bool = REPLACE_OPTION,
) -> None:
    """Print a study file to fill in.

    What is asked stands empty, with what goes there; `study load` tells what is still to be filled in.

    Example: steelyard study template randomised_parallel --to oak-2021.yaml
    """
    from evidence.vocabulary import load_vocabulary
    from evidence.workflows.extract.extracting import blank_study
    from evidence.workflows.making import require_free, write_text

    text = blank_study(design, load_vocabulary())
    if to is None:
        say(text.rstrip("\n"))
        return
    require_free(to, replace)
    write_text(to, text)
    say(f"Wrote {to}. Fill it in, then: steelyard study load {to}")


@app.command()
@tells_problems
def load(
    files: list[Path] = typer.Argument(..., help="Study files (YAML; docs/reference/study-file.md)."),
    replace: bool = typer.Option(
        False, "--replace", help="Put the file in place of the stored study of that key."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Store studies from study files.

    Example: steelyard study load anvil-2019.yaml
    """
    from evidence.workflows.extract.extracting import load_study

    catalogue = opened()
    reports = []
    for path in files:
        report = load_study(catalogue, path, acting_person(), replace=replace)
        reports.append(report)
        for note in report.warnings:
            warn(f"Note: {note}")
        if not as_json:
            say(f"{report.key}: {report.what}")
    if as_json:
        show_json(reports)


@app.command("list")
@tells_problems
def list_(as_json: bool = JSON_OPTION) -> None:
    """List studies.

    Example: steelyard study list
    """
    from evidence.workflows.pages.browsing import list_studies

    catalogue = opened()
    found = list_studies(catalogue)
    if as_json:
        show_json(found)
        return
    if not found:
        say(
            "No study yet: steelyard study load FILE.yaml. A file to fill in: steelyard study template DESIGN"
        )
        return
    say_invented(catalogue)
    rows = [(s.key, s.label, s.design, str(s.people), str(s.results), ", ".join(s.constructs)) for s in found]
    say(table(rows, ("key", "reported in", "design", "people", "results", "outcomes")))


@app.command()
@tells_problems
def show(
    key: str = typer.Argument(..., help="Key of the study."),
    as_file: bool = typer.Option(
        False, "--file", help="Print it as a study file that can be edited and loaded."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Show one study.

    People, conditions, and results as printed.

    Example: steelyard study show anvil-2019
    """
    from evidence.workflows.pages.browsing import show_study, study_as_file

    if as_file:
        say(study_as_file(opened(), key))
        return
    shown = show_study(opened(), key)
    if as_json:
        show_json(shown)
        return
    for line in shown.lines:
        say(line)


@app.command()
@tells_problems
def remove(
    key: str = typer.Argument(..., help="Key of the study."),
    because: str = typer.Option(..., "--because", help="The reason; it stays in the history."),
) -> None:
    """Remove a study with its figures.

    Its references stay. `steelyard undo` brings it back.

    Example: steelyard study remove anvil-2019 --because "entered twice"
    """
    from evidence.workflows.extract.removing import remove_study

    rested = remove_study(opened(), key, because, acting_person())
    say(f"{key} is removed; the reason is in the history. Bring it back: steelyard undo")
    if rested:
        say(f"It was weighed for: {', '.join(rested)}. Next: steelyard changes")


study_judgement.register(app)
