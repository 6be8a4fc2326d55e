"""Changing a claim once it is stated: other parts, what would overturn it, removal. The history keeps what it was."""

from dataclasses import replace

from evidence.appraisal.kinds import find_kind
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key, uses_of
from evidence.catalogue.tables import Claim
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.claims.claiming import (
    Stated,
    Statement,
    asks_the_same,
    cautions_of,
    read_claim,
    read_words,
    same_claims,
    tell_readings,
)
from evidence.workflows.claims.details import require_details
from evidence.workflows.claims.terms import ALLOWED, Terms
from evidence.workflows.opening import vocabulary_of

KEPT = (
    "id",
    "key",
    "added_at",
    "added_by",
    "review_due",
    "falsifier",
)  # what an edit of the statement leaves alone
CLEAR = "none"


def edit_claim(
    catalogue: Catalogue, key: str, changes: dict[str, object], terms: dict[str, object], who: str
) -> Stated:
    """Change parts of a claim by the names of `Statement` and `Terms`; "none" takes a part away.

    What it said before stays in the history and can be brought back with undo. Raises BadInput where nothing changes,
    or where it would say what another claim says.
    """
    if not changes and not terms:
        raise BadInput(
            "Nothing to change was named.", hint="Name what to change, such as --region or --says."
        )
    vocabulary = vocabulary_of(catalogue)
    with catalogue.changing(who, f"claim edit {key}") as session:
        claim = claim_by_key(session, key)
        statement = with_changes(as_statement(claim, vocabulary), changes, terms)
        edited = read_claim(statement, vocabulary, claim.added_at, claim.added_by)
        require_details(edited, catalogue, claim)
        # What other steps keep with a claim (a rule set, settings) is not part of what it says.
        known = set(Terms.__dataclass_fields__)
        edited.terms = {**{k: v for k, v in claim.terms.items() if k not in known}, **edited.terms}
        if asks_the_same(claim, edited) and claim.note == edited.note:
            raise BadInput(f"{key} says that already: {claim.statement}.")
        others = [c for c in same_claims(session, edited) if c.id != claim.id]
        if others:
            raise BadInput(f"Another claim says that already: {others[0].key}.")
        for name in Claim.model_fields:
            if name not in KEPT:
                setattr(claim, name, getattr(edited, name))
        session.add(claim)
        told = tuple(tell_readings(statement, claim, vocabulary))
        return Stated(key, claim.statement, told, claim.kind, tuple(cautions_of(claim, vocabulary)))


def with_changes(statement: Statement, changes: dict[str, object], terms: dict[str, object]) -> Statement:
    """A statement with other parts; terms that another kind cannot have are dropped with the kind."""
    cleared = {name: None if value == CLEAR else value for name, value in changes.items()}
    changed = replace(statement, **cleared)  # type: ignore[arg-type]
    own = {name: getattr(changed.terms, name) for name in Terms.__dataclass_fields__}
    if "kind" in changes and changed.kind:
        allowed = ALLOWED[find_kind(changed.kind).id]
        own = {
            name: value if name in allowed else Terms.__dataclass_fields__[name].default
            for name, value in own.items()
        }
    if "level" in terms:
        own["band"] = None
    if "band" in terms:
        own["level"] = own["to"] = None
    for name, value in terms.items():
        own[name] = Terms.__dataclass_fields__[name].default if value == CLEAR else value
    return replace(changed, terms=Terms(**own))


def as_statement(claim: Claim, vocabulary: Vocabulary) -> Statement:
    """A stored claim as it would be stated."""
    terms = {name: claim.terms[name] for name in Terms.__dataclass_fields__ if name in claim.terms}
    if "weeks" in terms:
        terms["weeks"] = "-".join(f"{float(w):g}" for w in terms["weeks"])
    if "band" in terms:
        terms.pop("level", None)
        terms.pop("to", None)
    if "field" in terms:
        terms["field"] = tuple(terms["field"])
    return Statement(
        exercise=claim.exercise or ("any" if claim.exercise_details else None),
        comparator=claim.comparator or ("any" if claim.comparator_details else None),
        outcome=claim.construct_id or None,
        region=claim.region,
        direction=claim.direction,
        key=claim.key,
        training_status=claim.training_status,
        sex=claim.sex,
        exercise_details=tuple(f"{k}={v}" for k, v in claim.exercise_details.items()),
        comparator_details=tuple(f"{k}={v}" for k, v in claim.comparator_details.items()),
        margin=claim.margin,
        surrogate=claim.surrogate,
        note=claim.note,
        scale=claim.metric,
        kind=claim.kind,
        health=claim.health,
        falsifier=claim.falsifier,
        terms=Terms(**terms),
    )


def set_falsifier(catalogue: Catalogue, key: str, words: str, who: str) -> str:
    """Write down what would make the person who states it give the claim up. Raises BadInput for no words."""
    said = read_words(words)
    if said is None:
        raise BadInput(
            "No words were given.",
            hint='Say what finding would overturn the claim: "a trial of 60 people that ..."',
        )
    with catalogue.changing(who, f"claim falsifier {key}") as session:
        claim = claim_by_key(session, key)
        claim.falsifier = said
        session.add(claim)
    return said


def remove_claim(catalogue: Catalogue, key: str, reason: str, who: str) -> tuple[str, ...]:
    """Take a claim away with what belongs to it, the reason in the history; returns where it was told.

    Raises BadInput without a reason.
    """
    said = read_words(reason)
    if said is None:
        raise BadInput("Removing a claim needs a reason.", hint='--because "..."; it stays in the history.')
    with catalogue.changing(who, f"claim remove {key}: {said}") as session:
        claim = claim_by_key(session, key)
        told = tuple(f"{use.kind} {use.name}" for use in uses_of(session, claim))
        session.delete(claim)
    return tuple(dict.fromkeys(told))
