"""Claims: the list, and one claim with everything that was found of it."""

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.publishing.brief_pages import brief_document
from evidence.publishing.document_html import write_fragment
from evidence.web.rendering import show
from evidence.web.site import site_of
from evidence.workflows.briefing import make_brief
from evidence.workflows.browsing import list_claims
from evidence.workflows.weighing import weigh


def claims(request: Request) -> Response:
    """Every claim with its last verdict and confidence."""
    return show(request, "claims.html", claims=list_claims(site_of(request).catalogue))


def claim(request: Request) -> Response:
    """One claim, weighed on the catalogue as it stands."""
    site, key = site_of(request), request.path_params["key"]
    weighing = weigh(site.catalogue, key)
    brief = make_brief(site.catalogue, weighing)
    return show(request, "claim.html", brief=brief, body=Markup(write_fragment(brief_document(brief))))


routes = [Route("/claims", claims), Route("/claims/{key}", claim)]
