"""Regions and exercises as pages show them: what is held on each, what is known of it, what stands open."""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import list_claims
from evidence.catalogue.queries.counting import (
    claims_by_region,
    studies_by_exercise,
    studies_by_region,
    studies_with_exercise,
)
from evidence.errors import NotFound
from evidence.vocabulary import Exercise, Vocabulary
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pages.claim_lists import ClaimLine, claim_lines

MOST = 100


@dataclass(frozen=True, slots=True)
class RegionLine:
    """A region in the tree: how deep it lies, and what is held on it and on its parts."""

    id: str
    name: str
    depth: int
    studies: int
    claims: int


@dataclass(frozen=True, slots=True)
class RegionPage:
    """One region: where it belongs, what was measured on it, the exercises that work it, and the claims on it."""

    id: str
    name: str
    above: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str], ...]
    constructs: tuple[tuple[str, str, int], ...]  # id, name, studies; most studies first
    exercises: tuple[tuple[str, str, str], ...]  # id, name, main or secondary
    claims: tuple[ClaimLine, ...]
    open_questions: tuple[ClaimLine, ...]


@dataclass(frozen=True, slots=True)
class ExercisePage:
    """One exercise: what it is, what it works by common practice, and what studies and claims say of it."""

    id: str
    name: str
    names: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    primary: tuple[tuple[str, str], ...]
    secondary: tuple[tuple[str, str], ...]
    provenance: str
    parent: tuple[str, str] | None
    variants: tuple[tuple[str, str], ...]
    studies: tuple[tuple[str, str], ...]
    claims: tuple[ClaimLine, ...]
    swaps: tuple[tuple[str, str, str], ...]  # id, name, why


def list_regions(catalogue: Catalogue) -> tuple[RegionLine, ...]:
    """The tree of regions, top down, with what is held on each (parts counted in); the part studied most first."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        studies, claims = studies_by_region(session), claims_by_region(session)
    held: dict[str, set[int]] = {}
    for (region, _), measured in studies.items():
        held.setdefault(region, set()).update(measured)
    lines: list[RegionLine] = []

    def studied(family: tuple[str, ...]) -> int:
        return len(set().union(*(held.get(r, ()) for r in family)))

    def add(region: str, depth: int) -> None:
        family = (region, *vocabulary.descendants(region))
        lines.append(
            RegionLine(
                region,
                vocabulary.regions[region].name,
                depth,
                studied(family),
                sum(claims.get(r, 0) for r in family),
            )
        )
        for child in children.get(region, ()):
            add(child, depth + 1)

    children: dict[str | None, list[str]] = {}
    for known in vocabulary.regions.values():
        children.setdefault(known.parent, []).append(known.id)
    tops = children.get(None, [])
    for top in sorted(tops, key=lambda region: -studied((region, *vocabulary.descendants(region)))):
        add(top, 0)
    return tuple(lines)


def show_region(catalogue: Catalogue, region: str) -> RegionPage:
    """One region. Raises NotFound."""
    vocabulary = vocabulary_of(catalogue)
    if region not in vocabulary.regions:
        raise NotFound(f'There is no region "{region}".', hint="See the list of regions.")
    family = {region, *vocabulary.descendants(region)}
    with catalogue.reading() as session:
        counted = studies_by_region(session)
        claims = claim_lines(session, list_claims(session, regions=family))
    measured = outcomes_in(counted, family)
    return RegionPage(
        region,
        vocabulary.regions[region].name,
        named_regions(vocabulary.ancestors(region), vocabulary),
        named_regions([r.id for r in vocabulary.regions.values() if r.parent == region], vocabulary),
        tuple(
            (c, vocabulary.constructs[c].name, number) for c, number in measured if c in vocabulary.constructs
        ),
        tuple(
            (e.id, e.name, "main" if family & set(e.primary) else "secondary")
            for e in vocabulary.exercises.values()
            if family & {*e.primary, *e.secondary}
        ),
        claims[:MOST],
        tuple(line for line in claims if line.confidence in ("low", "very low", "-"))[:20],
    )


def outcomes_in(
    counted: Mapping[tuple[str, str], frozenset[int]], regions: Container[str]
) -> list[tuple[str, int]]:
    """The outcomes that studies measured in some regions, each with their number; most studies first."""
    by_construct: dict[str, set[int]] = {}
    for (place, construct), studies in counted.items():
        if place in regions:
            by_construct.setdefault(construct, set()).update(studies)
    numbers = [(construct, len(studies)) for construct, studies in by_construct.items()]
    return sorted(numbers, key=lambda item: (-item[1], item[0]))


def known_outcomes(catalogue: Catalogue, region: str | None) -> tuple[tuple[str, str, int], ...]:
    """Every outcome with its name and the studies that measured it in a region (None: anywhere); most studies first."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        counted = studies_by_region(session)
    everywhere = {place for place, _ in counted}
    inside = (
        {region, *vocabulary.descendants(region)} if region and region in vocabulary.regions else everywhere
    )
    measured = dict(outcomes_in(counted, inside))
    names = {c.id: c.name for c in vocabulary.constructs.values()}
    ordered = [*(c for c in measured if c in names), *(c for c in names if c not in measured)]
    return tuple((c, names[c], measured.get(c, 0)) for c in ordered)


def list_exercises(catalogue: Catalogue, words: str = "") -> tuple[tuple[Exercise, int], ...]:
    """Exercises whose names hold all words, with the number of studies on each; those studied most first."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        counted = studies_by_exercise(session)
    wanted = words.casefold().split()
    found = [
        e
        for e in vocabulary.exercises.values()
        if all(w in " ".join((e.id, e.name, *e.names)).casefold() for w in wanted)
    ]
    return tuple(
        (e, counted.get(e.id, 0)) for e in sorted(found, key=lambda e: (-counted.get(e.id, 0), e.name))
    )


def show_exercise(catalogue: Catalogue, exercise: str) -> ExercisePage:
    """One exercise. Raises NotFound."""
    vocabulary = vocabulary_of(catalogue)
    known = vocabulary.exercises.get(exercise)
    if known is None:
        raise NotFound(f'There is no exercise "{exercise}".', hint="See the list of exercises.")
    with catalogue.reading() as session:
        claims = claim_lines(session, list_claims(session, exercises={exercise}))
        studies = studies_with_exercise(session, [exercise], MOST)
    facts = [
        ("Implement", known.implement), ("Position", known.position), ("Grip and stance", known.grip),
        ("Sides", known.laterality), ("Joint action", known.joint_action), ("Resistance", known.resistance),
    ]  # fmt: skip
    return ExercisePage(
        known.id,
        known.name,
        tuple(known.names),
        tuple((name, str(value)) for name, value in facts if value),
        named_regions(known.primary, vocabulary),
        named_regions(known.secondary, vocabulary),
        known.provenance,
        (known.parent, vocabulary.exercises[known.parent].name) if known.parent else None,
        tuple((e, vocabulary.exercises[e].name) for e in vocabulary.exercise_descendants(exercise)),
        tuple((s.key, s.title) for s in studies),
        claims[:MOST],
        swaps_of(known, vocabulary),
    )


def swaps_of(exercise: Exercise, vocabulary: Vocabulary) -> tuple[tuple[str, str, str], ...]:
    """Other exercises with a main region in common, those that share all of them first."""
    mine = set(exercise.primary)
    shared = [(len(mine & set(e.primary)), e) for e in vocabulary.exercises.values() if e.id != exercise.id]
    found = sorted(((n, e) for n, e in shared if n), key=lambda item: (-item[0], item[1].name))
    return tuple(
        (e.id, e.name, ", ".join(vocabulary.regions[r].name for r in e.primary if r in mine))
        for _, e in found[:12]
    )


def named_regions(regions: Sequence[str], vocabulary: Vocabulary) -> tuple[tuple[str, str], ...]:
    """Regions with their names."""
    return tuple((r, vocabulary.regions[r].name) for r in regions if r in vocabulary.regions)
