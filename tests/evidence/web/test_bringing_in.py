"""References brought in on the page: a citation in words is looked up or typed, one that is here is linked."""

import pytest

VANCOUVER = "Nobody A, Noone B. [Invented] Wall squat and sled push. J Invented Train. 2021;7(2):11-20."
BIBTEX = "@article{%s, author={Nobody, A}, title={[Invented] Wall squat and sled push}, year={2021}}"


@pytest.fixture
def strict(visitor):
    """A visitor of a server whose unforeseen errors fail the test, as they would print a traceback."""
    visitor._transport.raise_server_exceptions = True
    return visitor


def test_a_paste_that_is_no_reference_is_told_on_the_form_and_kept_in_it(strict):
    text = "\n".join(["nothing that anybody could read as one reference"] * 40)
    answer = strict.post("/references/add", data={"text": text})
    assert answer.status_code == 422 and "recognised" in answer.text
    assert "nothing that anybody" in answer.text.split("<textarea")[1]


def test_notices_that_cannot_be_read_are_told(strict):
    answer = strict.post("/references/notices", data={"text": "no notices at all"})
    assert answer.status_code == 422 and "That was not done" in answer.text


def test_a_file_that_cannot_be_read_is_named_as_it_was_sent(strict):
    answer = strict.post("/references/notices", files={"file": ("list.csv", b"paper,when\nFenn,then\n")})
    assert "list.csv, line 1: this is not" in answer.text and "/list.csv" not in answer.text


def test_a_citation_in_words_of_a_stored_reference_leads_to_it(strict):
    answer = strict.post(
        "/references/add", data={"text": "the 2017 Plate study on seated and lying leg curls"}
    )
    assert answer.status_code == 200 and "It is here" in answer.text
    assert 'href="/references/plate2017"' in answer.text
    assert 'href="/studies/new?reference=plate2017"' in answer.text


def test_a_citation_in_words_of_an_unknown_work_fills_a_form_that_stores_it(strict):
    answer = strict.post("/references/add", data={"text": VANCOUVER})
    assert answer.status_code == 200 and "Nothing was stored" not in answer.text
    for part in ('value="[Invented] Wall squat and sled push"', "Nobody, A", 'value="2021"', 'value="11-20"'):
        assert part in answer.text
    fields = {"kind": "article-journal", "title": "[Invented] Wall squat and sled push", "year": "2021"}
    stored = strict.post("/references/type", data={**fields, "authors": "Nobody, A\nNoone, B"})
    assert stored.url.path == "/references/nobody2021" and "Stored:" in stored.text and "Noone" in stored.text
    again = strict.post("/references/type", data={**fields, "authors": "Nobody, A\nNoone, B"})
    assert "Already here" in again.text and 'href="/references/nobody2021"' in again.text


def test_a_citation_that_carries_its_doi_loses_none_of_its_words(strict):
    answer = strict.post("/references/add", data={"text": VANCOUVER + " doi:10.5555/nobody.21"})
    assert 'value="10.5555/nobody.21"' in answer.text and "Wall squat and sled push" in answer.text


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("title", "", "needs a title"),
        ("year", "20x", "no year"),
        ("doi", "x/y", "no DOI"),
        ("pmid", "a", "no PMID"),
    ],
)
def test_a_field_that_cannot_be_stored_is_named_and_the_form_kept(strict, field, typed, told):
    fields = {"kind": "book", "title": "Kept title", "authors": "Vik, Ola", "year": "2020", field: typed}
    answer = strict.post("/references/type", data=fields)
    assert answer.status_code == 422 and told in answer.text and "Vik, Ola" in answer.text


def test_a_reference_that_is_here_is_linked_and_its_study_can_be_entered(visitor):
    visitor.post("/references/add", data={"text": BIBTEX % "first1"})
    answer = visitor.post("/references/add", data={"text": BIBTEX % "second1"})
    assert "1 already here" in answer.text
    assert (
        'href="/references/first1"' in answer.text and 'href="/studies/new?reference=first1"' in answer.text
    )
