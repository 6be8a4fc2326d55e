"""The application: pages behind the guard, problems told as pages."""

from importlib.resources import files

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from evidence.errors import Ambiguous, CatalogueLocked, NotFound, SteelyardError
from evidence.web.rendering import show
from evidence.web.routing import all_routes
from evidence.web.security import Door, Guard, TooLarge, too_large
from evidence.web.site import Site, site_of
from evidence.web.works import Busy, Later
from evidence.workflows.gather.typed_references import ReferencesError


def make_application(site: Site, door: Door) -> ASGIApp:
    """The whole page over an open catalogue. The guard stands outside of all: what it says reaches every answer."""
    published = files("evidence.publishing")
    app = Starlette(
        routes=[
            *all_routes(),
            Route(
                "/static/document.css", lambda asked: FileResponse(str(published / "templates" / "page.css"))
            ),
            Mount("/static/fonts", StaticFiles(directory=str(published / "fonts"))),
            Mount("/static", StaticFiles(directory=str(files("evidence.web") / "static"))),
        ],
        exception_handlers={
            SteelyardError: tell_problem,
            ReferencesError: tell_problem,
            HTTPException: tell_missing,
            TooLarge: tell_too_large,
            Later: tell_later,
            Exception: tell_unforeseen,
        },
    )
    app.state.site = site
    return Guard(app, door)


def tell_problem(request: Request, problem: Exception) -> Response:
    """A problem that a person can act on: what, where, what to do."""
    assert isinstance(problem, SteelyardError | ReferencesError)
    status = 404 if isinstance(problem, NotFound) else 503 if isinstance(problem, CatalogueLocked) else 422
    candidates = problem.candidates if isinstance(problem, Ambiguous) else ()
    running = site_of(request).works.running()
    if running and isinstance(problem, CatalogueLocked):  # it is no other program that writes
        problem = Busy.of(running)
    return show(
        request,
        "problem.html",
        status=status,
        problem=problem,
        candidates=candidates,
        typed=typed(request, status),
    )


def tell_later(request: Request, waiting: Exception) -> Response:
    """What takes long is watched on a page of its own, which leads back here; also where a part of a page asks."""
    assert isinstance(waiting, Later)
    place = f"/work/{waiting.work.number}"
    if request.headers.get("hx-request") == "true":
        return Response(headers={"HX-Redirect": place})
    return RedirectResponse(place, status_code=303)


def typed(request: Request, status: int) -> bool:
    """Whether something typed may be left in the browser: not where a page was only looked for."""
    return request.method == "POST" or status != 404


def tell_too_large(request: Request, problem: Exception) -> Response:
    """More than may be sent at once."""
    assert isinstance(problem, TooLarge)
    return too_large(problem.limit)


def tell_missing(request: Request, problem: Exception) -> Response:
    """An address that leads nowhere, or is not to be used in this way."""
    assert isinstance(problem, HTTPException)
    text = {404: "There is no page at this address.", 405: "This address shows a page; it takes no change."}
    said = text.get(problem.status_code, problem.detail)
    return show(
        request,
        "problem.html",
        status=problem.status_code,
        problem=said,
        candidates=(),
        typed=typed(request, problem.status_code),
    )


def tell_unforeseen(request: Request, problem: Exception) -> Response:
    """What nobody foresaw. Nothing half-done is stored; what was typed is in the browser."""
    said = (
        f"Steelyard met something it was not built for ({type(problem).__name__}). Nothing half-done was stored. "
        "Go back: what you typed is still there. The terminal shows where it happened; please report it."
    )
    return show(request, "problem.html", status=500, problem=said, candidates=(), typed=typed(request, 500))
