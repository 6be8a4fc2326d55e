"""Drafts and programmes: kept, edited, held against the catalogue, set for printing and sending."""

from collections.abc import Callable

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput, SteelyardError
from evidence.publishing.document_html import write_fragment
from evidence.publishing.formats import Wanted
from evidence.publishing.programme_pages import programme_document
from evidence.web.downloads import MEDIA, handed
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import go, show
from evidence.web.site import Site, site_of
from evidence.workflows.opening import Catalogue
from evidence.workflows.pages.writing_desk import (
    ChangedMeanwhile,
    DraftPage,
    accept_finding,
    add_draft,
    add_programme,
    all_drafts,
    all_programmes,
    make_tie,
    open_draft,
    open_programme,
    save_draft,
    save_programme,
    set_article,
    set_programme,
    take_wording,
)

DRAFT_FORMATS = (
    ("markdown", "Markdown"),
    ("text", "plain text"),
    ("webvtt", "WebVTT captions"),
    ("srt", "SubRip captions"),
)
PROGRAMME_FORMATS = (
    ("text", "lines or a table, as written"),
    ("yaml", "YAML"),
    ("csv", "CSV"),
    ("markdown", "Markdown"),
)
NAME_WORDS = 6  # of a text that is brought in without a name
BY_ENDING = {"md": "markdown", "markdown": "markdown", "txt": "text", "vtt": "webvtt", "srt": "srt", "docx": "docx",
             "yaml": "yaml", "yml": "yaml", "csv": "csv", "tsv": "csv"}  # fmt: skip
ARTICLE_FORMATS = ("html", "pdf", "docx", "md", "txt")
PROGRAMME_OUT = ("pdf", "docx", "html", "md", "txt", "xlsx", "csv")


def drafts(request: Request) -> Response:
    """Every draft, and where one is brought in."""
    return show_desk(request, "drafts", Sent({}, {}))


def programmes(request: Request) -> Response:
    """Every programme, and where one is brought in."""
    return show_desk(request, "programmes", Sent({}, {}))


def show_desk(request: Request, kind: str, sent: Sent, problem: SteelyardError | None = None) -> Response:
    """The list of texts of a kind, with the form for a new one."""
    catalogue = site_of(request).catalogue
    lines = all_drafts(catalogue) if kind == "drafts" else all_programmes(catalogue)
    formats = DRAFT_FORMATS if kind == "drafts" else PROGRAMME_FORMATS
    return show(
        request,
        f"{kind}.html",
        status=422 if problem else 200,
        lines=lines,
        formats=formats,
        sent=sent,
        problem=problem,
    )


async def send_draft(request: Request) -> Response:
    """A draft that was pasted or sent as a file."""
    return await run_in_threadpool(bring_in, request, await read_form(request), "drafts")


async def send_programme(request: Request) -> Response:
    """A programme that was pasted or sent as a file."""
    return await run_in_threadpool(bring_in, request, await read_form(request), "programmes")


def bring_in(request: Request, sent: Sent, kind: str) -> Response:
    """Store what was sent and show it."""
    site, file = site_of(request), sent.files.get("file")
    own = name_of_text(sent.values.get("text", ""))
    name = sent.text("name") or (file.name.rsplit(".", 1)[0] if file else own)
    data = file.data if file else sent.values.get("text", "").encode("utf-8", "surrogatepass")
    ending = file.name.rsplit(".", 1)[-1].casefold() if file else ""
    form = BY_ENDING.get(ending) or sent.text("format") or "text"
    try:
        if not name:
            raise BadInput("There is no text.", hint="Paste it, or choose a file.")
        if kind == "drafts":
            key = add_draft(site.catalogue, name, data, form, site.who, sent.text("audience"))
        else:
            key = add_programme(site.catalogue, name, data, form, site.who)
    except SteelyardError as problem:
        return show_desk(request, kind, sent, problem)
    return go(request, f"/{kind}/{key}", kept=sent.text("kept"))


def name_of_text(text: str) -> str:
    """A name for a pasted text: its title where it says one, else the first words of its first line."""
    lines = [line.strip() for line in text.splitlines() if line.strip(" -#\t")]
    titles = [line.split(":", 1)[1] for line in lines[:10] if line.casefold().startswith("title:")]
    first = (titles or lines or [""])[0].strip(" #\"'")
    plain = "".join(c if c.isalnum() else " " for c in first.removeprefix("[Invented]"))
    return " ".join(plain.casefold().split()[:NAME_WORDS])


def draft(request: Request) -> Response:
    """A draft with what was found in it beside the text."""
    return show_draft(request)


def show_draft(request: Request, text: str | None = None, problem: SteelyardError | None = None) -> Response:
    """A draft; `text`: what was typed and could not be stored."""
    page = seen_draft(site_of(request), request.path_params["key"])
    theirs = problem.stored if isinstance(problem, ChangedMeanwhile) else None
    return show(
        request, "draft.html", status=409 if theirs is not None else 422 if problem else 200, page=page,
        text=page.text if text is None else text, problem=problem, theirs=theirs, formats=ARTICLE_FORMATS,
    )  # fmt: skip


def seen_draft(site: Site, key: str) -> DraftPage:
    """A draft as it was read last: what is done about a finding need not read all of it again."""
    return site.recall(("draft", key), lambda: open_draft(site.catalogue, key))


def edited(
    kind: str,
    save: Callable[[Catalogue, str, str, str, str], None],
    show_again: Callable[[Request, str, SteelyardError], Response],
) -> Callable[[Request], object]:
    """The text of a draft or programme as it was edited; shown again with what is wrong where it cannot be stored."""

    async def edit(request: Request) -> Response:
        sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
        text = sent.values.get("text", "")
        try:
            await run_in_threadpool(save, site.catalogue, key, text, sent.text("seen"), site.who)
        except SteelyardError as problem:
            return await run_in_threadpool(show_again, request, text, problem)
        return go(request, f"/{kind}/{key}", kept=sent.text("kept"))

    return edit


def about_finding(work: Callable[[Site, str, int, Sent], None]) -> Callable[[Request], object]:
    """Something done about one finding or tie of a draft."""

    async def done(request: Request) -> Response:
        sent, key = await read_form(request), request.path_params["key"]
        await run_in_threadpool(work, site_of(request), key, request.path_params["number"], sent)
        return go(request, f"/drafts/{key}")

    return done


def accept(site: Site, key: str, number: int, sent: Sent) -> None:
    """A finding accepted, with the reason."""
    accept_finding(site.catalogue, seen_draft(site, key), number, sent.text("because"), site.who)


def take(site: Site, key: str, number: int, sent: Sent) -> None:
    """The wording of a finding written into the draft."""
    take_wording(site.catalogue, seen_draft(site, key), number, site.who)


def tie(site: Site, key: str, number: int, sent: Sent) -> None:
    """A tie that was proposed, made."""
    make_tie(site.catalogue, seen_draft(site, key), number, site.who)


async def publish(request: Request) -> Response:
    """The draft as an article, in the format that was chosen."""
    sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
    form = sent.text("format")
    if form not in ARTICLE_FORMATS:
        raise BadInput("Choose a format.", hint=f"There are: {', '.join(ARTICLE_FORMATS)}.")
    data, _ = await run_in_threadpool(set_article, site.catalogue, key, form, "plain", site.who)
    return handed(data, MEDIA[form], f"{key}.{form}")


def programme(request: Request) -> Response:
    """A programme with the evidence beside each pick."""
    return show_programme(request)


def show_programme(
    request: Request, text: str | None = None, problem: SteelyardError | None = None
) -> Response:
    """A programme; `text`: what was typed and could not be stored."""
    page = open_programme(site_of(request).catalogue, request.path_params["key"])
    theirs = problem.stored if isinstance(problem, ChangedMeanwhile) else None
    return show(
        request, "programme.html", status=409 if theirs is not None else 422 if problem else 200, page=page,
        text=page.text if text is None else text, problem=problem, theirs=theirs, formats=PROGRAMME_OUT,
        body=Markup(write_fragment(programme_document(page.annotated))),
    )  # fmt: skip


async def print_programme(request: Request) -> Response:
    """The programme for the client, in the format and on the paper that were chosen."""
    sent, site, key = await read_form(request), site_of(request), request.path_params["key"]
    form = sent.text("format")
    if form not in PROGRAMME_OUT:
        raise BadInput("Choose a format.", hint=f"There are: {', '.join(PROGRAMME_OUT)}.")
    wanted = Wanted(form, "letter" if sent.text("paper") == "letter" else "a4")
    sheet = sent.ticked("sheet")
    data = await run_in_threadpool(set_programme, site.catalogue, key, wanted, site.who, sheet=sheet)
    return handed(data, MEDIA[form], f"{key}.{form}")


routes = [
    Route("/drafts", drafts),
    Route("/drafts", send_draft, methods=["POST"]),
    Route("/drafts/{key}", draft),
    Route("/drafts/{key}", edited("drafts", save_draft, show_draft), methods=["POST"]),
    Route("/drafts/{key}/accept/{number:int}", about_finding(accept), methods=["POST"]),
    Route("/drafts/{key}/take/{number:int}", about_finding(take), methods=["POST"]),
    Route("/drafts/{key}/tie/{number:int}", about_finding(tie), methods=["POST"]),
    Route("/drafts/{key}/publish", publish, methods=["POST"]),
    Route("/programmes", programmes),
    Route("/programmes", send_programme, methods=["POST"]),
    Route("/programmes/{key}", programme),
    Route("/programmes/{key}", edited("programmes", save_programme, show_programme), methods=["POST"]),
    Route("/programmes/{key}/print", print_programme, methods=["POST"]),
]
