"""Help pages in the words of their readers: what is typed is named KEY, FILE, TEXT or NUMBER, not by a type."""

import re
from typing import Any

from evidence.cli.slips import tell_slips

WORDS = {"int": "NUMBER", "float": "NUMBER", "Path": "FILE", "str": "TEXT"}

EXAMPLE = re.compile(r"^Example: .*(?:\n(?!\n).*)*", re.MULTILINE)


def name_values(command: Any) -> Any:
    """Name what every argument and option of a command, and of those below it, takes. Gives the command back.

    Examples stand on one line each, so that they can be copied; what is typed wrongly is told in our words.
    """
    if command.help:
        command.help = EXAMPLE.sub(lambda found: "\b\n" + " ".join(found[0].split()), command.help)
    for parameter in command.params:
        if parameter.param_type_name == "argument":
            show_argument(parameter)
        elif parameter.metavar is None and not (parameter.is_flag or parameter.count):
            parameter.metavar = name_kind(parameter)
    tell_slips(command)
    for below in getattr(command, "commands", {}).values():
        name_values(below)
    return command


def show_argument(argument: Any) -> None:
    """Show an argument as its name alone, in brackets where it may be left out."""
    name = (argument.name or "").upper().rstrip("_")
    several = f"{name}..." if argument.nargs == -1 else name
    shown = several if argument.required else f"[{several}]"
    argument.get_usage_pieces = lambda ctx: [shown]
    argument.get_help_record = lambda ctx: (shown, argument.help or "")


def name_kind(option: Any) -> str | None:
    """What an option takes, in a word; None: as the library shows it (one of some words)."""
    described = getattr(option, "type_descriptor", None)
    kind = described.annotation if described is not None else getattr(option, "type", None)
    return next((word for name, word in WORDS.items() if name in str(kind)), None)
