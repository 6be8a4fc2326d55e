"""A claim in plain words: read, shown part by part with what is unsure or asked, and stored when a person says so."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from evidence.appraisal.kinds import find_kind
from evidence.catalogue import Catalogue
from evidence.errors import BadInput
from evidence.reading.claim_proposal import Part, Proposal
from evidence.reading.claim_sentence import propose_claim
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.claims.claiming import Stated, Statement, read_claim, state_claim
from evidence.workflows.claims.details import require_details
from evidence.workflows.claims.terms import Terms
from evidence.workflows.opening import vocabulary_of

OPTIONS = {
    "exercise": "--exercise", "comparator": "--over", "region": "--region", "outcome": "--outcome",
    "direction": "--says", "margin": "--margin", "details": "--detail and --over-detail", "detail": "--graded",
    "other": "--other", "status": "--status", "level": "--level", "kind": "--kind",
}  # fmt: skip
FROM_SENTENCE = ("mechanism", "principle", "practice")  # kinds kept in the person's own words


@dataclass(frozen=True, slots=True)
class Proposed:
    """What a sentence was read as, with the answers given; `stated` once it is stored."""

    proposal: Proposal
    statement: Statement
    open: tuple[Part, ...]
    stated: Stated | None = None
    answers: dict[str, str] = field(
        default_factory=dict
    )  # what a person typed in place of what was read, by part


def propose(
    catalogue: Catalogue,
    text: str,
    answers: Statement,
    who: str,
    *,
    says: str | None = None,
    store: bool = False,
) -> Proposed:
    """Read a claim in plain words; `answers` and the direction `says` stand over what was read.

    Stores only with `store` and nothing open.

    Raises BadInput with the open questions where it cannot be stored.
    """
    if not any(c.isalpha() for c in text):
        raise BadInput("There are no words to read.", hint='steelyard claim propose "A grows B more than C"')
    vocabulary = vocabulary_of(catalogue)
    proposal = propose_claim(text, vocabulary)
    statement = with_answers(as_statement(proposal, text), answers, says)
    given = tell_answers(answers, says)
    still = tuple(p for p in (*proposal.asked, *ask_kind(proposal, given)) if not answered(p, answers, says))
    if given:
        require_answers(statement, vocabulary, catalogue, who, complete=not still)
    if not store:
        return Proposed(proposal, statement, still, None, given)
    if still:
        asked = "; ".join(f"{part.name} ({OPTIONS.get(part.name, part.name)})" for part in still)
        unread = "".join(f" {part.how[:1].upper()}{part.how[1:]}" for part in still if part.name == "kind")
        raise BadInput(
            f"Not stored: to be answered first: {asked}.{unread}",
            hint="Give the answers as options, with --store.",
        )
    return Proposed(proposal, statement, (), state_claim(catalogue, statement, who), given)


def ask_kind(proposal: Proposal, given: Mapping[str, str]) -> tuple[Part, ...]:
    """Ask for the kind where nothing of the sentence was read and nothing of it was answered.

    What is kept in a person's own words would else take in any sentence, and a claim would be stored as a rule or an
    opinion without anybody having meant it so.
    """
    named = ("exercise", "comparator", "region", "outcome", "other")
    read = any(part.name in named and part.state != "asked" for part in proposal)
    if proposal.kind not in FROM_SENTENCE or read or set(named) & set(given):
        return ()
    how = (
        "nothing of the sentence was read: no exercise, region or outcome. Name them with --exercise, --over, "
        "--region, --outcome; or keep the sentence as it stands, on purpose: --kind principle (a rule of training), "
        "--kind mechanism (a reason) or --kind practice (an opinion)."
    )
    return (Part("kind", None, state="asked", how=how),)


def tell_answers(answers: Statement, says: str | None) -> dict[str, str]:
    """What a person typed, by the name of the part it stands for."""
    names = {
        "training_status": "status",
        "exercise_details": "details",
        "comparator_details": "other details",
    }
    empty = Statement()
    typed: dict[str, object] = {} if says is None else {"direction": says}
    for holder, blank in ((answers, empty), (answers.terms, empty.terms)):
        for name in holder.__dataclass_fields__:
            value = getattr(holder, name)
            if name not in ("terms", "direction", "key") and value != getattr(blank, name):
                typed[names.get(name, name)] = ", ".join(value) if isinstance(value, tuple) else value
    return {name: f"{value:g}" if isinstance(value, float) else str(value) for name, value in typed.items()}


def require_answers(
    statement: Statement, vocabulary: Vocabulary, catalogue: Catalogue, who: str, *, complete: bool
) -> None:
    """Refuse an answer that is none before it is stored, as storing would. Raises BadInput or NotFound."""
    if complete:
        require_details(read_claim(statement, vocabulary, catalogue.now(), who), catalogue)
        return
    if statement.kind is not None:
        find_kind(statement.kind)
    if statement.direction not in set(Direction):
        raise BadInput(
            f'A claim cannot say "{statement.direction}".', hint=f"It says one of: {', '.join(Direction)}."
        )


def as_statement(proposal: Proposal, text: str) -> Statement:
    """The statement that a proposal makes, in ids."""

    def word(name: str) -> str | None:
        value = proposal.value(name)
        return None if value is None else str(value)

    own_words = proposal.kind in FROM_SENTENCE
    weeks, size, level = proposal.value("weeks"), proposal.value("size"), proposal.value("level")
    stretch = "-".join(f"{w:g}" for w in weeks) if isinstance(weeks, tuple) else None
    terms = Terms(
        weeks=None if own_words or proposal.kind == "association" else stretch,
        size=float(size) if isinstance(size, int | float) else None,
        percent=word("percent") if size is not None else None,
        detail=word("detail"),
        level=float(level) if isinstance(level, int | float) else None,
        other=word("other"),
        text=text.strip() if own_words else None,
    )
    return Statement(
        exercise=word("exercise"),
        comparator=word("comparator"),
        outcome=word("outcome"),
        region=word("region"),
        direction=word("direction") or "more",
        training_status=word("status"),
        sex=word("sex"),
        health=word("health"),
        kind=proposal.kind,
        terms=terms,
    )


def with_answers(statement: Statement, answers: Statement, says: str | None) -> Statement:
    """What was read, with a person's answers in its place."""
    empty = Statement()
    given = {
        name: value
        for name in Statement.__dataclass_fields__
        if name not in ("terms", "direction") and (value := getattr(answers, name)) != getattr(empty, name)
    }
    terms = {
        name: value
        for name in Terms.__dataclass_fields__
        if (value := getattr(answers.terms, name)) != getattr(empty.terms, name)
    }
    if says is not None:
        given["direction"] = says
        if says != "same" and statement.kind == "sameness":
            given.setdefault("kind", None)  # told from the answer, which is no sameness any more
    return replace(statement, **given, terms=replace(statement.terms, **terms))


def answered(part: Part, answers: Statement, says: str | None) -> bool:
    """Whether a person answered a part that was asked."""
    given = {
        "direction": says is not None,
        "margin": answers.margin is not None or says not in (None, "same"),
        "details": bool(answers.exercise_details or answers.comparator_details),
        "status": answers.training_status is not None,
    }
    if part.name in given:
        return bool(given[part.name])
    for holder in (answers, answers.terms):
        if hasattr(holder, part.name):
            return getattr(holder, part.name) is not None
    return False


def tell_proposed(proposed: Proposed, vocabulary: Vocabulary) -> list[str]:
    """The reading for a person: each part with the words it came from, then what is asked."""
    proposal = proposed.proposal
    answers = dict(proposed.answers)
    kind = answers.pop("kind", None)
    open_names = {p.name for p in proposed.open}
    read = "no kind of claim" if "kind" in open_names else proposal.kind
    lines = [f"Read as: {read}" + (f"; answered: {kind}" if kind else "")]
    for part in proposal:
        if part.state == "asked" and part.name in open_names:
            continue
        if part.name in answers:
            read = f", in place of {tell_value(part, proposed, vocabulary)}" if part.value is not None else ""
            lines.append(f"  {part.name}: {answers.pop(part.name)} (your answer{read})")
            continue
        lines.append(f"  {part.name}: {tell_value(part, proposed, vocabulary)}{tell_words(part)}")
    lines += [f"  {name}: {value} (your answer)" for name, value in answers.items()]
    if proposal.unread:
        lines.append(f"  not read: {', '.join(proposal.unread)}")
    for part in proposed.open:
        option = OPTIONS.get(part.name)
        lines.append(f"  ? {part.name}: {part.how}" + (f" Answer with {option}." if option else ""))
        if part.candidates:
            names = ", ".join(f"{c.name} ({c.id})" for c in part.candidates[:5])
            lines.append(f"      {'may mean' if 'may mean' in part.how else 'nearest'}: {names}")
    return lines


def tell_value(part: Part, proposed: Proposed, vocabulary: Vocabulary, *, ids: bool = True) -> str:
    """What a part was read as, by the name the vocabulary has for it; with its id, for whoever types it again."""
    if part.state == "asked" and part.value is None:
        return "as you answered"
    value = part.value
    if isinstance(value, tuple):
        return f"{value[0]:g} weeks" if value[0] == value[1] else f"{value[0]:g} to {value[1]:g} weeks"
    for names in (
        vocabulary.exercises,
        vocabulary.regions,
        vocabulary.constructs,
        vocabulary.training_statuses,
    ):
        if isinstance(value, str) and value in names:
            return f"{names[value].name} ({value})" if ids else names[value].name
    return (
        f"{value:g}" if isinstance(value, float) else "nobody in particular" if value is None else str(value)
    )


def tell_words(part: Part) -> str:
    """The words a part came from, and what is unsure of it."""
    words = f', from "{part.text}"' if part.text else ""
    return words + (f" — unsure: {part.how or 'a general word'}" if part.state == "unsure" else "")
