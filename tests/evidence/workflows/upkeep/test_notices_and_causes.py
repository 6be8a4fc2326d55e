"""A notice taken back asks for no review; a retraction is told with the change that brought it, and no other."""

from importlib.resources import files
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.history import get_change
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import state_claim
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.judge.judging import judge_study
from evidence.workflows.upkeep.changes import find_changes
from evidence.workflows.upkeep.keeping import undo_change
from evidence.workflows.upkeep.reviewing import find_due
from evidence.workflows.weigh.weighing import weigh_and_keep

DEMO = Path(str(files("evidence.workflows") / "demo_data"))
KEY = "standing-calf-growth"


@pytest.fixture
def weighed(stocked: Catalogue) -> Catalogue:
    """One claim of the demonstration, weighed; it rests on rack-2016."""
    for statement in statements_from_file(DEMO / "claims.yaml"):
        if statement.key == KEY:
            state_claim(stocked, statement, "Sam")
    weigh_and_keep(stocked, KEY, "Sam")
    return stocked


def retract(catalogue: Catalogue) -> None:
    apply_notices(catalogue, DEMO / "later" / "notices.csv", "Sam")


def test_a_retraction_taken_back_is_no_reason_for_a_review(weighed: Catalogue) -> None:
    retract(weighed)
    (due,) = find_due(weighed).due
    assert any("is retracted" in reason.text for reason in due.reasons)
    undo_change(weighed, None, "Sam")
    assert find_due(weighed).due == ()


def test_a_retraction_is_told_with_the_change_that_brought_it_alone(weighed: Catalogue) -> None:
    judge_study(weighed, "rack-2016", "Sam", {"q1_1": "Y", "q1_2": "Y", "q1_3": "N"})
    retract(weighed)
    (claim,) = find_changes(weighed, "Sam").claims
    (cause,) = [c for c in claim.causes if c.kind == "left out"]
    (number,) = cause.changes
    assert f"change {number}, by Sam on" in cause.text
    with weighed.reading() as session:
        assert get_change(session, number).action.startswith("refs notices apply")
