"""The catalogue as a whole: what it holds, whether it is sound, its copies, and the names it knows."""

import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from evidence.web.forms import Sent, read_form
from evidence.web.rendering import address, go, show
from evidence.web.site import Site, site_of
from evidence.workflows.effects.checking import CheckFinding, check_catalogue
from evidence.workflows.naming import add_own_alias, add_own_exercise, look_up
from evidence.workflows.pages.browsing import holdings
from evidence.workflows.upkeep.keeping import back_up, export_to


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found when the catalogue was looked through, whether printed figures too, and when."""

    findings: Sequence[CheckFinding]
    figures: bool
    at: datetime


def catalogue(request: Request) -> Response:
    """What the catalogue holds, and what can be done with the whole of it."""
    return show(request, "catalogue.html", holds=holdings(site_of(request).catalogue), looked=None)


def check(request: Request) -> Response:
    """Look the catalogue through; with `figures` also what printed figures say against each other."""
    site, figures = site_of(request), request.query_params.get("figures") == "yes"
    looked = site.recall_soon(
        ("check", figures),
        lambda: Looked(check_catalogue(site.catalogue, figures=figures), figures, site.catalogue.now()),
        "The catalogue is being looked through",
        address("/catalogue/check", figures="yes" if figures else ""),
        keep=False,  # a file can be damaged without any change that is recorded
    )
    return show(request, "catalogue.html", holds=holdings(site.catalogue), looked=looked)


def backup(request: Request) -> Response:
    """A verified copy, to be kept elsewhere."""
    folder = Path(tempfile.mkdtemp())
    written, _ = back_up(site_of(request).catalogue, folder / "catalogue.backup")
    return handed_out(written, f"{stamp(request)}.backup", folder)


def export(request: Request) -> Response:
    """Everything as text files, in one archive."""
    folder = Path(tempfile.mkdtemp())
    export_to(site_of(request).catalogue, folder / "catalogue")
    archive = shutil.make_archive(str(folder / "out"), "zip", folder, "catalogue")
    return handed_out(Path(archive), f"{stamp(request)}.zip", folder)


def stamp(request: Request) -> str:
    """The name of a copy: what it is of, and the day."""
    return f"steelyard-{site_of(request).catalogue.today():%Y-%m-%d}"


def handed_out(path: Path, name: str, folder: Path) -> Response:
    """A file for the visitor; its folder goes once it was sent."""
    return FileResponse(
        path, filename=name, background=BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
    )


def words(request: Request) -> Response:
    """What a name means, and names of one's own."""
    asked = request.query_params.get("words", "").strip()
    found = look_up(site_of(request).catalogue, asked) if asked else None
    return show(request, "words.html", found=found)


async def add_words(request: Request) -> Response:
    """Add an exercise or a name of one's own."""
    sent = await read_form(request)
    await run_in_threadpool(take_words, site_of(request), sent)
    return go(request, "/words", kept=sent.text("kept"))


def take_words(site: Site, sent: Sent) -> None:
    """Store the name or exercise that was typed."""
    if sent.text("do") == "alias":
        add_own_alias(site.catalogue, sent.text("alias"), sent.text("meaning"), site.who)
        return
    add_own_exercise(
        site.catalogue,
        sent.text("key"),
        sent.text("name"),
        split(sent.text("primary")),
        split(sent.text("secondary")),
        sent.given("parent"),
        [part.strip() for part in sent.text("details").split(";") if part.strip()],
        site.who,
    )


def split(text: str) -> list[str]:
    """Names that were typed one after another, with commas between."""
    return [part.strip() for part in text.split(",") if part.strip()]


routes = [
    Route("/catalogue", catalogue),
    Route("/catalogue/check", check),
    Route("/catalogue/backup", backup),
    Route("/catalogue/export", export),
    Route("/words", words),
    Route("/words", add_words, methods=["POST"]),
]
