"""A study typed into a form: the same reader and checks as a study file, and no change made over somebody else's."""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from evidence.catalogue import Catalogue
from evidence.catalogue.history import list_changes
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.errors import BadInput
from evidence.reading.plain_yaml import Document, resolve_word, written
from evidence.reading.study_draft import StudyDraft
from evidence.reading.study_file import VERSION, StudyProblems, read_study_document
from evidence.reading.study_writing import write_study_file
from evidence.workflows.extract.extracting import LoadReport, store
from evidence.workflows.extract.reported import report_of, store_report
from evidence.workflows.extract.study_drafts import as_draft
from evidence.workflows.gather.gathering import suggest_key as suggest_reference_key
from evidence.workflows.gather.typed_references import TypedReference
from evidence.workflows.opening import vocabulary_of

__all__ = [
    "ChangedMeanwhile",
    "StudyForm",
    "StudyProblems",
    "form_of",
    "read_details",
    "store_form",
    "typed",
    "write_details",
]

FORM = "the form"
DETAIL = re.compile(r"\s*([^:;=]+?)\s*[:=]\s*([^;]+?)\s*(?:;|$)")
LISTS = ("people", "conditions", "outcomes")
# What a key is made of where the visitor gives none.
NAMES = {"people": ("label",), "conditions": ("printed", "exercise"), "outcomes": ("construct", "instrument")}


class ChangedMeanwhile(BadInput):
    """The study is not as it was when the form was opened; `stored` is what stands there now."""

    def __init__(self, who: str, stored: Mapping[str, Any], seen: str) -> None:
        super().__init__(
            f"The study was changed by {who} after this form was opened; nothing was stored.",
            hint="Look at what differs, then store yours over it or take what is there.",
        )
        self.stored = stored
        self.seen = seen


@dataclass(frozen=True, slots=True)
class StudyForm:
    """The fields of a form as a study file has them, and the state they were taken from ("": a new study).

    `report`: authors, journal and DOI, where they were typed instead of naming a reference.
    """

    fields: dict[str, Any]
    seen: str = ""
    report: TypedReference | None = None


def form_of(catalogue: Catalogue, key: str) -> StudyForm:
    """A stored study as the fields of a form. Raises NotFound."""
    draft = stored_draft(catalogue, key)
    fields: dict[str, Any] = {
        name: getattr(draft, name)
        for name in (
            "key",
            "title",
            "year",
            "design",
            "pairing",
            "randomised",
            "weeks",
            "sample",
            "funding",
            "note",
        )
    }
    fields["invented"] = draft.invented
    fields["references"] = [link.key or link.doi for link in draft.references]
    fields["people"] = [plain(p) for p in draft.people]
    fields["conditions"] = [plain(c) for c in draft.conditions]
    fields["outcomes"] = [plain(o) for o in draft.outcomes]
    return StudyForm(fields, state_of(draft))


def store_form(catalogue: Catalogue, form: StudyForm, who: str, *, over: bool = False) -> LoadReport:
    """Store a study from a form; its results, correlations and judgements stay as they are.

    Raises StudyProblems with the entries at fault, ChangedMeanwhile where the study was changed since the form was
    opened (`over`: store it all the same), BadInput where results would lose what they belong to.
    """
    fields = with_keys(form.fields)
    former = stored_draft(catalogue, str(fields.get("key", ""))) if form.seen else None
    if former is not None and state_of(former) != form.seen and not over:
        stored = form_of(catalogue, former.key)
        raise ChangedMeanwhile(last_author(catalogue, former.key), stored.fields, stored.seen)
    data = {"steelyard": VERSION, **fields}
    draft = read_study_document(Document(FORM, data), vocabulary_of(catalogue))
    if former is not None:
        draft = keep_the_rest(draft, former)
    record = report_of(draft, form.report) if form.report else None
    if record is not None and not form.fields.get("key"):
        draft = replace(draft, key=key_from(suggest_reference_key(record)))
    digest = hashlib.sha256(write_study_file(draft).encode("utf-8", "surrogatepass")).hexdigest()
    warnings = tuple(str(w) for w in draft.warnings)
    with catalogue.changing(who, f"study form {draft.key}") as session:
        if record is not None:
            report = store_report(session, catalogue, record, FORM)
            draft = replace(
                draft, references=(report, *draft.references[1:])
            )  # the first is the report's own DOI
        return store(session, catalogue, draft, digest, FORM, who, former is not None, warnings)


def stored_draft(catalogue: Catalogue, key: str) -> StudyDraft:
    """A stored study with all its parts."""
    with catalogue.reading() as session:
        return as_draft(study_rows(session, study_by_key(session, key)))


def state_of(draft: StudyDraft) -> str:
    """A short hash of what a form shows and what hangs on it."""
    return hashlib.sha256(write_study_file(draft).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def last_author(catalogue: Catalogue, key: str) -> str:
    """Who changed a study last."""
    with catalogue.reading() as session:
        for entry in list_changes(session, 50):
            if any(change.key == key and change.table == "study" for change in entry.changes):
                return entry.who
    return "someone"


def keep_the_rest(draft: StudyDraft, former: StudyDraft) -> StudyDraft:
    """The draft with what a form does not show. Raises BadInput where a result would be left without its place."""
    here = {
        "condition": {c.key for c in draft.conditions},
        "outcome": {o.key for o in draft.outcomes},
        "people": {p.key for p in draft.people},
    }
    for result in former.results:
        for name, key in (
            ("condition", result.condition),
            ("condition", result.comparator),
            ("outcome", result.outcome),
            ("people", result.people),
        ):
            if key is not None and key not in here[name]:
                raise BadInput(
                    f"Results belong to the {name} {key} ({result.key}); it cannot go while they are there.",
                    hint="Take the results back first (undo their table), or keep the entry.",
                )
    return replace(
        draft,
        results=former.results,
        correlations=former.correlations,
        bias=former.bias,
        references=draft.references or former.references,
        source=former.source,
    )


def with_keys(fields: Mapping[str, Any]) -> dict[str, Any]:
    """The fields with a short name for every entry that has none; empty ones left out."""
    filled = {name: value for name, value in fields.items() if value not in (None, "", [], {})}
    for kind in LISTS:
        taken = {str(entry["key"]) for entry in filled.get(kind, ()) if entry.get("key")}
        for entry in filled.get(kind, ()):
            if not entry.get("key"):
                entry["key"] = free_name(
                    next((str(entry[n]) for n in NAMES[kind] if entry.get(n)), kind), taken
                )
                taken.add(entry["key"])
    if not filled.get("key") and filled.get("title"):
        filled["key"] = suggest_key(filled)
    return filled


def suggest_key(fields: Mapping[str, Any]) -> str:
    """A short name for a study: its reference's key, else words of its title with the year."""
    first = next(iter(fields.get("references") or ()), "")
    key = str(first.get("key", "") if isinstance(first, Mapping) else first)
    if key and not key.startswith("10."):
        return key_from(key)
    words = [w for w in slug(str(fields["title"])).split("-") if len(w) > 3 and w != "invented"][:3]
    return "-".join([*words, str(fields["year"])] if fields.get("year") else words) or "study"


def key_from(reference: str) -> str:
    """The key of a study from that of its reference: `plate2017` gives `plate-2017`."""
    return slug(re.sub(r"(?<=[^\W\d_])(?=(?:19|20)\d\d)", "-", reference))


def free_name(text: str, taken: set[str]) -> str:
    """A short name out of a text, told apart from those that are taken."""
    stem = slug(text) or "one"
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem}-{number}", number + 1
    return name


def slug(text: str) -> str:
    """Letters, digits and hyphens of a text."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:40].strip("-")


def read_details(text: str) -> dict[str, Any]:
    """`load: 8RM; knee angle: 90` as named details. Raises BadInput for a part that has no name."""
    rest = DETAIL.sub("", text).strip()
    if rest:
        raise BadInput(f'"{rest}" is no detail.', hint="Write a name and a value: load: 8RM; knee angle: 90.")
    return {name: resolve_word(value) for name, value in DETAIL.findall(text)}


def write_details(details: Mapping[str, Any]) -> str:
    """Details as they are typed."""
    return "; ".join(f"{name}: {written(value)}" for name, value in details.items())


def plain(entry: Any) -> dict[str, Any]:
    """The fields of an entry that say something."""
    from dataclasses import asdict

    return {name: value for name, value in asdict(entry).items() if value not in (None, "", {}, "not stated")}


def typed(value: str) -> Any:
    """What was typed in a field, as a study file would have it: a number where it is one."""
    return resolve_word(value.strip())
