"""Outcomes that people use in place of another (activation for growth): told openly, never swapped silently."""

from collections.abc import Sequence
from dataclasses import replace

from evidence.appraisal.verdict import Verdict
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import find_bearing
from evidence.workflows.relevance.contributions import name_study


def told_as_stand_in(verdict: Verdict, claim: Claim, construct: str, vocabulary: Vocabulary) -> Verdict:
    """A verdict that leans on a stand-in says so in its own words: the outcome is never swapped silently."""
    if construct == claim.construct_id:
        return verdict
    measured, claimed = vocabulary.constructs[construct].name, vocabulary.constructs[claim.construct_id].name
    return replace(verdict, text=f"{verdict.text}, by {measured} alone ({claimed} was not measured)")


def stand_in_constructs(construct: str, vocabulary: Vocabulary) -> tuple[str, ...]:
    """Constructs that people use as stand-ins for one: activation for growth."""
    return tuple(c.id for c in vocabulary.constructs.values() if construct in c.surrogate_for)


def note_stand_ins(
    claim: Claim, rows: Sequence[StudyRows], vocabulary: Vocabulary, used: str, stand_ins: Sequence[str]
) -> list[str]:
    """Say that stand-in results exist and were not used: an outcome is never swapped silently."""
    notes = []
    for construct in stand_ins:
        if construct == used:
            continue
        found = [r for r in rows if find_bearing(claim, r, vocabulary, construct, surrogate=True)]
        if found:
            what = vocabulary.constructs[construct].name
            labels = ", ".join(name_study(r) for r in found)
            notes.append(
                f"{labels} measured {what} for the same comparison. That is another outcome, and it was not used here."
            )
    return notes
