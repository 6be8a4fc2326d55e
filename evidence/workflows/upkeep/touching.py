"""Which claims something has touched since they were last weighed: only these are weighed again.

From the history to the studies that changed, from these by exercise, outcome and region to the claims that they can
bear on. A claim that nothing touched stands as it was last weighed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version

from evidence.appraisal.rulebook import load_rules
from evidence.catalogue import Session
from evidence.catalogue.queries.evidence_changes import (
    EvidenceChanges,
    Step,
    claims_comparing,
    claims_naming,
    evidence_changes,
)
from evidence.catalogue.queries.standings import Weighed, weighed_claims
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


def stale_claims(session: Session) -> frozenset[int]:
    """Row numbers of claims that were weighed and that something touched since: their answer may have moved."""
    return find_touched(session, weighed_claims(session), vocabulary_in(session)).claims


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
    for study in changes.studies.values():
        if not study.steps:
            continue
        bearing = claims_comparing(
            session,
            study.constructs,
            {e for exercise in study.exercises for e in related_exercises(exercise, vocabulary)},
            {r for region in study.regions for r in related_regions(region, vocabulary)},
            PAIRED,
        )
        touched |= {c for c in bearing if c in last and study.last > last[c].at}
    for exercise, steps in changes.exercises.items():
        named = claims_naming(session, related_exercises(exercise, vocabulary))
        touched |= {c for c in named if c in last and is_later(steps, last[c])}
    return Touched(frozenset(touched), changes, by_rules)


def is_later(steps: Sequence[Step], weighed: Weighed) -> bool:
    """Whether anything happened after a weighing."""
    return any(step.at > weighed.at for step in steps)
