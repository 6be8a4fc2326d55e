"""Stating a claim so that it can be tested, and leaving a study out of one with a reason."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from evidence.appraisal.kinds import ClaimKind, find_kind
from evidence.appraisal.metrics import find_thresholds
from evidence.catalogue import Catalogue, Session
from evidence.catalogue.queries import claim_by_key, exclusions_of, list_claims, study_by_key
from evidence.catalogue.queries.many_claims import claims_with_keys
from evidence.catalogue.tables import Claim, Exclusion
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.claims.details import fold_details, require_details
from evidence.workflows.claims.terms import Terms, read_terms
from evidence.workflows.effects.effects_found import SCALES
from evidence.workflows.naming import read_details, require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.weigh.claims_in_words import state_in_words
from evidence.workflows.weigh.weighing import weigh

ANY = "any"
LARGEST_MARGIN = 1e6


@dataclass(frozen=True, slots=True)
class Statement:
    """A claim as a person states it: names as people write them. What is needed depends on its kind."""

    exercise: str | None = None
    comparator: str | None = None
    outcome: str | None = None
    region: str | None = None
    direction: str = "more"
    key: str | None = None
    training_status: str | None = None
    sex: str | None = None
    exercise_details: tuple[str, ...] = ()
    comparator_details: tuple[str, ...] = ()
    margin: float | None = None
    surrogate: str | None = None
    note: str | None = None
    scale: str | None = None
    kind: str | None = None  # None: told from the rest
    health: str | None = None
    falsifier: str | None = None
    terms: Terms = field(default_factory=Terms)


@dataclass(frozen=True, slots=True)
class Stated:
    """A claim as stored, with how each name was read."""

    key: str
    statement: str
    readings: tuple[str, ...]
    kind: str = "comparison"
    cautions: tuple[str, ...] = ()


def state_claim(
    catalogue: Catalogue, statement: Statement, who: str, vocabulary: Vocabulary | None = None
) -> Stated:
    """Store a claim. The same claim is not stored twice. Raises Ambiguous, NotFound or BadInput.

    `vocabulary`: that of the catalogue, where it was read already (for many claims it is read once).
    """
    vocabulary = vocabulary or vocabulary_of(catalogue)
    claim = read_claim(statement, vocabulary, catalogue.now(), who)
    require_details(claim, catalogue)
    with catalogue.changing(who, f"claim state {claim.key}") as session:
        require_new(claim, session)
        session.add(claim)
    return tell_stated(statement, claim, vocabulary)


def foresee_claim(
    catalogue: Catalogue, statement: Statement, vocabulary: Vocabulary, earlier: list[Claim]
) -> Stated:
    """What stating a claim would store; nothing is stored. `earlier`: those foreseen before it, which it joins.

    Raises what stating it would raise.
    """
    claim = read_claim(statement, vocabulary, catalogue.now(), "")
    require_details(claim, catalogue)
    with catalogue.reading() as session:
        require_new(claim, session, earlier)
    earlier.append(claim)
    return tell_stated(statement, claim, vocabulary)


def tell_stated(statement: Statement, claim: Claim, vocabulary: Vocabulary) -> Stated:
    """A claim with how its names were read and the cautions that go with it."""
    readings = tuple(tell_readings(statement, claim, vocabulary))
    return Stated(claim.key, claim.statement, readings, claim.kind, tuple(cautions_of(claim, vocabulary)))


def usual_direction(kind: str | None) -> str:
    """What a claim of a kind says where nobody says which way it goes."""
    return {"sameness": "same", "association": "differs"}.get(kind or "", "more")


class KnownClaim(BadInput):
    """The claim is stored already, under `key`."""

    def __init__(self, key: str) -> None:
        super().__init__(f"This claim is here already: {key}.", hint=f"See `steelyard claim show {key}`.")
        self.key = key


def require_new(claim: Claim, session: Session, earlier: Sequence[Claim] = ()) -> None:
    """Refuse a claim that is here already (or among `earlier`), or a key that another one has."""
    same = same_claims(session, claim) or [c for c in earlier if asks_the_same(c, claim)]
    if same:
        raise KnownClaim(same[0].key)
    if claims_with_keys(session, [claim.key]) or any(c.key == claim.key for c in earlier):
        raise BadInput(f'Another claim is called "{claim.key}".', hint="Give this one a name with --key.")


def cautions_of(claim: Claim, vocabulary: Vocabulary) -> list[str]:
    """What goes with claims of pain, injury or people with a condition."""
    words = f"{claim.statement} {claim.construct_id} {claim.health or ''}"
    return [caution.text for caution in vocabulary.cautions_for(words)]


def read_claim(statement: Statement, vocabulary: Vocabulary, at: datetime, who: str) -> Claim:
    """The claim that a statement makes, in vocabulary ids. Raises BadInput for what its kind lacks or cannot have."""
    if statement.direction not in set(Direction):
        raise BadInput(
            f'A claim cannot say "{statement.direction}".', hint=f"It says one of: {', '.join(Direction)}."
        )
    if statement.sex not in (None, "female", "male"):
        raise BadInput(f'Sex "{statement.sex}" is not known.', hint="Use female or male, or leave it out.")
    if statement.margin is not None and not 0 < statement.margin <= LARGEST_MARGIN:
        raise BadInput(f"A margin is above 0 and at most {LARGEST_MARGIN:,.0f}, not {statement.margin:g}.")
    construct = (
        require_match(vocabulary.find_construct(statement.outcome), "outcome") if statement.outcome else ""
    )
    kind = find_kind(statement.kind or tell_kind(statement, construct))
    require_kind(statement, kind, construct, vocabulary)
    exercise = find_side(statement.exercise, vocabulary)
    comparator = find_side(statement.comparator, vocabulary)
    details, other_details = (
        fold_details(read_details(statement.exercise_details)),
        fold_details(read_details(statement.comparator_details)),
    )
    if kind.sides == 2 and exercise == comparator and details == other_details:
        raise BadInput(
            "Both sides of the claim are the same exercise.",
            hint="Set them apart with --detail and --over-detail.",
        )
    status = statement.training_status
    claim = Claim(
        key="",
        kind=kind.id,
        statement="",
        exercise=exercise,
        exercise_details=details,
        comparator=comparator,
        comparator_details=other_details,
        region=require_match(vocabulary.find_region(statement.region), "region")
        if statement.region
        else None,
        construct_id=construct,
        direction=statement.direction,
        training_status=require_match(vocabulary.find_training_status(status), "training status")
        if status
        else None,
        sex=statement.sex,
        health=require_match(vocabulary.find_health(statement.health), "state of health")
        if statement.health
        else None,
        margin=statement.margin,
        metric=read_scale(statement.scale),
        surrogate=read_stand_in(statement, vocabulary),
        note=statement.note,
        terms=read_terms(kind.id, statement.terms, construct, vocabulary),
        falsifier=read_words(statement.falsifier),
        added_at=at,
        added_by=who,
    )
    if kind.id == "superlative" and claim.terms.get("field") == [claim.exercise]:
        raise BadInput(
            "The field holds only the exercise itself, so it is the best of one.",
            hint="Name the others with --among, or leave it out for all that were compared.",
        )
    claim.key = read_key(statement.key) if statement.key else make_key(claim)
    claim.statement = state_in_words(claim, vocabulary)
    return claim


def tell_kind(statement: Statement, construct: str) -> str:
    """The kind of a claim that does not say it: a comparison, unless it says "same" or is about pain or injury."""
    if statement.direction == Direction.SAME:
        return "sameness"
    return "rate" if construct in find_kind("rate").constructs else "comparison"


def require_kind(statement: Statement, kind: ClaimKind, construct: str, vocabulary: Vocabulary) -> None:
    """Check that a statement has what its kind needs. Raises BadInput naming it."""
    if statement.direction not in kind.directions:
        fits = ", ".join(kind.directions)
        raise BadInput(
            f'A claim of the kind {kind.id} cannot say "{statement.direction}".',
            hint=f"It says one of: {fits}.",
        )
    if kind.evidence == "results" and not construct:
        raise BadInput(
            f"A claim of the kind {kind.id} needs an outcome.", hint="--outcome growth, strength, ..."
        )
    if kind.constructs and construct not in kind.constructs:
        raise BadInput(
            f"A claim of the kind {kind.id} is about {' or '.join(kind.constructs)}, "
            f"not {vocabulary.constructs[construct].name}.",
            hint="State a comparison.",
        )
    idle = (
        ("--margin", statement.margin),
        ("--scale", statement.scale),
        ("--leaning-on", statement.surrogate),
    )
    if kind.evidence != "results" and any(given is not None for _, given in idle):
        options = ", ".join(option for option, given in idle if given is not None)
        raise BadInput(
            f"A claim of the kind {kind.id} has no figures, so {options} would say nothing.",
            hint=f"Leave {options} out.",
        )
    named = (("--exercise", statement.exercise), ("--over", statement.comparator))
    for option, given in named[: kind.sides]:
        if not given:
            raise BadInput(
                f"A claim of the kind {kind.id} needs {option}.", hint=kind.about[:1].upper() + kind.about[1:]
            )
    if kind.evidence == "results" and kind.sides < 2 and statement.comparator:
        raise BadInput(f"A claim of the kind {kind.id} has no second exercise.", hint="Leave --over out.")
    if kind.id == "superlative" and not statement.region and construct in ("activation", "hypertrophy"):
        raise BadInput("The best for which muscle is not said.", hint="--region hamstrings")
    if (
        kind.id == "sameness"
        and statement.margin is None
        and not default_margin(statement, construct, vocabulary)
    ):
        raise BadInput(
            "Sameness needs a margin: the largest difference that still counts as the same.",
            hint="--margin 0.2 (in the scale of the claim; see --scale).",
        )


def default_margin(statement: Statement, construct: str, vocabulary: Vocabulary) -> float | None:
    """The margin that the scale of the claim brings along; it is named with every verdict that uses it."""
    known = vocabulary.constructs[construct]
    return find_thresholds(read_scale(statement.scale) or known.metric, construct).margin


def read_words(text: str | None) -> str | None:
    """A person's words with single spaces; None where there are none."""
    words = " ".join((text or "").split())
    return words or None


def find_side(text: str | None, vocabulary: Vocabulary) -> str | None:
    """The exercise on one side; "any" stands for any exercise that has the details named."""
    if not text or text.strip().casefold() == ANY:
        return None
    return require_match(vocabulary.find_exercise(text), "exercise")


def read_stand_in(statement: Statement, vocabulary: Vocabulary) -> str | None:
    """The stand-in outcome that a claim may lean on; only one that people do use for this outcome."""
    if not statement.surrogate or not statement.outcome:
        return None
    stand_in = require_match(vocabulary.find_construct(statement.surrogate), "outcome")
    construct = require_match(vocabulary.find_construct(statement.outcome), "outcome")
    if construct not in vocabulary.constructs[stand_in].surrogate_for:
        raise BadInput(
            f"{vocabulary.constructs[stand_in].name} is not a stand-in for {vocabulary.constructs[construct].name}.",
            hint="State the claim about what was measured.",
        )
    return stand_in


def read_scale(scale: str | None) -> str | None:
    """The scale on which a claim is to be told; None: the usual one of its outcome."""
    if scale is None:
        return None
    known = {name.replace("_", "-"): name for name in sorted(set(SCALES.values()))}
    if scale.replace("_", "-") not in known:
        raise BadInput(f'No scale is called "{scale}".', hint=f"Use one of: {', '.join(known)}.")
    return known[scale.replace("_", "-")]


def read_key(text: str) -> str:
    """A claim's short name: small letters, digits and hyphens."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,79}", text):
        raise BadInput(f'"{text}" cannot name a claim.', hint="Use small letters, digits and hyphens.")
    return text


def make_key(claim: Claim) -> str:
    """A short name made from the claim's parts."""
    two = find_kind(claim.kind).sides == 2
    parts = ["" if claim.kind in ("comparison", "sameness", "rate") else claim.kind]
    parts += [claim.exercise or ("any" if two else ""), claim.direction if claim.direction != "more" else ""]
    parts += ["over", claim.comparator or "any"] if two else [claim.comparator or ""]
    parts += [str(claim.terms.get(name, "")) for name in ("detail", "level", "other")]
    parts += [claim.region or "", claim.construct_id]
    if not any(parts[1:]):
        parts += re.findall(r"[a-z0-9]+", str(claim.terms.get("text", "")).lower())[:6]
    words = "-".join(re.sub(r"[^a-z0-9]+", "-", part.lower()) for part in parts if part)
    return words[:80].strip("-") or claim.kind


def same_claims(session: Session, claim: Claim) -> list[Claim]:
    """Other stored claims that say the same of the same things."""
    near = list_claims(
        session,
        exercises={claim.exercise} if claim.exercise else None,
        regions={claim.region} if claim.region else None,
        constructs={claim.construct_id},
    )
    return [c for c in near if c.id != claim.id and asks_the_same(c, claim)]


def asks_the_same(one: Claim, other: Claim) -> bool:
    """Whether two claims say the same of the same things."""
    parts = (
        "kind", "exercise", "exercise_details", "comparator", "comparator_details", "region", "construct_id",
        "direction", "training_status", "sex", "health", "margin", "metric", "surrogate", "terms",
    )  # fmt: skip
    return all(getattr(one, part) == getattr(other, part) for part in parts)


def tell_readings(statement: Statement, claim: Claim, vocabulary: Vocabulary) -> list[str]:
    """How each name was read, where it was not written as the vocabulary has it."""
    told = []
    for text, read, names in (
        (statement.exercise, claim.exercise, vocabulary.exercises),
        (statement.comparator, claim.comparator, vocabulary.exercises),
        (statement.region, claim.region, vocabulary.regions),
        (statement.outcome, claim.construct_id, vocabulary.constructs),
    ):
        if text and read and text.casefold() not in (names[read].name.casefold(), read):
            told.append(f'"{text}" is read as {names[read].name} ({read})')
    return told


def leave_study_out(catalogue: Catalogue, claim_key: str, study_key: str, reason: str, who: str) -> None:
    """Leave a study out of a claim, once; the reason is shown wherever the claim is. Raises BadInput."""
    if not reason.strip():
        raise BadInput(
            "Leaving a study out needs a reason.", hint='--because "..."; it is shown with the claim.'
        )
    require_bearing(catalogue, claim_key, study_key)
    with catalogue.changing(who, f"claim leave-out {claim_key} {study_key}") as session:
        claim, study = claim_by_key(session, claim_key), study_by_key(session, study_key)
        assert claim.id is not None and study.id is not None
        for former in exclusions_of(session, claim):
            if former.study_id == study.id and not former.result_key:
                raise BadInput(
                    f"{study_key} is left out of {claim_key} already: {former.reason} ({former.person}).",
                    hint="`steelyard history` lists the change; `steelyard undo NUMBER` takes it back.",
                )
        session.add(
            Exclusion(
                claim_id=claim.id, study_id=study.id, reason=reason.strip(), person=who, at=catalogue.now()
            )
        )


def require_bearing(catalogue: Catalogue, claim_key: str, study_key: str) -> None:
    """Refuse a study that says nothing of a claim: leaving it out would change nothing. Raises BadInput, NotFound."""
    with catalogue.reading() as session:
        study_by_key(session, study_key)
    bearing = {b.study: b.label for b in weigh(catalogue, claim_key).brought}
    if study_key not in bearing:
        listed = ", ".join(bearing) or "none"
        raise BadInput(
            f"{study_key} does not bear on {claim_key}, so there is nothing to leave out.",
            hint=f"Studies that bear on it: {listed}.",
        )
