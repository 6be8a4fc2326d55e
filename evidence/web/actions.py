"""Addresses that only carry something out."""

from starlette.routing import Match, Route
from starlette.types import Scope


class Action(Route):
    """An address that takes a change and shows nothing.

    Opening it is refused (405) even where a later address, one that takes any path, would fit it as well.
    """

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Fits whatever the method is; the route then answers to a wrong one."""
        match, found = super().matches(scope)
        return (Match.FULL if match is Match.PARTIAL else match), found
