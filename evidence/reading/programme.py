"""Training programmes, however they are written: YAML, CSV, XLSX, Markdown, plain lines.

A reading that is assumed is listed in `assumptions`; one that is not sure becomes a question, never a guess.
"""

import re
from dataclasses import replace
from pathlib import Path

from evidence.errors import BadInput
from evidence.reading.files import open_input
from evidence.reading.programme_model import (
    Assumption,
    Audience,
    Effort,
    Load,
    Pick,
    Prescription,
    Programme,
    Question,
    Session,
)
from evidence.reading.programme_names import Told, find_regions, name_picks
from evidence.reading.programme_often import read_often
from evidence.reading.programme_tables import TableRead
from evidence.reading.programme_text import read_lines, read_separated
from evidence.reading.programme_workbook import read_workbook
from evidence.reading.programme_yaml import YamlProgramme
from evidence.vocabulary import Lookup, Vocabulary

__all__ = [
    "FORMATS",
    "Assumption",
    "Audience",
    "Effort",
    "Load",
    "Pick",
    "Prescription",
    "Programme",
    "Question",
    "Session",
    "read_programme",
    "read_programme_text",
]

FORMATS = ("yaml", "csv", "xlsx", "markdown", "text")
_ENDINGS = {
    ".yaml": "yaml", ".yml": "yaml", ".csv": "csv", ".tsv": "csv", ".xlsx": "xlsx", ".xlsm": "xlsx", ".md":
    "markdown", ".markdown": "markdown", ".txt": "text",
}  # fmt: skip


def read_programme(
    path: Path | str, vocabulary: Vocabulary, format: str | None = None, *, title: str = ""
) -> Programme:
    """Read a programme from a file; its ending says the format unless `format` does (one of FORMATS).

    `title`: where it names none of its own; else the name of the file, in words. BadInput where the file is not what
    it says, or holds no exercise at all.
    """
    title = title or title_of(Path(path).stem)
    kind = format or _ENDINGS.get(Path(path).suffix.casefold())
    if kind == "xlsx":
        table = read_workbook(path)
        if table is None:
            raise _no_table(str(path))
        return _finish(Programme(title, ()), table, vocabulary, Path(path).name)
    source = open_input(path)
    if kind is None:
        kind = "yaml" if "sessions:" in source.text else "markdown"
    # Places are printed in what goes out: the folders of somebody's machine are nobody's business there.
    programme = read_programme_text(source.text, kind, vocabulary, name=Path(source.name).name)
    return programme if programme.title else replace(programme, title=title)


def title_of(name: str) -> str:
    """The name of a file as a heading: `leg-day-a` is "Leg day A". A name with spaces is words already.

    Hyphens between figures stay (5-3-1, 2026-03-31); a letter alone at the end or before a figure is a label.
    """
    words = " ".join(name.split())
    if " " not in words:
        words = re.sub(r"_+|(?<!\d)-+|-+(?!\d)", " ", words)
        words = re.sub(r"\b[a-z]$", lambda found: found[0].upper(), " ".join(words.split()))
    return words[:1].upper() + words[1:]


def read_programme_text(
    text: str, format: str, vocabulary: Vocabulary, *, name: str = "programme"
) -> Programme:
    """Read the text of a programme in `format` (yaml, csv, markdown or text).

    `name` is what messages call it.
    """
    if format == "yaml":
        return _read_yaml(text, vocabulary, name)
    if format == "csv":
        table = read_separated(text)
        if table is None:
            raise _no_table(name)
        return _finish(Programme("", ()), table, vocabulary, name)
    if format in ("markdown", "text"):
        return _read_text(text, vocabulary, name)
    raise BadInput(f'"{format}" is no format of programmes.', hint=f"Use one of: {', '.join(FORMATS)}.")


def _no_table(name: str) -> BadInput:
    return BadInput(
        "no row names a column of exercises.",
        where=name,
        hint="The first row should hold headings such as: exercise, sets, reps, load, effort, rest.",
    )


def _finish(
    programme: Programme,
    read: TableRead,
    vocabulary: Vocabulary,
    name: str,
    told: Told | None = None,
    times: dict[str, float] | None = None,
) -> Programme:
    """The programme with its sessions named, and everything to be told collected."""
    told = told or Told()
    if not any(read.sessions.values()):
        raise BadInput(
            "no exercise was found in this programme.", where=name, hint="One exercise per line or row."
        )
    for heading in read.unknown:
        told.ask(f'column "{heading}": what does it hold?', name, "column")
    _ask_dates(read, told)
    for where, text in read.remarks:
        told.assume(f'"{text}" is kept as a note', where)
    sessions = tuple(
        Session(
            title, name_picks(title, picks, vocabulary, told), (times or {}).get(title) or _times_of(title)
        )
        for title, picks in read.sessions.items()
        if picks
    )
    if any(pick.prescription.tempo for session in sessions for pick in session.picks):
        told.assume("tempo: lowering, pause, lifting, pause; X = as fast as possible", "")
    note = " ".join(
        text if text[-1:] in ".!?" else f"{text}."
        for text in (programme.note, *(t for _, t in read.remarks))
        if text
    )
    return replace(
        programme,
        note=note if read.remarks else programme.note,
        sessions=sessions,
        questions=tuple(told.questions),
        assumptions=tuple(told.assumptions),
        problems=tuple(read.problems),
    )


def _times_of(session: str) -> float:
    """How often a week a session is done by its own name, "Lower A (twice a week)"; once where it does not say."""
    often = read_often(session)
    return often[0] if often else 1.0


def _ask_dates(read: TableRead, told: Told) -> None:
    """Ranges that a spreadsheet turned into dates are proposed back, all of a kind in one question."""
    for kind in ("sets", "reps"):
        found = [cell for cell in read.dates if cell.field == kind]
        if found:
            shown = ", ".join(f"{c.text} as {c.proposed[0]}-{c.proposed[1]}" for c in found)
            rows = "1 row are a date" if len(found) == 1 else f"{len(found)} rows are dates"
            message = f"{kind} of {rows}, made by a spreadsheet: {shown} (low to high, year dropped). Right?"
            told.ask(message, found[0].where, "dates")


def _read_text(text: str, vocabulary: Vocabulary, name: str) -> Programme:
    """Lines and tables; settings between two lines of dashes at the top say what a YAML programme says of itself."""
    told, programme, problems = Told(), Programme("", ()), []
    settings, rest = split_settings(text)
    if settings:
        try:
            source = YamlProgramme(settings + "\nsessions: []\n", name)
            programme, problems = _describe(source, vocabulary, told), source.read.problems
        except BadInput as problem:
            problems.append(f"the settings at the top cannot be read: {problem}")
    title, table = read_lines(rest, vocabulary)
    table.problems[:0] = problems
    programme = replace(programme, title=programme.title or title or "")
    return _finish(programme, table, vocabulary, name, told)


def split_settings(text: str) -> tuple[str, str]:
    """The settings between dashes at the top, and the text behind them; empty lines keep the numbers of all lines."""
    found = re.match(
        r"\ufeff?---[ \t]*\r?\n(.{0,20000}?)^(?:---|\.\.\.)[ \t]*\r?$", text, re.DOTALL | re.MULTILINE
    )
    if found is None or ":" not in found[1]:
        return "", text
    return "\n" + found[1].rstrip(), "\n" * found.group().count("\n") + text[found.end() :]


def _read_yaml(text: str, vocabulary: Vocabulary, name: str) -> Programme:
    source, told = YamlProgramme(text, name), Told()
    programme = _describe(source, vocabulary, told)
    return _finish(programme, source.read, vocabulary, name, told, source.times)


def _describe(source: YamlProgramme, vocabulary: Vocabulary, told: Told) -> Programme:
    """What a programme says of itself: title, audience, goal, priorities, equipment, weeks, note, cautions."""
    audience = source.audience()
    where = source.where("audience")
    audience = replace(
        audience,
        training_status=_known(
            audience.training_status or audience.text,
            vocabulary.find_training_status(audience.training_status or audience.text or ""),
            "training status",
            where,
            told,
            quiet=audience.training_status is None,
        ),
        sex=_known(audience.sex, vocabulary.find_sex(audience.sex or ""), "sex", where, told),
        health=_known(
            audience.health, vocabulary.find_health(audience.health or ""), "health", where, told, keep=True
        ),
    )
    goal = source.text("goal")
    construct = vocabulary.find_construct(goal) if goal else None
    return Programme(
        title=source.text("title") or "",
        sessions=(),
        audience=audience,
        goal=construct.match if construct and construct.match else goal,
        priorities=find_regions(
            source.listed("priorities"), "priority", source.where("priorities"), vocabulary, told
        ),
        equipment=source.listed("equipment"),
        weeks=source.weeks,
        note=source.text("note"),
        cautions=source.cautions(),
    )


def _known(
    text: str | None,
    found: Lookup,
    what: str,
    where: str,
    told: Told,
    *,
    quiet: bool = False,
    keep: bool = False,
) -> str | None:
    """The id of what the audience says; asked about where it is no entry of the vocabulary."""
    if text is None or found.match is not None:
        same = text is None or found.match is None or text.strip().casefold() == found.match.casefold()
        if not same and what != "sex":
            told.assume(f'{what} "{text}" is read as {found.match}', where)
        return found.match if text else None
    if keep:
        return text
    if not quiet:
        names = [c.name for c in found.candidates[:7]]
        told.ask(
            f'{what} "{text}": which of {", ".join(names)}?',
            where,
            "audience",
            [c.id for c in found.candidates],
        )
    return None
