"""The start page, finding things, the history and the way back."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.web.forms import read_form
from evidence.web.pages.upkeep import due, moved
from evidence.web.rendering import go, show
from evidence.web.site import site_of
from evidence.workflows.pages.browsing import recent_changes
from evidence.workflows.pages.claim_lists import Filters, list_claims
from evidence.workflows.upkeep.keeping import undo_change

PER_PAGE = 60


def start(request: Request) -> Response:
    """What moved, what is due, where to go."""
    site = site_of(request)
    claims = site.recall_soon(
        ("claims", Filters()), lambda: list_claims(site.catalogue), "The claims are being listed", "/"
    )
    return show(
        request,
        "start.html",
        claims=claims[:10],
        total=len(claims),
        changes=[c for c in site.last_changes() if c.meant][:6],
        moved=moved(site, place="/"),
        due=due(site, place="/").due,
    )


def history(request: Request) -> Response:
    """The last changes, each with its way back."""
    site, asked = site_of(request), request.query_params.get("before", "")
    before = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 10 else None
    changes = site.recall(("history", before), lambda: recent_changes(site.catalogue, PER_PAGE + 1, before))
    earlier = changes[PER_PAGE - 1].number if len(changes) > PER_PAGE else None
    return show(request, "history.html", changes=changes[:PER_PAGE], earlier=earlier, before=before)


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
