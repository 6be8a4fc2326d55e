"""Looking references up by identifier: only when a person asks for it, and told beforehand what would be asked."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import by_key, settings
from evidence.catalogue.tables import Setting
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import GatherReport
from references.lookup import (
    LookedUp,
    LookupSettings,
    Question,
    Resolver,
    open_client,
    plan_lookups,
)
from references.record import Record

CONTACT = "contact address"


@dataclass(frozen=True, slots=True)
class LookedUpReferences:
    """What became of looking up: the answers, and what was stored (`report` is None where nothing came)."""

    answers: tuple[LookedUp, ...]
    report: GatherReport | None

    @property
    def failed(self) -> tuple[LookedUp, ...]:
        """The identifiers for which no record came."""
        return tuple(answer for answer in self.answers if answer.record is None)


def plan(identifiers: Sequence[str]) -> tuple[Question, ...]:
    """What would be asked of whom; nothing is sent."""
    return plan_lookups(identifiers)


def remember_contact(catalogue: Catalogue, address: str, who: str) -> None:
    """Keep the address by which services can reach who asks. Raises BadInput."""
    if address.count("@") != 1 or address != address.strip() or not all(address.split("@")) or " " in address:
        raise BadInput(f"{address!r} is no e-mail address", hint="Give one like you@example.org.")
    with catalogue.changing(who, "refs look-up --contact") as session:
        if CONTACT in settings(session):
            by_key(session, Setting, CONTACT, "setting").value = address
        else:
            session.add(Setting(key=CONTACT, value=address))


def contact_of(catalogue: Catalogue) -> str:
    """The address that was set; empty where none was."""
    with catalogue.reading() as session:
        return settings(session).get(CONTACT, "")


def look_up(
    catalogue: Catalogue,
    identifiers: Sequence[str],
    who: str,
    cache: Path | None = None,
    *,
    asking: LookupSettings | None = None,
    tell: Callable[[LookedUp], None] = lambda answer: None,
) -> LookedUpReferences:
    """Ask for records and store what comes, as from a file. Raises LookupProblem, BadInput."""
    wanted = replace(asking or LookupSettings("", cache), contact=contact_of(catalogue))
    answers = []
    with open_client(wanted) as client:
        for answer in Resolver(wanted, client).look_up(identifiers):
            answers.append(answer)
            tell(answer)
    records = [answer.record for answer in answers if answer.record is not None]
    return LookedUpReferences(tuple(answers), store(catalogue, records, who) if records else None)


def store(
    catalogue: Catalogue,
    records: Sequence[Record],
    who: str,
    source: str = "looked up by DOI",
    action: str = "refs look-up",
) -> GatherReport:
    """Store records that came without a file, those known already joined to what is there."""
    from evidence.workflows.gather.intake import Intake, Tally

    tally = Tally(read=len(records))
    with catalogue.changing(who, action) as session:
        intake = Intake(session, catalogue)
        intake.take_step(records, source, tally)
        told = intake.notices.apply(source)
    return GatherReport(
        source,
        "csl_json",
        "utf-8",
        tally.read,
        0,
        tuple(tally.added),
        tuple(tally.known),
        tuple(tally.likely),
        (),
        0,
        told,
    )
