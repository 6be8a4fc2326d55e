"""Claims stated: one in words, read as you pause, answered, stored and weighed at once; many from a file."""

from dataclasses import dataclass
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.web.forms import Sent, read_form
from evidence.web.page_words import text_in_page_words
from evidence.web.pages.working import answer, finished_here
from evidence.web.rendering import fragment, go, show
from evidence.web.sent_files import name_sent, with_file
from evidence.web.site import Site, site_of
from evidence.web.works import Busy, Work
from evidence.workflows.claims.claim_files import Loaded, foresee_list, load_list, read_list, read_text
from evidence.workflows.claims.claiming import Statement
from evidence.workflows.claims.proposals import Proposed, propose, tell_value, tell_words
from evidence.workflows.claims.terms import Terms
from evidence.workflows.gather.gathering import Tell
from evidence.workflows.pages.subject_pages import known_outcomes
from evidence.workflows.weigh.weighing import weigh_and_keep

DIRECTIONS = ("more", "less", "same", "differs")


def new_claim(request: Request) -> Response:
    """Where a claim is written; a sentence that the address brings along is read already."""
    sentence = request.query_params.get("sentence", "").strip()
    return take_claim(request, Sent({"sentence": sentence} if sentence else {}, {}))


async def send_claim(request: Request) -> Response:
    """Read the sentence and show it; store and weigh it where that was asked and nothing is open."""
    return await run_in_threadpool(take_claim, request, await read_form(request))


def take_claim(request: Request, sent: Sent) -> Response:
    """What becomes of a sentence that was sent."""
    site = site_of(request)
    live = request.headers.get("hx-request") == "true"
    problem: SteelyardError | None = None
    proposed: Proposed | None = None
    try:
        if sent.text("sentence"):
            proposed = read_sentence(site, sent, store=False)
        if proposed is not None and sent.text("do") == "store" and not live:
            stored = read_sentence(site, sent, store=True).stated
            assert stored is not None
            weigh_and_keep(site.catalogue, stored.key, site.who)
            return go(request, f"/claims/{stored.key}", kept=sent.text("kept"))
    except SteelyardError as fault:
        problem = fault
    if live:
        return fragment("claim_read.html", **seen(site, sent, proposed, problem))
    return show_sentence(request, site, sent, proposed, problem)


def read_sentence(site: Site, sent: Sent, *, store: bool) -> Proposed:
    """The sentence with the answers given so far."""
    answers = Statement(
        exercise=sent.given("exercise"),
        comparator=sent.given("comparator"),
        outcome=sent.given("outcome"),
        region=sent.given("region"),
        key=sent.given("key"),
        training_status=sent.given("status"),
        margin=figure(sent.text("margin")),
        surrogate=sent.given("surrogate"),
        note=sent.given("note"),
        falsifier=sent.given("falsifier"),
        terms=Terms(
            weeks=sent.given("weeks"),
            detail=sent.given("detail"),
            level=figure(sent.text("level")),
            other=sent.given("other"),
        ),
    )
    says = sent.given("direction")
    return propose(site.catalogue, sent.text("sentence"), answers, site.who, says=says, store=store)


def figure(text: str) -> float | None:
    """A number that was typed; None for anything else, which is then still asked."""
    try:
        return float(text.replace(",", ".")) if text else None
    except ValueError:
        return None


def seen(
    site: Site, sent: Sent, proposed: Proposed | None, problem: SteelyardError | None
) -> dict[str, object]:
    """What the page shows of a sentence that was read."""
    vocabulary = site.vocabulary()
    parts = []
    if proposed is not None:
        asked = {part.name for part in proposed.open}
        parts = [
            (
                part.name,
                tell_value(part, proposed, vocabulary, ids=False),
                tell_words(part).lstrip(", "),
                part.state == "unsure",
            )
            for part in proposed.proposal
            if part.name not in asked
        ]
    outcomes = known_outcomes(site.catalogue, region_of(proposed)) if proposed is not None else ()
    return {
        "outcomes": outcomes,
        "proposed": proposed,
        "parts": parts,
        "problem": problem,
        "sent": sent,
        "directions": DIRECTIONS,
    }


def region_of(proposed: Proposed) -> str | None:
    """The region that a sentence was read to be about, or that was answered."""
    return proposed.statement.region


def show_sentence(
    request: Request, site: Site, sent: Sent, proposed: Proposed | None, problem: SteelyardError | None = None
) -> Response:
    """The page on which a claim is written."""
    status = 422 if problem else 200
    return show(
        request,
        "claim_new.html",
        status=status,
        vocabulary=site.vocabulary(),
        **seen(site, sent, proposed, problem),
    )


@dataclass(frozen=True, slots=True)
class ListTaken:
    """What came of a list of claims, or would come of it while nothing is stored, and the text it was read from."""

    loaded: Loaded
    text: str
    stored: bool

    @property
    def refused(self) -> tuple[str, ...]:
        """Why claims were not stored, in the words of the page."""
        return tuple(text_in_page_words(reason) for reason in self.loaded.refused)


def list_form(request: Request) -> Response:
    """Where a file of claims is sent."""
    work = finished_here(request)
    return tell_list(request, work) if work else show_list(request)


async def send_list(request: Request) -> Response:
    """Look at a list of claims, or state all of it."""
    return await run_in_threadpool(take_list, request, await read_form(request))


def take_list(request: Request, sent: Sent) -> Response:
    """What becomes of a list that was sent: shown first, stored when that is asked."""
    site, text, store = site_of(request), sent.values.get("text", ""), sent.text("do") == "store"

    def take(tell: Tell) -> ListTaken:
        def read(path: Path) -> ListTaken:
            document, kept = read_list(path, path.name), read_text(path)
            if store:
                return ListTaken(load_list(site.catalogue, document, site.who, tell), "", True)
            return ListTaken(foresee_list(site.catalogue, document, tell), kept, False)

        return with_file(sent, "claims", read)

    doing = f"The claims of {name_sent(sent, 'claims')} are being {'stated' if store else 'read'}"
    try:
        work = site.works.begin(doing, take, unit=("claim", "claims"), place="/claims/add", text=text)
    except Busy as problem:
        return show_list(request, text=text, problem=problem)
    return answer(request, work, tell_list)


def tell_list(request: Request, work: Work) -> Response:
    """What came of a list, or why it cannot be read."""
    if isinstance(work.problem, SteelyardError):
        return show_list(request, text=work.text, problem=work.problem)
    if work.problem is not None:
        raise work.problem
    taken: ListTaken = work.result
    return show_list(request, taken=taken, text=taken.text)


def show_list(
    request: Request,
    *,
    taken: ListTaken | None = None,
    text: str = "",
    problem: SteelyardError | None = None,
) -> Response:
    """The page on which a file of claims is sent, with what came of the last one."""
    status = 422 if problem else 200
    return show(request, "claims_add.html", status=status, taken=taken, text=text, problem=problem)


routes = [
    Route("/claims/new", new_claim),
    Route("/claims/new", send_claim, methods=["POST"]),
    Route("/claims/add", list_form),
    Route("/claims/add", send_list, methods=["POST"]),
]
