"""A handout for a course, from claims that are named or that are about a region."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.appraisal.wording import Wordings
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, list_claims
from evidence.catalogue.tables import Claim
from evidence.errors import BadInput
from evidence.publishing.briefs import Brief
from evidence.publishing.formats import Wanted
from evidence.publishing.handouts import Handout, Topic, handout_document
from evidence.publishing.programmes import join_words
from evidence.vocabulary import Vocabulary
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.gather.sources import list_sources
from evidence.workflows.making import made_from
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.weigh.inventing import find_inventions_in
from evidence.workflows.weigh.reweighing import weigh_each_and_keep
from evidence.workflows.weigh.weighing import Weighing

MOST_CLAIMS = (
    200  # some 500 pages; of a thousand claims a document took 13 GB of memory. Common practice, no source.
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One claim of a handout: what was found of it, and the studies behind it."""

    claim: Claim
    wordings: Wordings
    brief: Brief
    studies: tuple[StudyRows, ...]


def publish_handout(
    catalogue: Catalogue,
    claims: Sequence[str],
    regions: Sequence[str],
    output: Path | None,
    who: str,
    wanted: Wanted,
    title: str = "",
    *,
    questions: bool = True,
) -> Output:
    """Write a handout on claims named by key, or on all claims about some regions and their parts."""
    vocabulary = vocabulary_of(catalogue)
    keys = list(dict.fromkeys((*claims, *claims_about(catalogue, regions, vocabulary))))
    if not keys:
        raise BadInput("a handout needs claims.", hint="Name them with --claim, or a region with --region.")
    if len(keys) > MOST_CLAIMS:
        raise BadInput(
            f"{len(keys):,} claims are more than a handout can hold: it takes {MOST_CLAIMS}.",
            hint="Name a part of the region, or with --claim those that you teach.",
        )
    made = made_from(catalogue)

    def take(weighing: Weighing) -> Entry:
        studies = tuple(study.rows for study in weighing.studies)
        return Entry(weighing.claim, weighing.wordings, make_brief(catalogue, weighing, made), studies)

    entries = list(weigh_each_and_keep(catalogue, keys, who, take, vocabulary).values())
    topics = group_topics(entries, vocabulary)
    told = [c for topic in topics for brief in topic.briefs for c in brief.cautions]
    studies = {rows.study.key: rows for entry in entries for rows in entry.studies}.values()
    inventions = find_inventions_in(studies)
    handout = Handout(
        title=title or name_topics(topics),
        made=made,
        topics=topics,
        references=inventions.mark_sources(list_sources(studies)),
        cautions=tuple(dict.fromkeys(told)),
        questions=questions,
        invented=inventions.any,
        made_up=inventions.names,
    )
    return hand_out(catalogue, handout_document(handout), output, wanted, "handout", entries, who)


def name_topics(topics: Sequence[Topic]) -> str:
    """A title from the topics: `Soleus and gastrocnemius`."""
    text = join_words([topic.title for topic in topics]).lower()
    return text[:1].upper() + text[1:]


def claims_about(catalogue: Catalogue, regions: Sequence[str], vocabulary: Vocabulary) -> list[str]:
    """The keys of all claims about some regions, named as people name them, or about parts of them."""
    wanted: set[str] = set()
    for text in regions:
        region = require_match(vocabulary.find_region(text), "region")
        wanted |= {region, *vocabulary.descendants(region)}
    if not wanted:
        return []
    with catalogue.reading() as session:
        keys = [claim.key for claim in list_claims(session, regions=wanted)]
    if not keys:
        raise BadInput(
            f"no claim is about {', '.join(regions)}.", hint="List claims with: steelyard claim list"
        )
    return keys


def group_topics(entries: Sequence[Entry], vocabulary: Vocabulary) -> tuple[Topic, ...]:
    """Claims by region, and by outcome where they have none; in the order in which they were named."""
    groups: dict[str, list[Brief]] = {}
    for entry in entries:
        claim = entry.claim
        construct = vocabulary.constructs.get(claim.construct_id)
        named = (
            vocabulary.regions[claim.region].name
            if claim.region
            else construct.name
            if construct
            else "practice"
        )
        groups.setdefault(named[:1].upper() + named[1:], []).append(entry.brief)
    return tuple(Topic(title, tuple(briefs)) for title, briefs in groups.items())
