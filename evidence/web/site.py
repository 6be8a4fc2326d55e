"""What every page shares: the open catalogue, its vocabulary, who is acting, what was last changed, what was read."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeVar

from starlette.requests import Request

from evidence.publishing.sources import Made
from evidence.vocabulary import Vocabulary
from evidence.web.works import Later, Works
from evidence.workflows.making import made_from
from evidence.workflows.opening import Catalogue, vocabulary_of
from evidence.workflows.pages.browsing import ChangeLine, newest_state, recent_changes, tell_invented

T = TypeVar("T")
MOST_KEPT = 100  # answers; the largest, a ranking of hundreds of studies, takes about a megabyte


class Answers:
    """Answers kept until the catalogue changes or the day ends; of too many, those longest unused go.

    An answer is kept under what was asked and under the state it was given for (the last change, which another program
    may have made or a backup may have brought back, and the day: what is due depends on it). A new state forgets all.
    """

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._state: Hashable = None
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = Lock()

    def recall(self, state: Hashable, asked: Hashable, make: Callable[[], T]) -> T:
        """The answer to what is asked in this state: the one kept, else what `make` gives."""
        with self._lock:
            if state != self._state:
                self._state = state
                self._kept.clear()
            if asked in self._kept:
                self._kept.move_to_end(asked)
                kept: T = self._kept[asked]
                return kept
        made = make()  # outside the lock: a ranking takes seconds, and other pages need not wait for it
        with self._lock:
            if state == self._state:
                self._kept[asked] = made
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return made

    def holds(self, state: Hashable, asked: Hashable) -> bool:
        """Whether an answer is kept."""
        with self._lock:
            return state == self._state and asked in self._kept


@dataclass(frozen=True, slots=True)
class Site:
    """One run of the page over one catalogue."""

    catalogue: Catalogue
    who: str
    answers: Answers = field(default_factory=Answers, compare=False)
    works: Works = field(default_factory=Works, compare=False)

    @property
    def name(self) -> str:
        """The catalogue as the foot of each page names it."""
        return str(self.catalogue.location)

    def vocabulary(self) -> Vocabulary:
        """The vocabulary as it is now, the user's own names included."""
        return self.recall("vocabulary", lambda: vocabulary_of(self.catalogue))

    def recall(self, asked: Hashable, make: Callable[[], T]) -> T:
        """What was read before, if nothing has changed since; else what `make` reads now."""
        state = (newest_state(self.catalogue), self.catalogue.today())
        return self.answers.recall(state, asked, make)

    def recall_soon(
        self, asked: Hashable, make: Callable[[], T], doing: str, place: str, *, keep: bool = True
    ) -> T:
        """The same for what may take long: raises `Later` while it is worked out, with the page to come back to.

        Without `keep` it is shown once, and worked out anew when it is asked for again.
        """
        state = (newest_state(self.catalogue), self.catalogue.today())
        if keep and self.answers.holds(state, asked):
            return self.recall(asked, make)
        do = (lambda: self.recall(asked, make)) if keep else make
        work = self.works.work_out((state, asked), doing, do, place)
        if not work.finished.is_set():
            raise Later(work)
        if work.problem is not None or not keep:
            self.works.forget(work)
        if work.problem is not None:
            raise work.problem
        found: T = work.result
        return found

    def invented(self) -> str:
        """The notice over every page of a catalogue that holds invented studies; else nothing."""
        return self.recall("invented", lambda: tell_invented(self.catalogue))

    def made(self) -> Made:
        """What a document that goes out now names as the state it was made from."""
        return self.recall("made", lambda: made_from(self.catalogue))

    def newest_change(self) -> int | None:
        """The number of the last change that a person meant, for the page that follows it."""
        return next((c.number for c in self.last_changes() if c.meant), None)

    def change_told(self, number: str | None) -> ChangeLine | None:
        """The change that the address names as just made; None where it is not among the last ones."""
        if number is None or not (number.isascii() and number.isdecimal()) or len(number) > 12:
            return None
        return next((c for c in self.last_changes() if c.number == int(number)), None)

    def last_changes(self) -> tuple[ChangeLine, ...]:
        """The last changes, newest first: enough for the start page, and for what was just done."""
        return self.recall("last changes", lambda: recent_changes(self.catalogue, 20))


def site_of(request: Request) -> Site:
    """The site that a request came to."""
    site = request.app.state.site
    assert isinstance(site, Site)
    return site
