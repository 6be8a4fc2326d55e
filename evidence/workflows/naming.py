"""Names: which exercise, region or outcome a text means, and a user's own additions."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import OwnAlias, OwnExercise
from evidence.errors import Ambiguous, BadInput, NotFound
from evidence.vocabulary import Exercise, Lookup, Vocabulary, read_exercise
from evidence.workflows.opening import vocabulary_of

EXACT = 100  # the score of a name that is written as it is known
KEY = re.compile(r"[a-z][a-z0-9_]{1,60}")


@dataclass(frozen=True, slots=True)
class NameCandidate:
    """An entry that a name may mean."""

    kind: str
    id: str
    name: str
    score: float
    reason: str


@dataclass(frozen=True, slots=True)
class NameFound:
    """What a name means across exercises and regions: one match, several, or none."""

    text: str
    outcome: str
    candidates: tuple[NameCandidate, ...]


def look_up(catalogue: Catalogue, text: str) -> NameFound:
    """Look a name up among exercises and regions at once; an ambiguous one lists all candidates."""
    vocabulary = vocabulary_of(catalogue)
    answers = {"exercise": vocabulary.find_exercise(text), "region": vocabulary.find_region(text)}
    matches = [(kind, found) for kind, found in answers.items() if found.outcome == "match"]
    unsure = [(kind, found) for kind, found in answers.items() if found.outcome == "ambiguous"]
    # A region also calls up the exercises that work it; named exactly, it is meant itself.
    region_meant = [kind for kind, _ in matches] == ["region"]
    # A name written in full is meant itself, though parts of it name something else ("back" in "back squat").
    in_full = all(c.score < EXACT for _, found in unsure for c in found.candidates) and any(
        c.id == found.match and c.score >= EXACT for _, found in matches for c in found.candidates
    )
    if len(matches) == 1 and (not unsure or region_meant or in_full):
        kind, found = matches[0]
        best = next(c for c in found.candidates if c.id == found.match)
        return NameFound(text, "match", (NameCandidate(kind, best.id, best.name, best.score, best.reason),))
    shown = matches + unsure or list(answers.items())
    candidates = tuple(
        NameCandidate(kind, c.id, c.name, c.score, c.reason)
        for kind, found in shown
        for c in found.candidates
    )
    return NameFound(text, "ambiguous" if matches or unsure else "none", candidates)


def require_match(found: Lookup, what: str) -> str:
    """The id that a look-up found. Raises Ambiguous with the candidates, or NotFound with the nearest names."""
    if found.outcome == "match" and found.match:
        return found.match
    candidates = [f"{c.id} ({c.name})" for c in found.candidates[:8]]
    if found.outcome == "ambiguous":
        raise Ambiguous(
            f'"{found.text}" can mean several {what}s.', candidates=candidates, hint="Use one of these ids."
        )
    near = f"Nearest: {', '.join(candidates)}." if candidates else "See `steelyard words find`."
    raise NotFound(f'No {what} is called "{found.text}".', hint=near)


def read_details(details: Sequence[str]) -> dict[str, str]:
    """NAME=VALUE options as a mapping."""
    read: dict[str, str] = {}
    for text in details:
        name, sign, value = text.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise BadInput(f'"{text}" is not NAME=VALUE.', hint='Write for example --detail "grip=pronated".')
        read[name.strip()] = value.strip()
    return read


def add_own_exercise(
    catalogue: Catalogue,
    key: str,
    name: str,
    primary: Sequence[str],
    secondary: Sequence[str],
    parent: str | None,
    details: Sequence[str],
    who: str,
) -> str:
    """Add a user's exercise; regions and parent are named as people name them. Returns its id."""
    vocabulary = vocabulary_of(catalogue)
    if not KEY.fullmatch(key):
        raise BadInput(
            f'"{key}" cannot be an id.',
            hint="Use small letters, digits and underscores, starting with a letter.",
        )
    if key in vocabulary.exercises:
        raise BadInput(f'There is an exercise "{key}" already: {vocabulary.exercises[key].name}.')
    body = {
        **read_details(details),
        "primary": [require_match(vocabulary.find_region(r), "region") for r in primary],
        "secondary": [require_match(vocabulary.find_region(r), "region") for r in secondary],
        "parent": require_match(vocabulary.find_exercise(parent), "exercise") if parent else None,
        "provenance": f"added by {who}",
    }
    check_own(vocabulary, key, name, body)
    known = vocabulary.find_exercise(name)
    if any(c.score >= EXACT for c in known.candidates):
        means = ", ".join(f"{c.name} ({c.id})" for c in known.candidates if c.score >= EXACT)
        raise BadInput(
            f'"{name.strip()}" means {means} already.', hint="Give the exercise a name that nothing else has."
        )
    with catalogue.changing(who, f"words add-exercise {key}") as session:
        session.add(OwnExercise(key=key, name=name.strip(), body=body, added_by=who))
    return key


def check_own(vocabulary: Vocabulary, key: str, name: str, body: Mapping[str, object]) -> Exercise:
    """Refuse an exercise that the vocabulary could not read back."""
    if not name.strip():
        raise BadInput("An exercise needs a name.")
    exercise = read_exercise({**body, "id": key, "name": name.strip()})
    vocabulary.with_own([exercise])
    return exercise


def add_own_alias(catalogue: Catalogue, alias: str, meaning: str, who: str) -> str:
    """Add a user's name for a known exercise or region, once. Returns a sentence, with what the name meant before."""
    if not alias.strip():
        raise BadInput("A name cannot be empty.")
    found = look_up(catalogue, meaning)
    if found.outcome != "match":
        raise Ambiguous(
            f'"{meaning}" does not name one exercise or region.',
            candidates=[f"{c.id} ({c.name})" for c in found.candidates[:8]],
            hint="Use one of these ids.",
        )
    target = found.candidates[0]
    before = [c for c in look_up(catalogue, alias).candidates if c.score >= EXACT]
    if any((c.kind, c.id) == (target.kind, target.id) for c in before):
        return f'"{alias.strip()}" means {target.name} ({target.id}) already.'
    with catalogue.changing(who, f"words add-alias {alias}") as session:
        session.add(OwnAlias(kind=target.kind, alias=alias.strip(), target=target.id, added_by=who))
    told = f'"{alias.strip()}" now means {target.name} ({target.id}).'
    others = ", ".join(f"{c.name} ({c.id})" for c in before)
    return f"{told} It meant {others}: where both may be meant, use the id." if others else told
