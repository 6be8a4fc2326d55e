"""Mentions: which stored reference a garbled mention means, with reasons; ambiguous and none are answers too."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, all_references, list_studies, study_rows_of
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.opening import vocabulary_of
from references.citing import short_citation
from references.mentions import Outcome, RecordFacts, match_mention
from references.text import plain


@dataclass(frozen=True, slots=True)
class CandidateLine:
    """A reference that a mention may mean, with what speaks for and against it."""

    key: str
    short: str
    title: str
    points: float
    reasons: tuple[str, ...]
    contradictions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MentionFound:
    """The answer to one mention. `answer`: match, ambiguous or none; `key` only for a match.

    `related`: notices, replies, preprints of the match; `warnings`: for example that it is retracted.
    """

    mention: str
    answer: str
    key: str | None
    reason: str
    candidates: tuple[CandidateLine, ...]
    related: tuple[str, ...]
    warnings: tuple[str, ...]


def find_mention(catalogue: Catalogue, mention: str, most: int = 5) -> MentionFound:
    """What a mention means among the stored references. Raises BadInput where it says nothing."""
    if not mention.strip():
        raise BadInput("the mention is empty", hint="Say it as you remember it: name, year, journal, topic.")
    with catalogue.reading() as session:
        rows = {row.key: row for row in all_references(session)}
        studies = study_rows_of(session, list_studies(session))
    records = {key: as_record(row) for key, row in rows.items()}
    notices = {key: row.notice for key, row in rows.items()}
    found = match_mention(mention, records.values(), gather_facts(studies, notices, vocabulary_of(catalogue)))
    return MentionFound(
        mention,
        str(found.outcome),
        found.key,
        found.reason,
        tuple(
            CandidateLine(
                c.key,
                short_citation(records[c.key]),
                plain(records[c.key].title or ""),
                c.score,
                c.reasons,
                c.contradictions,
            )
            for c in found.candidates[:most]
        ),
        found.related if found.outcome is Outcome.MATCH else (),
        found.warnings,
    )


def gather_facts(
    studies: list[StudyRows], notices: dict[str, str | None], vocabulary: Vocabulary
) -> dict[str, RecordFacts]:
    """What the catalogue knows beside the bibliography: people studied, regions, exercises, notices."""
    sizes: dict[str, list[int]] = {}
    topics: dict[str, list[str]] = {}
    for rows in studies:
        people = [n for p in rows.people for n in (p.recruited, p.analysed) if n]
        exercises = [
            known.name
            for c in rows.conditions
            if c.exercise and (known := vocabulary.exercises.get(c.exercise)) is not None
        ]
        regions = [
            region.name
            for r in rows.results
            if r.region and (region := vocabulary.regions.get(r.region)) is not None
        ]
        for reference in rows.references:
            sizes.setdefault(reference.key, []).extend(people)
            topics.setdefault(reference.key, []).extend([*exercises, *regions])
    return {
        key: RecordFacts(
            sample_sizes=tuple(dict.fromkeys(sizes.get(key, ()))),
            topics=tuple(dict.fromkeys(topics.get(key, ()))),
            state=notice,
        )
        for key, notice in notices.items()
        if key in topics or notice
    }
