"""A study taken away again: entered twice, or by mistake. Its references stay, and undo brings it back."""

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import latest_appraisals, list_claims, study_by_key
from evidence.errors import BadInput
from evidence.workflows.claims.claiming import read_words


def remove_study(catalogue: Catalogue, key: str, reason: str, who: str) -> tuple[str, ...]:
    """Take a study away with its people, figures and judgements, the reason in the history.

    Returns the keys of claims that it was weighed for. Raises NotFound, and BadInput without a reason.
    """
    said = read_words(reason)
    if said is None:
        raise BadInput("Removing a study needs a reason.", hint='--because "..."; it stays in the history.')
    with catalogue.changing(who, f"study remove {key}: {said}") as session:
        study = study_by_key(session, key)
        last = latest_appraisals(session)
        rested = tuple(
            claim.key
            for claim in list_claims(session)
            if claim.id in last
            and key in {row.get("study") for row in last[claim.id].body.get("studies", ())}
        )
        session.delete(study)
    return rested
