"""Linking a source without extractable figures to a claim, with a stance, a place and what it says; taking it away."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key, reference_by_key, studies_measuring
from evidence.catalogue.queries.judgement import links_of_claim
from evidence.catalogue.tables import ClaimLink
from evidence.errors import BadInput, NotFound
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.linked_sources import KINDS, STANCES, LinkedSource, read_links

MOST_PEOPLE = 10_000_000
STANCE_WORDS = {"for": "supports", "support": "supports", "contradicts": "against"}


@dataclass(frozen=True, slots=True)
class NewLink:
    """A link as a person states it. `design`: a design by name, of the study or of the studies in a review."""

    reference: str
    stance: str
    says: str
    locator: str = ""
    kind: str = "study"
    n: int | None = None
    design: str | None = None


@dataclass(frozen=True, slots=True)
class LinksShown:
    """The sources linked to a claim."""

    claim: str
    statement: str
    sources: tuple[LinkedSource, ...]


def link_source(catalogue: Catalogue, claim_key: str, new: NewLink, who: str) -> LinksShown:
    """Link a source to a claim. Raises NotFound, or BadInput for a stance, kind or number that is none.

    One reference may be linked at several places; the same place twice is refused.
    """
    stance = STANCE_WORDS.get(new.stance.strip().casefold(), new.stance.strip().casefold())
    if stance not in STANCES:
        raise BadInput(f'A source cannot stand "{new.stance}".', hint=f"Use one of: {', '.join(STANCES)}.")
    kind = new.kind.strip().casefold()
    if kind not in KINDS:
        raise BadInput(f'"{new.kind}" is no kind of source.', hint=f"Use one of: {', '.join(KINDS)}.")
    if not new.says.strip():
        raise BadInput(
            "A link needs what the source says.", hint='--says "..."; in your own words, it is shown.'
        )
    if new.n is not None and not 1 <= new.n <= MOST_PEOPLE:
        raise BadInput(f"{new.n} is no number of people.", hint="Leave --n out where it is not known.")
    design = require_match(vocabulary_of(catalogue).find_design(new.design), "design") if new.design else None
    with catalogue.changing(who, f"claim link {claim_key} {new.reference}") as session:
        claim, reference = claim_by_key(session, claim_key), reference_by_key(session, new.reference)
        assert claim.id is not None and reference.id is not None
        for link, other in links_of_claim(session, claim):
            if other.id == reference.id and link.locator == new.locator.strip():
                place = f" at {link.locator}" if link.locator else ""
                raise BadInput(
                    f"{reference.key} is linked to {claim.key}{place} already: {STANCES[link.stance]}, {link.said}",
                    hint="Name another place with --locator, or take that link away first: "
                    f"steelyard claim unlink {claim.key} {reference.key}",
                )
        session.add(
            ClaimLink(
                claim_id=claim.id,
                reference_id=reference.id,
                stance=stance,
                kind=kind,
                locator=new.locator.strip(),
                said=new.says.strip(),
                n=new.n,
                design=design,
                person=who,
                at=catalogue.now(),
            )
        )
    return show_links(catalogue, claim_key)


def show_links(catalogue: Catalogue, claim_key: str) -> LinksShown:
    """The sources linked to a claim, oldest first. Raises NotFound for an unknown claim."""
    with catalogue.reading() as session:
        claim = claim_by_key(session, claim_key)
        links = links_of_claim(session, claim)
        rows = studies_measuring(session, [claim.construct_id]) if links and claim.construct_id else []
    weighed = weighed_studies(catalogue, claim_key) if links else ()
    return LinksShown(claim.key, claim.statement, read_links(links, rows, weighed))


def weighed_studies(catalogue: Catalogue, claim_key: str) -> tuple[str, ...]:
    """Keys of the studies whose figures are weighed for a claim now."""
    from evidence.workflows.weigh.weighing import weigh

    return tuple(c.study for c in weigh(catalogue, claim_key).contributions)


def unlink_source(
    catalogue: Catalogue, claim_key: str, reference_key: str, who: str, locator: str | None = None
) -> LinksShown:
    """Take a link away (undo brings it back). Raises NotFound where there is none, BadInput where several are meant."""
    with catalogue.changing(who, f"claim unlink {claim_key} {reference_key}") as session:
        claim, reference = claim_by_key(session, claim_key), reference_by_key(session, reference_key)
        own = [link for link, other in links_of_claim(session, claim) if other.id == reference.id]
        if locator is not None:
            own = [link for link in own if link.locator == locator.strip()]
        if not own:
            raise NotFound(
                f"{reference.key} is not linked to {claim.key}" + (f" at {locator}." if locator else "."),
                hint=f"See: steelyard claim links {claim.key}",
            )
        if len(own) > 1:
            places = ", ".join(link.locator or "(no place)" for link in own)
            raise BadInput(
                f"{reference.key} is linked at {len(own)} places: {places}.", hint="Say which: --locator."
            )
        session.delete(own[0])
    return show_links(catalogue, claim_key)
