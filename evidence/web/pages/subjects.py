"""Regions and exercises: what is held on each, ranked where studies connect them."""

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.publishing.ranking_pages import ranking_fragment
from evidence.web.rendering import show
from evidence.web.site import site_of
from evidence.workflows.ranking import LEVELS, rank
from evidence.workflows.subject_pages import list_exercises, list_regions, show_exercise, show_region

DRAWS = 2000  # of the order: enough for whole ranks on a page that is looked at


def regions(request: Request) -> Response:
    """The tree of regions."""
    return show(request, "regions.html", lines=list_regions(site_of(request).catalogue))


def region(request: Request) -> Response:
    """One region, its exercises ranked on the outcome that is asked for."""
    site, asked = site_of(request), request.query_params
    shown = show_region(site.catalogue, request.path_params["region"])
    construct = asked.get("outcome") or (shown.constructs[0][0] if shown.constructs else "")
    level = asked.get("level") or "exercise"
    ranking, problem = None, ""
    if construct:
        try:
            found = rank(
                site.catalogue, shown.id, construct, asked.get("against") or None, level=level, draws=DRAWS
            )
            ranking = Markup(ranking_fragment(found))
        except SteelyardError as fault:
            problem = str(fault)
    return show(
        request, "region.html", region=shown, construct=construct, level=level, levels=LEVELS, ranking=ranking,
        problem=problem,
    )  # fmt: skip


def exercises(request: Request) -> Response:
    """Exercises, those studied most first."""
    return show(
        request,
        "exercises.html",
        found=list_exercises(site_of(request).catalogue, request.query_params.get("words", "")),
    )


def exercise(request: Request) -> Response:
    """One exercise."""
    return show(
        request,
        "exercise.html",
        exercise=show_exercise(site_of(request).catalogue, request.path_params["exercise"]),
    )


routes = [
    Route("/regions", regions),
    Route("/regions/{region}", region),
    Route("/exercises", exercises),
    Route("/exercises/{exercise}", exercise),
]
