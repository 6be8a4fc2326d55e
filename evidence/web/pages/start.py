"""The start page, finding things, the history and the way back."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.web.forms import read_form
from evidence.web.rendering import go, show
from evidence.web.site import site_of
from evidence.workflows.browsing import recent_changes
from evidence.workflows.changes import find_changes
from evidence.workflows.claim_lists import list_claims
from evidence.workflows.reviewing import find_due
from evidence.workflows.upkeep import undo_change


def start(request: Request) -> Response:
    """What moved, what is due, where to go."""
    catalogue = site_of(request).catalogue
    claims = list_claims(catalogue)
    return show(
        request,
        "start.html",
        claims=claims[:10],
        total=len(claims),
        changes=recent_changes(catalogue, 6),
        moved=find_changes(catalogue, site_of(request).who),
        due=find_due(catalogue).due,
    )


def history(request: Request) -> Response:
    """The last changes, each with its way back."""
    return show(request, "history.html", changes=recent_changes(site_of(request).catalogue, 200))


async def undo(request: Request) -> Response:
    """Take a change back, and go where the visitor was."""
    sent, site = await read_form(request), site_of(request)
    await run_in_threadpool(undo_change, site.catalogue, request.path_params["number"], site.who)
    back = sent.text("back")
    return go(request, back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/")


routes = [
    Route("/", start),
    Route("/history", history),
    Route("/undo/{number:int}", undo, methods=["POST"]),
]
