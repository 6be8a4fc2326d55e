"""References: found, brought in from a file or a paste, read, merged or kept apart, and what notices say of them."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput
from evidence.web.actions import Action
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import go, page_asked, show
from evidence.web.site import Site, site_of
from evidence.workflows.gather.gathering import gather, list_duplicates
from evidence.workflows.gather.merging import merge_references, set_apart
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.gather.reference_lists import (
    READING_STATES,
    STATES,
    list_notices,
    list_to_mend,
    mark_read,
    settle,
)
from evidence.workflows.gather.searching import find_references
from evidence.workflows.pages.reference_pages import show_reference_page

PER_PAGE = 40
MOST_PAIRS = 100
FILTERS = ("author", "year", "journal", "topic", "region", "exercise", "state")
T = TypeVar("T")


def references(request: Request) -> Response:
    """References that fit what is asked, a page of them."""
    asked = request.query_params
    page = page_asked(request)
    found = find_references(
        site_of(request).catalogue,
        asked.get("words", ""),
        **{name: asked.get(name) or None for name in FILTERS},
        most=PER_PAGE,
        start=(page - 1) * PER_PAGE + 1,
    )
    pages = max(1, -(-found.total // PER_PAGE))
    return show(request, "references.html", found=found, page=page, pages=pages, states=STATES)


def reference(request: Request) -> Response:
    """One reference with every field."""
    page = show_reference_page(site_of(request).catalogue, request.path_params["key"])
    return show(request, "reference.html", reference=page.shown, page=page, states=READING_STATES)


async def read(request: Request) -> Response:
    """Note how far a reference was read."""
    sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
    if sent.text("state") not in READING_STATES:
        raise BadInput("Say how far it was read.", hint=f"One of: {', '.join(READING_STATES)}.")
    await run_in_threadpool(mark_read, site.catalogue, [key], sent.text("state"), site.who)
    return go(request, f"/references/{request.path_params['key']}")


def add_form(request: Request) -> Response:
    """Where references are brought in."""
    return show(request, "references_add.html", report=None, text="")


async def add(request: Request) -> Response:
    """Bring references in from a file or a paste, and tell what became of each."""
    sent = await read_form(request)
    return await run_in_threadpool(take_references, request, sent)


def take_references(request: Request, sent: Sent) -> Response:
    """Read what was sent; the page shows the report of it."""
    site = site_of(request)
    report = with_file(sent, "references", lambda path: gather(site.catalogue, path, site.who))
    return show(request, "references_add.html", report=report, text="", changed=site.newest_change())


def with_file(sent: Sent, name: str, work: Callable[[Path], T]) -> T:
    """Do something with the file or text that was sent, kept on disk meanwhile. Raises BadInput where there is none."""
    file = sent.files.get("file")
    data = file.data if file else sent.values.get("text", "").encode("utf-8", "surrogatepass")
    if not data.strip():
        raise BadInput("There is nothing to read.", hint="Choose a file, or paste its text.")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / safe_name(file.name if file else f"pasted {name}")
        path.write_bytes(data)
        return work(path)


def safe_name(name: str) -> str:
    """A file's name without anything that would lead out of its folder or that a disk refuses."""
    plain = "".join(c if c.isprintable() and c not in '/\\:*?"<>|' else "_" for c in name).strip(". ")
    return plain[-100:] or "file"


def duplicates(request: Request) -> Response:
    """Pairs that may be the same work."""
    site = site_of(request)
    pairs = site.recall("duplicates", lambda: list_duplicates(site.catalogue))
    return show(request, "duplicates.html", pairs=pairs[:MOST_PAIRS], total=len(pairs))


async def decide(request: Request) -> Response:
    """Merge a pair, or keep it apart for good."""
    sent, site = await read_form(request), site_of(request)
    await run_in_threadpool(settle_pair, site, sent)
    return go(request, "/references/duplicates")


def settle_pair(site: Site, sent: Sent) -> None:
    """Carry out what was decided of a pair."""
    a, b, wanted = sent.text("a"), sent.text("b"), sent.text("do")
    if wanted == "keep-a":
        merge_references(site.catalogue, a, b, site.who, force=sent.ticked("force"))
    elif wanted == "keep-b":
        merge_references(site.catalogue, b, a, site.who, force=sent.ticked("force"))
    elif wanted == "apart":
        set_apart(site.catalogue, a, b, site.who)
    else:
        raise BadInput("Say what is to be done with the pair.", hint="Merge them, or keep them apart.")


def notices(request: Request) -> Response:
    """What is known of retractions, concerns and corrections."""
    site = site_of(request)
    known = site.recall("notices", lambda: list_notices(site.catalogue))
    return show(request, "notices.html", known=known, applied=None)


async def send_notices(request: Request) -> Response:
    """Read notices from a file and tell what they touch."""
    sent, site = await read_form(request), site_of(request)
    applied = await run_in_threadpool(
        with_file, sent, "notices", lambda path: apply_notices(site.catalogue, path, site.who)
    )
    return show(request, "notices.html", known=list_notices(site.catalogue), applied=applied)


def to_mend(request: Request) -> Response:
    """Entries of files that could not be read."""
    return show(request, "to_mend.html", entries=list_to_mend(site_of(request).catalogue))


async def settled(request: Request) -> Response:
    """Take an entry off the list of those to be mended."""
    site = site_of(request)
    await run_in_threadpool(settle, site.catalogue, request.path_params["number"], site.who)
    return go(request, "/references/to-mend")


routes = [
    Route("/references", references),
    Route("/references/add", add_form),
    Route("/references/add", add, methods=["POST"]),
    Route("/references/duplicates", duplicates),
    Route("/references/duplicates", decide, methods=["POST"]),
    Route("/references/notices", notices),
    Route("/references/notices", send_notices, methods=["POST"]),
    Route("/references/to-mend", to_mend),
    Action("/references/to-mend/{number:int}", settled, methods=["POST"]),
    Action("/references/{key:path}/read", read, methods=["POST"]),
    # Last: a key may hold slashes (that of a bare DOI does).
    Route("/references/{key:path}", reference),
]
