"""Claims in a list, narrowed by region, outcome, exercise, kind, verdict, confidence, or being due."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from evidence.appraisal.kinds import find_kind, load_kinds
from evidence.appraisal.levels import Level, read_level
from evidence.appraisal.verdict import VerdictKind
from evidence.catalogue import Catalogue, Session
from evidence.catalogue.queries import latest_appraisals
from evidence.catalogue.queries import list_claims as all_claims
from evidence.catalogue.tables import Appraisal, Claim
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pages.browsing import tell_verdict
from evidence.workflows.upkeep.touching import stale_claims

NOT_WEIGHED = "not weighed"


@dataclass(frozen=True, slots=True)
class Filters:
    """What to keep. Names as people write them; None: everything. Regions and exercises take their parts along."""

    region: str | None = None
    outcome: str | None = None
    exercise: str | None = None
    confidence: str | None = None
    verdict: str | None = None
    kind: str | None = None
    due: bool = False


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One claim in a list, with what was last found of it."""

    key: str
    kind: str
    statement: str
    verdict: str
    confidence: str
    due: str  # when it is to be reviewed; empty: no date was set


def list_claims(catalogue: Catalogue, filters: Filters = Filters()) -> tuple[ClaimLine, ...]:
    """Claims that pass all filters, in the order of keys. Raises Ambiguous, NotFound or BadInput for a filter."""
    require_filters(filters)
    vocabulary = vocabulary_of(catalogue)
    constructs = (
        [require_match(vocabulary.find_construct(filters.outcome), "outcome")] if filters.outcome else None
    )
    with catalogue.reading() as session:
        claims = all_claims(
            session,
            exercises=family(filters.exercise, vocabulary),
            regions=inside(filters.region, vocabulary),
            constructs=constructs,
        )
        last = latest_appraisals(session)
        today = catalogue.today()
        return claim_lines(session, [c for c in claims if fits(c, last.get(c.id or 0), filters, today)], last)


def require_filters(filters: Filters) -> None:
    """Refuse a verdict, level or kind that no claim can have, also where there is no claim. Raises BadInput."""
    if filters.kind is not None:
        find_kind(filters.kind)
    if filters.confidence is not None:
        level_named(filters.confidence)
    if filters.verdict is not None:
        known = [*VerdictKind, NOT_WEIGHED]
        words = {
            v.partition(":")[0].partition(" {")[0]
            for kind in load_kinds().values()
            for v in kind.verdicts.values()
        }
        wanted = filters.verdict.strip().casefold().partition(":")[0]
        if wanted not in {*map(str.casefold, known), *map(str.casefold, words)}:
            raise BadInput(
                f'No verdict is called "{filters.verdict}".', hint=f"There are: {', '.join(known)}."
            )


def level_named(text: str) -> Level:
    """A level of confidence by its name. Raises BadInput."""
    try:
        return read_level(text)
    except ValueError:
        raise BadInput(
            f'"{text}" is no level of confidence.', hint="Use high, moderate, low or very low."
        ) from None


def claim_lines(
    session: Session, claims: Sequence[Claim], last: Mapping[int, Appraisal] | None = None
) -> tuple[ClaimLine, ...]:
    """Claims as lists have them; `last`: what was last found of them, where that was read already."""
    if last is None:
        last = latest_appraisals(session, [c.id or 0 for c in claims])
    stale = stale_claims(session)
    lines = []
    for claim in claims:
        found = last.get(claim.id or 0)
        graded = find_kind(claim.kind).graded
        lines.append(
            ClaimLine(
                claim.key,
                claim.kind,
                claim.statement,
                tell_verdict(found, found.claim_id in stale) if found else NOT_WEIGHED,
                "-" if found is None else found.confidence if graded else "not graded (opinion)",
                claim.review_due.isoformat() if claim.review_due else "",
            )
        )
    return tuple(lines)


def inside(region: str | None, vocabulary: Vocabulary) -> Sequence[str] | None:
    """A region with its portions."""
    if region is None:
        return None
    found = require_match(vocabulary.find_region(region), "region")
    return [found, *vocabulary.descendants(found)]


def family(exercise: str | None, vocabulary: Vocabulary) -> Sequence[str] | None:
    """An exercise with its variants."""
    if exercise is None:
        return None
    found = require_match(vocabulary.find_exercise(exercise), "exercise")
    return [found, *vocabulary.exercise_descendants(found)]


def fits(claim: Claim, found: Appraisal | None, filters: Filters, today: date) -> bool:
    """Whether a claim passes the filters that look at what was found of it."""
    if filters.kind and find_kind(filters.kind).id != claim.kind:
        return False
    if filters.due and not (claim.review_due and claim.review_due <= today):
        return False
    if filters.confidence and (
        found is None
        or found.confidence != level_named(filters.confidence)
        or not find_kind(claim.kind).graded
    ):
        return False
    if filters.verdict:
        wanted = filters.verdict.strip().casefold()
        told = (
            (NOT_WEIGHED,)
            if found is None
            else (found.verdict.casefold(), str(found.body.get("verdict", "")).casefold())
        )
        return any(text == wanted or text.startswith(f"{wanted}:") for text in told)
    return True
