"""The claims that bear on a programme, with what is found of each: as last weighed where nothing touched it since.

A programme of ten picks can call up thousands of claims. Of each only what is told beside a pick is held.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import VerdictKind
from evidence.appraisal.wording import Wordings
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, list_claims, list_studies, study_rows_of
from evidence.catalogue.tables import Appraisal, Claim
from evidence.reading.programme_model import Programme
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.programmes.variants import Done, family
from evidence.workflows.relevance.contributions import name_study
from evidence.workflows.upkeep.standings import find_present, weigh_anew


@dataclass(frozen=True, slots=True)
class BearingClaim:
    """A claim with what is found of it now, and the studies behind it; `done`: what these did on each side."""

    claim: Claim
    construct: str  # what was measured: another than the claim's where it leans on a surrogate
    verdict: VerdictKind
    verdict_text: str
    direction: Direction | None
    figures: str
    level: Level
    low: Level
    high: Level
    wordings: Wordings
    studies: tuple[StudyRows, ...]
    done: tuple[Done, ...]
    left_out: tuple[str, ...]  # why studies were left out, one for each

    @property
    def statement(self) -> str:
        """What it states."""
        return self.claim.statement

    @property
    def found(self) -> bool:
        """Whether any study stands behind it."""
        return self.verdict is not VerdictKind.NOTHING_FOUND

    @property
    def citation(self) -> str:
        """The names of its studies."""
        return "; ".join(map(name_study, self.studies))


def find_bearing_claims(
    catalogue: Catalogue, programme: Programme, vocabulary: Vocabulary, keep_as: str | None = None
) -> list[BearingClaim]:
    """Every claim with one of the programme's exercises on either side, on the catalogue as it stands.

    What was weighed for the first time, or because something touched it, is kept in the name of `keep_as`.
    """
    done = {e for p in programme.picks if p.exercise for e in family(p.exercise, vocabulary)}
    with catalogue.reading() as session:
        claims = list_claims(session, exercises=done)
    found, new = find_answers(catalogue, claims, vocabulary)
    if new and keep_as is not None and not catalogue.read_only:
        what = "weigh 1 claim" if len(new) == 1 else f"weigh {len(new)} claims"
        with catalogue.changing(keep_as, what) as session:
            session.add_all(new)
    studies = {row["study"] for appraisal in found.values() for row in appraisal.body["studies"]}
    with catalogue.reading() as session:
        rows = {r.study.key: r for r in study_rows_of(session, list_studies(session, studies))}
    return [tell_claim(claim, found[claim.id or 0], rows) for claim in claims]


def find_answers(
    catalogue: Catalogue, claims: Sequence[Claim], vocabulary: Vocabulary
) -> tuple[dict[int, Appraisal], list[Appraisal]]:
    """What is found of each of these claims now, by its row number; and which of it was weighed just now."""
    present = find_present(catalogue, {claim.id or 0 for claim in claims}, vocabulary)
    untouched = [rows[-1].number for claim, rows in present.weighed.items() if claim not in present.anew]
    kept = {a.claim_id: a for a in present.appraisals(untouched).values() if "sides" in a.body}
    missing = [c.key for c in claims if c.id not in kept and c.id not in present.anew]
    first = {a.claim_id: a for a in weigh_anew(catalogue, missing, vocabulary, present.at)}
    new = {**present.anew, **first}
    return {**kept, **new}, list(new.values())


def tell_claim(claim: Claim, found: Appraisal, rows: Mapping[str, StudyRows]) -> BearingClaim:
    """A claim with what an appraisal says of it."""
    body = found.body
    return BearingClaim(
        claim,
        body["construct"],
        VerdictKind(found.verdict),
        body["verdict"],
        Direction(body["direction"]) if body["direction"] else None,
        body["sentence"],
        Level(found.confidence),
        Level(found.confidence_low),
        Level(found.confidence_high),
        Wordings(**body["wordings"]),
        tuple(rows[row["study"]] for row in body["studies"] if row["study"] in rows),
        tuple(Done(tuple(s["exercise"]), tuple(s["comparator"]), s["studies"]) for s in body["sides"]),
        tuple(item["reason"] for item in body["left_out"]),
    )
