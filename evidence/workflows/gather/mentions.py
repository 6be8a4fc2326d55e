"""Mentions: which stored reference a garbled mention means, with reasons; ambiguous and none are answers too."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import stored_records
from evidence.catalogue.queries.contents import StudyContents, notices_by_key, outline_contents
from evidence.catalogue.worked_out import Tell, say_nothing
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.gather.indexing import read_subjects
from evidence.workflows.opening import vocabulary_of
from references.citing import short_citation
from references.mention_index import RecordFacts, index_subjects
from references.mentions import Outcome, match_in_index
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


def find_mention(catalogue: Catalogue, mention: str, most: int = 5, tell: Tell = say_nothing) -> MentionFound:
    """What a mention means among the stored references. Raises BadInput where it says nothing."""
    if not mention.strip():
        raise BadInput("the mention is empty", hint="Say it as you remember it: name, year, journal, topic.")
    subjects = read_subjects(catalogue, tell)
    with catalogue.reading() as session:
        facts = gather_facts(outline_contents(session), notices_by_key(session), vocabulary_of(catalogue))
        found = match_in_index(mention, index_subjects(subjects, facts))
        shown = found.candidates[:most]
        records = {row.key: as_record(row) for row in stored_records(session, [c.key for c in shown])}
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
            for c in shown
        ),
        found.related if found.outcome is Outcome.MATCH else (),
        found.warnings,
    )


def gather_facts(
    contents: Iterable[StudyContents], notices: Mapping[str, str], vocabulary: Vocabulary
) -> dict[str, RecordFacts]:
    """What the catalogue knows beside the bibliography: people studied, regions, exercises, notices."""
    sizes: dict[str, list[int]] = {}
    topics: dict[str, list[str]] = {}
    for study in contents:
        exercises = [vocabulary.exercises[e].name for e in study.exercises if e in vocabulary.exercises]
        regions = [vocabulary.regions[r].name for r in study.regions if r in vocabulary.regions]
        for key in study.references:
            sizes.setdefault(key, []).extend(study.sizes)
            topics.setdefault(key, []).extend([*exercises, *regions])
    return {
        key: RecordFacts(
            sample_sizes=tuple(dict.fromkeys(sizes.get(key, ()))),
            topics=tuple(dict.fromkeys(topics.get(key, ()))),
            state=notices.get(key),
        )
        for key in {*topics, *notices}
    }
