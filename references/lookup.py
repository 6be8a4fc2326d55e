"""Look up records by identifier over the network: DOI content negotiation. Never done unless a person asks for it.

A DOI is asked for as CSL-JSON at the resolver (`Accept: application/vnd.citationstyles.csl+json`), with a contact
address in the User-Agent, at most one question a second, answers kept in a folder. A PMID is no DOI: the resolver knows
nothing of it, so it is refused with what to do. Source: DOI Handbook, content negotiation (from memory).
"""

import hashlib
import json
import random
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from references.errors import ReferencesError
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.reading import read_bytes
from references.record import Record

if TYPE_CHECKING:
    import httpx

RESOLVER = "https://doi.org/"
ACCEPT = "application/vnd.citationstyles.csl+json"
LARGEST = 2_000_000  # bytes of one answer
_RETRIED = frozenset({429, 500, 502, 503, 504})


class LookupProblem(ReferencesError):
    """The network part is not installed, or no contact address is set."""


@dataclass(frozen=True, slots=True)
class LookupSettings:
    """How to ask. `contact`: an e-mail address, by which the service can reach who asks; `cache`: folder of answers."""

    contact: str
    cache: Path | None = None
    resolver: str = RESOLVER
    seconds: float = 20.0  # for one answer
    tries: int = 4
    pause: float = 1.0  # seconds between questions
    longest_wait: float = 60.0  # seconds that a service may ask to wait


@dataclass(frozen=True, slots=True)
class LookedUp:
    """What became of one identifier: a record, or the reason why there is none."""

    identifier: str
    record: Record | None = None
    from_cache: bool = False
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """An identifier as it would be asked for; `reason` where it cannot be."""

    identifier: str
    doi: str | None
    address: str = ""
    reason: str = ""


def plan_lookups(identifiers: Iterable[str], resolver: str = RESOLVER) -> tuple[Question, ...]:
    """What would be asked, each work once; nothing is sent."""
    planned: dict[str, Question] = {}
    for text in identifiers:
        doi = normalise_doi(text)
        if doi:
            planned.setdefault(doi, Question(text, doi, resolver + quote(doi, safe="/:;().-_<>")))
        elif normalise_pmid(text) or normalise_pmcid(text):
            reason = "a PMID cannot be asked for here: save the record from PubMed as .nbib or .xml and add that file"
            planned.setdefault(text, Question(text, None, reason=reason))
        else:
            planned.setdefault(text, Question(text, None, reason="it is no DOI"))
    return tuple(planned.values())


@dataclass(slots=True)
class Resolver:
    """Asks for records, one after the other. `client`, `sleep` and `clock` are given so that tests need no network."""

    settings: LookupSettings
    client: "httpx.Client"
    sleep: Callable[[float], None] = time.sleep
    clock: Callable[[], float] = time.monotonic
    chance: random.Random = field(default_factory=random.Random)
    _asked_at: float | None = None

    def look_up(self, identifiers: Iterable[str]) -> Iterator[LookedUp]:
        """The answer for each identifier, as it comes. A failure is an answer too, and stops nothing."""
        for question in plan_lookups(identifiers, self.settings.resolver):
            if question.doi is None:
                yield LookedUp(question.identifier, reason=question.reason)
                continue
            kept = self._read_kept(question.doi)
            if kept is not None:
                yield read_answer(question, kept, from_cache=True)
                continue
            content, reason = self._ask(question)
            if content is None:
                yield LookedUp(question.identifier, reason=reason)
                continue
            answer = read_answer(question, content)
            if answer.record is not None:
                self._keep(question.doi, content)
            yield answer

    def _ask(self, question: Question) -> tuple[bytes | None, str]:
        import httpx

        headers = {"Accept": ACCEPT, "User-Agent": f"Steelyard (mailto:{self.settings.contact})"}
        reason = ""
        for attempt in range(self.settings.tries):
            self._wait_turn()
            wait = 2.0**attempt * (
                0.5 + self.chance.random()
            )  # twice as long each time, never in step with others
            try:
                with self.client.stream("GET", question.address, headers=headers) as response:
                    status = response.status_code
                    if status == httpx.codes.OK:
                        return _read_limited(response)
                    if status == httpx.codes.NOT_FOUND:
                        return None, "no such DOI is registered"
                    if status == httpx.codes.NOT_ACCEPTABLE:
                        return None, "the agency of this DOI gives no CSL-JSON"
                    if status not in _RETRIED:
                        return None, f"the service answered {status}"
                    reason = f"the service answered {status}, {self.settings.tries} times"
                    wait = max(wait, _asked_wait(response.headers.get("Retry-After")))
            except httpx.TimeoutException:
                reason = f"no answer within {self.settings.seconds:g} seconds, {self.settings.tries} times"
            except httpx.TooManyRedirects:
                return None, "the service sent it round in a circle"
            except httpx.HTTPError as error:
                reason = f"the service cannot be reached: {error}"
            if wait > self.settings.longest_wait:
                return None, f"the service asks to wait {wait:.0f} seconds: try later"
            if attempt + 1 < self.settings.tries:
                self.sleep(wait)
        return None, reason

    def _wait_turn(self) -> None:
        """At most one question a second (or as set)."""
        if self._asked_at is not None:
            left = self._asked_at + self.settings.pause - self.clock()
            if left > 0:
                self.sleep(left)
        self._asked_at = self.clock()

    def _place(self, doi: str) -> Path | None:
        folder = self.settings.cache
        return folder / f"{hashlib.sha256(doi.encode()).hexdigest()}.json" if folder else None

    def _read_kept(self, doi: str) -> bytes | None:
        place = self._place(doi)
        try:
            return place.read_bytes() if place else None
        except OSError:
            return None

    def _keep(self, doi: str, content: bytes) -> None:
        place = self._place(doi)
        if place is None:
            return
        place.parent.mkdir(parents=True, exist_ok=True)
        unfinished = place.with_suffix(".part")
        unfinished.write_bytes(content)
        unfinished.replace(place)


def open_client(settings: LookupSettings) -> "httpx.Client":
    """A client with the time-outs of the settings. Raises LookupProblem where httpx is missing or no contact is set."""
    if "@" not in settings.contact:
        raise LookupProblem(
            "services ask for a contact address of whoever looks things up.",
            hint="Set one: steelyard refs look-up --contact you@example.org (it is remembered).",
        )
    try:
        import httpx
    except ImportError:
        raise LookupProblem(
            "looking things up needs httpx, which is not installed.",
            hint='Run `pip install "steelyard[online]"`.',
        ) from None
    return httpx.Client(timeout=settings.seconds, follow_redirects=True, max_redirects=8)


def read_answer(question: Question, content: bytes, *, from_cache: bool = False) -> LookedUp:
    """The record in an answer. What is another work's record, or none, is told and never taken."""
    try:
        item: Any = json.loads(content)
    except (ValueError, RecursionError):
        return LookedUp(question.identifier, reason="the answer is no CSL-JSON", from_cache=from_cache)
    if not isinstance(item, dict):
        return LookedUp(question.identifier, reason="the answer is no record", from_cache=from_cache)
    item.pop("id", None)  # services put the DOI there; a key is made from name and year
    text = json.dumps({name: item[name] for name in sorted(item)}, ensure_ascii=False).encode()
    try:
        report = read_bytes(text, name=question.identifier)
    except ReferencesError as error:
        return LookedUp(question.identifier, reason=error.message, from_cache=from_cache)
    if len(report.records) != 1:
        return LookedUp(question.identifier, reason="the answer holds no record", from_cache=from_cache)
    record = report.records[0]
    if record.doi and record.doi != question.doi:
        return LookedUp(
            question.identifier, reason=f"the answer is about {record.doi}", from_cache=from_cache
        )
    return LookedUp(question.identifier, replace(record, doi=question.doi), from_cache)


def _read_limited(response: "httpx.Response") -> tuple[bytes | None, str]:
    content = bytearray()
    for piece in response.iter_bytes():
        content += piece
        if len(content) > LARGEST:
            return None, "the answer is too large for a record"
    return bytes(content), ""


def _asked_wait(text: str | None) -> float:
    """The seconds of a Retry-After header; a date is taken as half a minute."""
    if not text:
        return 0.0
    try:
        return max(0.0, float(text))
    except ValueError:
        return 30.0
