"""The addresses of every page, in one list: the order in which they are tried."""

from collections.abc import Sequence

from starlette.routing import BaseRoute

from evidence.web.pages import (
    claims,
    editing,
    judging,
    keeping,
    references,
    start,
    stating,
    studies,
    subjects,
    tables,
    upkeep,
    working,
    writing,
)

PAGES = (
    start,
    stating,
    editing,
    claims,
    studies,
    judging,
    tables,
    references,
    subjects,
    keeping,
    upkeep,
    working,
    writing,
)


def all_routes() -> Sequence[BaseRoute]:
    """The addresses of every page."""
    return [route for module in PAGES for route in module.routes]
