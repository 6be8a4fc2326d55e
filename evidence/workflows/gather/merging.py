"""Merging two references into one, or keeping two apart: a person's decisions, kept and undoable."""

from dataclasses import dataclass
from datetime import datetime

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    citations_of,
    reference_by_key,
    references_called,
    settings,
    studies_of_reference,
    study_rows_of,
)
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Reference
from evidence.errors import BadInput, NotFound
from evidence.workflows.gather.apart import carry_over, keep_apart, pairs_apart, take_back
from evidence.workflows.gather.gathering import as_record, update_row
from evidence.workflows.gather.joining import Difference, join_records, joined_of
from evidence.workflows.gather.notice_log import carry_notices
from references.duplicates import Answer, compare_pair
from references.notices import State
from references.record import Record

READING_STATES = ("unread", "abstract", "full text")
GRAVEST_FIRST = [state.value.replace("_", " ") for state in reversed(State)]


@dataclass(frozen=True, slots=True)
class MergedReferences:
    """What became of a merge: the key that stays, where each field came from, what was set aside."""

    kept: str
    gone: str
    origins: tuple[tuple[str, tuple[str, ...]], ...]
    differences: tuple[Difference, ...]
    studies: tuple[str, ...]  # studies that now lead to the kept reference


def merge_references(
    catalogue: Catalogue, kept: str, gone: str, who: str, force: bool = False
) -> MergedReferences:
    """Put the reference `gone` into `kept`, with its links to studies, in one change that can be undone.

    Raises BadInput where the two look like different works (unless forced), NotFound, VetoedMerge.
    """
    require_two(kept, gone)
    with catalogue.changing(who, f"refs merge {kept} {gone}") as session:
        row, other = reference_by_key(session, kept), reference_by_key(session, gone)
        a, b = as_record(row), as_record(other)
        if not force:
            require_alike(a, b)
        merged = join_records(a, b, force=force)
        before = len(joined_of(a)["set_aside"]) + len(joined_of(b)["set_aside"])
        moved = move_links(session, row, other)
        move_citations(session, row, other)
        carry_over(session, gone, kept)
        carry_notices(session, gone, kept)
        take_over_states(row, other)
        session.delete(other)
        session.flush()
        update_row(row, merged)
    noted = joined_of(merged)
    taken = merged.to_csl()
    return MergedReferences(
        kept,
        gone,
        tuple((name, tuple(keys)) for name, keys in noted["origins"].items()),
        tuple(
            Difference(item["field"], show(taken, item["field"]), str(item["value"]), item["from"])
            for item in noted["set_aside"][before:]
        ),
        moved,
    )


def show(item: dict[str, object], field: str) -> str:
    """The value of a field of a CSL item, carried fields too."""
    if field.startswith("extra."):
        carried = item.get("custom")
        return str(carried.get(field[6:])) if isinstance(carried, dict) else ""
    return str(item.get(field))


def require_two(one: str, other: str) -> None:
    """Raise unless two references are named."""
    if one == other:
        raise BadInput(f"{one!r} is named twice", hint="Name two references.")


def require_alike(a: Record, b: Record) -> None:
    """Raise where two records are related or different works."""
    pair = compare_pair(a, b)
    if pair.answer in (Answer.RELATED, Answer.DIFFERENT):
        what = f"related ({pair.relation})" if pair.relation else str(pair.answer)
        why = f": {pair.reason}" if pair.reason else ""
        raise BadInput(
            f"{a.key} and {b.key} look {what}{why}",
            hint=f"Look at both with `refs show`; `refs apart {a.key} {b.key}` keeps two, --force merges.",
        )


def move_links(session: ChangingSession, row: Reference, other: Reference) -> tuple[str, ...]:
    """Lead the studies of one reference to another; keys of the studies."""
    studies = study_rows_of(session, studies_of_reference(session, other))
    for rows in studies:
        linked = any(link.reference_id == row.id for link in rows.links)
        for link in rows.links:
            if link.reference_id == other.id and linked:
                session.delete(link)
            elif link.reference_id == other.id:
                assert row.id is not None
                link.reference_id = row.id
    session.flush()
    return tuple(rows.study.key for rows in studies)


def move_citations(session: ChangingSession, row: Reference, other: Reference) -> None:
    """Lead claims that one reference backs, and what went out of it, to another."""
    assert row.id is not None
    links, uses = citations_of(session, other)
    places = {(link.claim_id, link.locator) for link in citations_of(session, row)[0]}
    for link in links:
        number, locator = 1, link.locator
        while (link.claim_id, locator) in places:  # both sources back one claim: each keeps what it says
            number += 1
            locator = f"{link.locator} ({number})".strip()
        places.add((link.claim_id, locator))
        link.locator = locator
        link.reference_id = row.id
    for use in uses:
        use.reference_id = row.id
    session.flush()


def take_over_states(row: Reference, other: Reference) -> None:
    """How far the work was read, and the gravest notice known of it."""
    row.reading_state = max(row.reading_state, other.reading_state, key=READING_STATES.index)
    known = [notice for notice in (row.notice, other.notice) if notice]
    row.notice = min(known, key=rank_notice) if known else None
    dates = [at for at in (row.notice_checked_on, other.notice_checked_on) if at is not None]
    row.notice_checked_on = max(dates) if dates else None


def rank_notice(notice: str) -> int:
    """Graver notices first; others after those known."""
    return GRAVEST_FIRST.index(notice) if notice in GRAVEST_FIRST else len(GRAVEST_FIRST)


def set_apart(catalogue: Catalogue, one: str, other: str, who: str, why: str = "") -> bool:
    """Remember that two references are two works; False where that was decided before.

    A key may also be one that another reference came in under: then the next import keeps the two apart.
    """
    require_two(one, other)
    with catalogue.changing(who, f"refs apart {one} {other}") as session:
        known = {key: [row.key for row in references_called(session, key)] for key in (one, other)}
        for key, found in known.items():
            if not found:
                reference_by_key(session, key)
        if all(key not in found for key, found in known.items()):
            raise NotFound(f"neither {one!r} nor {other!r} is a reference of its own")
        return keep_apart(session, frozenset((one, other)), tell_decision(who, catalogue.now(), why))


@dataclass(frozen=True, slots=True)
class PairApart:
    """Two references that a person set apart. `said`: who, when and why."""

    a: str
    b: str
    said: str


def list_apart(catalogue: Catalogue) -> tuple[PairApart, ...]:
    """Every pair that was set apart, by key."""
    with catalogue.reading() as session:
        kept = pairs_apart(settings(session))
    pairs = sorted((tuple(sorted(pair)), said) for pair, said in kept.items())
    return tuple(PairApart(pair[0], pair[-1], said) for pair, said in pairs)


def put_together(catalogue: Catalogue, one: str, other: str, who: str) -> None:
    """Take back that two references were set apart: the pair may be proposed again. Raises NotFound."""
    require_two(one, other)
    with catalogue.changing(who, f"refs apart {one} {other} --take-back") as session:
        if not take_back(session, frozenset((one, other))):
            raise NotFound(
                f"{one!r} and {other!r} were not set apart", hint="`steelyard refs apart --list` shows pairs."
            )


def tell_decision(who: str, at: datetime, why: str) -> str:
    """Who decided, when and why, on one line."""
    return f"{who}, {at:%Y-%m-%d}" + (f": {' '.join(why.split())}" if why.strip() else "")
