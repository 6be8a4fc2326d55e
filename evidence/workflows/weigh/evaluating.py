"""Which evaluator weighs which kind of claim: the one table of them."""

from collections.abc import Callable, Mapping

from evidence.appraisal.kinds import find_kind
from evidence.vocabulary import Vocabulary
from evidence.workflows.weigh.associations import weigh_association
from evidence.workflows.weigh.backing import weigh_backing, weigh_practice
from evidence.workflows.weigh.comparisons import weigh_comparison
from evidence.workflows.weigh.levels import weigh_level
from evidence.workflows.weigh.superlatives import weigh_superlative
from evidence.workflows.weigh.trends import weigh_trend
from evidence.workflows.weigh.weighed import Inputs, Weighing

Evaluator = Callable[[Inputs, Vocabulary], Weighing]

EVALUATORS: Mapping[str, Evaluator] = {
    "comparison": weigh_comparison,
    "sameness": weigh_comparison,
    "rate": weigh_comparison,
    "superlative": weigh_superlative,
    "trend": weigh_trend,
    "level": weigh_level,
    "association": weigh_association,
    "mechanism": weigh_backing,
    "principle": weigh_backing,
    "practice": weigh_practice,
}


def evaluate(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """What is found of a claim of any kind. Raises BadInput for a kind that is not known."""
    return EVALUATORS[find_kind(inputs.claim.kind).id](inputs, vocabulary)
