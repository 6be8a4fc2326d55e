"""Extract: a study from a study file into the catalogue, whole or not at all."""

import dataclasses
import hashlib
from dataclasses import dataclass
from pathlib import Path

from evidence.appraisal.wording import count
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    keys_of_references,
    list_studies,
    nearest_keys,
    references_called,
    study_by_digest,
    study_by_key,
    study_rows,
)
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Reference, Study, StudyReference
from evidence.errors import BadInput, NotFound
from evidence.reading.study_draft import ReferenceLink, ResultDraft, StudyDraft
from evidence.reading.study_file import read_study_file
from evidence.reading.study_template import study_template
from evidence.vocabulary import Vocabulary
from evidence.workflows.extract.carrying_over import carry_over, what_was_decided
from evidence.workflows.extract.study_drafts import as_draft, store_draft
from evidence.workflows.gather.gathering import as_row, free_key
from evidence.workflows.judge.judging import weigh_again
from evidence.workflows.opening import vocabulary_of
from references.record import PartialDate, Record


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What became of a study file."""

    key: str
    what: str
    warnings: tuple[str, ...]


def load_study(catalogue: Catalogue, path: Path, who: str, *, replace: bool = False) -> LoadReport:
    """Store the study of a file. What is here already is not stored twice; another of that key needs `replace`."""
    draft = read_study_file(path, vocabulary_of(catalogue))
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    warnings = tuple(str(w) for w in draft.warnings)
    with catalogue.reading() as session:
        known = study_by_digest(session, digest)
        if known is not None:
            return LoadReport(known.key, "already here, from this very file; nothing was changed", warnings)
    with catalogue.changing(who, f"study load {path.name}") as session:
        report = store(session, catalogue, draft, digest, path.name, who, replace, warnings)
    return dataclasses.replace(report, warnings=(*report.warnings, *doubtful_figures(catalogue, report.key)))


def doubtful_figures(catalogue: Catalogue, key: str) -> tuple[str, ...]:
    """What the study's own figures say of each other, told on entry; nothing is changed or refused for it."""
    from evidence.workflows.effects.figure_checks import check_study, told

    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
    return tuple(f"{where}: {told(finding)}" for where, finding in check_study(rows))


def store(
    session: ChangingSession,
    catalogue: Catalogue,
    draft: StudyDraft,
    digest: str,
    source: str,
    who: str,
    replace: bool,
    warnings: tuple[str, ...],
) -> LoadReport:
    """Store a draft in a running transaction."""
    former = next(iter(list_studies(session, [draft.key])), None)
    if former is not None and says_the_same(session, former, draft):
        return LoadReport(draft.key, "already here, just as this file has it; nothing was changed", warnings)
    if former is not None and not replace:
        raise BadInput(
            f'A study "{draft.key}" is in the catalogue already, and this file differs from it.',
            where=source,
            hint="Use --replace to put this file in its place, or give the study another key.",
        )
    if former is not None:
        refuse_loss(session, former, draft, source)
    links = [(link, find_reference(session, link, source)) for link in draft.references]
    stubs = [link for link, reference in links if reference is None]
    warnings += tuple(
        f"{link.doi} is not in the catalogue yet: a bare reference was made; add the full one with steelyard refs add"
        for link in stubs
    )
    tied = [(link, found or stub_reference(session, link, draft, source, catalogue)) for link, found in links]
    decided = None
    if former is not None:
        decided = what_was_decided(session, former, study_rows(session, former).results)
        session.delete(former)
        session.flush()
    study = store_draft(session, draft, digest=digest, source=source, who=who, at=catalogue.now())
    link_references(session, study, tied)
    if decided is not None:
        warnings += carry_over(session, study, study_rows(session, study).results, decided)
        weigh_again(session, study)
    what = "replaced" if former is not None else "stored"
    people = sum(p.analysed or p.recruited or 0 for p in draft.people)
    conditions = count(len(draft.conditions), "condition", "conditions")
    persons, results = count(people, "person", "people"), count(len(draft.results), "result", "results")
    told = f"{what}: {conditions}, {persons}, {results}"
    if not links:
        warnings = (*warnings, f"{draft.key} names no reference: where it is reported is not known")
    return LoadReport(draft.key, told, warnings)


def blank_study(said: str, vocabulary: Vocabulary) -> str:
    """A study file to fill in, for a design by its id or a usual name. Raises BadInput for one that is not known."""
    found = vocabulary.find_design(said)
    if found.match is None:
        near = [c.id for c in found.candidates] or list(vocabulary.designs)
        raise BadInput(f'"{said}" is no design that is known.', hint=f"There are: {', '.join(near)}.")
    return study_template(vocabulary.designs[found.match], vocabulary)


def says_the_same(session: ChangingSession, former: Study, draft: StudyDraft) -> bool:
    """Whether a file says of a stored study what is stored of it, as one that was written out of it does.

    Where it came from and how its references are named aside; who read a figure, and when, where the file says so.
    """
    stored = as_draft(study_rows(session, former))
    here = {result.key: result for result in stored.results}
    told = {result.key: read_as(result, here.get(result.key)) for result in draft.results}
    named = [
        references_called(session, link.key, link.doi.lower() if link.doi else None)
        for link in draft.references
    ]
    if told != here or [[row.key for row in rows[:1]] for rows in named] != [
        [r.key] for r in stored.references
    ]:
        return False
    same = dataclasses.replace(
        draft, references=stored.references, source=stored.source, results=stored.results
    )
    return same == stored


def read_as(told: ResultDraft, stored: ResultDraft | None) -> ResultDraft:
    """A result of a file with its reader and day as they are stored, where the file says nothing of them."""
    if stored is None:
        return told
    return dataclasses.replace(
        told, read_by=told.read_by or stored.read_by, read_on=told.read_on or stored.read_on
    )


def refuse_loss(session: ChangingSession, former: Study, draft: StudyDraft, source: str) -> None:
    """Refuse a file that would take away results pasted or computed into the study since: nothing typed is lost."""
    here = {r.key for r in study_rows(session, former).results}
    lost = here - {r.key for r in draft.results}
    if lost:
        raise BadInput(
            f"{len(lost)} results of {former.key} are not in this file and would be lost: {', '.join(sorted(lost)[:3])}"
            f"{', ...' if len(lost) > 3 else '.'}",
            where=source,
            hint=f"Write the study out with `steelyard study show {former.key} --file`, edit that, and load it.",
        )


def link_references(
    session: ChangingSession, study: Study, links: list[tuple[ReferenceLink, Reference]]
) -> None:
    """Tie a study to the references that report it."""
    assert study.id is not None
    for link, reference in links:
        assert reference.id is not None
        session.add(StudyReference(study_id=study.id, reference_id=reference.id, role=link.role))


def find_reference(session: ChangingSession, link: ReferenceLink, source: str) -> Reference | None:
    """The stored reference that a study file names, by key, by DOI, or by another key of a joined record.

    None for a DOI that is not here yet. Raises NotFound for a key that is not.
    """
    doi = link.doi.lower() if link.doi else None
    found = references_called(session, link.key, doi)
    of_doi = [row for row in found if doi and row.doi == doi]
    found = of_doi or [row for row in found if not (doi and row.doi)]  # a key may mean another work elsewhere
    if found:
        return found[0]
    if link.doi:
        return None
    near = nearest_keys(link.key or "", keys_of_references(session))
    raise NotFound(
        f'no reference "{link.key}" is in the catalogue.',
        where=source,
        hint=f"Nearest: {', '.join(near)}." if near else "Add it first: steelyard refs add FILE.bib",
    )


def stub_reference(
    session: ChangingSession, link: ReferenceLink, draft: StudyDraft, source: str, catalogue: Catalogue
) -> Reference:
    """A bare reference made from a DOI, to be filled when the full record is imported."""
    taken = set(keys_of_references(session))
    title = draft.title if link.role == "report" else f"{draft.title} ({link.role})"
    issued = PartialDate(year=draft.year) if draft.year and link.role == "report" else None
    key = free_key(link.key or (draft.key if link.role == "report" else f"{draft.key}-{link.role}"), taken)
    row = as_row(
        Record(key=key, type="article-journal", title=title, issued=issued, doi=link.doi), source, catalogue
    )
    session.add(row)
    session.flush()
    return row
