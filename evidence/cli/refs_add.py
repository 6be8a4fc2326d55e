"""Commands that take references in: add, mend."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import FINDINGS, JSON_OPTION, acting_person, opened, say, show_json, tells_problems
from evidence.cli.waiting import waiting

if TYPE_CHECKING:
    from evidence.workflows.gather.gathering import GatherReport, Progress


@tells_problems
def add(
    files: list[Path] = typer.Argument(
        ..., help="Files of references, compressed or not, known by their content; or folders of them."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Read references from files.

    Known ones are not added twice.

    Example: steelyard refs add library.bib
    """
    from evidence.workflows.gather.gathering import gather, gather_folder

    catalogue = opened()
    reports: list[GatherReport] = []
    for path in files:
        with progress(path.name) as tell:
            if path.is_dir():
                reports += gather_folder(catalogue, path, acting_person(), tell)
            else:
                reports.append(gather(catalogue, path, acting_person(), tell))
    if as_json:
        show_json(reports)
    else:
        for report in reports:
            tell_report(report)
    if any(problem.severity == "error" for report in reports for problem in report.problems):
        raise typer.Exit(FINDINGS)


@contextmanager
def progress(name: str, noun: str = "reference") -> Iterator[Callable[["Progress"], None]]:
    """A progress bar on standard error where that is a terminal; else nothing."""
    if not sys.stderr.isatty():
        yield lambda progress: None
        return
    waiting.stop()  # the bar tells more
    with typer.progressbar(length=1, label=name, file=sys.stderr) as bar:

        def tell(progress: "Progress") -> None:
            bar.length = max(progress.size, 1)
            bar.label = f"{name}, {count(progress.records, noun)}"
            bar.update(progress.position - bar.pos)

        yield tell


def count(number: int, noun: str) -> str:
    """A number with its noun: 1 reference, 2 references."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def tell_report(report: "GatherReport") -> None:
    """What became of one file, in lines."""
    say(
        f"{report.name}: {count(report.read, 'reference')} read from {count(report.lines, 'line')} "
        f"({report.format}, {report.encoding}): "
        f"{len(report.added)} added, {len(report.known)} already here, "
        f"{len(report.likely)} to compare, "
        f"{count(sum(p.severity != 'note' for p in report.problems), 'problem')}."
    )
    for told in report.notices:
        say(f"  notice: {told}")
    for match in report.known:
        if match.incoming == match.known:
            continue
        say(f"  already here: {match.incoming} is {match.known} ({match.reason})")
    for match in report.likely:
        say(f"  compare: {match.incoming} {match.answer} as {match.known} ({match.reason}); both are kept")
    for problem in report.problems:
        place = f"line {problem.line}" if problem.line else "file"
        entry = f", {problem.entry}" if problem.entry else ""
        say(f"  {problem.severity}: {place}{entry}: {problem.reason}")
    if report.kept_as_text:
        kept = "1 entry" if report.kept_as_text == 1 else f"{report.kept_as_text} entries"
        say(f"  {kept} could not be read; the text is kept: steelyard refs mend")


@tells_problems
def mend(
    to: Path = typer.Option(
        None, "--to", metavar="FILE", help="Write the texts to a new file, to mend them there."
    ),
    settled: int = typer.Option(
        None,
        "--settled",
        metavar="NUMBER",
        help="Take this entry off the list: it was mended, or is not wanted.",
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """List entries that could not be read.

    Of added files, with line and reason.

    Mend them in a file and add that; exit status 1 while there are any.

    Example: steelyard refs mend --to mend.bib
    """
    from evidence.workflows.gather.reference_lists import list_to_mend, settle, write_to_mend

    catalogue = opened()
    if settled is not None:
        say(f"Settled: {settle(catalogue, settled, acting_person())}. steelyard undo brings it back.")
        return
    entries = list_to_mend(catalogue)
    if to is not None and entries:
        write_to_mend(to, entries)
    if as_json:
        show_json(entries)
    elif not entries:
        say("There is no entry to mend.")
    elif to is not None:
        say(f"Wrote {len(entries)} entries to {to}. Mend them, then: steelyard refs add {to}")
    else:
        for entry in entries:
            place = f"line {entry.line}" if entry.line else "file"
            say(f"{entry.number}. {entry.source}, {place}: {entry.reason}")
            say("\n".join(f"     {line}" for line in entry.text.strip().splitlines()[:6]))
    if entries:
        raise typer.Exit(FINDINGS)


def register(app: typer.Typer) -> None:
    """Add the commands to the group `refs`."""
    app.command()(add)
    app.command()(mend)
