"""A superlative is borne out by a ranking whose first stands clear, and told who ties where the intervals overlap."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlmodel import col, select

from evidence.catalogue import Catalogue, tables
from evidence.reading.drafts import read_draft_text
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.rankings import Order

Check = Callable[..., Checked]
SEATED = "The seated leg curl is the best exercise for growth of the hamstrings."


def superlatives(checked: Checked) -> list[str]:
    return [f"{f.what} {f.why}" for f in checked.findings if f.kind == "superlative"]


def run(text: str, knowledge: Knowledge) -> list[str]:
    return superlatives(check_draft(read_draft_text(text, "text"), knowledge))


def test_a_ranking_whose_intervals_overlap_is_told_with_those_who_tie(check: Check) -> None:
    found = superlatives(check(SEATED, "text"))
    assert found == [
        '"the best" is more than the ranking bears. of 3 exercises compared, it comes first, not told apart from '
        "Nordic hamstring exercise"
    ]


def test_another_that_comes_first_is_named(check: Check) -> None:
    (found,) = superlatives(check("Step-ups are the best exercise for glute activation.", "text"))
    assert "barbell hip thrust comes first, not told apart from step-up" in found


def test_two_exercises_compared_are_no_field(check: Check) -> None:
    (found,) = superlatives(check("Nothing beats the standing calf raise for growth of the gastroc.", "text"))
    assert found.endswith("standing calf raise comes first: too few to be a field")


def test_without_a_region_and_an_outcome_there_is_no_ranking_to_ask_for(knowledge: Knowledge) -> None:
    def refuse(region: str, construct: str) -> Order | None:
        raise AssertionError((region, construct))

    (found,) = run("The Nordic is the best hamstring exercise.", replace(knowledge, rank=refuse))
    assert found.startswith('"the best" has no ranking behind it.')


def test_each_region_and_outcome_is_ranked_once(knowledge: Knowledge) -> None:
    assert knowledge.rank("hamstrings", "hypertrophy") is knowledge.rank("hamstrings", "hypertrophy")


def test_a_first_that_stands_clear_in_the_catalogue_bears_a_superlative_out(own_catalogue: Catalogue) -> None:
    with own_catalogue.changing("mira", "far more precise figures") as session:
        outcomes = select(tables.Outcome.id).where(tables.Outcome.construct_id == "hypertrophy")
        for result in session.exec(select(tables.Result).where(col(tables.Result.outcome_id).in_(outcomes))):
            result.spread = (result.spread or 1) / 20
    known = know_catalogue(own_catalogue)
    order = known.rank("hamstrings", "hypertrophy")
    assert order is not None and order.clear, order
    assert run(SEATED, known) == []
    assert len(run("The lying leg curl is the best exercise for growth of the hamstrings.", known)) == 1


@pytest.mark.parametrize(("verdict", "flagged"), [("supported", 0), ("among the best", 1)])
def test_a_claim_of_the_best_says_whether_a_sentence_tied_to_it_stands(
    knowledge: Knowledge, verdict: str, flagged: int
) -> None:
    claim = replace(
        knowledge.claims["standing-calf-gastroc-growth"],
        kind="superlative",
        verdict=verdict,
        found_words="among the highest, not told apart from seated calf raise",
    )
    known = replace(knowledge, claims={**knowledge.claims, claim.key: claim})
    text = f"[Standing calf raises may be the best for your calves.]{{claim={claim.key}}}"
    found = superlatives(check_draft(read_draft_text(text, "markdown"), known))
    assert len(found) == flagged
    assert all("not told apart from seated calf raise" in f for f in found)
