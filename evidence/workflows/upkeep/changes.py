"""What moved: claims whose verdict, size, level or wording is another than it was, why, and what was published of them.

The earlier answer is the last that a person has seen (`changes --seen`, `claim reviewed`), else the first there ever
was; with `since`, the one that held then. Nothing is stored by looking: `keep` stores the new answers, and the first
ones of claims never weighed, so that the next look need not weigh them again; `seen` besides takes them for known.
Earlier answers are never changed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from evidence.appraisal.moves import Move, Standing, find_moves
from evidence.catalogue import Catalogue
from evidence.catalogue.history import get_change
from evidence.catalogue.queries.evidence_changes import (
    EvidenceChanges,
    NoticeChange,
    evidence_changes,
    tell_apart,
)
from evidence.catalogue.queries.many_claims import claims_never_weighed
from evidence.catalogue.queries.standings import Weighed, all_uses, any_invented
from evidence.catalogue.tables import Appraisal, Use
from evidence.errors import BadInput
from evidence.workflows.upkeep.causes import Cause, find_causes
from evidence.workflows.upkeep.standings import Present, find_present, keep_first, keep_present, standing_of
from evidence.workflows.upkeep.uses import UseLine, is_seen, mark_seen, tell_uses


@dataclass(frozen=True, slots=True)
class ClaimChange:
    """A claim whose answer moved: before and now, what moved, why, and what was published with it."""

    key: str
    statement: str
    before: Standing
    now: Standing
    moves: tuple[Move, ...]
    causes: tuple[Cause, ...]
    uses: tuple[UseLine, ...]
    invented: bool


@dataclass(frozen=True, slots=True)
class Changes:
    """What moved in a catalogue. `weighed_anew` of `known` claims: only those that something touched."""

    at: datetime
    since: str
    claims: tuple[ClaimChange, ...]
    uses: tuple[UseLine, ...]  # other things that went out and no longer hold: sources, rankings
    known: int
    weighed_anew: int
    never_weighed: int
    kept: int


def find_changes(
    catalogue: Catalogue, who: str, *, since: str | None = None, keep: bool = False, seen: bool = False
) -> Changes:
    """What moved since it was last seen, or since a date or a change. Raises BadInput, NotFound."""
    start = read_since(catalogue, since) if since else None
    present = find_present(catalogue)
    with catalogue.reading() as session:
        everything = all_uses(session)
        new = claims_never_weighed(session)
    baseline = {claim: choose_baseline(rows, start) for claim, rows in present.weighed.items()}
    moved = compare(present, baseline)
    told = {claim: use_lines(present, claim, everything) for claim in moved}
    changes = gather_history(present, [baseline[claim] for claim in moved])
    claims = tuple(
        sorted(
            (describe(present, claim, baseline[claim], moves, changes, told[claim]) for claim, moves in moved.items()),
            key=lambda c: (-len(c.uses), c.key),
        )
    )  # fmt: skip
    unclaimed = {u.id or 0: u for u in everything if u.claim_id is None}
    others = tuple(
        line
        for line in tell_uses(present, list(unclaimed.values()), everything)
        if line.holds is False and (start is not None or not is_seen(unclaimed[line.number], line.now))
    )
    kept = first = 0
    if seen:
        numbers = set(moved) | set(present.anew)
        kept = keep_present(present, who, numbers, mark={"as": "seen", "by": who})
        kept += mark_seen(catalogue, others, who)
    elif keep:
        kept = keep_present(present, who)
    if (keep or seen) and new:
        first = keep_first(catalogue, who, new, present.vocabulary)
    return Changes(
        present.at,
        since or "last seen",
        claims,
        tuple(u for u in others if not u.replaced),
        len(present.weighed) + len(new),
        len(present.anew),
        len(new) - first,
        kept + first,
    )


def read_since(catalogue: Catalogue, text: str) -> datetime:
    """The time that `--since` names: a date (its start, UTC), or the moment before a change in the history."""
    if text.strip().isdecimal():  # not isdigit: a raised 2 is a digit and no number
        with catalogue.reading() as session:
            return get_change(session, int(text)).at
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(
            f"{text!r} is neither a date nor the number of a change",
            hint="Write a date as 2026-03-31, or a number from `steelyard history`.",
        ) from None
    if day > (today := catalogue.today()):
        raise BadInput(f"{day} is ahead: today is {today}", hint="Name a day that is past.")
    return datetime.combine(day, time(), UTC)


def choose_baseline(rows: Sequence[Weighed], start: datetime | None) -> Weighed:
    """The earlier answer: the last that somebody has seen, or the last before `start`; else the first of all."""
    if start is not None:
        before = [row for row in rows if row.at < start]
        return before[-1] if before else rows[0]
    seen = [row for row in rows if row.seen]
    return seen[-1] if seen else rows[0]


def compare(present: Present, baseline: Mapping[int, Weighed]) -> dict[int, tuple[Move, ...]]:
    """What moved, by claim; claims that stand as they did are not in it."""
    open_ = [
        claim
        for claim, row in baseline.items()
        if claim in present.anew or present.weighed[claim][-1].number != row.number
    ]
    present.load_claims(open_)
    present.appraisals([n for c in open_ for n in (baseline[c].number, present.weighed[c][-1].number)])
    found: dict[int, tuple[Move, ...]] = {}
    for claim in open_:
        before = standing_of(present.kept[baseline[claim].number])
        moves = find_moves(before, standing_of(present.now(claim)), present.claims[claim].construct_id)
        if moves:
            found[claim] = moves
    return found


def use_lines(present: Present, claim: int, everything: Sequence[Use]) -> tuple[UseLine, ...]:
    """What went out with a claim and stands where it was put."""
    mine = [use for use in everything if use.claim_id == claim]
    return tuple(line for line in tell_uses(present, mine, everything) if not line.replaced)


def gather_history(present: Present, baselines: Sequence[Weighed]) -> EvidenceChanges:
    """What changed since the oldest of the earlier answers."""
    if not baselines:
        return EvidenceChanges()
    with present.catalogue.reading() as session:
        since = min(b.at for b in baselines)
        changes = evidence_changes(session, since)
        tell_apart(session, changes, since)
        return changes


def describe(
    present: Present,
    claim: int,
    baseline: Weighed,
    moves: tuple[Move, ...],
    changes: EvidenceChanges,
    uses: tuple[UseLine, ...],
) -> ClaimChange:
    """One claim that moved, whole."""
    row, before, now = present.claims[claim], present.kept[baseline.number], present.now(claim)
    return ClaimChange(
        row.key,
        row.statement,
        standing_of(before),
        standing_of(now),
        moves,
        find_causes(before, now, row, changes, present.vocabulary),
        uses,
        is_invented(present, before, now),
    )


def is_invented(present: Present, *appraisals: Appraisal) -> bool:
    """Whether a study behind any of the answers, weighed or left out, is demonstration data."""
    parts = ("studies", "left_out")
    keys = {row["study"] for a in appraisals for part in parts for row in a.body.get(part, ())}
    with present.catalogue.reading() as session:
        return any_invented(session, keys)


def notices_since(changes: EvidenceChanges, at: datetime) -> list[NoticeChange]:
    """Notices put on references after a time."""
    return [notice for notice in changes.notices if notice.step.at > at]
