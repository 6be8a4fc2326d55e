"""What every page shares: the open catalogue, its vocabulary, who is acting, and what was last changed."""

from dataclasses import dataclass

from starlette.requests import Request

from evidence.vocabulary import Vocabulary
from evidence.workflows.browsing import ChangeLine, recent_changes
from evidence.workflows.opening import Catalogue, vocabulary_of


@dataclass(frozen=True, slots=True)
class Site:
    """One run of the page over one catalogue."""

    catalogue: Catalogue
    who: str

    @property
    def name(self) -> str:
        """The catalogue as the foot of each page names it."""
        return str(self.catalogue.location)

    def vocabulary(self) -> Vocabulary:
        """The vocabulary as it is now, the user's own names included."""
        return vocabulary_of(self.catalogue)

    def newest_change(self) -> int | None:
        """The number of the last change that a person meant, for the page that follows it."""
        return next((c.number for c in recent_changes(self.catalogue, 5) if c.meant), None)

    def change_told(self, number: str | None) -> ChangeLine | None:
        """The change that the address names as just made; None where it is not among the last ones."""
        if number is None or not number.isdecimal():
            return None
        return next((c for c in recent_changes(self.catalogue, 5) if c.number == int(number)), None)


def site_of(request: Request) -> Site:
    """The site that a request came to."""
    site = request.app.state.site
    assert isinstance(site, Site)
    return site
