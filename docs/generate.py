"""Write the generated pages of docs/reference from the code and data themselves: python docs/generate.py

A test fails when a page is out of step with what it describes.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "reference"
INTRODUCTION = """# Commands

Generated from the commands themselves by `python docs/generate.py`; do not edit by hand.

`--catalogue PLACE` and `--who NAME` may stand anywhere in a command. Exit status: 0 done; 1 done, with
something to look at; 2 not done (a file, option or figure is not what it should be); 3 not found.
"""


def render_commands() -> str:
    """The whole page."""
    from typer.main import get_command

    from evidence.cli.main import app

    parts = [INTRODUCTION]
    for path, command in walk(get_command(app), "steelyard"):
        parts.append(render_command(path, command))
    return "\n".join(parts)


def walk(command: Any, path: str) -> list[tuple[str, Any]]:
    """Every command that does something, with its full name."""
    children = getattr(command, "commands", None)
    if not children:
        return [(path, command)]
    return [item for name, child in children.items() for item in walk(child, f"{path} {name}")]


def render_command(path: str, command: Any) -> str:
    """One command: what it does, its arguments and options."""
    arguments = [p for p in command.params if p.param_type_name == "argument"]
    options = [p for p in command.params if p.param_type_name == "option" and p.name != "help"]
    usage = " ".join([path, *(describe_argument(a) for a in arguments)])
    text = "\n\n".join(" ".join(part.split()) for part in (command.help or "").split("\n\n"))
    lines = [f"## `{usage}`", "", text, ""]
    lines += [f"- `{(a.name or '').upper()}`: {a.help}" for a in arguments if a.help]
    for option in options:
        value = "" if option.is_flag else f" {option.metavar or 'VALUE'}"
        lines.append(f"- `{option.opts[0]}{value}`: {option.help}")
    return "\n".join(lines).rstrip() + "\n"


def describe_argument(argument: Any) -> str:
    """An argument as it stands in the usage line."""
    name = (argument.name or "").upper().rstrip("_")
    name = f"{name}..." if argument.nargs == -1 else name
    return name if argument.required else f"[{name}]"


def render_study_file() -> str:
    """The parts of a study file, from its published schema."""
    from evidence.reading.study_schema import load_schema

    schema: dict[str, Any] = json.loads(json.dumps(load_schema()))
    lines = [STUDY_INTRODUCTION, "## At the top", "", "| part | holds | needed |", "| --- | --- | --- |"]
    groups: list[tuple[str, dict[str, Any]]] = []
    for name, part in schema["properties"].items():
        lines.append(describe_part(name, part, schema, name in schema["required"]))
        inner = part.get("items", part)
        if inner.get("type") == "object" and "properties" in inner:
            groups.append((name, inner))
    for name, inner in groups:
        lines += ["", f"## {name}", "", "| part | holds | needed |", "| --- | --- | --- |"]
        for key, part in inner["properties"].items():
            lines.append(describe_part(key, part, schema, key in inner.get("required", ())))
    return "\n".join(lines) + "\n"


def describe_part(name: str, part: dict[str, Any], schema: dict[str, Any], needed: bool) -> str:
    """One row of a table of parts."""
    shared = schema["$defs"].get(part.get("$ref", "").rpartition("/")[2], {})
    text = part.get("description") or shared.get("description") or ""
    words = part.get("enum") or shared.get("enum")
    if words:
        text = f"{text} One of: {', '.join(str(w) for w in words)}.".strip()
    kind = part.get("type") or shared.get("type") or ""
    text = text or {"number": "A number.", "integer": "A whole number.", "string": "Text."}.get(str(kind), "")
    return f"| `{name}` | {text.replace('|', '/')} | {'yes' if needed else ''} |"


STUDY_INTRODUCTION = """# The study file

Generated from the published schema (`evidence/reading/study_schema.json`) by `python docs/generate.py`; do not edit by
hand. A study file is YAML and describes one study: who, what they did, what was measured, and the numbers exactly as
printed, each with the place where it stands. `steelyard study load FILE` stores it, `steelyard study show KEY --file`
writes it back. All problems of a file are told at once, with their lines.
"""


def render_export() -> str:
    """The files of an exported catalogue, from its tables and their comments."""
    from evidence.catalogue.documents import WHOLES
    from evidence.catalogue.exchange.layout import FORMAT, FORMAT_VERSION, SHELVES
    from evidence.catalogue.snapshots import BY_NAME

    lines = [EXPORT_INTRODUCTION.format(format=FORMAT, version=FORMAT_VERSION)]
    for whole in WHOLES:
        lines += [f"## {whole.folder}/", "", f"One file for each {whole.table.name}, named by its key.", ""]
        lines += list_columns(whole.table, "")
        for part in whole.parts:
            lines += [
                f"### {part.title}, in {whole.folder}/",
                "",
                f"A list in the file of the {whole.table.name}.",
                "",
            ]
            lines += list_columns(part.table, whole.owner)
    lines += ["## references/", "", "One file for each year; one entry for each reference.", ""]
    lines += list_columns(BY_NAME["reference"], "")
    for shelf in SHELVES:
        lines += [f"## {shelf.title}, in {shelf.file}", "", *list_columns(BY_NAME[shelf.table], "")]
    return "\n".join(lines).rstrip() + "\n"


def list_columns(table: Any, owner: str) -> list[str]:
    """A table's columns as an export names them, with what the code says of each."""
    comments = read_comments(table.name)
    rows = ["| part | kind | may be left out | holds |", "| --- | --- | --- | --- |"]
    for column in table.columns:
        if column.name in ("id", owner):
            continue
        name = column.name.removesuffix("_id") if column.foreign_keys else column.name
        kind = name_kind(column)
        rows.append(
            f"| `{name}` | {kind} | {'yes' if column.nullable else ''} | {comments.get(column.name, '')} |"
        )
    return [*rows, ""]


def name_kind(column: Any) -> str:
    """What a column holds, in words."""
    if column.foreign_keys:
        whole = next(iter(column.foreign_keys)).column.table.name
        return "key of one of its people" if whole == "people" else f"key of a {whole}"
    words = {
        "INTEGER": "whole number",
        "FLOAT": "number",
        "BOOLEAN": "true or false",
        "JSON": "named parts",
        "DATE": "date",
    }
    text = str(column.type).partition("(")[0]
    return "time (UTC)" if "TIME" in text.upper() else words.get(text, "text")


def read_comments(table: str) -> dict[str, str]:
    """The remark behind each column in the model's source."""
    import inspect

    from evidence.catalogue import tables

    model = next(m for m in vars(tables).values() if getattr(m, "__tablename__", None) == table)
    found = {}
    for line in inspect.getsource(model).splitlines():
        name, _, remark = line.strip().partition(":")
        if "  # " in remark and name.isidentifier():
            found[name] = remark.rpartition("  # ")[2].replace("|", "/")
    return found


def render_bias_answers() -> str:
    """The prompts of each way of judging risk of bias."""
    from evidence.appraisal.bias_tools import list_questions, list_tools

    lines = [BIAS_INTRODUCTION]
    for tool in list_tools():
        memory = " (*from memory*)" if tool.conf == "memory" else ""
        lines += [f"## `{tool.id}`: {tool.name}", "", f"Source: {tool.source}{memory}.", ""]
        lines += ["| name | of | asks | answers |", "| --- | --- | --- | --- |"]
        for prompt in list_questions(tool):
            answers = ", ".join(code for code, _ in prompt.options)
            asks = f"{prompt.ask} {prompt.hint}".strip().replace("|", "/")
            lines.append(f"| `{prompt.key}` | {prompt.domain} | {asks} | {answers} |")
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def render_data_tables() -> str:
    """The columns that tables of effects are read by."""
    from typer.main import get_command

    from evidence.cli.main import app
    from evidence.workflows.calculator.tables import USUAL

    pool = dict(walk(get_command(app), "steelyard"))["steelyard compute pool"]
    options = {option for parameter in pool.params for option in parameter.opts}

    lines = [DATA_INTRODUCTION, "| column | usual names | option of `compute pool` |", "| --- | --- | --- |"]
    for role, names in USUAL.items():
        option = f"`--{role}`" if f"--{role}" in options else ""
        lines.append(f"| {role} | {', '.join(f'`{n}`' for n in names)} | {option} |")
    return "\n".join(lines) + "\n"


EXPORT_INTRODUCTION = """# An exported catalogue

Generated from the tables of the catalogue by `python docs/generate.py`; do not edit by hand.

`steelyard export FOLDER` writes everything as readable text, the same bytes each time for the same catalogue, so
that a folder can be kept under version control. `steelyard import FOLDER` reads it into a new or empty catalogue.
All files are YAML in UTF-8; rows name each other by keys, never by numbers.

- `manifest.yaml`: `format` ("{format}"), `format_version` ({version}), `schema` (of the tables), the number of rows
  of each table, and the SHA-256 sum of every file. A file that was changed by hand is told when it is imported.
- `history/changes.jsonl`, `history/rows.jsonl`: every change ever made, one JSON object a line, with time, author,
  and what stood there before and after.
"""

BIAS_INTRODUCTION = """# Answers on a study's risk of bias

Generated from `evidence/appraisal/rules/` by `python docs/generate.py`; do not edit by hand.

`steelyard study judge STUDY --template` writes a file of answers for the way of judging that fits the study (`--by`
names another); `--answers FILE` takes it back. It is YAML with four parts:

| part | holds |
| --- | --- |
| `study` | key of the study |
| `tool` | one of the ways of judging below |
| `answers` | the name of each prompt with its answer; what is left empty is not answered |
| `choices` | where you judge otherwise: a domain (or `overall`) with `{judgement: high, because: "..."}` |

Answers are Y yes, PY probably yes, PN probably no, N no, NI no information, NA does not apply, or those that stand
beside the prompt. Prompts are in our own words.
"""

DATA_INTRODUCTION = """# Data tables

Generated from the columns that the code knows by `python docs/generate.py`; do not edit by hand.

## Individual data: `results individuals`

CSV, one row for each person and condition; comma, semicolon or tab between columns. Empty cells, `NA`, `.` and `-`
count as missing; people with a figure missing are left out, and that is told. Columns are named by options:

| column | option | usual name |
| --- | --- | --- |
| who | `--person` | `subject` |
| which condition: a key of the study, or a word told with `--says` | `--condition` | `condition` |
| the figure before; left out: measured once | `--pre` | none |
| the figure after, or the only one | `--post` | `post` |

## Effects and levels: `compute pool`, `compute trend`, `compute fragility`

CSV with a line of column names. Columns are found by their usual names, in any case and spelling of spaces, or
named by an option. An estimate needs a variance, a standard error (`se`), or an interval (`low` and `high`).
"""

PAGES: dict[str, Callable[[], str]] = {
    "commands.md": render_commands,
    "study-file.md": render_study_file,
    "export.md": render_export,
    "bias-answers.md": render_bias_answers,
    "data-tables.md": render_data_tables,
}


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for page, render in PAGES.items():
        (FOLDER / page).write_text(render(), "utf-8")
