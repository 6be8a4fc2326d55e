"""Rankings that went out and rest on a printed figure."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, uses_of_kind
from evidence.catalogue.tables import Result, Use
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.ranked_studies import bearing_on_region
from evidence.workflows.trace.traced_figures import figures_behind
from evidence.workflows.weigh.ranked_regions import Asked, fit_region, read_region

FEWEST_DRAWS = 100  # ranks are not told here; only who is in the model


@dataclass(frozen=True, slots=True)
class RankingFed:
    """A ranking that was written out, and whether the figure enters it today; `order` is what it said then."""

    name: str
    region: str
    outcome: str
    written_on: str
    order: str
    enters: bool
    reason: str  # why it does not enter


def trace_rankings(
    catalogue: Catalogue, rows: StudyRows, result: Result, vocabulary: Vocabulary
) -> tuple[RankingFed, ...]:
    """Rankings that were written out of a region and outcome on which the figure bears; each file once."""
    with catalogue.reading() as session:
        latest = {use.name: use for use in uses_of_kind(session, "ranking")}
    construct = next(o.construct_id for o in rows.outcomes if o.id == result.outcome_id)
    found = []
    for use in latest.values():
        asked = asked_of(use)
        if asked.construct != construct or asked.region not in vocabulary.regions:
            continue
        bearing = bearing_on_region(rows, asked.region, construct, vocabulary)
        if bearing is not None and result.region in bearing.regions:
            found.append(follow_ranking(catalogue, use, asked, rows, result, vocabulary))
    return tuple(found)


def asked_of(use: Use) -> Asked:
    """What a ranking was asked for, as it was remembered."""
    body = use.body
    return Asked(
        str(body.get("region") or ""),
        str(body.get("outcome") or ""),
        body.get("scale") or None,
        str(body.get("level") or "exercise"),
        body.get("training_status") or None,
        body.get("sex") or None,
    )


def told_then(use: Use) -> str:
    """The order as the ranking told it when it was written."""
    order = use.body.get("order") or use.told
    return order if isinstance(order, str) else ", ".join(order)


def follow_ranking(
    catalogue: Catalogue, use: Use, asked: Asked, rows: StudyRows, result: Result, vocabulary: Vocabulary
) -> RankingFed:
    """What becomes of the figure in one ranking, worked out anew on the catalogue as it stands."""
    fitted = fit_region(read_region(catalogue, asked, vocabulary), asked, vocabulary, FEWEST_DRAWS)
    members = [m for m in fitted.usual.members if m.evidence.rows.study.key == rows.study.key]
    reason = "its study is not ranked"
    enters = False
    for member in members:
        reason = member.reason
        if member.networks:
            enters = any(
                result.key
                in {r.key for r in figures_behind(member.evidence, contrast, fitted.question.scale)}
                for contrast in member.evidence.contrasts
                if fitted.question.scale in contrast.effects
            )
            reason = "" if enters else "other figures of the study are used, or this one cannot be"
    return RankingFed(
        use.name,
        vocabulary.regions[asked.region].name,
        vocabulary.constructs[asked.construct].name,
        use.at.date().isoformat(),
        told_then(use),
        enters,
        reason,
    )
