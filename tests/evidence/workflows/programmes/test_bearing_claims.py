"""The claims of a programme: told alike whether weighed just now or earlier, and read at once however many they are."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import appraisals_of, claim_by_key
from evidence.reading.programme import read_programme_text
from evidence.reading.programme_model import Programme
from evidence.vocabulary import load_vocabulary
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.programmes.annotating import annotate
from evidence.workflows.programmes.bearing_claims import find_bearing_claims
from evidence.workflows.weigh import reweighing

DEMO = Path(__file__).parents[4] / "evidence" / "workflows" / "demo_data"
V = load_vocabulary()
PLAN = "## Day 1\n\n- Seated leg curl 3x10\n- Hip thrust 3x8\n- Single-leg RDL 2x12\n- Standing calf raise 3x12\n"


@pytest.fixture
def claimed(stocked: Catalogue) -> Catalogue:
    """The demonstration with its claims, none weighed yet."""
    for statement in statements_from_file(DEMO / "claims.yaml"):
        state_claim(stocked, statement, "Sam")
    return stocked


@pytest.fixture
def plan() -> Programme:
    return read_programme_text(PLAN, "markdown", V, name="plan")


def state_more(catalogue: Catalogue, many: int) -> None:
    """Claims besides, on exercises of the plan."""
    for number in range(many):
        people = ("trained", "untrained")[number % 2]
        direction = ("more", "less", "differs")[number // 2 % 3]
        statement = Statement(
            exercise="seated leg curl", comparator="lying leg curl", region="hamstrings", outcome="growth",
            direction=direction, training_status=people, key=f"more-{number}",
        )  # fmt: skip
        state_claim(catalogue, statement, "Sam")


@contextmanager
def counted(catalogue: Catalogue) -> Iterator[list[str]]:
    """The questions that are asked of the database meanwhile."""
    asked: list[str] = []

    def listen(*given: object) -> None:
        asked.append(str(given[2]))

    event.listen(catalogue.readers, "before_cursor_execute", listen)
    yield asked
    event.remove(catalogue.readers, "before_cursor_execute", listen)


def weighings(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The keys of claims that are weighed from now on."""
    keys: list[str] = []
    usual = reweighing.weigh_inputs
    monkeypatch.setattr(reweighing, "weigh_inputs", lambda i, v: keys.append(i.claim.key) or usual(i, v))
    return keys


def test_a_programme_tells_the_same_of_claims_weighed_just_now_and_of_those_that_stand(claimed, plan) -> None:
    first = find_bearing_claims(claimed, plan, V, keep_as="Sam")
    again = find_bearing_claims(claimed, plan, V)
    assert first == again and len(first) > 5
    assert annotate(claimed, plan, first, V) == annotate(claimed, plan, again, V)


def test_a_second_look_at_a_programme_weighs_nothing_again(claimed, plan, monkeypatch) -> None:
    done = weighings(monkeypatch)
    first = find_bearing_claims(claimed, plan, V, keep_as="Sam")
    assert sorted(done) == sorted(claim.claim.key for claim in first)
    done.clear()
    find_bearing_claims(claimed, plan, V, keep_as="Sam")
    assert done == []
    with claimed.reading() as session:
        assert len(appraisals_of(session, claim_by_key(session, first[0].claim.key))) == 1


def test_only_looking_keeps_nothing(claimed, plan) -> None:
    (first, *_) = find_bearing_claims(claimed, plan, V)
    with claimed.reading() as session:
        assert appraisals_of(session, claim_by_key(session, first.claim.key)) == []


def test_a_retraction_meanwhile_weighs_the_claims_that_rest_on_it_and_no_others(
    claimed, plan, monkeypatch, tmp_path
) -> None:
    first = find_bearing_claims(claimed, plan, V, keep_as="Sam")
    notices = tmp_path / "notices.csv"
    heads, row, *_ = (DEMO / "notices.csv").read_text("utf-8").splitlines()
    resting = next(c for c in first if c.claim.key == "seated-curl-growth")
    doi = resting.studies[0].references[0].doi
    columns = heads.split(",")
    values = dict(zip(columns, row.split(","), strict=False))
    values["OriginalPaperDOI"] = doi
    notices.write_text(f"{heads}\n{','.join(values.get(c, '') for c in columns)}\n", "utf-8")
    apply_notices(claimed, notices, "Sam")
    done = weighings(monkeypatch)
    again = find_bearing_claims(claimed, plan, V, keep_as="Sam")
    assert "seated-curl-growth" in done and len(done) < len(first)
    before, now = ({c.claim.key: c for c in claims}["seated-curl-growth"] for claims in (first, again))
    assert len(now.studies) < len(before.studies) and now.left_out


def test_what_a_programme_asks_of_the_catalogue_does_not_grow_with_its_claims(claimed, plan) -> None:
    find_bearing_claims(claimed, plan, V, keep_as="Sam")
    with counted(claimed) as few:
        find_bearing_claims(claimed, plan, V)
    state_more(claimed, 6)
    found = find_bearing_claims(claimed, plan, V, keep_as="Sam")
    with counted(claimed) as many:
        assert len(find_bearing_claims(claimed, plan, V)) == len(found)
    assert len(many) <= len(few) + 1
