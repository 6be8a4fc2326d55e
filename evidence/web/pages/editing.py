"""A claim edited part by part; what it said before stays in the history."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import go, show
from evidence.web.site import site_of
from evidence.workflows.claims.forms import claim_form, store_claim_form

WAS = "was:"


def edit(request: Request) -> Response:
    """The form filled with a stored claim."""
    return show_parts(request)


async def send(request: Request) -> Response:
    """Store what was changed; or show the form again with what is wrong."""
    return await run_in_threadpool(take, request, await read_form(request))


def take(request: Request, sent: Sent) -> Response:
    """What becomes of a form that was sent."""
    site, key = site_of(request), request.path_params["key"]
    was = {n.removeprefix(WAS): v for n, v in sent.values.items() if n.startswith(WAS)}
    try:
        store_claim_form(site.catalogue, key, was, sent.values, site.who)
    except SteelyardError as problem:
        return show_parts(request, sent, problem)
    return go(request, f"/claims/{key}", kept=sent.text("kept"))


def show_parts(request: Request, sent: Sent | None = None, problem: SteelyardError | None = None) -> Response:
    """The form. `sent`: what was typed and could not be stored."""
    site = site_of(request)
    form = claim_form(site.catalogue, request.path_params["key"])
    return show(
        request,
        "claim_edit.html",
        status=422 if problem else 200,
        form=form,
        typed=sent.values if sent else {},
        problem=problem,
        vocabulary=site.vocabulary(),
    )


routes = [
    Route("/claims/{key}/edit", edit),
    Route("/claims/{key}/edit", send, methods=["POST"]),
]
