"""Each page shows what the catalogue holds, and tells problems as sentences."""

from pathlib import Path

import pytest
from sqlmodel import col, func, select

from evidence.catalogue.tables import Result
from evidence.workflows.pages.subject_pages import list_regions, show_region

TEMPLATES = Path(__file__).parents[3] / "evidence" / "web" / "templates"


def test_a_claim_shows_verdict_confidence_and_figure(visitor):
    text = visitor.get("/claims/seated-curl-activation").text
    for part in (
        "Verdict",
        "Confidence",
        "<svg",
        "What speaks against it",
        "What would change it",
        "INVENTED",
    ):
        assert part.casefold() in text.casefold(), part


def test_a_claim_that_is_not_there_is_told_with_the_nearest(visitor):
    answer = visitor.get("/claims/seated-curl-activaton")
    assert answer.status_code == 404 and "seated-curl-activation" in answer.text


def test_a_change_is_told_on_the_next_page_and_can_be_taken_back(visitor, site):
    answer = visitor.post(f"/undo/{site.newest_change()}", data={"back": "/claims"})
    assert answer.url.path == "/claims" and "Stored:" in answer.text
    assert f"/undo/{site.newest_change()}" in answer.text


def test_a_problem_is_a_sentence(visitor):
    answer = visitor.post("/undo/999999", data={"back": "/"})
    assert answer.status_code in (404, 422) and "Traceback" not in answer.text and "999999" in answer.text


def test_a_page_that_is_not_there_speaks_of_nothing_typed(visitor):
    for address in ("/studies/nobody-1900", "/nowhere"):
        answer = visitor.get(address)
        assert answer.status_code == 404 and "what you typed" not in answer.text
    sent = visitor.post("/studies/rack-2016/remove", data={"because": ""})
    assert sent.status_code == 422 and "what you typed" in sent.text


@pytest.mark.parametrize("template", sorted(TEMPLATES.glob("*.html")), ids=lambda p: p.name)
def test_no_template_holds_inline_script_style_or_anything_from_elsewhere(template):
    text = template.read_text("utf-8")
    for forbidden in ("style=", "onclick", "onload", "<style", "http://", "https://", "| safe }}", "hx-on"):
        assert forbidden not in text, forbidden


def test_a_reference_whose_key_is_a_doi_has_a_page(visitor):
    added = visitor.post("/references/add", data={"text": "https://doi.org/10.5555/alder.9"})
    assert "/references/10.5555%2Falder.9" in added.text
    assert visitor.get("/references/10.5555%2Falder.9").status_code == 200
    read = visitor.post("/references/10.5555%2Falder.9/read", data={"state": "abstract"})
    assert read.status_code == 200 and "abstract" in read.text


@pytest.mark.parametrize("address", ["/", "/claims", "/studies", "/references", "/changes", "/history"])
def test_every_page_of_a_catalogue_of_invented_studies_says_so(visitor, address):
    assert "INVENTED data: no study of this catalogue exists." in visitor.get(address).text


@pytest.mark.parametrize("address", ["/claims/thrust-growth", "/studies/kettle-2018", "/regions/hamstrings"])
def test_what_is_invented_says_so_once_on_its_own_page_and_in_print(visitor, address):
    text = visitor.get(address).text
    assert text.count('class="invented"') == 1 and 'class="made-up"' not in text


def test_a_study_is_removed_on_its_page_with_a_reason_and_what_rested_on_it_is_shown(visitor):
    assert "Because" in visitor.post("/studies/rack-2016/remove", data={"because": ""}).text
    assert visitor.get("/studies/rack-2016").status_code == 200
    answer = visitor.post("/studies/rack-2016/remove", data={"because": "entered twice"})
    assert "study rack-2016 removed: entered twice" in answer.text
    assert "Standing calf raise grows the gastrocnemius" in answer.text
    assert visitor.get("/studies/rack-2016").status_code == 404


def test_a_study_of_several_parts_counts_once_for_the_region_that_holds_them(site):
    parts = ["hamstrings", *site.vocabulary().descendants("hamstrings")]
    with site.catalogue.reading() as session:
        found = session.exec(
            select(func.count(func.distinct(Result.study_id))).where(col(Result.region).in_(parts))
        ).one()
    line = next(line for line in list_regions(site.catalogue) if line.id == "hamstrings")
    assert line.studies == found
    assert all(number <= found for _, _, number in show_region(site.catalogue, "hamstrings").constructs)
