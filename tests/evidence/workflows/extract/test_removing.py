"""A study can be taken away with a reason; what rested on it moves, and undo brings it back as it was."""

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.catalogue.state import catalogue_state
from evidence.errors import BadInput, NotFound
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.removing import remove_study
from evidence.workflows.upkeep.changes import find_changes
from evidence.workflows.upkeep.keeping import undo_change
from evidence.workflows.weigh.weighing import weigh_and_keep


@pytest.fixture
def weighed(stocked: Catalogue) -> Catalogue:
    """The demonstration's studies and a claim that rests on two of them."""
    state_claim(
        stocked,
        Statement("standing calf raise", "seated calf raise", "growth", "gastrocnemius", key="calf"),
        "Sam",
    )
    weigh_and_keep(stocked, "calf", "Sam")
    return stocked


def test_a_study_goes_with_its_figures_and_the_claim_that_rested_on_it_moves(weighed: Catalogue) -> None:
    with weighed.reading() as session:
        references = [r.key for r in study_rows(session, study_by_key(session, "rack-2016")).references]
        before = catalogue_state(session)
    assert remove_study(weighed, "rack-2016", " entered  twice ", "Sam") == ("calf",)
    with weighed.reading() as session, pytest.raises(NotFound):
        study_by_key(session, "rack-2016")
    (moved,) = find_changes(weighed, "Sam").claims
    assert moved.key == "calf"
    undo_change(weighed, None, "Sam")
    with weighed.reading() as session:
        again = [r.key for r in study_rows(session, study_by_key(session, "rack-2016")).references]
        assert (again, catalogue_state(session)) == (references, before)
    assert find_changes(weighed, "Sam").claims == ()


@pytest.mark.parametrize(
    ("key", "reason", "fault"), [("rack-2016", "  ", BadInput), ("nobody-1999", "x", NotFound)]
)
def test_without_a_reason_or_a_study_nothing_goes(
    weighed: Catalogue, key: str, reason: str, fault: type[Exception]
) -> None:
    with pytest.raises(fault):
        remove_study(weighed, key, reason, "Sam")
    with weighed.reading() as session:
        assert study_by_key(session, "rack-2016").key == "rack-2016"
