"""What moved, what went out, what is due, what to read next, and finding anything."""

import shutil
import tempfile
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput, NotFound, SteelyardError
from evidence.web.downloads import MEDIA, handed
from evidence.web.forms import read_form
from evidence.web.rendering import address, fragment, go, page_asked, show
from evidence.web.site import Site, site_of
from evidence.workflows.documents.corrections import correction_notes, write_notes
from evidence.workflows.pages.browsing import holdings
from evidence.workflows.pages.finding import find_anything
from evidence.workflows.pages.published import list_published
from evidence.workflows.upkeep.changes import Changes, find_changes
from evidence.workflows.upkeep.reading_list import ReadingList, list_reading
from evidence.workflows.upkeep.reviewing import Review, find_due

READING = "reading list"  # what is kept of it
NOTES = ("pdf", "docx", "html", "md", "txt")  # formats of correction notes
AT_ONCE = 300  # claims; weighing the first wishes of more takes seconds


def changes(request: Request) -> Response:
    """What moved since it was last seen, with what was published."""
    site, since = site_of(request), request.query_params.get("since", "").strip()
    problem = None
    try:
        found = moved(site, since)
    except SteelyardError as fault:
        problem, found = fault, moved(site)
    notes = correction_notes(found)
    return show(
        request,
        "changes.html",
        status=422 if problem else 200,
        found=found,
        notes=notes,
        problem=problem,
        forms=NOTES,
    )


def notes_file(request: Request) -> Response:
    """The correction notes to what no longer holds, as a file; several in one archive."""
    site, form = site_of(request), request.path_params["format"]
    since = request.query_params.get("since", "").strip()
    if form not in NOTES:
        raise BadInput(f'"{form}" is no format of notes.', hint=f"There are: {', '.join(NOTES)}.")
    notes = correction_notes(moved(site, since, f"/changes/notes.{form}"))
    if not notes:
        raise NotFound("Nothing that was published has to be corrected.", hint="See what moved.")
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        written = write_notes(notes, folder / "notes", form=form, made=site.made())
        if len(written) == 1:
            return handed(written[0].read_bytes(), MEDIA[form], written[0].name)
        archive = Path(shutil.make_archive(str(folder / "all"), "zip", folder, "notes"))
        return handed(archive.read_bytes(), "application/zip", "correction-notes.zip")


def moved(site: Site, since: str = "", place: str = "/changes") -> Changes:
    """What moved since a day or change; since it was last seen where none is named."""
    return site.recall_soon(
        ("moved", since),
        lambda: find_changes(site.catalogue, site.who, since=since or None),
        "What moved is being looked for",
        address(place, since=since),
    )


def due(site: Site, place: str = "/review") -> Review:
    """What is due for another look."""
    return site.recall_soon(
        "due", lambda: find_due(site.catalogue, coming=20), "What is due is being looked for", place
    )


async def seen(request: Request) -> Response:
    """What moved was seen: the next list begins here."""
    await read_form(request)
    site = site_of(request)
    await run_in_threadpool(lambda: find_changes(site.catalogue, site.who, seen=True))
    return go(request, "/changes")


def published(request: Request) -> Response:
    """What went out, and whether it still holds."""
    site, page = site_of(request), page_asked(request)
    listed = site.recall_soon(
        ("published", page),
        lambda: list_published(site.catalogue, page),
        "What went out is being held against what is known now",
        address("/published", page=page),
    )
    return show(request, "published.html", listed=listed)


def review(request: Request) -> Response:
    """What is due for another look, and why."""
    site = site_of(request)
    return show(request, "review.html", review=due(site))


def reading(request: Request) -> Response:
    """Which study would help most; of very many claims the list comes after the page."""
    site = site_of(request)
    late = site.recall("holdings", lambda: holdings(site.catalogue)).claims > AT_ONCE
    return show(
        request, "reading_list.html", reading=None if late else site.recall(READING, lambda: wishes(site))
    )


def reading_whole(request: Request) -> Response:
    """The list by itself; a part of its page where that asks for it."""
    site = site_of(request)
    if request.headers.get("hx-request") == "true":
        return fragment("reading_part.html", reading=site.recall(READING, lambda: wishes(site)))
    found = site.recall_soon(
        READING, lambda: wishes(site), "The reading list is being made", "/reading-list/whole"
    )
    return show(request, "reading_list.html", reading=found)


def wishes(site: Site) -> ReadingList:
    """The claims for which another study would help most."""
    return list_reading(site.catalogue, 20)


def find(request: Request) -> Response:
    """Claims, studies, references, exercises and regions that hold the words."""
    words = request.query_params.get("q", "")
    return show(request, "find.html", words=words, found=find_anything(site_of(request).catalogue, words))


routes = [
    Route("/changes", changes),
    Route("/changes", seen, methods=["POST"]),
    Route("/changes/notes.{format}", notes_file),
    Route("/published", published),
    Route("/review", review),
    Route("/reading-list", reading),
    Route("/reading-list/whole", reading_whole),
    Route("/find", find),
]
