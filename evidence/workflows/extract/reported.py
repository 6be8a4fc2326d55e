"""Where a study is reported, typed beside it: authors and journal become its reference."""

from dataclasses import replace

from evidence.catalogue import Catalogue
from evidence.catalogue.recording import ChangingSession
from evidence.reading.study_draft import ReferenceLink, StudyDraft
from evidence.workflows.gather.intake import Intake, Tally
from evidence.workflows.gather.typed_references import TypedReference, as_typed_record
from references.record import Record


def report_of(draft: StudyDraft, typed: TypedReference) -> Record:
    """The record of a study's report: its title and year are those of the study. Raises BadInput."""
    return as_typed_record(replace(typed, title=draft.title, year=str(draft.year or "")))


def store_report(
    session: ChangingSession, catalogue: Catalogue, record: Record, source: str
) -> ReferenceLink:
    """Store the report in a running transaction, or join it to the reference that it is; the link to it."""
    tally = Tally(read=1)
    Intake(session, catalogue).take_step([record], source, tally)
    session.flush()
    (key,) = tally.added or [match.known for match in tally.known]
    return ReferenceLink(key=key, doi=record.doi)
