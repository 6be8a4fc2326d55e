"""A table out of a paper: pasted or sent as a file, seen understood, mended in place, stored."""

from collections import Counter
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from evidence.errors import BadInput, SteelyardError
from evidence.web.forms import Sent, read_form
from evidence.web.rendering import fragment, go, show
from evidence.web.site import Site, site_of
from evidence.workflows.extract.pasting import (
    MappedCell,
    TableAnswers,
    Understood,
    store_table,
    understand_table,
)
from evidence.workflows.pages.table_views import Grid, TableChoices, choices_for, grid_of

ANSWER, MEANS, TYPED = "answer:", "means:", "typed:"


@dataclass(frozen=True, slots=True)
class Looked:
    """What a page shows of a table that was read."""

    understood: Understood | None = None
    grid: Grid | None = None
    problem: SteelyardError | None = None

    @property
    def unsure(self) -> tuple[MappedCell, ...]:
        """The cells that a person must look at."""
        return tuple(m for m in self.understood.cells if not m.sure) if self.understood else ()

    @property
    def open_themselves(self) -> tuple[MappedCell, ...]:
        """Those of them that can be read in several ways: each has to be answered by itself."""
        return tuple(m for m in self.unsure if m.cell.doubts)

    @property
    def open_for_all(self) -> tuple[tuple[str, int], ...]:
        """What is answered once, above the table or at a label: what it is, and how many cells wait for it."""
        waiting = Counter(text for m in self.unsure for text in m.doubts if text not in own_doubts(m))
        return tuple(waiting.items())


def own_doubts(mapped: MappedCell) -> list[str]:
    """What is in doubt of one cell by itself."""
    return [doubt.text for doubt in mapped.cell.doubts]


def table_form(request: Request) -> Response:
    """Where a table is pasted."""
    site, key = site_of(request), request.path_params["key"]
    return show_table(request, site, key, Sent({}, {}), Looked())


async def send_table(request: Request) -> Response:
    """Read what was pasted and show it; store it where that was asked and nothing is in doubt."""
    return await run_in_threadpool(take_table, request, await read_form(request))


def take_table(request: Request, sent: Sent) -> Response:
    """What becomes of a table that was sent."""
    site, key = site_of(request), request.path_params["key"]
    choices = choices_for(site.catalogue, key)
    sent = with_typed(sent, choices)
    live = request.headers.get("hx-request") == "true"
    looked = Looked() if live and is_empty(sent) else look(site, key, sent)
    wanted = sent.text("do")
    if looked.understood is not None and looked.problem is None and wanted in ("store", "store-sure"):
        try:
            store_table(site.catalogue, looked.understood, site.who, leave_doubts=wanted == "store-sure")
            return go(request, f"/studies/{key}", kept=sent.text("kept"))
        except SteelyardError as problem:
            looked = Looked(looked.understood, looked.grid, problem)
    if live:
        return fragment("table_seen.html", looked=looked, sent=sent, choices=choices)
    return show_table(request, site, key, sent, looked, status=422 if looked.problem else 200)


def is_empty(sent: Sent) -> bool:
    """Whether no table was sent yet."""
    return "file" not in sent.files and not sent.text("table")


def with_typed(sent: Sent, choices: TableChoices) -> Sent:
    """What was sent, a typed name of a choice standing for that choice; one that is none stays to be told."""
    values = dict(sent.values)
    for name, text in sent.values.items():
        meant = choices.meant(text) if name.startswith(TYPED) and text.strip() else None
        if meant is not None:
            values[MEANS + name.removeprefix(TYPED)] = meant
    return Sent(values, sent.lists, sent.files)


def look(site: Site, key: str, sent: Sent) -> Looked:
    """The table as understood, with what was answered so far."""
    file = sent.files.get("file")
    source = file.data if file else sent.values.get("table", "").encode("utf-8", "surrogatepass")
    if not source.strip():
        return Looked(
            problem=BadInput("there is no table yet.", hint="Paste one with its headings, or choose a file.")
        )
    try:
        understood = understand_table(
            site.catalogue, key, source, file.name if file else "pasted table", answers_of(sent)
        )
    except SteelyardError as problem:
        return Looked(problem=problem)
    return Looked(understood, grid_of(understood))


def answers_of(sent: Sent) -> TableAnswers:
    """What was answered: for the whole table, for its labels, for single cells."""
    says = [
        f"{n.removeprefix(MEANS)}={v.strip()}"
        for n, v in sent.values.items()
        if n.startswith(MEANS) and v.strip()
    ]
    answers = [
        f"{n.removeprefix(ANSWER)}={v.strip()}"
        for n, v in sent.values.items()
        if n.startswith(ANSWER) and v.strip()
    ]
    if sent.text("decimal") == "both":
        answers.append("decimal=both")
    return TableAnswers(
        outcome=sent.given("outcome"),
        spread=sent.given("spread"),
        locator=sent.given("where"),
        read_from=sent.given("read_from"),
        timepoint=sent.given("timepoint"),
        says=tuple(says),
        region=sent.given("region"),
        answers=tuple(answers),
    )


def show_table(
    request: Request, site: Site, key: str, sent: Sent, looked: Looked, *, status: int = 200
) -> Response:
    """The page on which a table is pasted, looked at and stored."""
    choices: TableChoices = choices_for(site.catalogue, key)
    return show(request, "table_form.html", status=status, key=key, sent=sent, looked=looked, choices=choices)


routes = [
    Route("/studies/{key}/table", table_form),
    Route("/studies/{key}/table", send_table, methods=["POST"]),
]
