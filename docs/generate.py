"""Write docs/reference/commands.md from the commands themselves: python docs/generate.py

A test fails when the page and the commands are out of step.
"""

from pathlib import Path
from typing import Any

PAGE = Path(__file__).parent / "reference" / "commands.md"
INTRODUCTION = """# Commands

Generated from the commands themselves by `python docs/generate.py`; do not edit by hand.

`--catalogue PLACE` and `--who NAME` may stand anywhere in a command. Exit status: 0 done; 1 done, with something to look
at; 2 not done (a file, option or figure is not what it should be); 3 not found.
"""


def render_page() -> str:
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


if __name__ == "__main__":
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(render_page(), "utf-8")
