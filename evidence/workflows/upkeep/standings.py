"""Where every weighed claim stands now: as last weighed where nothing touched it since, else weighed anew."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from evidence.appraisal.moves import Standing
from evidence.catalogue import Catalogue
from evidence.catalogue.queries.many_claims import claims_numbered
from evidence.catalogue.queries.standings import SEEN, Weighed, appraisals_numbered, weighed_claims
from evidence.catalogue.recording import CHUNK
from evidence.catalogue.tables import Appraisal, Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.upkeep.touching import Touched, find_touched
from evidence.workflows.weigh.reweighing import weigh_many
from evidence.workflows.weigh.weighing import as_appraisal


@dataclass(slots=True)
class Present:
    """Where claims stand at `at`; claims by their row number. `anew` holds what was weighed just now, not stored."""

    catalogue: Catalogue
    at: datetime
    vocabulary: Vocabulary
    weighed: dict[int, list[Weighed]]
    touched: Touched
    claims: dict[int, Claim]  # those read so far: `load_claims`
    anew: dict[int, Appraisal]
    kept: dict[int, Appraisal] = field(default_factory=dict)  # by number, as they are asked for

    def appraisals(self, numbers: Iterable[int]) -> dict[int, Appraisal]:
        """Stored appraisals by number, each read once."""
        missing = set(numbers) - set(self.kept)
        if missing:
            with self.catalogue.reading() as session:
                self.kept |= appraisals_numbered(session, missing)
        return self.kept

    def load_claims(self, numbers: Iterable[int]) -> dict[int, Claim]:
        """Claims by number, each read once."""
        missing = set(numbers) - set(self.claims)
        if missing:
            with self.catalogue.reading() as session:
                self.claims |= {claim.id or 0: claim for claim in claims_numbered(session, missing)}
        return self.claims

    def confidence_now(self, claim: int) -> str:
        """How sure one may be of a claim now; for this alone no appraisal has to be read."""
        if claim in self.anew:
            return self.anew[claim].confidence
        return self.weighed[claim][-1].confidence

    def now(self, claim: int) -> Appraisal:
        """What is found of a claim now."""
        if claim in self.anew:
            return self.anew[claim]
        last = self.weighed[claim][-1].number
        return self.appraisals([last])[last]


def find_present(
    catalogue: Catalogue, claims: Collection[int] | None = None, vocabulary: Vocabulary | None = None
) -> Present:
    """Weigh anew what was touched since it was last weighed, of these claims or of all. Nothing is stored."""
    vocabulary = vocabulary or vocabulary_of(catalogue)
    at = catalogue.now()  # before anything is read: what comes later is a later change
    with catalogue.reading() as session:
        weighed = weighed_claims(session, claims)
        touched = find_touched(session, weighed, vocabulary)
        rows = {claim.id or 0: claim for claim in claims_numbered(session, touched.claims)}
    keys = [rows[number].key for number in touched.claims]
    anew = {a.claim_id: a for a in weigh_anew(catalogue, keys, vocabulary, at)}
    return Present(catalogue, at, vocabulary, weighed, touched, rows, anew)


def weigh_anew(
    catalogue: Catalogue, keys: Sequence[str], vocabulary: Vocabulary, at: datetime
) -> Iterator[Appraisal]:
    """Claims weighed just now, one at a time: of each what would be stored is held, and no more."""
    for weighing in weigh_many(catalogue, keys, vocabulary) if keys else ():
        appraisal = as_appraisal(weighing, catalogue)
        appraisal.at = at
        yield appraisal


def keep_present(
    present: Present, who: str, claims: Collection[int] | None = None, *, mark: dict[str, Any] | None = None
) -> int:
    """Store what was weighed anew, or with a mark (`seen`) whatever stands now. Earlier appraisals stay."""
    numbers = sorted(present.anew if claims is None else claims)
    rows: list[Appraisal] = []
    for number in numbers:
        appraisal = present.now(number)
        if mark is not None:
            appraisal = copied(appraisal, present.at, mark)
        elif number not in present.anew:
            continue
        rows.append(appraisal)
    if rows:
        with present.catalogue.changing(who, "changes seen" if mark else "changes kept") as session:
            session.add_all(rows)
    return len(rows)


def keep_first(catalogue: Catalogue, who: str, claims: Collection[str], vocabulary: Vocabulary) -> int:
    """Weigh claims for the first time and store what comes out, in batches; returns how many."""
    stored, at = 0, catalogue.now()
    weighed = weigh_anew(catalogue, list(claims), vocabulary, at)
    while rows := list(islice(weighed, CHUNK)):
        with catalogue.changing(who, "changes kept") as session:
            session.add_all(rows)
        stored += len(rows)
    return stored


def copied(appraisal: Appraisal, at: datetime, mark: dict[str, Any]) -> Appraisal:
    """The same appraisal at a later time, marked as seen or reviewed."""
    values = appraisal.model_dump(exclude={"id", "at", "body"})
    return Appraisal(**values, at=at, body={**appraisal.body, SEEN: mark})


def standing_of(appraisal: Appraisal) -> Standing:
    """An appraisal as it is compared with another."""
    body = appraisal.body
    worded = body.get("wordings") or {}
    return Standing(
        appraisal.at,
        appraisal.verdict,
        str(body.get("verdict", appraisal.verdict)),
        str(body.get("sentence", "")),
        appraisal.confidence,
        appraisal.confidence_low,
        appraisal.confidence_high,
        appraisal.metric,
        appraisal.estimate,
        appraisal.low,
        appraisal.high,
        appraisal.k,
        str(worded.get("short", "")),
        str(worded.get("plain", "")),
    )
