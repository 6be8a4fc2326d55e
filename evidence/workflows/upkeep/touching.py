"""Which claims something has touched since they were last weighed: only these are weighed again.

From the history to the studies that changed, from these by exercise, outcome and region to the claims that they can
bear on. A claim that nothing touched stands as it was last weighed.
"""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from typing import Any
from weakref import WeakKeyDictionary

from evidence.appraisal.rulebook import load_rules
from evidence.catalogue import Session
from evidence.catalogue.queries import last_state
from evidence.catalogue.queries.evidence_changes import (
    Compared,
    EvidenceChanges,
    Step,
    StudyTouched,
    claims_naming,
    compared_by_claims,
    evidence_changes,
)
from evidence.catalogue.queries.standings import Weighed, weighed_claims
from evidence.catalogue.recording import ReadingSession
from evidence.errors import SteelyardError
from evidence.vocabulary import Vocabulary
from evidence.workflows.opening import vocabulary_in
from evidence.workflows.relevance.kinship import PAIRED, related_exercises, related_regions


@dataclass(frozen=True, slots=True)
class Touched:
    """Claims (by row number) that have to be weighed again, and what changed since the oldest of their weighings."""

    claims: frozenset[int]
    changes: EvidenceChanges
    by_rules: frozenset[int]  # of the claims, those weighed by another version of the rules or the program


def is_current(versions: tuple[str, str, str]) -> bool:
    """Whether a claim was weighed by this version of Steelyard and of its rule set."""
    program, rule_set, rules = versions
    try:
        return program == version("steelyard") and rules == str(load_rules(rule_set)["version"])
    except SteelyardError:  # a rule set that is no longer there
        return False


# What was found for each open catalogue, and its state then: each list of claims asks.
_FOUND: WeakKeyDictionary[Any, tuple[Hashable, frozenset[int]]] = WeakKeyDictionary()


def stale_claims(session: Session) -> frozenset[int]:
    """Row numbers of claims that were weighed and that something touched since: their answer may have moved."""
    state, opened = last_state(session), session.get_bind()
    known = _FOUND.get(opened) if isinstance(session, ReadingSession) else None
    if known is not None and known[0] == state:
        return known[1]
    found = find_touched(session, weighed_claims(session, marks=False), vocabulary_in(session)).claims
    if isinstance(session, ReadingSession):
        _FOUND[opened] = (state, found)
    return found


def find_touched(
    session: Session, weighed: Mapping[int, Sequence[Weighed]], vocabulary: Vocabulary
) -> Touched:
    """The claims that were weighed and whose answer may have moved since."""
    if not weighed:
        return Touched(frozenset(), EvidenceChanges(), frozenset())
    last = {claim: rows[-1] for claim, rows in weighed.items()}
    changes = evidence_changes(session, min(w.at for w in last.values()))
    current = {versions: is_current(versions) for versions in {w.versions for w in last.values()}}
    by_rules = frozenset(claim for claim, w in last.items() if not current[w.versions])
    touched = set(by_rules)
    for claim, steps in changes.claims.items():
        if claim in last and is_later(steps, last[claim]):
            touched.add(claim)
    if any(study.steps for study in changes.studies.values()):
        studies = StudiesTouched(changes.studies, vocabulary)
        for compared in compared_by_claims(session):
            if compared.number in last:
                at = studies.last_bearing_on(compared)
                if at is not None and at > last[compared.number].at:
                    touched.add(compared.number)
    for exercise, steps in changes.exercises.items():
        named = claims_naming(session, related_exercises(exercise, vocabulary))
        touched |= {c for c in named if c in last and is_later(steps, last[c])}
    return Touched(frozenset(touched), changes, by_rules)


class StudiesTouched:
    """Studies that changed, found by what they compare: one index, however many studies and claims there are."""

    def __init__(self, studies: Mapping[int, StudyTouched], vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.last: dict[int, datetime] = {}
        self.by_construct: dict[str, set[int]] = {}
        self.by_exercise: dict[str, set[int]] = {}
        self.by_region: dict[str | None, set[int]] = {}
        self.answers: dict[
            tuple[object, ...], datetime | None
        ] = {}  # by what is compared: many claims share it
        for number, study in studies.items():
            if not study.steps:
                continue
            self.last[number] = study.last
            for names, found in (
                (study.constructs, self.by_construct),
                (study.exercises, self.by_exercise),
            ):
                for name in names:
                    found.setdefault(name, set()).add(number)
            for region in study.regions:
                self.by_region.setdefault(region, set()).add(number)

    def last_bearing_on(self, claim: Compared) -> datetime | None:
        """When a study that can bear on what a claim compares was last touched; None: none was."""
        paired = claim.kind in PAIRED
        asked = (
            claim.construct_id,
            claim.surrogate,
            *((claim.exercise, claim.comparator, claim.region) * paired),
        )
        if asked not in self.answers:
            found = self.bearing_on(claim, paired)
            self.answers[asked] = max((self.last[number] for number in found), default=None)
        return self.answers[asked]

    def bearing_on(self, claim: Compared, paired: bool) -> set[int]:
        """The studies that can bear on a claim; `paired`: it holds one exercise against another."""
        found = _union(self.by_construct, {claim.construct_id, claim.surrogate or claim.construct_id})
        if not paired:
            return found
        for exercise in (claim.exercise, claim.comparator):
            if exercise is not None:
                found &= _union(self.by_exercise, related_exercises(exercise, self.vocabulary))
        if claim.region is not None:
            found &= _union(self.by_region, related_regions(claim.region, self.vocabulary))
        return found


def _union(index: Mapping[Any, set[int]], names: Iterable[Any]) -> set[int]:
    return set().union(*(index.get(name, set()) for name in names))


def is_later(steps: Sequence[Step], weighed: Weighed) -> bool:
    """Whether anything happened after a weighing."""
    return any(step.at > weighed.at for step in steps)
