"""What went out, newest first, a page at a time: each thing with what it told, and whether that still holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from evidence.catalogue import Catalogue
from evidence.catalogue.queries.standings import all_uses
from evidence.catalogue.tables import Use
from evidence.workflows.upkeep.standings import find_present
from evidence.workflows.upkeep.uses import UseLine, tell_uses

PER_PAGE = 20


@dataclass(frozen=True, slots=True)
class Published:
    """One thing that went out at one time. `replaced`: the same place was written again later."""

    kind: str
    name: str
    at: datetime
    replaced: bool
    fallen: tuple[UseLine, ...]  # what it told that holds no longer
    holding: tuple[UseLine, ...]
    unknown: tuple[UseLine, ...]  # what cannot be compared


@dataclass(frozen=True, slots=True)
class PublishedList:
    """One page of the things that went out; pages count from 1."""

    things: tuple[Published, ...]
    page: int
    pages: int
    total: int


def list_published(catalogue: Catalogue, page: int = 1) -> PublishedList:
    """One page of what went out; only what stands on it is weighed. A page that is not there is the nearest that is."""
    with catalogue.reading() as session:
        everything = all_uses(session)
    things: dict[tuple[str, str, str, datetime], list[Use]] = {}
    for use in everything:
        things.setdefault((use.kind, use.name, use.place, use.at), []).append(use)
    pages = max(1, -(-len(things) // PER_PAGE))
    page = min(max(page, 1), pages)
    shown = list(reversed(things.values()))[(page - 1) * PER_PAGE : page * PER_PAGE]
    wanted = [use for uses in shown for use in uses]
    present = find_present(catalogue, {use.claim_id for use in wanted if use.claim_id is not None})
    told = {line.number: line for line in tell_uses(present, wanted, everything)}
    lines = ([told[use.id or 0] for use in uses] for uses in shown)
    return PublishedList(tuple(map(tell_published, lines)), page, pages, len(things))


def tell_published(lines: Sequence[UseLine]) -> Published:
    """One thing, its lines sorted by whether they hold."""
    first = lines[0]
    fallen, holding, unknown = (
        tuple(line for line in lines if line.holds is state) for state in (False, True, None)
    )
    return Published(first.kind, first.name, first.at, first.replaced, fallen, holding, unknown)
