"""Many claims weighed on one reading of the catalogue: each study is read once, and found by what it compared.

`weigh` looks at every study that measured the outcome. For ten thousand claims that is twenty million looks; here an
index from exercises and outcomes to studies names the few that can bear on a claim, and the rest change nothing.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeVar

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, claim_by_key, last_evidence_change
from evidence.catalogue.queries.judgement import links_by_claim
from evidence.catalogue.queries.many_claims import (
    claims_with_keys,
    exclusions_by_claim,
    overrides_by_claim,
    studies_doing,
)
from evidence.catalogue.queries.standings import last_weighed
from evidence.catalogue.tables import Appraisal, Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.kinship import PAIRED, related_exercises, related_regions
from evidence.workflows.weigh.stand_ins import stand_in_constructs
from evidence.workflows.weigh.weighing import Inputs, Weighing, as_appraisal, is_kept, weigh_inputs

Taken = TypeVar("Taken")
MOST_WORKED_OUT = 30_000  # contrasts kept at a time, of some 7 kB each
_EVERY = 20  # claims between two looks at how many there are


class StudyIndex:
    """Studies found by what they compared and measured."""

    def __init__(self, rows: Sequence[StudyRows], vocabulary: Vocabulary) -> None:
        self.rows = rows
        self.vocabulary = vocabulary
        self.measuring: dict[tuple[str, str | None], set[int]] = {}
        self.by_exercise: dict[str, set[int]] = {}
        self.families: dict[str, frozenset[str]] = {}
        self.neighbours: dict[str | None, frozenset[str | None]] = {}
        for place, study in enumerate(rows):
            constructs = {outcome.id: outcome.construct_id for outcome in study.outcomes}
            for measured in {(constructs[r.outcome_id], r.region) for r in study.results}:
                self.measuring.setdefault(measured, set()).add(place)
            for condition in study.conditions:
                if condition.exercise:
                    self.by_exercise.setdefault(condition.exercise, set()).add(place)

    def candidates(self, claim: Claim) -> list[StudyRows]:
        """Every study that can bear on a claim, in the order of keys; some that turn out not to."""
        constructs = [claim.construct_id, *stand_in_constructs(claim.construct_id, self.vocabulary)]
        if claim.kind not in PAIRED:
            found = {
                p
                for (construct, _), places in self.measuring.items()
                if construct in constructs
                for p in places
            }
            return [self.rows[place] for place in sorted(found)]
        if claim.region not in self.neighbours:
            self.neighbours[claim.region] = related_regions(claim.region, self.vocabulary)
        if claim.region is None:
            wanted = [m for m in self.measuring if m[0] in constructs]
        else:
            wanted = [(c, r) for c in constructs for r in self.neighbours[claim.region]]
        found = set().union(*(self.measuring.get(m, set()) for m in wanted))
        for exercise in (claim.exercise, claim.comparator):
            if exercise is not None:
                found &= self.doing(exercise)
        return [self.rows[place] for place in sorted(found)]

    def doing(self, exercise: str) -> set[int]:
        """Studies in which an exercise, a variant of it, or what it is a variant of, was done."""
        if exercise not in self.families:
            self.families[exercise] = related_exercises(exercise, self.vocabulary)
        return set().union(*(self.by_exercise.get(e, set()) for e in self.families[exercise]))

    def forget(self) -> None:
        """Let go of what was worked out of the studies, where it has become much: it is worked out again if needed."""
        if sum(len(study.worked_out) for study in self.rows) > MOST_WORKED_OUT:
            for study in self.rows:
                study.worked_out.clear()


def weigh_many(
    catalogue: Catalogue, keys: Iterable[str] | None = None, vocabulary: Vocabulary | None = None
) -> Iterator[Weighing]:
    """Weigh claims on one unchanging view of the catalogue; None: all. Nothing is stored.

    What comes of each is what `weigh` gives. They come by outcome, region and exercises, not in the order of keys, so
    that claims that rest on the same contrasts share them. Keys that the catalogue does not hold are passed over.
    """
    vocabulary = vocabulary or vocabulary_of(catalogue)
    with catalogue.reading() as session:
        claims = claims_with_keys(session, keys)
        excluded = exclusions_by_claim(session)
        chosen = overrides_by_claim(session)
        links = links_by_claim(session)
        index = StudyIndex(studies_doing(session, *needed_by(claims, vocabulary)), vocabulary)
    for number, claim in enumerate(sorted(claims, key=what_is_compared), 1):
        decided = (excluded.get(claim.id or 0, ()), chosen.get(claim.id or 0, ()))
        inputs = Inputs(claim, *decided, index.candidates(claim), links.get(claim.id or 0, ()))
        yield weigh_inputs(inputs, vocabulary)
        if number % _EVERY == 0:
            index.forget()


def weigh_each_and_keep(
    catalogue: Catalogue,
    keys: Sequence[str],
    who: str,
    take: Callable[[Weighing], Taken],
    vocabulary: Vocabulary | None = None,
) -> dict[str, Taken]:
    """Weigh claims and keep a snapshot of each that says something new, in one change; in the order given.

    Of each weighing only what `take` makes of it is held: a weighing holds all figures behind it. Raises NotFound for a
    key that the catalogue does not hold.
    """
    found: dict[str, Taken] = {}
    made: dict[str, Appraisal] = {}
    at = catalogue.now()  # before anything is read: what comes while it is weighed is a later change
    for weighing in weigh_many(catalogue, keys, vocabulary):
        found[weighing.claim.key] = take(weighing)
        made[weighing.claim.key] = appraisal = as_appraisal(weighing, catalogue)
        appraisal.at = at
    with catalogue.reading() as session:
        for missing in (key for key in keys if key not in found):
            claim_by_key(session, missing)
        last = last_weighed(session, [appraisal.claim_id for appraisal in made.values()])
        changed = last_evidence_change(session)
    rows = [a for a in made.values() if not is_kept(a.inputs_hash, last.get(a.claim_id), changed)]
    if rows and not catalogue.read_only:
        what = "weigh 1 claim" if len(rows) == 1 else f"weigh {len(rows)} claims"
        with catalogue.changing(who, what) as session:
            session.add_all(rows)
    return {key: found[key] for key in keys}


def what_is_compared(claim: Claim) -> tuple[str, ...]:
    """What claims that rest on the same contrasts have in common, then the key."""
    compared = (claim.construct_id, claim.region, claim.exercise, claim.comparator)
    return (*(part or "" for part in compared), claim.key)


def needed_by(claims: Sequence[Claim], vocabulary: Vocabulary) -> tuple[set[str], set[str] | None]:
    """The constructs and exercises whose studies can bear on any of the claims; exercises None: all."""
    constructs = {c.construct_id for c in claims}
    constructs |= {s for c in set(constructs) if c for s in stand_in_constructs(c, vocabulary)}
    exercises: set[str] = set()
    for claim in claims:
        if claim.kind not in PAIRED or claim.exercise is None:
            return constructs, None
        exercises.add(claim.exercise)
    return constructs, {e for exercise in exercises for e in related_exercises(exercise, vocabulary)}
