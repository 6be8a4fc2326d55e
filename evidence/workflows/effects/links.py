"""Correlations within people: the printed one where there is one, else the default, low or high of the construct."""

from dataclasses import dataclass
from typing import Literal

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Result
from evidence.statistics.correlations import Correlation, given
from evidence.vocabulary import Vocabulary

Pick = Literal["low", "usual", "high"]
PICKS: tuple[Pick, ...] = ("low", "usual", "high")
RESULTS = "results of one study"  # between the errors of outcomes or regions of the same people


@dataclass(frozen=True, slots=True)
class Links:
    """Where the correlations of one study come from.

    `pick` says which value to take where one within people is assumed; `pick_results` the same between outcomes or
    regions of one study: two things, varied apart.
    """

    rows: StudyRows
    construct: str
    vocabulary: Vocabulary
    pick: Pick = "usual"
    pick_results: Pick = "usual"

    def between(self, a: Result, b: Result, situation: str) -> Correlation:
        """The correlation of two results: printed, or assumed for the situation."""
        wanted = {a.id, b.id}
        for found in self.rows.correlations:
            if {found.result_a_id, found.result_b_id} == wanted:
                return given(found.r)
        return self.assumed(situation)

    def assumed(self, situation: str) -> Correlation:
        """What is assumed in a situation where nothing was printed."""
        default = self.vocabulary.default_correlation(self.construct, situation)
        pick = self.pick_results if situation == RESULTS else self.pick
        value = {"low": default.low, "usual": default.default, "high": default.high}[pick]
        return Correlation(
            value,
            default.low,
            default.high,
            False,
            f"Usual range {default.low:g} to {default.high:g}",
            default.source,
        )
