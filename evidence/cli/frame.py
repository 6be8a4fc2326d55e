"""What every command shares: which catalogue, who is acting, how data and problems are shown."""

import errno
import json
import os
import re
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, is_dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import typer

from evidence.cli.waiting import waiting

if TYPE_CHECKING:
    from pathlib import Path

    from evidence.workflows.opening import Catalogue

P = ParamSpec("P")
T = TypeVar("T")

FINDINGS = 1
REPLACE_OPTION = typer.Option(False, "--replace", help="Write over a file that is there already.")
# Signs that steer a terminal rather than show anything; a file of references or a claim may hold them.
STEERING = {c: "\ufffd" for c in (*range(0x20), *range(0x7F, 0xA0)) if chr(c) not in "\n\t"}
# Signs that turn the direction of a line.
TURNING = dict.fromkeys((*range(0x202A, 0x202F), *range(0x2066, 0x206A)), "\ufffd")
JSON_OPTION = typer.Option(False, "--json", help="Print data as JSON instead of text.")


@dataclass
class Choices:
    """The options that hold for the whole call."""

    catalogue: str | None = None
    who: str | None = None


choices = Choices()
open_now = ExitStack()


def acting_person() -> str:
    """Who is named in the history: --who, STEELYARD_WHO, else the login name."""
    import getpass

    named = choices.who or os.environ.get("STEELYARD_WHO")
    if named and named.strip():
        return named.strip()
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def opened() -> "Catalogue":
    """The catalogue that the options name, opened until the command has ended."""
    from evidence.workflows.opening import open_named

    catalogue = open_named(choices.catalogue, os.environ)
    open_now.callback(catalogue.close)
    if catalogue.read_only:
        warn(
            "This catalogue may only be read: nothing is stored, and what others change meanwhile may be missing."
        )
    return catalogue


def harmless(text: str, *, on_terminal: bool) -> str:
    """The text without signs that steer a terminal, and on one without those that turn the direction of a line."""
    text = text.replace("\r\n", "\n").translate(STEERING)
    return text.translate(TURNING) if on_terminal else text


def say(text: str = "") -> None:
    """Print a line for the person; what the terminal cannot or must not show is replaced, never a crash."""
    text = harmless(text, on_terminal=sys.stdout.isatty())
    waiting.clear()
    try:
        typer.echo(text)
    except UnicodeEncodeError:
        encoding = sys.stdout.encoding or "ascii"
        typer.echo(text.encode(encoding, "replace").decode(encoding))


def say_invented(catalogue: "Catalogue") -> None:
    """Above a list: that studies of the catalogue are invented, where some are."""
    from evidence.workflows.pages.browsing import tell_invented

    if notice := tell_invented(catalogue):
        say(f"{notice}\n")


def on_terminal() -> bool:
    """Whether a person sits at both ends, who can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def is_standard_input(file: "Path") -> bool:
    """Whether a file was named as commands name what is typed or piped in: `-`."""
    return str(file) == "-"


def read_standard_input(what: str) -> bytes:
    """What stands on standard input; on a terminal the person is asked to paste it."""
    if sys.stdin.isatty():
        waiting.stop()  # until it is pasted there is nothing to wait for but the person
        warn(f"Paste the {what}, then press Ctrl-D on a line of its own.")
    return sys.stdin.buffer.read()


def warn(text: str) -> None:
    """Print a line to standard error."""
    text = harmless(text, on_terminal=sys.stderr.isatty())
    waiting.clear()
    try:
        typer.echo(text, err=True)
    except UnicodeEncodeError:
        typer.echo(text.encode("ascii", "replace").decode("ascii"), err=True)


def as_plain(value: Any) -> Any:
    """Dataclasses, enums, dates and tuples as JSON-ready data; not-a-number becomes null."""
    import math
    from datetime import date
    from enum import Enum

    if is_dataclass(value) and not isinstance(value, type):
        return {name: as_plain(item) for name, item in asdict(value).items()}
    if hasattr(value, "model_dump"):  # a row of the catalogue
        return as_plain(value.model_dump())
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {str(name): as_plain(item) for name, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [as_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    if hasattr(value, "tolist"):  # an array of figures
        return as_plain(value.tolist())
    return float(value) if hasattr(value, "__float__") else str(value)


def show_json(value: Any) -> None:
    """Print `value` as JSON; signs that steer a terminal are written as JSON writes them, so that none is lost."""
    text = json.dumps(as_plain(value), ensure_ascii=False, indent=2)
    say(text.translate({c: f"\\u{c:04x}" for c in range(0x7F, 0xA0)}))


def table(rows: Sequence[tuple[str, ...]], headings: tuple[str, ...]) -> str:
    """Left-aligned columns under headings, for a terminal."""
    widths = [max(len(row[i]) for row in [headings, *rows]) for i in range(len(headings))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [headings, *rows]
    ]
    return "\n".join([lines[0], "  ".join("-" * width for width in widths), *lines[1:]])


def counted(number: int, name: str) -> str:
    """`1 claim`, `3 claims`."""
    return f"{number} {name}" if number == 1 else f"{number} {name}s"


def tells_problems(command: Callable[P, T]) -> Callable[P, T]:
    """Turn every expected error into a sentence and an exit status, others into an apology; close what was opened."""

    @wraps(command)
    def told(*args: P.args, **kwargs: P.kwargs) -> T:
        waiting.start()
        try:
            return command(*args, **kwargs)
        except (typer.Exit, typer.Abort, SystemExit):
            raise
        except KeyboardInterrupt:
            warn("Stopped. Nothing half-done was stored.")
            raise typer.Exit(130) from None
        except Exception as problem:
            raise typer.Exit(explain(problem)) from None
        finally:
            waiting.stop()
            open_now.close()

    return told


def tell_list(message: str) -> None:
    """Where the keys stand, of a thing whose key was not found and is like none."""
    found = re.match(r"the catalogue holds no (claim|study|reference)\b", message)
    if found is not None:
        group = {"reference": "refs"}.get(found[1], found[1])
        warn(f"Those there are: steelyard {group} list")


def explain(problem: Exception) -> int:
    """Tell `problem` to the person and return the exit status."""
    from evidence.errors import Ambiguous, SteelyardError

    if isinstance(problem, SteelyardError):
        warn(f"Problem: {problem}")
        if isinstance(problem, Ambiguous):
            for candidate in problem.candidates:
                warn(f"  - {candidate}")
        elif problem.hint is None:
            tell_list(str(problem.message))
        return problem.exit_status
    if type(problem).__module__.startswith("references."):
        warn(f"Problem: {problem}")
        return 2
    if isinstance(problem, BrokenPipeError):
        return 0
    if isinstance(problem, OSError):
        where = f"{problem.filename}: " if problem.filename else ""
        full = " Free some space, or name another place." if problem.errno == errno.ENOSPC else ""
        warn(f"Problem: {where}{problem.strerror or problem}.{full}")
        return 2
    if os.environ.get("STEELYARD_DEBUG"):
        raise problem
    warn(
        f"Problem: Steelyard met something it was not built for ({type(problem).__name__}: {problem}). "
        "Nothing half-done was stored. Set STEELYARD_DEBUG=1 to see where, and please report it."
    )
    return 2
