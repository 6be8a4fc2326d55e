"""A study judged: its risk of bias, prompt by prompt, and its figures held against the paper by a second person."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import fragment, go, show
from evidence.web.site import Site, site_of
from evidence.workflows.judge.judging import AS_PROPOSED, Choice, judge_study, settle_study
from evidence.workflows.pages.bias_pages import BiasPage, show_bias
from evidence.workflows.relevance.verifying import verify_results, withdraw_verification

ANSWER, CHOSEN, REASON = "answer:", "chosen:", "because:"


def bias(request: Request) -> Response:
    """The prompts for a study, with what is answered and judged so far."""
    site, tool = site_of(request), request.query_params.get("tool") or None
    return show_judging(request, show_bias(site.catalogue, request.path_params["key"], site.who, tool))


async def send_bias(request: Request) -> Response:
    """Show what the answers propose, or store them."""
    return await run_in_threadpool(take_bias, request, await read_form(request))


def take_bias(request: Request, sent: Sent) -> Response:
    """What becomes of answers that were sent."""
    site, key = site_of(request), request.path_params["key"]
    tool, answers, choices = sent.given("tool"), answers_of(sent), choices_of(sent)
    problem: SteelyardError | None = None
    live = request.headers.get("hx-request") == "true"
    if sent.text("do") == "store" and not live:
        try:
            judge_study(site.catalogue, key, site.who, answers, choices, tool)
            return go(request, f"/studies/{key}/bias", kept=sent.text("kept"))
        except SteelyardError as fault:
            problem = fault
    made = [c for c in choices if c.judgement != AS_PROPOSED]
    try:
        page = show_bias(site.catalogue, key, site.who, tool, answers, made)
    except SteelyardError as fault:  # a choice without its reason: the answers alone can be shown
        problem = problem or fault
        page = show_bias(site.catalogue, key, site.who, tool, known_answers(site, key, tool, answers), ())
    if live:
        return fragment("bias_proposed.html", page=page, problem=problem)
    return show_judging(request, page, sent, problem)


def known_answers(site: Site, key: str, tool: str | None, answers: dict[str, str]) -> dict[str, str]:
    """Of the answers sent, those that are any of the answers allowed."""
    asked = show_bias(site.catalogue, key, site.who, tool).asked
    allowed = {p.key: {option for option, _ in p.options} for p in asked.prompts}
    return {name: value for name, value in answers.items() if value in allowed.get(name, ())}


def answers_of(sent: Sent) -> dict[str, str]:
    """What was answered, by the key of the prompt."""
    return {
        n.removeprefix(ANSWER): v.strip()
        for n, v in sent.values.items()
        if n.startswith(ANSWER) and v.strip()
    }


def choices_of(sent: Sent) -> tuple[Choice, ...]:
    """What was chosen over the proposals; where nothing is chosen, an earlier choice is taken back."""
    return tuple(
        Choice(name.removeprefix(CHOSEN), value.strip() or AS_PROPOSED, sent.text(REASON + name.removeprefix(CHOSEN)))
        for name, value in sent.values.items()
        if name.startswith(CHOSEN)
    )  # fmt: skip


def show_judging(
    request: Request, page: BiasPage, sent: Sent | None = None, problem: SteelyardError | None = None
) -> Response:
    """The page of prompts. `sent`: what was typed and is not stored."""
    typed = sent.values if sent is not None else {}
    return show(
        request,
        "bias.html",
        status=422 if problem else 200,
        key=page.asked.study,
        page=page,
        typed=typed,
        problem=problem,
    )


async def settle(request: Request) -> Response:
    """Settle a domain on which people differ."""
    sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
    await run_in_threadpool(
        settle_study,
        site.catalogue,
        key,
        sent.text("domain"),
        sent.text("judgement"),
        sent.text("because"),
        site.who,
    )
    return go(request, f"/studies/{key}/bias", kept=sent.text("kept"))


async def verify(request: Request) -> Response:
    """Note that a person held figures against the paper, or take that back."""
    sent, key = await read_form(request), request.path_params["key"]
    await run_in_threadpool(take_verified, site_of(request), key, sent)
    return go(request, f"/studies/{key}", kept=sent.text("kept"))


def take_verified(site: Site, key: str, sent: Sent) -> None:
    """Carry out what was said of the figures that were ticked, or of all."""
    wanted, chosen, person = sent.text("do"), sent.several("result"), sent.text("person") or site.who
    if wanted == "withdraw":
        withdraw_verification(site.catalogue, key, person, chosen)
    else:
        verify_results(
            site.catalogue, key, person, chosen, every=wanted == "all", same_person=sent.ticked("same")
        )


routes = [
    Route("/studies/{key}/bias", bias),
    Route("/studies/{key}/bias", send_bias, methods=["POST"]),
    Route("/studies/{key}/bias/settle", settle, methods=["POST"]),
    Route("/studies/{key}/verify", verify, methods=["POST"]),
]
