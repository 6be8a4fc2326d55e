"""References: found, brought in from a file or a paste, read, merged or kept apart, and what notices say of them."""

from dataclasses import dataclass
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput, SteelyardError
from evidence.web.actions import Action
from evidence.web.forms import Sent, read_form
from evidence.web.pages.working import answer, finished_here
from evidence.web.rendering import go, in_path, page_asked, show
from evidence.web.sent_files import name_sent, with_file
from evidence.web.site import Site, site_of
from evidence.web.works import Busy, Work
from evidence.workflows.gather.gathering import GatherReport, Tell, gather, gather_folder, list_duplicates
from evidence.workflows.gather.mentions import MentionFound, find_mention
from evidence.workflows.gather.merging import merge_references, set_apart
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.gather.reference_lists import (
    READING_STATES,
    STATES,
    list_notices,
    list_to_mend,
    mark_read,
    settle,
)
from evidence.workflows.gather.searching import find_references
from evidence.workflows.gather.typed_references import (
    KINDS,
    ReferencesError,
    TypedReference,
    from_fields,
    is_plain_citation,
    read_typed,
    store_typed,
)
from evidence.workflows.pages.reference_pages import show_reference_page

PER_PAGE = 40
MOST_PAIRS = 100
FILTERS = ("author", "year", "journal", "topic", "region", "exercise", "state")


def references(request: Request) -> Response:
    """References that fit what is asked, a page of them."""
    asked = request.query_params
    page = page_asked(request)
    found = find_references(
        site_of(request).catalogue,
        asked.get("words", ""),
        **{name: asked.get(name) or None for name in FILTERS},
        most=PER_PAGE,
        start=(page - 1) * PER_PAGE + 1,
    )
    pages = max(1, -(-found.total // PER_PAGE))
    return show(request, "references.html", found=found, page=page, pages=pages, states=STATES)


def reference(request: Request) -> Response:
    """One reference with every field."""
    site, key = site_of(request), request.path_params["key"]
    page = site.recall(("reference", key), lambda: show_reference_page(site.catalogue, key))
    return show(
        request, "reference.html", reference=page.shown, page=page, states=READING_STATES, kinds=KINDS
    )


async def read(request: Request) -> Response:
    """Note how far a reference was read."""
    sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
    if sent.text("state") not in READING_STATES:
        raise BadInput("Say how far it was read.", hint=f"One of: {', '.join(READING_STATES)}.")
    await run_in_threadpool(mark_read, site.catalogue, [key], sent.text("state"), site.who)
    return go(request, f"/references/{request.path_params['key']}")


def add_form(request: Request) -> Response:
    """Where references are brought in."""
    work = finished_here(request)
    return tell_added(request, work) if work else show_adding(request)


async def add(request: Request) -> Response:
    """Bring references in from a file or a paste, and tell what became of each."""
    sent = await read_form(request)
    return await run_in_threadpool(take_references, request, sent)


def take_references(request: Request, sent: Sent) -> Response:
    """Read what was sent; the page shows the report of it. A citation in words is looked up, or shown to be mended."""
    site, text = site_of(request), sent.values.get("text", "")
    if "file" not in sent.files and is_plain_citation(text):
        found = find_mention(site.catalogue, text)
        return show_typing(request, read_typed(text), citation=text, found=found)

    def bring_in(tell: Tell) -> Added:
        def gather_all(path: Path) -> tuple[GatherReport, ...]:
            if path.is_dir():
                return gather_folder(site.catalogue, path, site.who, tell)
            return (gather(site.catalogue, path, site.who, tell),)

        return Added(with_file(sent, "references", gather_all), site.newest_change())

    try:
        work = site.works.begin(
            tell_doing(sent),
            bring_in,
            unit=("record", "records"),
            place="/references/add",
            text=text,
        )
    except Busy as problem:
        return show_adding(request, text=text, problem=problem)
    return answer(request, work, tell_added)


@dataclass(frozen=True, slots=True)
class Added:
    """What became of each file, and the number of the change that they made."""

    reports: tuple[GatherReport, ...]
    changed: int | None


def tell_doing(sent: Sent) -> str:
    """What is being done with what was sent."""
    verb = "are" if len(sent.all_files.get("file", ())) > 1 else "is"
    return f"{name_sent(sent, 'references')} {verb} being brought in"


def tell_added(request: Request, work: Work) -> Response:
    """The report of what was brought in, or why it was not."""
    if isinstance(work.problem, SteelyardError | ReferencesError):
        return show_adding(request, text=work.text, problem=work.problem)
    if work.problem is not None:
        raise work.problem
    added: Added = work.result
    return show_adding(request, reports=added.reports, changed=added.changed)


def show_adding(
    request: Request,
    *,
    reports: tuple[GatherReport, ...] = (),
    changed: int | None = None,
    text: str = "",
    problem: SteelyardError | ReferencesError | None = None,
) -> Response:
    """The page on which references are brought in, with what became of the last ones."""
    status = 422 if problem else 200
    return show(
        request,
        "references_add.html",
        status=status,
        reports=reports,
        text=text,
        problem=problem,
        changed=changed,
    )


def type_form(request: Request) -> Response:
    """Where a reference is typed by hand."""
    return show_typing(request, TypedReference())


async def type_reference(request: Request) -> Response:
    """Store a reference that was typed."""
    return await run_in_threadpool(take_typed, request, await read_form(request))


def take_typed(request: Request, sent: Sent) -> Response:
    """A new one is shown; one that is here already is told with the way to it."""
    site, typed = site_of(request), from_fields(sent.values)
    try:
        report = store_typed(site.catalogue, typed, site.who)
    except SteelyardError as problem:
        return show_typing(request, typed, citation=sent.text("citation"), problem=problem)
    if report.added and not report.likely:
        return go(request, f"/references/{in_path(report.added[0])}", kept=sent.text("kept"))
    return show_adding(request, reports=(report,), changed=site.newest_change())


def show_typing(
    request: Request,
    typed: TypedReference,
    *,
    citation: str = "",
    found: MentionFound | None = None,
    problem: SteelyardError | None = None,
) -> Response:
    """The form for one reference. `found`: what a citation in words means among those that are here."""
    status = 422 if problem else 200
    return show(
        request,
        "reference_type.html",
        status=status,
        typed=typed,
        kinds=KINDS,
        citation=citation,
        found=found,
        problem=problem,
    )


def duplicates(request: Request) -> Response:
    """Pairs that may be the same work."""
    site = site_of(request)
    pairs = site.recall_soon(
        "duplicates",
        lambda: list_duplicates(site.catalogue),
        "References that may be the same work are being looked for",
        "/references/duplicates",
    )
    return show(request, "duplicates.html", pairs=pairs[:MOST_PAIRS], total=len(pairs))


async def decide(request: Request) -> Response:
    """Merge a pair, or keep it apart for good."""
    sent, site = await read_form(request), site_of(request)
    await run_in_threadpool(settle_pair, site, sent)
    return go(request, "/references/duplicates")


def settle_pair(site: Site, sent: Sent) -> None:
    """Carry out what was decided of a pair."""
    a, b, wanted = sent.text("a"), sent.text("b"), sent.text("do")
    if wanted == "keep-a":
        merge_references(site.catalogue, a, b, site.who, force=sent.ticked("force"))
    elif wanted == "keep-b":
        merge_references(site.catalogue, b, a, site.who, force=sent.ticked("force"))
    elif wanted == "apart":
        set_apart(site.catalogue, a, b, site.who)
    else:
        raise BadInput("Say what is to be done with the pair.", hint="Merge them, or keep them apart.")


def notices(request: Request) -> Response:
    """What is known of retractions, concerns and corrections."""
    site, work = site_of(request), finished_here(request)
    if work:
        return tell_applied(request, work)
    known = site.recall("notices", lambda: list_notices(site.catalogue))
    return show(request, "notices.html", known=known, applied=None)


async def send_notices(request: Request) -> Response:
    """Read notices from a file and tell what they touch."""
    return await run_in_threadpool(take_notices, request, await read_form(request))


def take_notices(request: Request, sent: Sent) -> Response:
    """Apply what was sent."""
    site = site_of(request)
    work = site.works.begin(
        f"{name_sent(sent, 'notices')} is being applied",
        lambda tell: with_file(
            sent, "notices", lambda path: apply_notices(site.catalogue, path, site.who, tell)
        ),
        unit=("notice", "notices"),
        place="/references/notices",
    )
    return answer(request, work, tell_applied)


def tell_applied(request: Request, work: Work) -> Response:
    """What a file of notices changed. Raises what went wrong with it."""
    if work.problem is not None:
        raise work.problem
    known = list_notices(site_of(request).catalogue)
    return show(request, "notices.html", known=known, applied=work.result)


def to_mend(request: Request) -> Response:
    """Entries of files that could not be read."""
    return show(request, "to_mend.html", entries=list_to_mend(site_of(request).catalogue))


async def settled(request: Request) -> Response:
    """Take an entry off the list of those to be mended."""
    site = site_of(request)
    await run_in_threadpool(settle, site.catalogue, request.path_params["number"], site.who)
    return go(request, "/references/to-mend")


routes = [
    Route("/references", references),
    Route("/references/add", add_form),
    Route("/references/add", add, methods=["POST"]),
    Route("/references/type", type_form),
    Route("/references/type", type_reference, methods=["POST"]),
    Route("/references/duplicates", duplicates),
    Route("/references/duplicates", decide, methods=["POST"]),
    Route("/references/notices", notices),
    Route("/references/notices", send_notices, methods=["POST"]),
    Route("/references/to-mend", to_mend),
    Action("/references/to-mend/{number:int}", settled, methods=["POST"]),
    Action("/references/{key:path}/read", read, methods=["POST"]),
    # Last: a key may hold slashes (that of a bare DOI does).
    Route("/references/{key:path}", reference),
]
