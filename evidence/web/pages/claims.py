"""Claims: the list, one claim with everything that was found of it, and what people decide about it."""

from collections.abc import Callable
from datetime import date

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput
from evidence.publishing.brief_pages import brief_document
from evidence.publishing.briefs import brief_forest
from evidence.publishing.document_html import write_fragment
from evidence.publishing.figure_data import forest_csv
from evidence.publishing.figures import forest_svg
from evidence.publishing.formats import FORMATS, Wanted, write_document
from evidence.web.downloads import MEDIA, handed
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import go, here, page_asked, show
from evidence.web.site import Site, site_of
from evidence.workflows.claims.changing import remove_claim, set_falsifier
from evidence.workflows.claims.claiming import leave_study_out
from evidence.workflows.claims.linking import NewLink, link_source
from evidence.workflows.claims.rating import rate_domain, take_back
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.pages.claim_lists import Filters, list_claims
from evidence.workflows.pages.claim_pages import ClaimPage, in_page_terms, show_claim_page
from evidence.workflows.upkeep.reviewing import mark_reviewed
from evidence.workflows.upkeep.uses import list_uses, register_use
from evidence.workflows.weigh.weighing import weigh_and_keep

PER_PAGE = 50
FILTERS = ("region", "outcome", "exercise", "confidence", "verdict", "kind")
LEVELS = ("0", "-1", "-2", "-3")
STANCES = ("supports", "against", "mixed", "background")
SOURCES = ("study", "review", "guideline", "expert", "other")


def claims(request: Request) -> Response:
    """Claims that fit what is asked, a page of them."""
    site, asked = site_of(request), request.query_params
    given = {name: asked.get(name) or None for name in FILTERS}
    filters = Filters(**given, due=asked.get("due") == "yes")
    found = site.recall_soon(
        ("claims", filters),
        lambda: list_claims(site.catalogue, filters),
        "The claims are being listed",
        here(request),
    )
    pages = max(1, -(-len(found) // PER_PAGE))
    page = min(page_asked(request), pages)
    listed = found[(page - 1) * PER_PAGE : page * PER_PAGE]
    return show(
        request,
        "claims.html",
        claims=listed,
        total=len(found),
        page=page,
        pages=pages,
        vocabulary=site.vocabulary(),
    )


def claim(request: Request) -> Response:
    """One claim, weighed on the catalogue as it stands."""
    site, key = site_of(request), request.path_params["key"]
    page, body = seen(site, key)
    return show(
        request,
        "claim.html",
        claim=page.weighing.claim,
        brief=page.brief,
        body=body,
        page=page,
        uses=site.recall(("uses", key), lambda: list_uses(site.catalogue, key)),
        levels=LEVELS,
        stances=STANCES,
        sources=SOURCES,
        formats=FORMATS,
    )


def seen(site: Site, key: str) -> tuple[ClaimPage, Markup]:
    """A claim weighed, with its brief set as a part of a page."""

    def read() -> tuple[ClaimPage, Markup]:
        page = show_claim_page(site.catalogue, key)
        return page, Markup(write_fragment(brief_document(page.brief)))

    return site.recall(("claim", key), read)


def decision(decide: Callable[[Site, str, Sent], object]) -> Callable[[Request], object]:
    """A page that carries out what was decided about a claim, and goes back to it."""

    async def decided(request: Request) -> Response:
        sent, key = await read_form(request), request.path_params["key"]
        await run_in_threadpool(decide, site_of(request), key, sent)
        return go(request, f"/claims/{key}", kept=sent.text("kept"))

    return decided


def rate(site: Site, key: str, sent: Sent) -> None:
    """A domain rated by a person, or their rating taken back."""
    if sent.text("do") == "take back":
        take_back(site.catalogue, key, sent.text("domain"), site.who)
    else:
        rate_domain(
            site.catalogue, key, sent.text("domain"), sent.text("level"), sent.text("because"), site.who
        )


def leave_out(site: Site, key: str, sent: Sent) -> None:
    """A study left out, with the reason."""
    leave_study_out(site.catalogue, key, sent.text("study"), sent.text("because"), site.who)


def link(site: Site, key: str, sent: Sent) -> None:
    """A source without figures linked, with its stance."""
    n = sent.text("n")
    if n and not (n.isascii() and n.isdecimal()):
        raise BadInput(f'"{n}" is no number of people.', hint="Write digits, or leave it empty.")
    new = NewLink(
        sent.text("reference"), sent.text("stance"), sent.text("says"), sent.text("locator"), sent.text("kind"),
        int(n) if n else None, sent.given("design"),
    )  # fmt: skip
    link_source(site.catalogue, key, new, site.who)


def falsify(site: Site, key: str, sent: Sent) -> None:
    """What would make its author give the claim up."""
    set_falsifier(site.catalogue, key, sent.text("words"), site.who)


def review(site: Site, key: str, sent: Sent) -> None:
    """The claim was looked at again."""
    text = sent.text("next")
    try:
        day = date.fromisoformat(text) if text else None
    except ValueError:
        raise BadInput(f'"{text}" is no day.', hint="Write it as 2027-03-01.") from None
    mark_reviewed(site.catalogue, key, site.who, sent.text("note"), day)


def keep(site: Site, key: str, sent: Sent) -> None:
    """What stands now, kept as what was found on this day."""
    weigh_and_keep(site.catalogue, key, site.who)


async def remove(request: Request) -> Response:
    """Take a claim away, with the reason."""
    sent, site = await read_form(request), site_of(request)
    await run_in_threadpool(
        remove_claim, site.catalogue, request.path_params["key"], sent.text("because"), site.who
    )
    return go(request, "/claims")


def forest(request: Request) -> Response:
    """The forest plot of a claim as a file."""
    key = request.path_params["key"]
    brief = seen(site_of(request), key)[0].brief
    return handed(forest_svg(brief_forest(brief), standalone=True).encode(), "image/svg+xml", f"{key}.svg")


def forest_data(request: Request) -> Response:
    """The figures of the forest plot as a file."""
    key = request.path_params["key"]
    text = forest_csv(seen(site_of(request), key)[0].brief)
    return handed(text.encode("utf-8"), MEDIA["csv"], f"{key}-studies.csv")


def brief_file(request: Request) -> Response:
    """The brief of a claim as a file in the format that its address names."""
    site, key, form = site_of(request), request.path_params["key"], request.path_params["format"]
    if form not in FORMATS:
        raise BadInput(f'"{form}" is no format of documents.', hint=f"There are: {', '.join(FORMATS)}.")
    paper = "letter" if request.query_params.get("paper") == "letter" else "a4"
    weighing = seen(site, key)[0].weighing
    document = brief_document(in_page_terms(make_brief(site.catalogue, weighing, site.made()), "."))
    return handed(write_document(document, Wanted(form, paper)), MEDIA[form], f"{key}.{form}")


def tell(site: Site, key: str, sent: Sent) -> None:
    """The brief went out: kept as a use of the claim, so that a later change can say so."""
    where = sent.text("where")
    if not where:
        raise BadInput("Say where it went.", hint="A page's address, a name, an occasion.")
    weighing = weigh_and_keep(site.catalogue, key, site.who)
    register_use(site.catalogue, "brief", where, site.who, weighings=[weighing], place=where)


routes = [
    Route("/claims", claims),
    Route("/claims/{key}", claim),
    Route("/claims/{key}/forest.svg", forest),
    Route("/claims/{key}/studies.csv", forest_data),
    Route("/claims/{key}/brief.{format}", brief_file),
    Route("/claims/{key}/rate", decision(rate), methods=["POST"]),
    Route("/claims/{key}/leave-out", decision(leave_out), methods=["POST"]),
    Route("/claims/{key}/link", decision(link), methods=["POST"]),
    Route("/claims/{key}/falsifier", decision(falsify), methods=["POST"]),
    Route("/claims/{key}/review", decision(review), methods=["POST"]),
    Route("/claims/{key}/keep", decision(keep), methods=["POST"]),
    Route("/claims/{key}/told", decision(tell), methods=["POST"]),
    Route("/claims/{key}/remove", remove, methods=["POST"]),
]
