"""What people judged: of a study's risk of bias, of a claim's domains; and the sources they linked to a claim."""

from sqlmodel import Session, col, select

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.tables import Claim, ClaimLink, Exclusion, Rating, Reference, Study


def ratings_of_study(session: Session, study: Study) -> list[Rating]:
    """Everything people judged of a study's risk of bias, oldest first."""
    statement = select(Rating).where(Rating.study_id == study.id)
    return list(session.exec(statement.order_by(col(Rating.at), col(Rating.id))))


def ratings_of_studies(session: Session) -> list[tuple[Study, Rating]]:
    """Every rating of any study, in the order of the studies' keys, oldest first within one."""
    statement = select(Study, Rating).join(Rating, col(Rating.study_id) == Study.id)
    ordered = statement.order_by(in_order(session, Study.key), col(Rating.at), col(Rating.id))
    return [(study, rating) for study, rating in session.exec(ordered)]


def exclusions_of_study(session: Session, study: Study) -> list[Exclusion]:
    """Where a person left a study, or some of its results, out of a claim; oldest first."""
    statement = select(Exclusion).where(Exclusion.study_id == study.id)
    return list(session.exec(statement.order_by(col(Exclusion.at), col(Exclusion.id))))


def ratings_of_claim(session: Session, claim: Claim) -> list[Rating]:
    """Everything people judged of a claim's domains, oldest first."""
    statement = select(Rating).where(Rating.claim_id == claim.id)
    return list(session.exec(statement.order_by(col(Rating.at), col(Rating.id))))


def ratings_of_claims(session: Session) -> list[tuple[Claim, Rating]]:
    """Every rating of any claim, in the order of the claims' keys, oldest first within one."""
    statement = select(Claim, Rating).join(Rating, col(Rating.claim_id) == Claim.id)
    ordered = statement.order_by(in_order(session, Claim.key), col(Rating.at), col(Rating.id))
    return [(claim, rating) for claim, rating in session.exec(ordered)]


def links_of_claim(session: Session, claim: Claim) -> list[tuple[ClaimLink, Reference]]:
    """Sources linked to a claim with their references, oldest link first."""
    return [
        (link, reference) for link, reference in session.exec(_LINKS.where(ClaimLink.claim_id == claim.id))
    ]


def links_by_claim(session: Session) -> dict[int, list[tuple[ClaimLink, Reference]]]:
    """Every linked source by the claim's row number, oldest link first, in one query."""
    found: dict[int, list[tuple[ClaimLink, Reference]]] = {}
    for link, reference in session.exec(_LINKS):
        found.setdefault(link.claim_id, []).append((link, reference))
    return found


_LINKS = (
    select(ClaimLink, Reference)
    .join(Reference, col(ClaimLink.reference_id) == Reference.id)
    .order_by(col(ClaimLink.at), col(ClaimLink.id))
)
