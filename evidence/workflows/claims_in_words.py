"""A claim's parts as they are called in a sentence."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evidence.appraisal.wording import Names
from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary

if TYPE_CHECKING:
    from evidence.workflows.contributions import StudyEvidence

LINKS = {"more": "more than", "less": "less than", "same": "as much as", "differs": "differently from"}
VERBS = {"activation": "activates", "hypertrophy": "grows", "strength": "strengthens"}


def name_exercise(exercise: str | None, details: dict[str, object], vocabulary: Vocabulary) -> str:
    """An exercise with the details a claim sets, as named in the middle of a sentence."""
    name = vocabulary.exercises[exercise].name if exercise else "training"
    told = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in details.items())
    return f"{name} ({told})" if told else name


def name_people(studies: "Sequence[StudyEvidence]", vocabulary: Vocabulary) -> str:
    """Who was studied, in as few words as hold for all of them."""
    groups = [p for s in studies for p in s.rows.people]
    statuses = sorted({p.training_status for p in groups} - {"not stated"})
    sexes = {p.sex for p in groups} - {"not stated"}
    who = {"female": "women", "male": "men"}.get(next(iter(sexes)), "people") if len(sexes) == 1 else "people"
    known = vocabulary.training_statuses
    ordered = sorted(statuses, key=lambda x: (getattr(known.get(x), "rank", None) or 0, x))
    names = [known[x].name if x in known else x for x in ordered]
    health = sorted({p.health for p in groups} - {"not stated", "healthy"})
    text = f"{names[0]} {who}" if len(names) == 1 else f"{who} ({'; '.join(names)})" if names else who
    return f"{text} with {', '.join(health)}" if health else text


def name_claim(
    claim: Claim, vocabulary: Vocabulary, construct: str, studies: "Sequence[StudyEvidence]"
) -> Names:
    """The names a wording needs; `construct` is what was measured."""
    region = vocabulary.regions[claim.region].name if claim.region else ""
    return Names(
        exercise=f"the {name_exercise(claim.exercise, claim.exercise_details, vocabulary)}",
        comparator=f"the {name_exercise(claim.comparator, claim.comparator_details, vocabulary)}",
        region=region,
        construct=construct,
        people=name_people(studies, vocabulary) if studies else "",
    )


def state_in_words(claim: Claim, vocabulary: Vocabulary) -> str:
    """The claim as a sentence that can be held against results."""
    a = name_exercise(claim.exercise, claim.exercise_details, vocabulary)
    b = name_exercise(claim.comparator, claim.comparator_details, vocabulary)
    region = f"the {vocabulary.regions[claim.region].name}" if claim.region else ""
    construct = vocabulary.constructs[claim.construct_id].name
    if region and claim.construct_id in VERBS:
        text = f"{a} {VERBS[claim.construct_id]} {region} {LINKS[claim.direction]} {b}"
    else:
        where = f" of {region}" if region else ""
        compared = {"more": "more", "less": "less", "same": "the same", "differs": "different"}[
            claim.direction
        ]
        text = f"{a} gives {compared} {construct}{where} {'as' if claim.direction == 'same' else 'than'} {b}"
    limits = []
    if claim.training_status:
        limits.append(f"{vocabulary.training_statuses[claim.training_status].name} people")
    if claim.sex:
        limits.append({"female": "women", "male": "men"}.get(claim.sex, claim.sex))
    if claim.health:
        limits.append(f"people with {claim.health}")
    text = f"{text} in {', '.join(limits)}" if limits else text
    return text[:1].upper() + text[1:]
