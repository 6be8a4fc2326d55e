"""Everything that went out: what it told, from what, and whether that still holds.

`register_use` is called by whatever publishes: a brief, a programme, a ranking, a draft, a list of sources.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from evidence.appraisal.moves import Move, MoveKind, find_moves
from evidence.appraisal.wording import Wordings
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    claim_by_key,
    reference_by_key,
    studies_of_reference,
    uses_of,
)
from evidence.catalogue.queries.finding import nearest_keys
from evidence.catalogue.queries.standings import (
    SEEN,
    all_uses,
    appraisals_numbered,
    catalogue_keys,
    last_weighed,
    reference_names,
    uses_numbered,
    uses_of_reference,
)
from evidence.catalogue.state import catalogue_state
from evidence.catalogue.tables import Claim, Reference, Use
from evidence.errors import NotFound
from evidence.publishing.rankings import Ranking
from evidence.workflows.upkeep.standings import Present, find_present, standing_of

# Notices after which a source that was named cannot stand as it did.
UNSETTLING = (
    "retracted",
    "withdrawn or removed",
    "partially retracted",
    "expression of concern",
    "corrected",
)


class Told(Protocol):
    """What was found of a claim, in words."""

    @property
    def claim(self) -> Claim:
        """The claim."""

    @property
    def wordings(self) -> Wordings:
        """What was found."""


@dataclass(frozen=True, slots=True)
class UseLine:
    """One thing that went out and what it told of a claim, a reference, or a ranking.

    `holds`: whether that is still what the catalogue says; None: it cannot be told. `replaced`: the same place was
    written again later.
    """

    number: int
    kind: str
    name: str
    place: str
    format: str
    at: datetime
    about: str  # "claim", "reference", "ranking"
    key: str
    told: str
    figures: str  # told with it: the estimate with its interval; empty: none
    confidence: str
    holds: bool | None
    now: str
    moves: tuple[Move, ...]
    replaced: bool


def register_use(
    catalogue: Catalogue,
    kind: str,
    name: str,
    who: str,
    *,
    weighings: Sequence[Told] = (),
    references: Sequence[Reference] = (),
    place: str = "",
    format: str = "",
    body: Mapping[str, Any] | None = None,
) -> None:
    """Remember what was told of which claim and which reference, so that a later change can list it.

    `kind`: brief, programme, ranking, article, source list, ...; `name`: what a person calls it; `place`: the file
    that was written; `body`: what else it told (a ranking: region, outcome, against, order). Without a claim or a
    reference one use stands for the body alone. A catalogue that may only be read remembers nothing.
    """
    if catalogue.read_only:
        return
    with catalogue.changing(who, f"{kind} {name}") as session:
        at, state = catalogue.now(), catalogue_state(session)

        def use(**more: Any) -> Use:
            return Use(
                kind=kind, name=name, place=place, format=format, at=at, catalogue_hash=state,
                body=dict(body or {}), **more,
            )  # fmt: skip

        known = last_weighed(session, [weighing.claim.id or 0 for weighing in weighings])
        for weighing in weighings:
            last = known.get(weighing.claim.id or 0)
            session.add(
                use(
                    claim_id=weighing.claim.id,
                    appraisal_id=last.number if last else None,
                    told=weighing.wordings.short,
                )
            )
        for reference in references:
            more = {"notice": reference.notice, "key": reference.key}
            row = use(reference_id=reference.id, told=reference.title)
            row.body = {**row.body, **more}
            session.add(row)
        if not weighings and not references:
            session.add(use())


def list_uses(catalogue: Catalogue, about: str | None = None) -> tuple[UseLine, ...]:
    """What went out and told of a claim or a reference (by key), or everything. Raises NotFound for an unknown key."""
    with catalogue.reading() as session:
        everything = all_uses(session)
        wanted = everything if about is None else uses_about(session, about)
    present = find_present(catalogue, {u.claim_id for u in wanted if u.claim_id is not None})
    return tell_uses(present, wanted, everything)


def uses_about(session: Any, key: str) -> list[Use]:
    """Uses of the claim with this key; or of the reference, by name or through a claim that leaned on its studies."""
    try:
        return uses_of(session, claim_by_key(session, key))
    except NotFound:
        pass
    try:
        reference = reference_by_key(session, key)
        return [*uses_of_reference(session, reference), *uses_leaning_on(session, reference)]
    except NotFound:
        near = nearest_keys(key, catalogue_keys(session))
        hint = (
            f"Nearest: {', '.join(near)}."
            if near
            else "`steelyard uses --all` lists everything that went out."
        )
        raise NotFound(f"no claim and no reference is called {key!r}", hint=hint) from None


def uses_leaning_on(session: Any, reference: Reference) -> list[Use]:
    """Uses of claims which, as they were told, leaned on a study that the reference reports."""
    studies = {study.key for study in studies_of_reference(session, reference)}
    told = [use for use in all_uses(session) if use.appraisal_id is not None]
    rested = appraisals_numbered(session, [use.appraisal_id for use in told if use.appraisal_id])
    return [
        use
        for use in told
        if studies & {row["study"] for row in rested[use.appraisal_id or 0].body.get("studies", ())}
    ]


def tell_uses(present: Present, uses: Sequence[Use], everything: Sequence[Use]) -> tuple[UseLine, ...]:
    """Uses with whether they still hold; `everything`: all uses, to see which were written again."""
    last: dict[tuple[str, str], datetime] = {}
    for use in everything:
        if use.place:
            last[use.kind, use.place] = max(use.at, last.get((use.kind, use.place), use.at))
    with present.catalogue.reading() as session:
        names = reference_names(session, {u.reference_id for u in uses if u.reference_id is not None})
    present.load_claims({u.claim_id for u in uses if u.claim_id in present.weighed})
    present.appraisals([u.appraisal_id for u in uses if u.appraisal_id is not None])
    return tuple(
        tell_use(present, use, names, replaced=bool(use.place) and last[use.kind, use.place] > use.at)
        for use in uses
    )


def tell_use(
    present: Present, use: Use, names: Mapping[int, tuple[str, str | None]], *, replaced: bool
) -> UseLine:
    """One use with whether what it told still holds."""
    about, key, now, figures, span = "other", "", "", "", ""
    holds: bool | None = None
    moves: tuple[Move, ...] = ()
    if use.claim_id is not None:
        about, key, (holds, now, moves) = "claim", "", judge_claim(present, use)
        claim = present.claims.get(use.claim_id)
        key = claim.key if claim else ""
        if use.appraisal_id in present.kept:
            then = standing_of(present.kept[use.appraisal_id])
            figures, span = then.figures, then.span
    elif use.reference_id is not None:
        key, notice = names[use.reference_id]
        was = use.body.get("notice")
        holds = notice == was or notice not in UNSETTLING
        about, now = "reference", notice or ""
        if not holds:
            moves = (Move(MoveKind.NOTICE, f"the source is now marked: {notice}", "U1"),)
    elif "region" in use.body and "outcome" in use.body:
        about, key = "ranking", f"{use.body['region']}, {use.body['outcome']}"
        holds, now, moves = judge_ranking(present, use)
    return UseLine(
        use.id or 0, use.kind, use.name, use.place, use.format, use.at, about, key,
        use.told or tell_order(use.body), figures, span, holds, now, tuple(moves), replaced,
    )  # fmt: skip


def judge_claim(present: Present, use: Use) -> tuple[bool | None, str, tuple[Move, ...]]:
    """Whether a claim still says what was told of it."""
    claim = present.claims.get(use.claim_id or 0)
    if claim is None:
        return None, "", ()
    now = standing_of(present.now(use.claim_id or 0))
    then = present.kept.get(use.appraisal_id or 0)
    if then is None:  # the appraisal it was made from is gone: only the wording can be compared
        return use.told == now.short, now.short, ()
    moves = find_moves(standing_of(then), now, claim.construct_id)
    return not moves, now.short, moves


def judge_ranking(present: Present, use: Use) -> tuple[bool | None, str, tuple[Move, ...]]:
    """Whether a ranking still has the order that was told."""
    from evidence.errors import SteelyardError
    from evidence.workflows.rank.ranking import rank

    told = use.body.get("order")
    if not isinstance(told, list):
        return None, "", ()
    try:
        found = rank(
            present.catalogue,
            use.body["region"],
            use.body["outcome"],
            use.body.get("against") or None,
            scale=use.body.get("scale") or None,
            level=use.body.get("level") or "exercise",
            status=use.body.get("training_status") or None,
            sex=use.body.get("sex") or None,
        )
    except SteelyardError as problem:
        return False, str(problem), (Move(MoveKind.ORDER, f"it cannot be ranked any more: {problem}"),)
    now = told_order(found)
    if now == told:
        return True, ", ".join(now), ()
    return (
        False,
        ", ".join(now),
        (Move(MoveKind.ORDER, f"the order was {', '.join(told)} and is {', '.join(now)}"),),
    )


def is_seen(use: Use, now: str) -> bool:
    """Whether somebody has taken for known that it now says this (`changes --seen`)."""
    seen = use.body.get(SEEN)
    return isinstance(seen, dict) and seen.get("now") == now


def mark_seen(catalogue: Catalogue, lines: Sequence[UseLine], who: str) -> int:
    """Take what moved of sources and rankings for known; what was told stays as it was. Returns how many."""
    if not lines:
        return 0
    told = {line.number: line.now for line in lines}
    with catalogue.changing(who, "changes seen") as session:
        for use in uses_numbered(session, told):
            mark = {"now": told[use.id or 0], "by": who, "at": catalogue.now().isoformat()}
            use.body = {**use.body, SEEN: mark}
            session.add(use)
    return len(told)


def tell_order(body: Mapping[str, Any]) -> str:
    """What a use without words of its own told: the order of a ranking."""
    order = body.get("order")
    return ", ".join(str(name) for name in order) if isinstance(order, list) else ""


def told_order(ranking: Ranking) -> list[str]:
    """The order that a ranking tells: names, first of the order first, each connected part after the other."""
    return [exercise.name for part in ranking.parts for exercise in part.exercises]
