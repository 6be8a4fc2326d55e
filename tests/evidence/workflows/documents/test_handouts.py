"""A handout of many claims reads the state of the catalogue once, and holds no more of a claim than it tells."""

import gc
from pathlib import Path

import pytest
from sqlalchemy import event

from evidence.catalogue import Catalogue
from evidence.errors import BadInput
from evidence.publishing.formats import choose_format
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import state_claim
from evidence.workflows.documents import handouts
from evidence.workflows.documents.handouts import publish_handout
from evidence.workflows.weigh.weighing import Weighing

DEMO = Path(__file__).parents[4] / "evidence" / "workflows" / "demo_data"
KEYS = [s.key or "" for s in statements_from_file(DEMO / "claims.yaml")]


@pytest.fixture
def claimed(stocked: Catalogue) -> Catalogue:
    """The demonstration with its claims."""
    for statement in statements_from_file(DEMO / "claims.yaml"):
        state_claim(stocked, statement, "Sam")
    return stocked


def test_the_state_is_read_once_for_a_handout_however_many_claims_it_tells(claimed: Catalogue) -> None:
    asked: list[str] = []
    event.listen(claimed.readers, "before_cursor_execute", lambda *given: asked.append(given[2]))
    for keys in (KEYS[:1], KEYS):
        publish_handout(claimed, keys, [], None, "Sam", choose_format("txt", None))
        of_state = [text for text in asked if "FROM content_digest_until" in text]
        asked.clear()
        assert 0 < len(of_state) <= 3


def test_a_weighing_is_let_go_once_its_part_of_the_handout_is_made(
    claimed: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    alive: list[int] = []
    usual = handouts.make_brief

    def look(*given):
        gc.collect()
        alive.append(sum(isinstance(thing, Weighing) for thing in gc.get_objects()))
        return usual(*given)

    monkeypatch.setattr(handouts, "make_brief", look)
    publish_handout(claimed, KEYS, [], None, "Sam", choose_format("txt", None))
    assert len(alive) == len(KEYS) > 3 and max(alive) - alive[0] <= 1


def test_more_claims_than_a_handout_can_hold_are_refused_before_any_is_weighed(
    claimed: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(handouts, "MOST_CLAIMS", len(KEYS) - 1)
    monkeypatch.setattr(handouts, "make_brief", lambda *_: pytest.fail("a claim was weighed"))
    with pytest.raises(BadInput, match=f"{len(KEYS)} claims are more than a handout can hold"):
        publish_handout(claimed, KEYS, [], None, "Sam", choose_format("txt", None))
