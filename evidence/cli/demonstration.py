"""The command demo: the whole job once, on invented data."""

from pathlib import Path

import typer

from evidence.cli.frame import say, tells_problems


@tells_problems
def demo(
    folder: Path = typer.Argument(Path("steelyard-demo"), help="Folder to put the demonstration in."),
    look: bool = typer.Option(True, "--open/--no-open", help="Open the results in the browser."),
) -> None:
    """Run the whole job once on invented data.

    Gather, extract, compute, claim, weigh, annotate; two pages open in the browser at the end.

    Example: steelyard demo my-demo --no-open
    """
    from evidence.workflows.demonstrating import demonstrate

    made = demonstrate(folder, say, called_as())
    if look and has_screen():
        import webbrowser

        for page in made.pages:
            webbrowser.open(page.resolve().as_uri())
    else:
        say("Open these two pages in a browser: " + " and ".join(str(page) for page in made.pages))


def called_as() -> str:
    """The command as it has to be typed here: its name where the terminal finds it, else the way it was called."""
    import shutil
    import sys

    return "steelyard" if shutil.which("steelyard") else sys.argv[0]


def has_screen() -> bool:
    """Whether a browser would have a window to open in, rather than take over the terminal."""
    import os
    import sys

    if sys.platform.startswith(("win", "darwin")):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def register(app: typer.Typer) -> None:
    """Add demo to the top level."""
    app.command()(demo)
