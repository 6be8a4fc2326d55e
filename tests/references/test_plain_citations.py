"""A citation in words is taken apart; what is not there stays empty. Shapes: common practice of journals, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from references.plain_citations import read_authors, read_plain_citation

TITLE = "Seated and lying leg curl: growth of the hamstrings"


@pytest.mark.parametrize(
    "text",
    [
        f"Plate A, Beam BC. {TITLE}. J Invented Train. 2017;5(2):11-20. doi:10.5555/plate.17",
        f"[4] Plate A, Beam BC. {TITLE}. J Invented Train 2017; 5(2): 11–20. https://doi.org/10.5555/plate.17.",
        f"Plate, A., & Beam, B. C. (2017). {TITLE}. J Invented Train, 5(2), 11-20. https://doi.org/10.5555/plate.17",
        f"Plate, A., Beam, B.C. (2017, May) {TITLE}. J Invented Train, 5(2), pp. 11–20. 10.5555/plate.17",
    ],
)
def test_the_usual_orders_are_read_alike(text):
    read = read_plain_citation(text)
    assert [a.family for a in read.authors] == ["Plate", "Beam"]
    assert (read.year, read.title, read.container) == (2017, TITLE, "J Invented Train")
    assert (read.volume, read.issue, read.page, read.doi) == ("5", "2", "11-20", "10.5555/plate.17")


def test_a_question_as_a_title_keeps_its_mark_and_et_al_is_no_author():
    read = read_plain_citation(
        "Plate A et al. Does the seated leg curl grow more? J Inv Train 2018. PMID: 12345"
    )
    assert [a.family for a in read.authors] == ["Plate"]
    assert read.title == "Does the seated leg curl grow more?" and read.pmid == "12345"


def test_words_that_are_no_citation_are_only_a_title():
    read = read_plain_citation("that one with the curls")
    assert (read.authors, read.year, read.title) == ((), None, "that one with the curls")


def test_names_one_a_line_are_read_as_written():
    assert [(n.family, n.given) for n in read_authors("Vik, Ola\nvan der Dahl, Eva")] == [
        ("Vik", "Ola"),
        ("Dahl", "Eva"),
    ]
    for text in (
        "Ola Vik, Eva van der Dahl, Ida Berg",
        "Ola Vik and Eva van der Dahl",
    ):  # as a title page has them
        assert [n.family for n in read_authors(text)][:2] == ["Vik", "Dahl"]
    assert read_authors("World Walking Society\n")[0].literal == "World Walking Society"


@given(st.text(max_size=300))
def test_any_text_is_read_without_an_error_and_nothing_is_invented(text):
    read = read_plain_citation(text)
    assert all(word in text for word in read.title.split())
