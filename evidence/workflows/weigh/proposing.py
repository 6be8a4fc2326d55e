"""The confidence proposed for a claim: by the rule set and settings kept with it; narrative where nothing pools."""

from collections.abc import Sequence

from evidence.appraisal.body import Body
from evidence.appraisal.confidence import Confidence, rate
from evidence.appraisal.narrative import rate_narrative
from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.linked_sources import LinkedSource, as_linked

RULE_SETS = ("default", "pollock2016", "smo2023", "ashton2020", "narrative")
RULE_SET, SETTINGS = "rule_set", "rating_settings"  # parts of a claim's terms


def by_default(claim: Claim) -> bool:
    """Whether a claim is rated by the default rules, with no setting of its own."""
    return claim.terms.get(RULE_SET) in (None, "default") and not claim.terms.get(SETTINGS)


def propose(
    claim: Claim,
    body: Body,
    linked: Sequence[LinkedSource],
    vocabulary: Vocabulary,
    rule_set: str | None = None,
) -> Confidence:
    """Rate a body for a claim. `rule_set` replaces the one kept with the claim. Raises BadInput for an unknown one.

    Where nothing could be pooled, the default gives way to the narrative set: its rules are made for intervals.
    """
    name = rule_set or str(claim.terms.get(RULE_SET) or "default")
    settings = claim.terms.get(SETTINGS) or {}
    sources = as_linked(linked, vocabulary)
    something = any(c.estimate is not None for c in body.contributions) or any(s.counts for s in sources)
    if name in ("default", "narrative") and body.pooled is None and something:
        return rate_narrative(body, sources, settings)
    return rate(body, name, settings)
