"""Sources linked to claims: stance and place, what counts and why not, never pooled (references are invented)."""

import pytest

from evidence.catalogue import Catalogue
from evidence.errors import BadInput, NotFound
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.claims.linking import NewLink, link_source, show_links, unlink_source
from evidence.workflows.weigh.weighing import weigh


@pytest.fixture
def pooled(stocked: Catalogue) -> str:
    statement = Statement("seated leg curl", "lying leg curl", "growth", region="hamstrings", key="curls")
    return state_claim(stocked, statement, "Sam").key


@pytest.fixture
def bare(stocked: Catalogue) -> str:
    """A claim on which the catalogue has no figures."""
    statement = Statement("leg extension", "hip thrust", "growth", region="quadriceps", key="bare")
    return state_claim(stocked, statement, "Sam").key


def link(catalogue: Catalogue, claim: str, reference: str = "kettle2018", stance: str = "against", **more):
    return link_source(
        catalogue, claim, NewLink(reference, stance, more.pop("says", "No growth."), **more), "Sam"
    )


def test_a_linked_source_is_shown_and_changes_no_figure(stocked: Catalogue, pooled: str) -> None:
    before = weigh(stocked, pooled)
    shown = link(stocked, pooled, locator="p. 4", kind="review", n=120, design="RCT")
    assert (
        shown.sources[0]
        .line()
        .startswith("against: Kettle & Anvil 2018 (review, n 120, randomised_parallel), p. 4")
    )
    after = weigh(stocked, pooled)
    assert (after.pooled, after.verdict.text) == (before.pooled, before.verdict.text)
    assert after.confidence == before.confidence
    assert after.inputs_hash != before.inputs_hash
    [panel] = [p for p in after.panels if p.heading == "Sources linked by people"]
    assert panel.rows[0][:4] == ("against", "Kettle & Anvil 2018", "review, n 120", "p. 4")
    assert [r.key for r in after.sources] == ["kettle2018"]


def test_where_nothing_pools_sources_count_by_their_stance(stocked: Catalogue, bare: str) -> None:
    assert weigh(stocked, bare).confidence.rule_set == "default"
    link(stocked, bare, n=120, design="RCT")
    link(stocked, bare, "anvil2019", "for", n=500, design="RCT")
    rating = weigh(stocked, bare).confidence
    assert rating.rule_set == "narrative"
    assert rating.domain("inconsistency").proposed == -1
    assert "1 for the claim, 1 against it" in rating.domain("inconsistency").reason
    assert rating.domain("imprecision").proposed == 0  # 620 people: Murad 2017, Table 1, above 400
    assert weigh(stocked, bare).pooled is None


def test_a_retracted_source_is_flagged_and_does_not_count(stocked: Catalogue, bare: str) -> None:
    shown = link(stocked, bare, "sleeve2015", "supports", n=120)
    assert not shown.sources[0].counts
    assert "RETRACTED" in shown.sources[0].line()
    assert weigh(stocked, bare).confidence.rule_set == "default"


def test_a_source_that_is_weighed_by_its_figures_is_not_counted_twice(
    stocked: Catalogue, pooled: str
) -> None:
    shown = link(stocked, pooled, "barbell2020", "supports")
    assert "not counted twice" in shown.sources[0].line()


def test_the_same_source_at_two_places_counts_once(stocked: Catalogue, bare: str) -> None:
    link(stocked, bare, locator="p. 4", n=120)
    shown = link(stocked, bare, locator="p. 9", stance="supports", n=120)
    assert [s.counts for s in shown.sources] == [True, False]
    assert "another stance" in shown.sources[1].line()
    with pytest.raises(BadInput):
        link(stocked, bare, locator="p. 9")


@pytest.mark.parametrize("kind", ["guideline", "expert", "other"])
def test_backing_is_shown_and_not_counted(stocked: Catalogue, bare: str, kind: str) -> None:
    shown = link(stocked, bare, kind=kind)
    assert not shown.sources[0].counts
    assert "backing" in shown.sources[0].line()


def test_a_link_is_taken_away_again(stocked: Catalogue, bare: str) -> None:
    link(stocked, bare, locator="p. 4")
    link(stocked, bare, locator="p. 9")
    with pytest.raises(BadInput, match="2 places"):
        unlink_source(stocked, bare, "kettle2018", "Sam")
    assert len(unlink_source(stocked, bare, "kettle2018", "Sam", "p. 9").sources) == 1
    assert unlink_source(stocked, bare, "kettle2018", "Sam").sources == ()
    with pytest.raises(NotFound):
        unlink_source(stocked, bare, "kettle2018", "Sam")


@pytest.mark.parametrize(
    "new",
    [
        NewLink("kettle2018", "perhaps", "x"),
        NewLink("kettle2018", "against", " "),
        NewLink("kettle2018", "against", "x", kind="blog"),
        NewLink("kettle2018", "against", "x", n=-3),
    ],
)
def test_a_link_that_says_nothing_is_refused(stocked: Catalogue, bare: str, new: NewLink) -> None:
    with pytest.raises(BadInput):
        link_source(stocked, bare, new, "Sam")
    assert show_links(stocked, bare).sources == ()


def test_an_unknown_reference_or_claim_is_named(stocked: Catalogue, bare: str) -> None:
    with pytest.raises(NotFound, match="kettle2018"):
        link(stocked, bare, "kettel2018")
    with pytest.raises(NotFound):
        link(stocked, "bear")
