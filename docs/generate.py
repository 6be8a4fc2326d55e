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

PAGES: dict[str, Callable[[], str]] = {"commands.md": render_commands, "study-file.md": render_study_file}


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for page, render in PAGES.items():
        (FOLDER / page).write_text(render(), "utf-8")
