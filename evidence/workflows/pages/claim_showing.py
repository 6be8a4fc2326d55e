"""A claim shown: what is kept of it, and every study and source that bears on it."""

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key
from evidence.workflows.claims.terms import told_terms
from evidence.workflows.pages.browsing import Shown, show_claim
from evidence.workflows.weigh.telling import tell_brought_in
from evidence.workflows.weigh.weighing import weigh


def show_whole_claim(catalogue: Catalogue, key: str) -> Shown:
    """What is kept of a claim, then the studies that bear on it as the catalogue stands, each with its rule."""
    with catalogue.reading() as session:
        claim = claim_by_key(session, key)
    shown = show_claim(catalogue, key)
    weighing = weigh(catalogue, key)
    own = [f"  kind: {claim.kind} ({weighing.kind.about})"]
    own += [f"  {line}" for line in told_terms(claim.terms)]
    if claim.falsifier:
        own.append(f"  would be given up if: {claim.falsifier}")
    first, *rest = shown.lines
    return Shown(key, (first, *own, *rest, *tell_brought_in(weighing)))
