"""Pages from templates: everything is escaped, unknown names are refused, what changed is told with a way back."""

from functools import cache
from typing import Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from evidence.publishing.templating import safe_url
from evidence.web.actions_told import tell_action
from evidence.web.page_words import tell_on_page
from evidence.web.site import site_of

SECTIONS = (
    ("/claims", "Claims"),
    ("/regions", "Regions"),
    ("/exercises", "Exercises"),
    ("/studies", "Studies"),
    ("/references", "References"),
    ("/programmes", "Programmes"),
    ("/drafts", "Drafts"),
    ("/catalogue", "Catalogue"),
)


@cache
def environment() -> Environment:
    """The templates of the pages; made once."""
    made = Environment(
        loader=PackageLoader("evidence.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=tell_on_page,
    )
    made.filters["safe_url"] = safe_url
    made.filters["path"] = in_path
    made.filters["told"] = tell_action
    made.globals["address"] = address
    return made


class Asked(dict[str, str]):
    """What an address asks; nothing for what it does not."""

    def __missing__(self, name: str) -> str:
        return ""


def in_path(text: str) -> str:
    """A key as one step of an address, whatever characters it holds."""
    return quote(text, safe="")


def address(path: str, **asked: object) -> str:
    """An address with its questions; those without an answer are left out."""
    given = {name: str(value) for name, value in asked.items() if value not in (None, "")}
    return f"{path}?{urlencode(given)}" if given else path


def here(request: Request) -> str:
    """The address of a page with its questions, to come back to."""
    return request.url.path + (f"?{request.url.query}" if request.url.query else "")


def page_asked(request: Request) -> int:
    """The number of the page that an address asks for, from 1; 1 for anything that is no such number."""
    text = request.query_params.get("page", "1")
    return max(int(text), 1) if text.isascii() and text.isdecimal() and len(text) < 7 else 1


def show(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """A page. `template` extends frame.html, which tells what was just changed and offers to take it back."""
    site = site_of(request)
    text = (
        environment()
        .get_template(template)
        .render(
            request_path=request.url.path,
            asked=Asked(request.query_params),
            sections=SECTIONS,
            who=site.who,
            catalogue_name=site.name,
            invented_notice=site.invented() if status < 400 else "",  # a fault may be the catalogue's own
            done=site.change_told(request.query_params.get("done")),
            running=site.works.running(),
            **values,
        )
    )
    return HTMLResponse(text, status_code=status)


def fragment(template: str, **values: Any) -> Response:
    """A part of a page, put in place without loading the whole."""
    return HTMLResponse(environment().get_template(template).render(**values))


def go(request: Request, path: str, **asked: object) -> Response:
    """After a change: on to a page that says what was done, with a way back. A reload does not send it again."""
    number = site_of(request).newest_change()
    return RedirectResponse(address(path, done=number, **asked), status_code=303)
