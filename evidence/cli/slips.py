"""What is told when a command was typed wrongly: what is missing or unknown, an example that works, where to read on.

The command line library raises its own errors, in its own words; here they are shown in ours.
"""

import re
from difflib import get_close_matches
from typing import Any

import typer

from evidence.cli.frame import warn

# The library's error about what was typed; its module differs from version to version.
Slip: type[Exception] = typer.BadParameter.__bases__[0]
FEW = 12  # commands of a group that can be told in one line
BOTH, LEAST, MOST = r"(-?[\d.]+)<=x<=(-?[\d.]*\d)", r"x>=(-?[\d.]*\d)", r"x<=(-?[\d.]*\d)"


def in_plain_ranges(text: str) -> str:
    """The ranges of a help page or a message as one says them: `0<=x<=9` is told as `0 to 9`."""
    text = re.sub(BOTH, r"\1 to \2", text)
    return re.sub(MOST, r"\1 or less", re.sub(LEAST, r"\1 or more", text))


def tell_slips(command: Any) -> None:
    """Let a command, or a group, show what was typed wrongly in our words, and ranges as one says them."""
    make_context, get_help = command.make_context, command.get_help

    def made(info_name: str | None, args: list[str], parent: Any = None, **named: Any) -> Any:
        try:
            return make_context(info_name, args, parent=parent, **named)
        except Slip as slip:
            path = f"{parent.command_path} {info_name}" if parent is not None else str(info_name)
            raise in_our_words(slip, command, path) from None

    command.make_context = made
    command.get_help = lambda ctx: in_plain_ranges(get_help(ctx))
    if resolve := getattr(command, "resolve_command", None):

        def resolved(ctx: Any, typed: list[str]) -> Any:
            try:
                return resolve(ctx, typed)
            except Slip as slip:
                raise in_our_words(slip, command, ctx.command_path, unknown_command(ctx, typed)) from None

        command.resolve_command = resolved


def in_our_words(slip: Any, command: Any, path: str, problem: str = "") -> Exception:
    """The slip, made to show itself in our words; one that does so already, or only shows help, is left as it is."""
    told: Exception = slip
    if "show" not in vars(slip) and type(slip).__name__ != "NoArgsIsHelpError":
        text = explain_slip(command, path, problem or name_problem(slip, path))
        slip.show = lambda file=None: warn(text)
    return told


def explain_slip(command: Any, path: str, problem: str) -> str:
    """Problem, example and where to read on, a line each."""
    lines = [f"Problem: {problem}"]
    example = re.search(r"^Example: (.*)$", command.help or "", re.MULTILINE)
    if example is not None:
        lines.append(f"Example: {example[1]}")
    return "\n".join([*lines, f"All of it: {path} --help"])


def name_problem(slip: Any, path: str) -> str:
    """What is wrong with what was typed, in one sentence."""
    kind, parameter = type(slip).__name__, getattr(slip, "param", None)
    if kind == "MissingParameter" and parameter is not None:
        says = getattr(parameter, "help", None) or ""
        return f"{path} needs {name_parameter(parameter)}{': ' if says else '.'}{says}"
    if kind == "BadParameter" and parameter is not None:
        # The library says "Input should be less than or equal to 9"; older ones "10 is not in the range 0<=x<=9."
        says = in_plain_ranges(slip.message).replace("Input should", "it should").rstrip(".")
        says = says.replace("a valid integer", "a whole number").split(", unable to parse")[0]
        return f"{name_parameter(parameter)}: {says}."
    if kind == "NoSuchOption":
        near = f" Perhaps {' or '.join(sorted(slip.possibilities))}?" if slip.possibilities else ""
        return f"{path} has no option {slip.option_name}.{near}"
    if kind == "BadOptionUsage":
        return f"{path}: what should {slip.option_name} be? Nothing stands after it."
    if extra := re.search(r"unexpected extra arguments? ?(?:\(s\) )?\((.*)\)", slip.message):
        return f"{path} does not know what to do with: {extra[1]}. Words with spaces between belong in quotation marks."
    return f"{path}: {slip.message}"


def name_parameter(parameter: Any) -> str:
    """An argument as its name, an option with what it takes: FILES, --outcome TEXT."""
    if parameter.param_type_name == "argument":
        return str(parameter.name or "").upper().rstrip("_")
    return " ".join(part for part in (parameter.opts[0], parameter.metavar) if part)


def unknown_command(ctx: Any, typed: list[str]) -> str:
    """That a group has no such command, with those that are near, or all where they are few."""
    names = list(getattr(ctx.command, "commands", {}))
    near = get_close_matches(typed[0], names, 3) if typed else []
    few = f" There are: {', '.join(names)}." if len(names) <= FEW else ""
    rest = f" Perhaps {' or '.join(near)}?" if near else few
    return f"{ctx.command_path} has no command {typed[0] if typed else ''!r}.{rest}"
