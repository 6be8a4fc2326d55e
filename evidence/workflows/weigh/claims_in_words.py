"""A claim's parts as they are called in a sentence."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evidence.appraisal.kinds import find_band
from evidence.appraisal.wording import Names
from evidence.catalogue.tables import Claim, People
from evidence.vocabulary import Vocabulary

if TYPE_CHECKING:
    from evidence.workflows.relevance.contributions import StudyEvidence

LINKS = {"more": "more than", "less": "less than", "same": "as much as", "differs": "differently from"}
# What lies on either side of no effect in a figure: (left, right), for kinds that are no comparison of two.
SIDES = {
    "trend": ("falls with more of it", "rises with more of it"),
    "level": ("below the line", "above the line"),
    "association": ("more goes with less", "more goes with more"),
}
UNITS = {"deg": "degrees", "cm": "cm", "percent": "%", "1rm": "% of 1RM", "s": "seconds", "kg": "kg"}
VERBS = {"activation": "activates", "hypertrophy": "grows", "strength": "strengthens"}

PEOPLE_BY_SEX = {"female": "women", "male": "men"}


def name_exercise(exercise: str | None, details: dict[str, object], vocabulary: Vocabulary) -> str:
    """An exercise with the details a claim sets, as named in the middle of a sentence."""
    name = vocabulary.exercises[exercise].name if exercise else "training"
    told = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in details.items())
    return f"{name} ({told})" if told else name


def name_people(studies: "Sequence[StudyEvidence]", vocabulary: Vocabulary) -> str:
    """Who was studied, in as few words as hold for all of them."""
    return name_groups([p for s in studies for p in s.rows.people], vocabulary)


def name_groups(groups: Sequence[People], vocabulary: Vocabulary) -> str:
    """The same from the groups of people that the studies had."""
    statuses = sorted({p.training_status for p in groups} - {"not stated"})
    sexes = {p.sex for p in groups} - {"not stated"}
    who = PEOPLE_BY_SEX.get(next(iter(sexes)), "people") if len(sexes) == 1 else "people"
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
    units = {o.unit for s in studies for o in s.bearing.outcomes if o.unit}
    named = claim.exercise or claim.exercise_details
    return Names(
        exercise=f"the {name_exercise(claim.exercise, claim.exercise_details, vocabulary)}" if named else "",
        comparator=f"the {name_exercise(claim.comparator, claim.comparator_details, vocabulary)}",
        region=region,
        construct=construct,
        people=name_people(studies, vocabulary) if studies else "",
        unit=units.pop() if len(units) == 1 else "",
        alone=vocabulary.constructs[construct].name if construct != claim.construct_id else "",
    )


def name_detail(detail: str) -> str:
    """A detail of conditions as people call it: `knee angle (degrees)`."""
    words = detail.replace("_", " ").split()
    if len(words) > 1 and words[-1] in UNITS:
        return f"{' '.join(words[:-1])} ({UNITS[words[-1]]})"
    return " ".join(words)


def name_step(detail: str, step: float) -> str:
    """A step of a detail: `over 30 degrees of hip angle`."""
    words = detail.replace("_", " ").split()
    if len(words) > 1 and words[-1] in UNITS:
        return f"over {step:g} {UNITS[words[-1]]} of {' '.join(words[:-1])}"
    return f"over {step:g} {' '.join(words)}"


def name_measure(claim: Claim, vocabulary: Vocabulary) -> str:
    """What a claim of an association measures first: `strength of the hip thrust`."""
    construct = vocabulary.constructs[claim.construct_id].name
    region = f" of the {vocabulary.regions[claim.region].name}" if claim.region else ""
    exercise = f" in the {vocabulary.exercises[claim.exercise].name}" if claim.exercise else ""
    return f"{construct}{region}{exercise}"


def tell_line(claim: Claim, vocabulary: Vocabulary) -> tuple[str, str]:
    """The side claimed and the line or band of a level: ("above", "60 % of the maximum")."""
    low, top = claim.terms["level"], claim.terms.get("to")
    band = f" (“{claim.terms['band']}”)" if claim.terms.get("band") else ""
    if band:  # as the bands are printed now, whatever was kept with the claim
        named = find_band("activation", str(claim.terms["band"]))
        low, top = named.low, named.high
    if top is not None:
        side = "inside" if claim.direction == "more" else "outside"
        return side, f"{float(low):g} to {float(top):g} % of the maximum{band}"
    return "above" if claim.direction == "more" else "below", f"{float(low):g} % of the maximum{band}"


def state_in_words(claim: Claim, vocabulary: Vocabulary) -> str:
    """The claim as a sentence that can be held against results, or in a person's words where it rests on none."""
    if claim.terms.get("text"):
        return capital(str(claim.terms["text"]).strip().rstrip("."))
    say = {
        "superlative": say_superlative,
        "trend": say_trend,
        "level": say_level,
        "association": say_association,
    }
    text = say.get(claim.kind, say_comparison)(claim, vocabulary)
    return capital(f"{text}{say_limits(claim, vocabulary)}")


def say_comparison(claim: Claim, vocabulary: Vocabulary) -> str:
    """`seated leg curl grows the hamstring muscles more than lying leg curl`."""
    a = name_exercise(claim.exercise, claim.exercise_details, vocabulary)
    b = name_exercise(claim.comparator, claim.comparator_details, vocabulary)
    size = say_size(claim)
    if claim.region and claim.construct_id in VERBS:
        region = f"the {vocabulary.regions[claim.region].name}"
        return f"{a} {VERBS[claim.construct_id]} {region} {size}{LINKS[claim.direction]} {b}"
    compared = {"more": "more", "less": "less", "same": "the same", "differs": "different"}[claim.direction]
    joined = "as" if claim.direction == "same" else "from" if claim.direction == "differs" else "than"
    return f"{a} gives {size}{compared} {say_outcome(claim, vocabulary)} {joined} {b}"


def say_size(claim: Claim) -> str:
    """`20 % (relative) `, where the claim names a size."""
    size = claim.terms.get("size")
    if size is None:
        return ""
    unit = "percentage points" if claim.terms.get("percent") == "points" else "% (relative)"
    return f"{float(size):g} {unit} "


def say_outcome(claim: Claim, vocabulary: Vocabulary) -> str:
    """`muscle growth of the hamstring muscles`."""
    where = f" of the {vocabulary.regions[claim.region].name}" if claim.region else ""
    return f"{vocabulary.constructs[claim.construct_id].name}{where}"


def say_superlative(claim: Claim, vocabulary: Vocabulary) -> str:
    """`barbell hip thrust gives the most muscle activation of the gluteus maximus of all exercises compared`."""
    a = name_exercise(claim.exercise, claim.exercise_details, vocabulary)
    most = "the most" if claim.direction == "more" else "the least"
    field = [claim.exercise, *(e for e in claim.terms.get("field") or () if e != claim.exercise)]
    names = [vocabulary.exercises[e].name for e in field if e]
    among = (
        f"among {', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "of all exercises compared"
    )
    return f"{a} gives {most} {say_outcome(claim, vocabulary)} {among}"


def say_trend(claim: Claim, vocabulary: Vocabulary) -> str:
    """`more knee angle (degrees) gives less muscle activation of the rectus femoris in leg extension`."""
    named = claim.exercise or claim.exercise_details
    where = f" in {name_exercise(claim.exercise, claim.exercise_details, vocabulary)}" if named else ""
    detail = name_detail(str(claim.terms["detail"]))
    return f"more {detail} gives {claim.direction} {say_outcome(claim, vocabulary)}{where}"


def say_level(claim: Claim, vocabulary: Vocabulary) -> str:
    """`barbell hip thrust gives muscle activation of the gluteus maximus above 60 % of the maximum`."""
    a = name_exercise(claim.exercise, claim.exercise_details, vocabulary)
    side, line = tell_line(claim, vocabulary)
    return f"{a} gives {say_outcome(claim, vocabulary)} {side} {line}"


def say_association(claim: Claim, vocabulary: Vocabulary) -> str:
    """`strength in the barbell hip thrust goes together with athletic performance`."""
    other = vocabulary.constructs[str(claim.terms["other"])].name
    one = name_measure(claim, vocabulary)
    ways = {"more": f"more {one} goes with more {other}", "less": f"more {one} goes with less {other}"}
    return ways.get(claim.direction, f"{one} goes together with {other}")


def say_limits(claim: Claim, vocabulary: Vocabulary) -> str:
    """` in trained women with knee pain, over 8 to 12 weeks`; empty where the claim names nobody and no time."""
    status = vocabulary.training_statuses.get(claim.training_status or "")
    who = PEOPLE_BY_SEX.get(claim.sex or "", "people")
    people = f"{status.name} {who}" if status else who
    people = f"{people} with {claim.health}" if claim.health and claim.health != "healthy" else people
    if claim.health == "healthy":
        people = f"healthy {people}"
    text = f" in {people}" if status or claim.sex or claim.health else ""
    weeks = claim.terms.get("weeks")
    if weeks:
        low, high = (float(w) for w in weeks)
        text += f" over {low:g} weeks" if low == high else f" over {low:g} to {high:g} weeks"
    return text


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]
