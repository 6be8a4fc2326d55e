"""Commands on drafts: check, tie."""

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    explain,
    is_standard_input,
    opened,
    read_standard_input,
    say,
    show_json,
    tells_problems,
    warn,
)
from evidence.cli.waiting import waiting

if TYPE_CHECKING:
    from evidence.errors import SteelyardError
    from evidence.workflows.drafts.checking import Checked
    from evidence.workflows.drafts.findings import Severity
    from evidence.workflows.drafts.running import Checker

app = typer.Typer(help="Drafts: articles, scripts, notes before they go out.", no_args_is_help=True)

FORMAT = typer.Option(
    None,
    "--format",
    help="markdown, webvtt, srt, docx or text. Left out: by the file's ending; standard input: markdown.",
)
TO = typer.Option(None, "--to", help="The copy to write; the draft itself is never changed.")


@app.command()
@tells_problems
def check(
    files: list[Path] = typer.Argument(
        ..., help="Drafts: .md, .vtt, .srt, .docx or .txt. One may be -: standard input."
    ),
    severity: str = typer.Option(
        "note", "--severity", help="Tell findings from this severity on: note, warning, error."
    ),
    audience: str = typer.Option(
        None, "--audience", help='Who it is for ("women over 60"). Goes before the front matter.'
    ),
    register: str = typer.Option(
        None,
        "--register",
        help="Wordings that are proposed: short, plain (with figures), full (with reasons). Left out: the front "
        "matter's, else short.",
    ),
    format: str = FORMAT,
    fix: str = typer.Option(
        None, "--fix", help="Numbers of findings (1,3-5, or all) whose wording to write."
    ),
    to: Path = TO,
    replace: bool = REPLACE_OPTION,
    sarif: Path = typer.Option(
        None, "--sarif", help="Write the findings as SARIF 2.1.0 to this file as well."
    ),
    record: bool = typer.Option(
        False,
        "--record",
        help="Store the draft with today's state of the catalogue: later checks tell what is newer.",
    ),
    watch: bool = typer.Option(False, "--watch", help="Check again whenever a file is saved, until Ctrl+C."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Hold drafts against the catalogue.

    Sources, strength of wording, figures, people, safety.

    Exit status: 0 nothing found at or above the severity, 1 findings, 2 a draft could not be checked.

    Example: steelyard draft check article.md --severity warning
    """
    from evidence.workflows.drafts.running import Checker

    level = read_severity(severity)
    require_copy(files, fix, to, replace)
    require_apart_from_drafts(files, sarif, replace)
    require_named(files, "--watch" if watch else "--record" if record else None)
    checker = Checker(opened(), audience, format, read_register(register))
    if watch:
        keep_watching(checker, files, level)
        return
    done: list[Checked] = []
    status = 0
    for path in files:
        try:
            done.append(checker.check(source_of(path)))
        except Exception as problem:
            status = max(status, explain(problem))
    if sarif is not None:
        write_sarif(done, sarif)
    if as_json:
        show_json([as_data(one, level) for one in done])
    elif fix is None:
        for one in done:
            tell(one, level, register)
    for one in done:
        if record:
            checker.record(one, acting_person())
        if fix is not None:
            write_fixed(one, fix, to)
    found = any(one.at_least(level) for one in done)
    raise typer.Exit(status or (FINDINGS if found else 0))


@app.command()
@tells_problems
def tie(
    file: Path = typer.Argument(..., help="The draft; -: standard input."),
    accept: str = typer.Option(None, "--accept", help="Numbers of ties (1,3-5) to write into the copy."),
    every: bool = typer.Option(False, "--all", help="Write all proposed ties into the copy."),
    to: Path = TO,
    replace: bool = REPLACE_OPTION,
    least: float = typer.Option(0.5, "--least", min=0.0, max=1.0, help="Propose ties from this score on."),
    format: str = FORMAT,
    as_json: bool = JSON_OPTION,
) -> None:
    """Propose which claim each sentence is about.

    And which reference each mention means. Nothing is tied silently.

    Example: steelyard draft tie article.md --accept 1 --to article.tied.md
    """
    from dataclasses import replace as changed

    from evidence.errors import BadInput
    from evidence.workflows.drafts.running import Checker
    from evidence.workflows.drafts.tying import write_ties

    said = "all" if every else accept
    require_copy([file], said, to, replace, option="--accept or --all")
    draft, found = Checker(opened(), format=format).propose(source_of(file))
    if said is not None and draft.format in ("webvtt", "srt") and to is not None:
        raise BadInput(
            "captions show every sign they hold, so no ties are written into them.",
            where=str(file),
            hint="The list of ties can be had with --json.",
        )
    proposed = [t for t in found if t.score >= least]
    ties = tuple(changed(t, number=i) for i, t in enumerate(proposed, 1))
    if as_json:
        show_json(ties)
    elif said is None:
        from evidence.cli.drafts_text import count, tell_tie

        for one in ties:
            for line in tell_tie(draft.name, one):
                say(line)
        some = (
            ""
            if not ties
            else f" Write {'it' if len(ties) == 1 else 'them'} into a copy: "
            + (f"--accept {','.join(str(t.number) for t in ties[:2])} --to COPY, or --all --to COPY.")
        )
        say(f"{count(len(ties), 'tie')} proposed.{some}")
    if said is not None and to is not None:
        if not ties:
            warn(f"No tie is proposed, so {to} was not written.")
            return
        written = write_ties(draft, ties, said, to)
        warn(f"Wrote {to} with {len(written)} of the ties proposed ({len(ties)} in all).")


def read_severity(said: str) -> "Severity":
    """The severity that was named. Raises BadInput."""
    from evidence.errors import BadInput
    from evidence.workflows.drafts.findings import Severity

    try:
        return Severity(said.strip().lower())
    except ValueError:
        raise BadInput(f'"{said}" is no severity', hint="Use note, warning or error.") from None


def read_register(said: str | None) -> str | None:
    """The register that was named; None: none was. Raises BadInput."""
    from evidence.errors import BadInput
    from evidence.workflows.drafts.suggesting import REGISTERS

    if said is not None and said not in REGISTERS:
        raise BadInput(f'"{said}" is no register', hint=f"Use {', '.join(REGISTERS)}.")
    return said


def require_copy(
    files: list[Path], said: str | None, to: Path | None, replace: bool, option: str = "--fix"
) -> None:
    """A copy is written of one draft, to a file that is named and free. Raises BadInput."""
    from evidence.errors import BadInput
    from evidence.workflows.making import require_free

    if said is None and to is None:
        return
    if to is None:
        raise BadInput(f"{option} writes into a copy, and none is named.", hint="Add --to COPY.")
    if said is None:
        raise BadInput(f"--to {to} says where, but not what.", hint=f"Add {option}.")
    if len(files) != 1:
        raise BadInput("a copy is written of one draft at a time", hint="Name one file.")
    if to.exists() and files[0].exists() and to.samefile(files[0]):
        raise BadInput("is the draft itself.", where=str(to), hint="Name another file: it is never changed.")
    require_free(to, replace)


def source_of(file: Path) -> Path | bytes:
    """The draft's file, or what was typed or piped in where it is `-`."""
    return read_standard_input("draft") if is_standard_input(file) else file


def require_named(files: list[Path], option: str | None) -> None:
    """Standard input is read once, and what came that way has no name. Raises BadInput."""
    from evidence.errors import BadInput

    typed = [file for file in files if is_standard_input(file)]
    if len(typed) > 1:
        raise BadInput("standard input can be read only once.", hint="Name - once.")
    if typed and option is not None:
        why = "is there only once" if option == "--watch" else "has no name to be stored under"
        raise BadInput(
            f"{option} needs a file: what comes from standard input {why}.",
            hint="Save it, and name the file.",
        )


def require_apart_from_drafts(files: list[Path], sarif: Path | None, replace: bool) -> None:
    """Findings are written to a file of their own, never over a draft. Raises BadInput."""
    from evidence.workflows.making import require_apart, require_free

    for draft in files:
        require_apart(sarif, draft)
    if (
        sarif is not None and sarif.suffix.casefold() != ".sarif"
    ):  # a check run again writes its findings again
        require_free(sarif, replace)


def tell(checked: "Checked", level: "Severity", register: str | None) -> None:
    """Print one draft's findings from a severity on."""
    from evidence.cli.drafts_text import tell_checked
    from evidence.workflows.drafts.checking import register_of

    register = register or register_of(checked.draft)
    for line in tell_checked(checked, listed(checked, level), register):
        say(line)


def listed(checked: "Checked", level: "Severity"):  # type: ignore[no-untyped-def]
    """Findings from a severity on, accepted ones too."""
    from evidence.workflows.drafts.findings import ORDER

    return tuple(f for f in checked.findings if ORDER.index(f.severity) >= ORDER.index(level))


def as_data(checked: "Checked", level: "Severity") -> dict[str, object]:
    """One draft's findings as data."""
    return {
        "draft": checked.draft.name,
        "format": checked.draft.format,
        "sentences": checked.sentences,
        "tied": checked.tied,
        "notes": checked.notes,
        "findings": listed(checked, level),
    }


def write_sarif(done: "list[Checked]", path: Path) -> None:
    """Write all findings as SARIF."""
    import json

    from evidence.workflows.drafts.sarif import as_sarif
    from evidence.workflows.making import write_text

    write_text(path, json.dumps(as_sarif(done), ensure_ascii=False, indent=2) + "\n")


def write_fixed(checked: "Checked", said: str, to: Path) -> None:
    """Write the chosen wordings into a copy and tell what was left."""
    from evidence.cli.drafts_text import count
    from evidence.workflows.drafts.mending import mend

    mended = mend(checked.draft, checked.findings, said, to)
    found = len(checked.findings)
    warn(
        f"Wrote {mended.path} with {len(mended.written)} of the wordings; "
        f"{count(found, 'finding')} in the draft (list them without --fix)."
    )
    if mended.left and said.strip().lower() != "all":
        warn(
            f"Left as they are: {', '.join(map(str, mended.left))} (no wording to write, or beside another)."
        )


def keep_watching(checker: "Checker", files: list[Path], level: "Severity") -> None:
    """Check on every save until stopped."""
    from evidence.workflows.drafts.checking import Checked
    from evidence.workflows.drafts.running import watch

    waiting.stop()

    def show(path: Path, result: "Checked | SteelyardError") -> None:
        if isinstance(result, Checked):
            tell(result, level, checker.register)
        else:
            explain(result)

    try:
        watch(checker, files, show)
    except KeyboardInterrupt:
        raise typer.Exit(0) from None
