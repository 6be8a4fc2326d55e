"""Drafts and programmes kept in the catalogue: stored, changed (never over somebody else's change), checked, set."""

import hashlib
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import find_draft, list_drafts
from evidence.catalogue.queries.programmes import draft_by_key, list_programmes, programme_by_key
from evidence.catalogue.tables import Draft as DraftRow
from evidence.catalogue.tables import Programme as ProgrammeRow
from evidence.errors import BadInput
from evidence.publishing.formats import Wanted
from evidence.publishing.programmes import AnnotatedProgramme
from evidence.reading.drafts import Draft, read_draft_text
from evidence.reading.drafts.reading import read_docx
from evidence.reading.files import decode_input
from evidence.reading.programme import read_programme_text, title_of
from evidence.reading.programme_model import Programme
from evidence.workflows.documents.articles import publish_article
from evidence.workflows.documents.outputs import Output
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.findings import Finding, Replacement
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.mending import apply_changes
from evidence.workflows.drafts.storing import last_check, record_check, with_last_check
from evidence.workflows.drafts.tying import Tying, propose_ties
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pages.passages import Passage, cut_passages
from evidence.workflows.programmes.annotating import annotate, annotate_programme
from evidence.workflows.programmes.bearing_claims import find_bearing_claims
from evidence.workflows.programmes.reasons import set_reasons

DRAFT_ENDINGS = {"markdown": ".md", "webvtt": ".vtt", "srt": ".srt", "text": ".txt", "docx": ".txt"}
PROGRAMME_ENDINGS = {"yaml": ".yaml", "csv": ".csv", "markdown": ".md", "text": ".txt"}


class ChangedMeanwhile(BadInput):
    """A text is not as it was when its page was opened; `stored` is what stands there now."""

    def __init__(self, stored: str) -> None:
        super().__init__(
            "The text was changed elsewhere after this page was opened; nothing was stored.",
            hint="Both are shown below: take over what you need, then store.",
        )
        self.stored = stored


@dataclass(frozen=True, slots=True)
class TextLine:
    """A draft or programme in a list."""

    key: str
    title: str
    format: str
    added_by: str
    checked_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class DraftPage:
    """A draft with what was found in it, and the ties that may be made."""

    key: str
    title: str
    format: str
    text: str
    seen: str
    checked: Checked
    ties: tuple[Tying, ...]
    checked_at: datetime | None

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The text with what was found of each sentence right below it."""
        return cut_passages(self.text, self.checked.draft.sentences, self.checked.findings, self.ties)


@dataclass(frozen=True, slots=True)
class ProgrammePage:
    """A programme with the evidence beside it."""

    key: str
    title: str
    format: str
    text: str
    seen: str
    programme: Programme
    annotated: AnnotatedProgramme
    unknown: tuple[str, ...] = ()  # keys that are cited and that no source has, in words


def state_of(text: str) -> str:
    """A short hash of a text, by which a page knows whether it was changed meanwhile."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def key_for(name: str, otherwise: str) -> str:
    """A key out of a name."""
    return re.sub(r"[^\w.-]+", "-", name).strip("-.")[:80] or otherwise


def all_drafts(catalogue: Catalogue) -> tuple[TextLine, ...]:
    """Every draft."""
    with catalogue.reading() as session:
        return tuple(
            TextLine(d.key, d.title, d.format, d.added_by, d.checked_at) for d in list_drafts(session)
        )


def all_programmes(catalogue: Catalogue) -> tuple[TextLine, ...]:
    """Every programme."""
    with catalogue.reading() as session:
        return tuple(TextLine(p.key, p.title, p.format, p.added_by) for p in list_programmes(session))


def add_draft(catalogue: Catalogue, name: str, data: bytes, form: str, who: str, audience: str = "") -> str:
    """Store a draft and what is found in it. Raises BadInput for a name that is taken or a text that cannot be read."""
    draft = (
        read_docx(data, name)
        if form == "docx"
        else read_draft_text(decode_input(data, name).text, form, name)
    )
    if not draft.source.strip():
        raise BadInput("There is no text yet.", hint="Paste it, or choose a file.")
    # Its title stays as typed, where the text names none; only its address is made plain.
    settings = {"title": draft.title, **draft.settings}
    draft = replace(draft, name=key_for(name, "draft"), settings=settings)
    with catalogue.reading() as session:
        if find_draft(session, draft.name) is not None:
            raise BadInput(f'A draft "{draft.name}" is here already.', hint="Give this one another name.")
    return record_check(catalogue, check_draft(draft, know_catalogue(catalogue), audience or None), who)


def open_draft(catalogue: Catalogue, key: str) -> DraftPage:
    """A draft held against the catalogue as it stands. Raises NotFound."""
    row, draft = stored_draft(catalogue, key)
    knowledge = know_catalogue(catalogue)
    checked = check_draft(with_last_check(draft, last_check(catalogue, draft)), knowledge, said_audience(row))
    ties = propose_ties(draft, knowledge) if draft.format in ("markdown", "text", "docx") else ()
    return DraftPage(key, row.title, row.format, row.text, state_of(row.text), checked, ties, row.checked_at)


def stored_draft(catalogue: Catalogue, key: str) -> tuple[DraftRow, Draft]:
    """A stored draft and how it reads."""
    with catalogue.reading() as session:
        row = draft_by_key(session, key)
    return row, read_draft_text(row.text, row.format, key)


def said_audience(row: DraftRow) -> str | None:
    """Whom a draft is for, as was said with it."""
    said = row.audience.get("said")
    return str(said) if said else None


def save_draft(catalogue: Catalogue, key: str, text: str, seen: str, who: str) -> None:
    """Store a draft's text and check it. Raises ChangedMeanwhile, NotFound."""
    row, _ = stored_draft(catalogue, key)
    if state_of(row.text) != seen and row.text != text:
        raise ChangedMeanwhile(row.text)
    draft = read_draft_text(text, row.format, key)
    record_check(catalogue, check_draft(draft, know_catalogue(catalogue), said_audience(row)), who)


def accept_finding(catalogue: Catalogue, page: DraftPage, number: int, reason: str, who: str) -> None:
    """Write into the draft that a finding is accepted, and why. It stays listed. Raises BadInput without a reason."""
    finding = pick(page.checked.findings, number)
    said = " ".join(reason.replace("--", "-").replace(">", " ").split())
    if not said:
        raise BadInput("Accepting a finding needs a reason.", hint="It stands in the draft and stays listed.")
    change_draft(catalogue, page, acceptance(page.format, page.text, finding, said), who)


def change_draft(catalogue: Catalogue, page: DraftPage, change: Replacement, who: str) -> None:
    """Store a draft with one stretch of it replaced. Raises ChangedMeanwhile where it is not as it was read."""
    save_draft(catalogue, page.key, apply_changes(page.text, [change]), page.seen, who)


def acceptance(form: str, text: str, finding: Finding, reason: str) -> Replacement:
    """The mark of an accepted finding, where the format of the draft has one."""
    if form in ("webvtt", "srt"):
        start = text.rfind("\n\n", 0, finding.start) + 2 if "\n\n" in text[: finding.start] else 0
        return Replacement(start, start, f"NOTE accept {finding.kind}: {reason}\n\n")
    return Replacement(finding.end, finding.end, f" <!-- accept {finding.kind}: {reason} -->")


def take_wording(catalogue: Catalogue, page: DraftPage, number: int, who: str) -> None:
    """Write the wording that a finding suggests into the draft. Raises BadInput where it has none."""
    change = pick(page.checked.findings, number).replacement
    if change is None:
        raise BadInput("This finding has no wording to write.", hint="Edit the text yourself.")
    change_draft(catalogue, page, change, who)


def make_tie(catalogue: Catalogue, page: DraftPage, number: int, who: str) -> None:
    """Tie a sentence to a claim or a mention to a reference, as was proposed."""
    tie = next((t for t in page.ties if t.number == number), None)
    if tie is None:
        raise BadInput("This tie is not proposed any more.", hint="Look at the draft again.")
    change_draft(catalogue, page, tie.replacement, who)


def pick(findings: tuple[Finding, ...], number: int) -> Finding:
    """The finding with a number. Raises BadInput where it is gone."""
    found = next((f for f in findings if f.number == number), None)
    if found is None:
        raise BadInput("This finding is not there any more.", hint="Look at the draft again.")
    return found


def set_article(catalogue: Catalogue, key: str, form: str, style: str, who: str) -> tuple[bytes, Output]:
    """The draft as an article in a format, kept as a use of the claims it tells."""
    row, _ = stored_draft(catalogue, key)
    with as_file(key, row.text, DRAFT_ENDINGS[row.format]) as (source, target):
        done = publish_article(
            catalogue, source, target(form), who, Wanted(form, name=f"{key}.{form}"), style
        )
        assert done.path is not None
        return done.path.read_bytes(), done


def add_programme(catalogue: Catalogue, name: str, data: bytes, form: str, who: str) -> str:
    """Store a programme as it was written. Raises BadInput for a name that is taken or a text that cannot be read."""
    text = decode_input(data, name).text.replace("\r\n", "\n").replace("\x00", "")
    if not text.strip():
        raise BadInput("There is no programme yet.", hint="Paste it, or choose a file.")
    if form not in PROGRAMME_ENDINGS:
        raise BadInput(
            f'A programme cannot be kept as "{form}".',
            hint=f"Paste its text, or send it as one of: {', '.join(PROGRAMME_ENDINGS)}.",
        )
    key = key_for(name, "programme")
    programme = read_text(catalogue, key, text, form)
    with catalogue.changing(who, f"programme add {key}") as session:
        if any(p.key == key for p in list_programmes(session)):
            raise BadInput(f'A programme "{key}" is here already.', hint="Give this one another name.")
        session.add(
            ProgrammeRow(
                key=key,
                title=programme.title or title_of(name),
                format=form,
                text=text,
                added_at=catalogue.now(),
                added_by=who,
            )
        )
    return key


def read_text(catalogue: Catalogue, key: str, text: str, form: str) -> Programme:
    """A programme as it reads; its title is empty where the text names none."""
    return read_programme_text(text, form, vocabulary_of(catalogue), name=key)


def open_programme(catalogue: Catalogue, key: str) -> ProgrammePage:
    """A programme with the evidence beside each pick, on the catalogue as it stands. Raises NotFound."""
    with catalogue.reading() as session:
        row = programme_by_key(session, key)
    vocabulary = vocabulary_of(catalogue)
    programme = read_text(catalogue, key, row.text, row.format)
    bearing = find_bearing_claims(catalogue, programme, vocabulary)
    titled = replace(programme, title=programme.title or row.title)
    reasons = set_reasons(catalogue, titled, bearing)
    annotated = annotate(catalogue, titled, bearing, vocabulary, reasons)
    return ProgrammePage(
        key, row.title, row.format, row.text, state_of(row.text), programme, annotated, reasons.notes
    )


def save_programme(catalogue: Catalogue, key: str, text: str, seen: str, who: str) -> None:
    """Store a programme's text. Raises ChangedMeanwhile, NotFound, BadInput where it cannot be read."""
    text = text.replace("\x00", "")
    with catalogue.reading() as session:
        row = programme_by_key(session, key)
    if state_of(row.text) != seen and row.text != text:
        raise ChangedMeanwhile(row.text)
    programme = read_text(catalogue, key, text, row.format)
    with catalogue.changing(who, f"programme edit {key}") as session:
        stored = programme_by_key(session, key)
        stored.text = text
        if programme.title:  # a text without a title keeps the name it was given
            stored.title = programme.title


def set_programme(catalogue: Catalogue, key: str, wanted: Wanted, who: str, *, sheet: bool = False) -> bytes:
    """The annotated programme in a format, kept as a use of the claims it tells."""
    with catalogue.reading() as session:
        row = programme_by_key(session, key)
    with as_file(key, row.text, PROGRAMME_ENDINGS[row.format]) as (source, target):
        named = replace(wanted, name=f"{key}.{wanted.format}")
        done = annotate_programme(
            catalogue, source, target(wanted.format), who, named, sheet=sheet, title=row.title
        )
        assert done.path is not None
        return done.path.read_bytes()


@contextmanager
def as_file(key: str, text: str, ending: str) -> Iterator[tuple[Path, Callable[[str], Path]]]:
    """A text as a file for as long as it is read, and where what is made of it may be written."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / f"{key_for(key, 'text').removesuffix(ending)}{ending}"
        source.write_text(text, encoding="utf-8", newline="\n")
        yield source, lambda form: Path(folder) / f"out.{form}"
