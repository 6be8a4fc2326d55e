"""Work that takes long: how far it is, and on to its report when it is done."""

from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from evidence.web.rendering import address, fragment, show
from evidence.web.site import site_of
from evidence.web.works import Work


def watch(request: Request) -> Response:
    """How far a work is. Once it is done, this address leads to the page that tells what came of it."""
    work = site_of(request).works.find(request.path_params["number"])
    live = request.headers.get("hx-request") == "true"
    if work is None:
        return show(request, "work.html", status=404, work=None)
    if work.finished.is_set():
        place = address(work.place, work=work.number) if work.asked is None else work.place
        return Response(headers={"HX-Redirect": place}) if live else RedirectResponse(place, status_code=303)
    return fragment("work_part.html", work=work) if live else show(request, "work.html", work=work)


def answer(request: Request, work: Work, tell: Callable[[Request, Work], Response]) -> Response:
    """What a work that was just begun is answered with: its report if it is done, else the page that watches it."""
    if work.finished.is_set():
        return tell(request, work)
    return RedirectResponse(f"/work/{work.number}", status_code=303)


def finished_here(request: Request) -> Work | None:
    """The finished work whose report this address asks for; None where it asks for none."""
    work = site_of(request).works.find(request.query_params.get("work"))
    return work if work and work.finished.is_set() and work.place == request.url.path else None


routes = [Route("/work/{number}", watch)]
