"""Claims that the results of a study let one state: a ready sentence for each pair of exercises that it compares."""

from collections.abc import Collection, Iterator, Sequence
from datetime import UTC, datetime
from itertools import combinations

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Claim, Condition
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.claims.claiming import Statement, read_claim
from evidence.workflows.effects.contrasts import Contrast, build_contrast
from evidence.workflows.effects.links import Links
from evidence.workflows.relevance.contributions import choose_outcomes, turn_if_lower_is_better

UNSTATED = datetime(1, 1, 1, tzinfo=UTC)  # of a claim that is only put into words
MOST = 12  # sentences; more are a list nobody reads


def offer_claims(rows: StudyRows, vocabulary: Vocabulary, stated: Collection[Claim]) -> tuple[str, ...]:
    """A sentence for every two exercises, outcome and region that the results compare, as the figures point.

    What is among the claims `stated` already, said either way round, is not offered again.
    """
    found: dict[str, None] = {}
    for sentence in sentences_of(rows, vocabulary, stated):
        found[sentence] = None
        if len(found) == MOST:  # a study of many conditions has thousands of pairs
            break
    return tuple(found)


def sentences_of(rows: StudyRows, vocabulary: Vocabulary, stated: Collection[Claim]) -> Iterator[str]:
    """The sentences one by one, as they stand in the study; some come twice."""
    known = {(pair_of(c.exercise, c.comparator), c.region, c.construct_id) for c in stated}
    for construct in dict.fromkeys(o.construct_id for o in rows.outcomes):
        links = Links(rows, construct, vocabulary)
        outcomes = choose_outcomes([o for o in rows.outcomes if o.construct_id == construct])
        for region in regions_of(rows, [o.id for o in outcomes]):
            for a, b in pairs_compared(rows.conditions, vocabulary):
                if (pair_of(a.exercise, b.exercise), region, construct) in known:
                    continue
                contrasts = (build_contrast(rows, a, b, outcome, region, links) for outcome in outcomes)
                for contrast in contrasts:
                    turned = turn_if_lower_is_better(contrast, construct, vocabulary)
                    points = 0.0 if turned is None else direction_of(turned)
                    if points:
                        more, less = (a, b) if points > 0 else (b, a)
                        yield from in_words(more, less, region, construct, vocabulary)
                        break


def regions_of(rows: StudyRows, outcomes: Collection[int | None]) -> tuple[str | None, ...]:
    """The regions with results on one of the outcomes, as they stand in the study."""
    return tuple(dict.fromkeys(r.region for r in rows.results if r.outcome_id in outcomes))


def pairs_compared(
    conditions: Sequence[Condition], vocabulary: Vocabulary
) -> tuple[tuple[Condition, Condition], ...]:
    """Every two conditions of two known exercises; details of one exercise are no sentence that is read back."""
    known = [c for c in conditions if c.exercise in vocabulary.exercises]
    return tuple((a, b) for a, b in combinations(known, 2) if a.exercise != b.exercise)


def pair_of(one: str | None, other: str | None) -> frozenset[str | None]:
    """Two exercises, whichever comes first."""
    return frozenset((one, other))


def direction_of(contrast: Contrast) -> float:
    """The first figure of a contrast: above zero where the first condition has more; zero where none is there."""
    figures = [effect.estimate for effect in contrast.effects.values()] or list(contrast.bare.values())
    return figures[0] if figures else 0.0


def in_words(
    more: Condition, less: Condition, region: str | None, construct: str, vocabulary: Vocabulary
) -> list[str]:
    """The sentence, as the claim would be stated; none where such a claim lacks something, as its region."""
    statement = Statement(more.exercise, less.exercise, construct, region)
    try:
        return [read_claim(statement, vocabulary, UNSTATED, "").statement]
    except BadInput:
        return []
