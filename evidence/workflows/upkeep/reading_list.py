"""What would be worth finding and reading: the studies that would help most. A heuristic, and said so.

Score = (things published and other claims that rest on a claim + 1) x (levels of confidence below high). The claims at
the head of the list are weighed, to say what to look for: the comparison, region and outcome, who and how many people,
and which design would mend the domain that holds the rating down.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.appraisal.confidence import DomainRating
from evidence.appraisal.levels import Level, read_level
from evidence.catalogue import Catalogue
from evidence.catalogue.queries.standings import all_uses
from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.upkeep.reviewing import count_resting
from evidence.workflows.upkeep.standings import find_present
from evidence.workflows.weigh.claims_in_words import PEOPLE_BY_SEX, name_exercise
from evidence.workflows.weigh.reweighing import weigh_many
from evidence.workflows.weigh.weighing import Weighing

HOW = (
    "Score: (things published and other claims resting on it + 1) x (levels below high). A rule of thumb, not a "
    "measure of what a study is worth."
)
# What a study would need for each domain that holds a rating down.
NEEDS = {
    "risk_of_bias": "low risk of bias: order or groups drawn by lot, outcome measured by people who do not know which",
    "inconsistency": "reporting by training status and sex, to see why the studies differ",
    "indirectness": "the outcome itself in the people the claim is about, not something that stands in for it",
    "imprecision": "more people",
    "publication_bias": "a plan registered beforehand, reported whatever was found",
}

ANY = "means, SDs and numbers of people, in a table or the text: nothing can be weighed yet"


@dataclass(frozen=True, slots=True)
class Wish:
    """A claim for which one more study would help, and what to look for.

    `people_missing`: to the information size, None where it cannot be said. `needs`: what a study would have to have,
    the domain first whose repair lifts the level.
    """

    key: str
    statement: str
    verdict: str
    level: str
    rests: int
    score: int
    studies: int
    people: int
    people_missing: int | None
    look_for: str
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadingList:
    """The wishes, first the one that would help most; and how the order was made."""

    wishes: tuple[Wish, ...]
    how: str
    known: int


def list_reading(catalogue: Catalogue, most: int = 10) -> ReadingList:
    """The claims for which another study would help most."""
    present = find_present(catalogue)
    numbers = list(present.weighed)
    present.load_claims(numbers)
    with catalogue.reading() as session:
        resting = count_resting(present.claims.values(), all_uses(session))
    scores: dict[str, tuple[int, int]] = {}
    for number in numbers:
        rests = sum(resting.get(number, (0, 0)))
        below = Level.HIGH.rank - read_level(present.confidence_now(number)).rank
        if below:
            scores[present.claims[number].key] = ((rests + 1) * below, rests)
    best = sorted(scores, key=lambda key: (-scores[key][0], key))[:most]
    weighed = {w.claim.key: w for w in weigh_many(catalogue, best, present.vocabulary)}
    wishes = (
        make_wish(weighed[key], *scores[key], present.vocabulary) for key in best if weighed[key].graded
    )
    return ReadingList(tuple(wishes), HOW, len(numbers))


def make_wish(weighing: Weighing, score: int, rests: int, vocabulary: Vocabulary) -> Wish:
    """What to look for, for one claim."""
    return Wish(
        weighing.claim.key,
        weighing.statement,
        weighing.verdict.text,
        str(weighing.confidence.level),
        rests,
        score,
        weighing.verdict.k,
        weighing.verdict.people,
        people_missing(weighing),
        describe_study(weighing.claim, vocabulary),
        tuple(list_needs(weighing.confidence.domains, people_missing(weighing)))
        if weighing.verdict.k
        else (ANY,),
    )


def people_missing(weighing: Weighing) -> int | None:
    """People missing to the information size; None where that is not known."""
    for domain in weighing.confidence.domains:
        if domain.domain == "imprecision":
            facts = dict(domain.facts)
            needed, people = facts.get("needed"), facts.get("people")
            if isinstance(needed, int) and isinstance(people, int):
                return max(0, needed - people)
    return None


def describe_study(claim: Claim, vocabulary: Vocabulary) -> str:
    """The study to look for: comparison, region, outcome, people, design."""
    sides = [
        name_exercise(exercise, details, vocabulary)
        for exercise, details in (
            (claim.exercise, claim.exercise_details),
            (claim.comparator, claim.comparator_details),
        )
        if exercise or details
    ]
    parts = [" against ".join(sides)] if sides else []
    if claim.region and claim.region in vocabulary.regions:
        parts.append(vocabulary.regions[claim.region].name)
    construct = vocabulary.constructs.get(claim.construct_id)
    if construct is not None:
        parts.append(f"{construct.name} measured")
    status = vocabulary.training_statuses.get(claim.training_status or "")
    who = PEOPLE_BY_SEX.get(claim.sex or "", "people")
    people = f"in {status.name} {who}" if status else f"in {who}" if claim.sex else "in anyone"
    parts.append(f"{people} with {claim.health}" if claim.health else people)
    if construct is not None:
        acute = construct.acute
        parts.append(
            "the same people doing both in an order drawn by lot"
            if acute
            else "groups or limbs drawn by lot, over weeks"
        )
    return "; ".join(parts)


def list_needs(domains: Sequence[DomainRating], missing: int | None) -> list[str]:
    """What a study would need, the domain that costs most first."""
    held = sorted((d for d in domains if d.counted < 0), key=lambda d: (d.counted, d.domain))
    told = []
    for domain in held:
        if domain.domain == "imprecision" and missing:
            told.append(f"{missing} people or more, all studies together (imprecision)")
        else:
            told.append(f"{NEEDS[domain.domain]} ({domain.domain.replace('_', ' ')})")
    return told
