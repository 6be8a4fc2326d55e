"""Full-text search of references on both engines; invented references."""

from contextlib import suppress
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence.catalogue import Catalogue
from evidence.errors import BadInput, SteelyardError
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import state_claim
from evidence.workflows.gather.gathering import gather
from evidence.workflows.gather.merging import merge_references
from evidence.workflows.gather.reference_lists import mark_read
from evidence.workflows.gather.searching import find_references
from evidence.workflows.upkeep.keeping import undo_change

DEMO = Path(str(files("evidence.workflows") / "demo_data"))

ENTRIES = """
@article{soren2015, author={S{\\o}rensen, {\\AA}se and Muñoz-Gård, Þóra}, title={Hip-thrust load and gluteal growth},
  journal={Invented Journal of Strength}, year=2015, keywords={barbell, women}, doi={10.5555/inv.1},
  abstract={Twelve weeks of lifting. The range of motion was kept full; nobody was harmed.
  日本 lifters took part.}}
@article{luk2019, author={{\\L}ukasik, Wies{\\l}aw}, title={Calf raises in β-alanine users}, year=2019,
  journal={Annals of Invention}, abstract={Motion of the range was not studied. Glutes were not either.}}
@article{kanji2020, author={Sato, K}, title={日本語の題名と力}, year=2020, journal={Invented Journal of Strength}}
@book{plain2001, author={O'Hara, Jo}, editor={Editor, Ed}, title={Thrust}, year=2001}
"""


@pytest.fixture
def few(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    (tmp_path / "few.bib").write_text(ENTRIES, encoding="utf-8")
    gather(catalogue, tmp_path / "few.bib", "Ada")
    return catalogue


def keys(catalogue: Catalogue, query: str = "", **filters: object) -> list[str]:
    return [found.key for found in find_references(catalogue, query, **filters).found]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("sorensen", ["soren2015"]),
        ("SØRENSEN", ["soren2015"]),
        ("Asé", ["soren2015"]),
        ("thora munoz gard", ["soren2015"]),
        ("lukasik wieslaw", ["luk2019"]),
        ("thru", ["plain2001", "soren2015"]),  # a beginning of a word; the shorter title first
        ("hip-thrust", ["soren2015"]),
        ('"range of motion"', ["soren2015"]),
        ('"motion of the range"', ["luk2019"]),
        ("range motion", ["luk2019", "soren2015"]),
        ("ohara", ["plain2001"]),
        ("O’Hara", ["plain2001"]),
        ("editor", ["plain2001"]),
        ("10.5555/inv.1", ["soren2015"]),
        ("題名", ["kanji2020"]),
        ("β", ["luk2019"]),
        ("barbell women lifting", ["soren2015"]),
        ("barbell calf", []),
        ("...", []),
        ('"', []),
    ],
)
def test_words_are_found_whatever_their_accents_case_and_place(
    few: Catalogue, query: str, expected: list[str]
) -> None:
    found = keys(few, query)
    assert sorted(found) == sorted(expected)
    if len(expected) == 2 and query == "thru":
        assert found == expected


def test_filters_narrow_and_each_is_understood(few: Catalogue) -> None:
    assert keys(few) == ["kanji2020", "luk2019", "plain2001", "soren2015"]
    assert keys(few, year="2019-") == ["kanji2020", "luk2019"]
    assert keys(few, "thrust", year="-2010") == ["plain2001"]
    assert keys(few, author="munoz") == ["soren2015"]
    assert keys(few, author="barbell") == []
    assert keys(few, journal="invented strength") == ["kanji2020", "soren2015"]
    assert keys(few, journal="thrust") == []
    assert sorted(keys(few, topic="glute")) == ["luk2019", "soren2015"]  # gluteal is another word for it
    assert keys(few, region="gluteus maximus") == ["luk2019"]  # named in its abstract; "gluteal" is wider
    assert sorted(keys(few, exercise="hip thrust")) == ["soren2015"]
    assert find_references(few, exercise="hip thrust").filters[0].startswith("exercise: ")
    assert keys(few, state="no-study") == ["kanji2020", "luk2019", "plain2001", "soren2015"]
    assert keys(few, state="in-study") == []


def test_how_far_a_reference_was_read_is_a_filter(few: Catalogue) -> None:
    mark_read(few, ["luk2019"], "abstract", "Ada")
    mark_read(few, ["plain2001"], "full-text", "Ada")
    assert keys(few, state="abstract") == ["luk2019"]
    assert keys(few, state="full-text") == ["plain2001"]
    assert keys(few, state="unread") == ["kanji2020", "soren2015"]


@pytest.mark.parametrize("filters", [{"year": "soon"}, {"state": "clean"}, {"author": "?!"}, {"topic": "--"}])
def test_a_filter_that_means_nothing_is_told(few: Catalogue, filters: dict[str, str]) -> None:
    with pytest.raises(BadInput):
        keys(few, **filters)


def test_pages_follow_each_other_and_count_all(few: Catalogue) -> None:
    pages = [find_references(few, "", most=3, start=start) for start in (1, 4, 9)]
    assert [[found.key for found in page.found] for page in pages] == [
        ["kanji2020", "luk2019", "plain2001"],
        ["soren2015"],
        [],
    ]
    assert {page.total for page in pages} == {4}


def test_the_snippet_shows_the_place_of_the_words(few: Catalogue) -> None:
    (found,) = find_references(few, '"range of motion" harm').found
    assert found.where == "abstract"
    assert found.snippet is not None
    hits = [found.snippet.text[start:end] for start, end in found.snippet.hits]
    assert hits == ["range of motion", "harmed"]


def test_the_index_follows_every_change_and_its_undoing(few: Catalogue, tmp_path: Path) -> None:
    merge_references(few, "soren2015", "plain2001", "Ada", force=True)
    assert keys(few, "editor thrust") == ["soren2015"]
    assert keys(few, "ohara") == []
    undo_change(few, None, "Ada")
    assert keys(few, "editor") == ["plain2001"]
    undo_change(few, None, "Ada")
    assert keys(few, "sorensen") == []


HOSTILE = [
    'a" OR b*',
    "NEAR(a b)",
    "{names} : a",
    "col:x",
    "-x",
    "a AND NOT b",
    "';DROP TABLE x",
    "a & !b | c:*",
    "\\",
    "%",
]


@pytest.mark.parametrize("query", [*HOSTILE, "\x00", "x" * 100_000, "a " * 5000, "'" * 999])
def test_hostile_text_is_only_text(few: Catalogue, query: str) -> None:
    assert find_references(few, query).total <= 4
    for name in ("author", "journal", "topic", "exercise"):
        with suppress(SteelyardError):  # a filter may say that it means nothing; the query never does
            find_references(few, query, **{name: query})  # type: ignore[arg-type]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=60))
def test_any_text_is_answered(few: Catalogue, query: str) -> None:
    page = find_references(few, query)
    assert page.total >= len(page.found)


def test_results_and_claims_are_states(stocked: Catalogue) -> None:
    from evidence.workflows.weigh.weighing import weigh_and_keep

    entered = keys(stocked, state="results-entered", most=None)
    assert entered
    assert set(entered) <= set(keys(stocked, state="in-study", most=None))
    assert keys(stocked, state="cited-by-claim", most=None) == []
    for statement in statements_from_file(DEMO / "claims.yaml"):
        weigh_and_keep(stocked, state_claim(stocked, statement, "Ada").key, "Ada")
    cited = keys(stocked, state="cited-by-claim", most=None)
    assert cited
    assert set(cited) <= set(entered)
