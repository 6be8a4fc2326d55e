"""Rankings behind a superlative: the order of a region's exercises, worked out only where a sentence names both."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from evidence.vocabulary import Vocabulary

if TYPE_CHECKING:
    from evidence.catalogue import Catalogue
    from evidence.workflows.weigh.ranked_regions import RegionRanking

AT_LEAST = 3  # exercises compared, for one of them to be called the best; common practice, no source
DRAWS = 100  # of ranks, which are not told here: only differences count


@dataclass(frozen=True, slots=True)
class Order:
    """Exercises of a region by an outcome, first first. `tied`: names not told apart from the first.

    `first`: what the first may be in the vocabulary.
    """

    names: tuple[str, ...]
    first: frozenset[str]
    tied: tuple[str, ...]

    @property
    def clear(self) -> bool:
        """Whether the first stands apart from all others, and these are enough to be a field."""
        return len(self.names) >= AT_LEAST and not self.tied


Ranker = Callable[[str, str], Order | None]


def ranker(catalogue: "Catalogue", vocabulary: Vocabulary) -> Ranker:
    """Orders by region and outcome, each worked out once. None: nothing was compared."""
    known: dict[tuple[str, str], Order | None] = {}

    def rank(region: str, construct: str) -> Order | None:
        if (region, construct) not in known:
            known[region, construct] = order_of(catalogue, region, construct, vocabulary)
        return known[region, construct]

    return rank


def order_of(catalogue: "Catalogue", region: str, construct: str, vocabulary: Vocabulary) -> Order | None:
    """The order as the ranking's model has it now."""
    from evidence.workflows.weigh.ranked_regions import Asked, fit_region, order_region, read_region

    if region not in vocabulary.regions or construct not in vocabulary.constructs:
        return None
    asked = Asked(region, construct)
    rows = read_region(catalogue, asked, vocabulary)
    return as_order(order_region(fit_region(rows, asked, vocabulary, DRAWS)), vocabulary) if rows else None


def as_order(ranking: "RegionRanking", vocabulary: Vocabulary) -> Order | None:
    """What a sentence is held against."""
    if len(ranking.items) < 2:
        return None
    names = tuple(item.name for item in ranking.items)
    called = {e.id for e in vocabulary.exercises.values() if names[0] in (e.name, f"{e.name} ({e.id})")}
    return Order(names, frozenset(called), tuple(i.name for i in ranking.items if i.tied_with_first))
