"""Studies: the list, one study, and the form in which one is typed."""

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from evidence.errors import SteelyardError
from evidence.vocabulary import Vocabulary
from evidence.web.forms import Sent, read_form
from evidence.web.page_words import in_page_words
from evidence.web.rendering import go, page_asked, show
from evidence.web.site import Site, site_of
from evidence.web.study_fields import (
    FieldFault,
    as_sent,
    groups,
    head_fields,
    read_fields,
    read_report,
    tell_fault,
)
from evidence.workflows.extract.removing import remove_study
from evidence.workflows.extract.study_forms import (
    ChangedMeanwhile,
    StudyForm,
    StudyProblems,
    form_of,
    store_form,
)
from evidence.workflows.pages.browsing import study_as_file
from evidence.workflows.pages.reference_pages import head_of_reference
from evidence.workflows.pages.study_pages import list_study_page, show_study_page
from evidence.workflows.pages.table_views import regions_by_part


def studies(request: Request) -> Response:
    """The studies that fit what is asked, a page of them."""
    site, asked = site_of(request), request.query_params
    listed = list_study_page(
        site.catalogue,
        asked.get("words", ""),
        construct=asked.get("outcome") or None,
        region=asked.get("region") or None,
        page=page_asked(request),
    )
    vocabulary = site.vocabulary()
    return show(
        request, "studies.html", listed=listed, vocabulary=vocabulary, regions=regions_by_part(vocabulary)
    )


def study(request: Request) -> Response:
    """One study."""
    site, key = site_of(request), request.path_params["key"]
    shown = site.recall(("study", key), lambda: show_study_page(site.catalogue, key))
    return show(request, "study.html", study=shown)


def study_file(request: Request) -> Response:
    """One study as a study file."""
    key = request.path_params["key"]
    text = study_as_file(site_of(request).catalogue, key)
    return PlainTextResponse(text, headers={"Content-Disposition": 'attachment; filename="study.yaml"'})


async def remove(request: Request) -> Response:
    """Take a study away, with the reason."""
    sent, site = await read_form(request), site_of(request)
    await run_in_threadpool(
        remove_study, site.catalogue, request.path_params["key"], sent.text("because"), site.who
    )
    return go(request, "/changes")


def new_study(request: Request) -> Response:
    """The form for a study that is not here yet."""
    site = site_of(request)
    values = as_sent({}, site.vocabulary())
    values["references"] = key = request.query_params.get("reference", "").strip()
    values |= head_of_reference(site.catalogue, key) if key else {}
    return show_form(request, site, values)


def edit_study(request: Request) -> Response:
    """The form filled with a stored study."""
    site = site_of(request)
    form = form_of(site.catalogue, request.path_params["key"])
    return show_form(request, site, as_sent(form.fields, site.vocabulary()), seen=form.seen)


async def send_study(request: Request) -> Response:
    """Store what was typed; or show it again with what is wrong, or with one row more."""
    sent = await read_form(request)
    return await run_in_threadpool(take_study, request, sent)


def take_study(request: Request, sent: Sent) -> Response:
    """What becomes of a form that was sent."""
    site = site_of(request)
    vocabulary, seen = site.vocabulary(), sent.text("seen")
    for group in groups(vocabulary):
        if sent.text("more") == group.name:
            count = sent.text(f"{group.name}-count")
            more = {
                **sent.values,
                f"{group.name}-count": str(int(count) + 1 if count.isdecimal() else group.least),
            }
            return show_form(request, site, more, seen=seen, again=True)
    if sent.text("take"):
        return show_form(request, site, take_name(sent.values, sent.text("take")), seen=seen, again=True)
    try:
        fields = read_fields(sent, vocabulary)
        if seen:
            fields["key"] = request.path_params.get("key", "") or fields.get("key", "")
        form = StudyForm(fields, seen, read_report(sent))
        report = store_form(site.catalogue, form, site.who, over=sent.ticked("over"))
    except ChangedMeanwhile as problem:
        theirs = as_sent(problem.stored, vocabulary)
        return show_form(request, site, sent.values, seen=seen, status=409, problem=problem, theirs=theirs)
    except StudyProblems as problem:
        faults = dict(tell_fault(p.path, p.message, p.hint, vocabulary) for p in problem.problems)
        if "title" in faults and not sent.text("key"):
            faults.pop("key", None)  # it is made from the title
        return show_form(request, site, sent.values, seen=seen, status=422, problem=problem, faults=faults)
    except FieldFault as problem:
        faults = {problem.field: in_page_words(problem)}
        return show_form(request, site, sent.values, seen=seen, status=422, problem=problem, faults=faults)
    except SteelyardError as problem:
        return show_form(request, site, sent.values, seen=seen, status=422, problem=problem)
    return go(request, f"/studies/{report.key}", kept=sent.text("kept"))


def nearest_names(
    values: Mapping[str, str], faults: Mapping[str, str], vocabulary: Vocabulary
) -> dict[str, list[str]]:
    """For each field at fault that names an exercise: the names that may have been meant, best first."""
    asked = [name for name in faults if name.startswith("conditions-") and name.endswith("-exercise")]
    found = {name: vocabulary.find_exercise(values.get(name, "")).candidates for name in asked}
    return {name: list(dict.fromkeys(c.name for c in candidates))[:6] for name, candidates in found.items()}


def take_name(values: Mapping[str, str], taken: str) -> dict[str, str]:
    """The form with one of the names offered in its field: `taken` is the field, an equals sign and the name."""
    field, _, name = taken.partition("=")
    return {**values, field: name}


def show_form(
    request: Request,
    site: Site,
    values: Mapping[str, str],
    *,
    seen: str = "",
    status: int = 200,
    again: bool = False,
    problem: SteelyardError | None = None,
    faults: Mapping[str, str] | None = None,
    theirs: Mapping[str, str] | None = None,
) -> Response:
    """The form with what was typed. `theirs`: what stands in the catalogue, where somebody changed it meanwhile."""
    vocabulary = site.vocabulary()
    return show(
        request,
        "study_form.html",
        status=status,
        values=values,
        seen=seen,
        head=head_fields(vocabulary),
        groups=groups(vocabulary),
        vocabulary=vocabulary,
        again=again or problem is not None,
        problem=problem,
        faults=faults or {},
        near=nearest_names(values, faults or {}, vocabulary),
        theirs=theirs,
    )


routes = [
    Route("/studies", studies),
    Route("/studies/new", new_study),
    Route("/studies/new", send_study, methods=["POST"]),
    Route("/studies/{key}", study),
    Route("/studies/{key}/remove", remove, methods=["POST"]),
    Route("/studies/{key}/file", study_file),
    Route("/studies/{key}/edit", edit_study),
    Route("/studies/{key}/edit", send_study, methods=["POST"]),
]
