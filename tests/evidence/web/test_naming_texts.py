"""A pasted text is named by its title where nobody names it; an empty catalogue says where to begin."""

import pytest
from starlette.testclient import TestClient

from evidence.web.application import make_application
from evidence.web.pages.writing import name_of_text
from evidence.web.security import make_door
from evidence.web.site import Site
from evidence.workflows.opening import create_named, open_named


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("# Hips, honestly\n\nText.", "hips honestly"),
        ("---\ntitle: \"[Invented] One step up\"\naudience: all\n---\n\n# Other\n", "one step up"),
        ("Leg day\n\nMonday\nLeg press 3x10", "leg day"),
        ("One two three four five six seven eight", "one two three four five six"),
        ("\n---\n#\n", ""),
    ],
)  # fmt: skip
def test_the_name_of_a_text_is_its_title_or_its_first_words(text, name):
    assert name_of_text(text) == name


def test_a_programme_without_a_name_takes_its_title(visitor):
    page = visitor.post("/programmes", data={"text": "Leg day\n\nMonday\nLeg press 3x10\n", "format": "text"})
    assert page.status_code == 200 and page.url.path == "/programmes/leg-day"
    assert "<h1><bdi>Leg day</bdi></h1>" in page.text or ">Leg day</h1>" in page.text
    assert "was not read as an exercise" not in page.text


def test_an_empty_form_asks_for_the_text(visitor):
    page = visitor.post("/drafts", data={"text": "", "format": "markdown"})
    assert page.status_code == 422 and "There is no text. Paste it, or choose a file." in page.text


def test_the_first_page_of_an_empty_catalogue_says_where_to_begin(visitor, tmp_path):
    assert "Begin with a paper" not in visitor.get("/").text  # there are claims
    place = str(tmp_path / "empty.sqlite")
    create_named(place, {})
    with (
        open_named(place, {}) as catalogue,
        TestClient(
            make_application(Site(catalogue, "Ada"), make_door(7433, "key")), base_url="http://127.0.0.1:7433"
        ) as other,
    ):
        assert "Begin with a paper" in other.get("/?token=key").text


def test_a_programme_sent_as_a_file_without_a_title_is_headed_by_its_name_in_words(visitor):
    table = b"Exercise,Sets,Reps,Frequency\nLeg press,3,10,twice a week\n"
    page = visitor.post("/programmes", data={}, files={"file": ("leg-day-a.csv", table, "text/csv")})
    assert page.url.path == "/programmes/leg-day-a"
    assert "<title>Leg day A" in page.text and "2 times" in page.text
    printed = visitor.post("/programmes/leg-day-a/print", data={"format": "md", "paper": "a4"})
    assert "Leg day A" in printed.text


def test_the_page_of_a_programme_tells_of_a_variant_what_was_studied(visitor):
    page = visitor.post(
        "/programmes", data={"name": "Legs", "text": "Single-leg RDL 3x8/leg", "format": "text"}
    )
    told = "What was studied is the Romanian deadlift, not the single-leg Romanian deadlift"
    assert told in page.text.replace("<bdi>", "").replace("</bdi>", "")


def test_a_key_that_no_source_has_is_told_above_the_programme(visitor):
    plan = 'sessions: [{picks: [{exercise: leg press, sets: 3, reason: "See [@none1999, p. 3]."}]}]'
    page = visitor.post("/programmes", data={"name": "Cited", "text": plan, "format": "yaml"})
    assert "<li>Not found:" in page.text and "no source has the key none1999" in page.text
    assert "source not in the catalogue: none1999, p. 3" in page.text
