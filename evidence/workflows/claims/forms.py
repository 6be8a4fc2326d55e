"""A claim's parts as a form shows them, and what was changed in it: nothing is changed over somebody else's change."""

from collections.abc import Mapping
from dataclasses import dataclass

from evidence.appraisal.kinds import find_kind
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.claims.changing import CLEAR, as_statement, edit_claim
from evidence.workflows.claims.claiming import Stated, Statement
from evidence.workflows.claims.terms import ALLOWED
from evidence.workflows.opening import vocabulary_of

LABELS = {
    "exercise": ("Exercise", ""),
    "exercise_details": ("Its details", "position=seated; load=8RM"),
    "comparator": ("Against", ""),
    "comparator_details": ("Its details", "position=prone"),
    "region": ("Region", ""),
    "outcome": ("Outcome", ""),
    "direction": ("It says", ""),
    "training_status": ("Training of the people", ""),
    "sex": ("Sex", ""),
    "health": ("Health", "healthy, or a condition"),
    "margin": ("Margin", "the largest difference that still counts as the same"),
    "surrogate": ("May lean on", "a stand-in outcome, told openly"),
    "scale": ("Scale", "empty: the usual one of its outcome"),
    "note": ("Note", ""),
    "weeks": ("Weeks", "8, or 8-12"),
    "size": ("At least", "on the scale of the claim"),
    "percent": ("Percent", "such as 40"),
    "detail": ("Detail", "along which it is graded"),
    "step": ("Step", "in the unit of the detail"),
    "level": ("Line", "in the unit of the outcome"),
    "to": ("Up to", ""),
    "band": ("Band", "a named one"),
    "source": ("Where the line comes from", ""),
    "other": ("The other outcome", ""),
    "field": ("Among", "exercises, with semicolons between"),
    "text": ("In words", ""),
}
NUMBERS = frozenset({"margin", "size", "step", "level", "to"})
LISTS = frozenset({"exercise_details", "comparator_details", "field"})


@dataclass(frozen=True, slots=True)
class ClaimField:
    """One part of a claim as text; `choices`: what it may be, where that is a short list."""

    name: str
    label: str
    hint: str
    value: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClaimForm:
    """A claim's parts in the order in which they are said."""

    key: str
    kind: str
    statement: str
    fields: tuple[ClaimField, ...]


def claim_form(catalogue: Catalogue, key: str) -> ClaimForm:
    """The parts of a stored claim that its kind can have. Raises NotFound."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        claim = claim_by_key(session, key)
    kind = find_kind(claim.kind)
    statement = as_statement(claim, vocabulary)
    left_out = {"comparator", "comparator_details"} if kind.sides < 2 else set()
    if kind.evidence != "results":
        left_out |= {"margin", "scale", "surrogate"}  # there are no figures that they could be about
    terms = set(ALLOWED[kind.id])
    choices = {
        "direction": kind.directions,
        "sex": ("", "female", "male"),
        "training_status": ("", *(s for s in vocabulary.training_statuses if s != "not stated")),
    }
    fields = tuple(
        ClaimField(name, *LABELS[name], value_of(statement, name, vocabulary), tuple(choices.get(name, ())))
        for name in LABELS
        if name in terms or (name in Statement.__dataclass_fields__ and name not in left_out)
    )
    return ClaimForm(key, kind.id, claim.statement, fields)


def value_of(statement: Statement, name: str, vocabulary: Vocabulary) -> str:
    """A part of a statement as a person would type it."""
    value = getattr(statement, name) if hasattr(statement, name) else getattr(statement.terms, name)
    if value is None:
        return ""
    if isinstance(value, tuple):
        return "; ".join(map(str, value))
    if isinstance(value, float):
        return f"{value:g}"
    if name in ("exercise", "comparator") and value in vocabulary.exercises:
        return vocabulary.exercises[value].name
    if name == "region" and value in vocabulary.regions:
        return vocabulary.regions[value].name
    if name == "outcome" and value in vocabulary.constructs:
        return vocabulary.constructs[value].name
    return str(value)


def store_claim_form(
    catalogue: Catalogue, key: str, was: Mapping[str, str], now: Mapping[str, str], who: str
) -> Stated:
    """Change what differs between the form as it was opened and as it was sent.

    Raises BadInput where nothing differs, where a part cannot be read, or where somebody changed the same part
    meanwhile; NotFound or Ambiguous for names.
    """
    form = claim_form(catalogue, key)
    changed = [f for f in form.fields if f.name in now and now[f.name].strip() != was.get(f.name, "").strip()]
    for part in changed:
        if part.value.strip() not in (was.get(part.name, "").strip(), now[part.name].strip()):
            raise BadInput(
                f'{part.label} was changed elsewhere after this page was opened: it now is "{part.value}".',
                hint="Open the page again; what you typed is kept in this browser.",
            )
    terms = set(ALLOWED[form.kind])
    read = {part.name: read_part(part, now[part.name]) for part in changed}
    return edit_claim(
        catalogue,
        key,
        {name: value for name, value in read.items() if name not in terms},
        {name: value for name, value in read.items() if name in terms},
        who,
    )


def read_part(part: ClaimField, text: str) -> object:
    """What was typed as a statement has it; "none" for a part that was emptied. Raises BadInput."""
    said = text.strip()
    if part.name in LISTS:
        return tuple(item.strip() for item in said.split(";") if item.strip())
    if not said:
        return CLEAR
    if part.name not in NUMBERS:
        return said
    try:
        return float(said.replace(",", "."))
    except ValueError:
        raise BadInput(f'{part.label}: "{said}" is no number.', hint="Write digits, such as 0.2.") from None
