"""`steelyard serve`: the page."""

import typer

from evidence.cli.frame import acting_person, choices, opened, say, tells_problems
from evidence.cli.waiting import waiting


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("serve")(serve_page)


@tells_problems
def serve_page(
    port: int = typer.Option(7433, "--port", min=0, max=65535, help="The port; 0 for any free one."),
    browser: bool = typer.Option(True, "--browser/--no-browser", help="Open the page in the browser."),
) -> None:
    """Open the page: everything without a terminal.

    On this machine only, until Ctrl+C. A first catalogue of your own is made if there is none.

    Example: steelyard serve
    """
    import os
    import webbrowser

    from evidence.web.serving import serve
    from evidence.workflows.opening import make_own

    if made := make_own(choices.catalogue, os.environ):
        say(f"Created an empty catalogue: {made}")
    with opened() as catalogue:
        waiting.stop()
        serve(catalogue, acting_person(), port, say, webbrowser.open if browser else None)
