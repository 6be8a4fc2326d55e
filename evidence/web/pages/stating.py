"""A claim stated in words: read as you pause, shown part by part, answered, stored and weighed at once."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import fragment, go, show
from evidence.web.site import Site, site_of
from evidence.workflows.claims.claiming import Statement
from evidence.workflows.claims.proposals import Proposed, propose, tell_value, tell_words
from evidence.workflows.claims.terms import Terms
from evidence.workflows.pages.subject_pages import known_outcomes
from evidence.workflows.weigh.weighing import weigh_and_keep

DIRECTIONS = ("more", "less", "same", "differs")


def new_claim(request: Request) -> Response:
    """Where a claim is written."""
    return show_sentence(request, site_of(request), Sent({}, {}), None)


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
                tell_value(part, proposed, vocabulary),
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


routes = [Route("/claims/new", new_claim), Route("/claims/new", send_claim, methods=["POST"])]
