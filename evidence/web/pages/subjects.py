"""Regions and exercises: what is held on each, ranked where studies connect them."""

from dataclasses import dataclass
from typing import Any, Literal

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.publishing.figure_data import ranking_csv
from evidence.publishing.ranking_pages import ranking_fragment
from evidence.publishing.rankings import Ranking, ranking_svg
from evidence.web.downloads import MEDIA, handed
from evidence.web.rendering import address, fragment, here, in_path, show
from evidence.web.site import Site, site_of
from evidence.workflows.making import seen_now
from evidence.workflows.pages.subject_pages import (
    RegionPage,
    list_exercises,
    list_regions,
    show_exercise,
    show_region,
)
from evidence.workflows.rank.ranking import LEVELS, rank

DRAWS = 2000  # of the order: enough for whole ranks on a page that is looked at
AT_ONCE = 30  # studies; more are ranked at an address of their own: hundreds take seconds


@dataclass(frozen=True, slots=True)
class Wanted:
    """A ranking as its address asks for it."""

    region: str
    outcome: str
    against: str
    level: str


def regions(request: Request) -> Response:
    """The tree of regions."""
    site = site_of(request)
    return show(request, "regions.html", lines=site.recall("regions", lambda: list_regions(site.catalogue)))


def region(request: Request) -> Response:
    """One region, its exercises ranked on the outcome that is asked for."""
    site, name = site_of(request), request.path_params["region"]
    shown = site.recall_soon(
        ("region", name),
        lambda: show_region(site.catalogue, name),
        "What is held on the region is being gathered",
        here(request),
    )
    wanted = asked_of(request, shown)
    studies = next((number for id, _, number in shown.constructs if id == wanted.outcome), 0)
    at_once = bool(wanted.outcome) and studies <= AT_ONCE
    return show(
        request,
        "region.html",
        region=shown,
        wanted=wanted,
        levels=LEVELS,
        studies=studies,
        at_once=at_once,
        **(ranked(site, wanted) if at_once else UNRANKED),
    )


def region_of(site: Site, name: str) -> RegionPage:
    """What is held on a region."""
    return site.recall(("region", name), lambda: show_region(site.catalogue, name))


def asked_of(request: Request, shown: RegionPage) -> Wanted:
    """The ranking that an address asks for: of the outcome measured most where it names none."""
    asked = request.query_params
    outcome = asked.get("outcome") or (shown.constructs[0][0] if shown.constructs else "")
    return Wanted(shown.id, outcome, asked.get("against", "").strip(), asked.get("level") or "exercise")


def find_ranking(site: Site, wanted: Wanted, place: str = "") -> Ranking:
    """A ranking, made once until something changes. Raises SteelyardError where nothing can be ranked.

    `place`: the page to come back to where it takes long; empty: it is waited for.
    """

    def make() -> Ranking:
        return rank(
            site.catalogue,
            wanted.region,
            wanted.outcome,
            wanted.against or None,
            level=wanted.level,
            draws=DRAWS,
            made=seen_now(site.catalogue),
        )

    if not place:
        return site.recall(wanted, make)
    return site.recall_soon(wanted, make, "The ranking is being worked out", place)


UNRANKED: dict[str, Any] = {"ranking": None, "problem": "", "files": (), "made_up": False}


def ranked(site: Site, wanted: Wanted, place: str = "") -> dict[str, Any]:
    """What a page shows of a ranking: itself with its files, or why there is none."""
    try:
        ranking = find_ranking(site, wanted, place)
    except SteelyardError as problem:
        return {**UNRANKED, "problem": problem}
    files = tuple((kind, place_of(wanted, f"ranking.{kind}")) for kind in ("svg", "csv"))
    shown = Markup(ranking_fragment(ranking))
    return {"ranking": shown, "problem": "", "files": files, "made_up": ranking.invented}


def place_of(wanted: Wanted, name: str) -> str:
    """The address of a ranking, or of a file of it."""
    return address(
        f"/regions/{in_path(wanted.region)}/{name}",
        outcome=wanted.outcome,
        against=wanted.against,
        level=wanted.level if wanted.level != "exercise" else "",
    )


def ranking(request: Request) -> Response:
    """The ranking of a region by itself; a part of the region's page where that asks for it."""
    site = site_of(request)
    shown = region_of(site, request.path_params["region"])
    wanted = asked_of(request, shown)
    if request.headers.get("hx-request") == "true":
        return fragment("ranking_part.html", wanted=wanted, **ranked(site, wanted))
    place = place_of(wanted, "ranking")
    return show(
        request, "ranking.html", region=shown, wanted=wanted, levels=LEVELS, **ranked(site, wanted, place)
    )


def ranking_file(kind: Literal["svg", "csv"]) -> Route:
    """The address at which a ranking is had as a file."""

    def given(request: Request) -> Response:
        site = site_of(request)
        wanted = asked_of(request, region_of(site, request.path_params["region"]))
        found = find_ranking(site, wanted)
        name = f"{wanted.region}-{wanted.outcome}.{kind}"
        if kind == "svg":
            return handed(ranking_svg(found, standalone=True).encode("utf-8"), "image/svg+xml", name)
        return handed(ranking_csv(found).encode("utf-8"), MEDIA["csv"], name)

    return Route(f"/regions/{{region}}/ranking.{kind}", given)


def exercises(request: Request) -> Response:
    """Exercises, those studied most first."""
    site, words = site_of(request), request.query_params.get("words", "")
    found = site.recall(("exercises", words), lambda: list_exercises(site.catalogue, words))
    return show(request, "exercises.html", found=found)


def exercise(request: Request) -> Response:
    """One exercise."""
    site, name = site_of(request), request.path_params["exercise"]
    shown = site.recall(("exercise", name), lambda: show_exercise(site.catalogue, name))
    return show(request, "exercise.html", exercise=shown)


routes = [
    Route("/regions", regions),
    Route("/regions/{region}", region),
    Route("/regions/{region}/ranking", ranking),
    ranking_file("svg"),
    ranking_file("csv"),
    Route("/exercises", exercises),
    Route("/exercises/{exercise}", exercise),
]
