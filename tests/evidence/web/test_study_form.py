"""The study form tells what is wrong in its own words, names the row, offers names, and says what is stored when."""

import re

BASE = {
    "title": "[Invented] Wall squat and sled push",
    "design": "randomised_crossover",
    "people-count": "1",
    "conditions-count": "2",
    "conditions-0-printed": "Wall squat",
    "conditions-0-exercise": "wall squat",
    "outcomes-count": "1",
    "outcomes-0-construct": "activation",
}


def faults(answer):
    """The faults that the page lists, each with the field it leads to."""
    listed = answer.text.split('role="alert"')[1].split("</div>")[0]
    return dict(re.findall(r'<a href="#([^"]+)">([^<]+)</a>', listed))


def test_what_is_missing_is_told_in_the_words_of_the_form(visitor):
    answer = visitor.post("/studies/new", data={"title": "x", "conditions-count": "2"})
    assert answer.status_code == 422 and "in the file" not in answer.text
    assert faults(answer) == {
        "design": "Design: it must be filled.",
        "conditions-0-printed": "Conditions: fill in at least one.",
        "outcomes-0-construct": "Outcomes: fill in at least one.",
    }


def test_details_that_cannot_be_read_name_their_row_and_lead_to_it(visitor):
    answer = visitor.post(
        "/studies/new", data={**BASE, "conditions-1-printed": "Sled", "conditions-1-details": "8RM"}
    )
    ((field, text),) = faults(answer).items()
    assert field == "conditions-1-details" and text.startswith("Conditions, row 2, Details:")


def test_a_figure_that_is_none_names_its_row(visitor):
    answer = visitor.post("/studies/new", data={**BASE, "people-0-label": "all", "people-0-age_mean": "old"})
    assert faults(answer)["people-0-age_mean"].startswith("People, row 1, Mean age: should be a number.")


def test_an_unknown_exercise_offers_the_nearest_names_and_one_press_takes_one(visitor):
    sent = {**BASE, "conditions-1-printed": "Legs", "conditions-1-exercise": "legpres"}
    answer = visitor.post("/studies/new", data=sent)
    assert 'name="take" value="conditions-1-exercise=leg press"' in answer.text
    taken = visitor.post("/studies/new", data={**sent, "take": "conditions-1-exercise=leg press"})
    assert 'name="conditions-1-exercise" value="leg press"' in taken.text and "Stored:" not in taken.text


def test_the_form_says_what_must_be_filled_and_what_is_stored_when(visitor):
    text = visitor.get("/studies/new").text
    assert text.count("must be filled") == 3 and "Nothing is stored before you press" in text


def test_the_name_of_a_stored_study_is_shown_and_not_offered_for_change(visitor):
    text = visitor.get("/studies/plate-2017/edit").text
    assert "Short name: plate-2017" in text and '<input id="key"' not in text


def test_the_name_of_a_programme_is_kept_as_typed(visitor):
    answer = visitor.post(
        "/programmes", data={"name": "Block 1.5: legs", "text": "Leg press 3x10", "format": "text"}
    )
    assert answer.url.path == "/programmes/Block-1.5-legs" and "Block 1.5: legs" in answer.text


def test_the_name_of_a_draft_without_a_title_is_kept_as_typed(visitor):
    answer = visitor.post("/drafts", data={"name": "My legs!", "text": "Squats are fun.", "format": "text"})
    assert answer.url.path == "/drafts/My-legs" and "My legs!" in answer.text


def test_a_form_without_a_title_does_not_ask_for_the_name_made_from_it(visitor):
    told = faults(visitor.post("/studies/new", data={"conditions-count": "2"}))
    assert told["title"] == "Title: it must be filled." and "key" not in told


def test_a_dose_that_cannot_be_read_is_told_with_a_dose(visitor):
    sent = {**BASE, "conditions-0-dose": "3 sets of 8-12, twice a week"}
    ((field, text),) = faults(visitor.post("/studies/new", data=sent)).items()
    assert field == "conditions-0-dose" and "sets: 3; reps: 10; weekly sets: 9" in text


def test_the_page_of_a_study_says_which_exercise_each_condition_is_and_how_many_did_it(visitor):
    sent = {**BASE, "conditions-0-printed": "WS", "conditions-0-n": "12", "people-0-analysed": "12"}
    text = visitor.post("/studies/new", data=sent).text
    assert "<bdi>WS: wall squat, n = 12</bdi>" in text
    assert "<bdi>12 people</bdi>" in text  # a group that nobody named has no name


TYPED = {
    **BASE, "people-0-analysed": "12", "authors": "Larch, Lea; Spruce, Sam", "year": "2024",
    "journal": "Journal of Imaginary Kinesiology",
}  # fmt: skip


def test_authors_and_journal_typed_beside_a_study_become_its_reference(visitor):
    answer = visitor.post("/studies/new", data=TYPED)
    assert answer.url.path == "/studies/larch-2024"  # named by them, as one that comes with its reference
    assert 'href="/references/larch2024"' in answer.text
    reference = visitor.get("/references/larch2024").text
    assert "Larch" in reference and "Spruce" in reference and "Journal of Imaginary Kinesiology" in reference
    assert "Larch &amp; Spruce 2024" in visitor.get("/studies").text


def test_one_press_takes_back_a_study_and_the_reference_typed_with_it(visitor):
    number = visitor.post("/studies/new", data=TYPED).url.params["done"]
    visitor.post(f"/undo/{number}", data={"back": "/studies"})
    assert visitor.get("/studies/larch-2024").status_code == 404
    assert visitor.get("/references/larch2024").status_code == 404


def test_a_doi_typed_beside_authors_stands_in_the_reference(visitor):
    sent = {**TYPED, "references": "https://doi.org/10.5555/steelyard.web.77"}
    assert 'href="/references/larch2024"' in visitor.post("/studies/new", data=sent).text
    assert "10.5555/steelyard.web.77" in visitor.get("/references/larch2024").text


def test_a_second_doi_typed_beside_authors_is_a_further_report_and_not_lost(visitor):
    sent = {**TYPED, "references": "10.5555/steelyard.web.77 10.5555/steelyard.demo.06"}
    text = visitor.post("/studies/new", data=sent).text
    assert 'href="/references/larch2024"' in text and 'href="/references/plate2017"' in text


def test_authors_of_a_work_that_is_here_already_do_not_make_it_twice(visitor):
    first = visitor.post("/studies/new", data=TYPED)
    assert first.status_code == 200
    again = visitor.post("/studies/new", data={**TYPED, "key": "larch-2024-second"})
    assert 'href="/references/larch2024"' in again.text
    assert visitor.get("/references/larch2024-2").status_code == 404


def test_authors_beside_a_reference_that_has_its_own_are_refused_and_kept(visitor):
    answer = visitor.post("/studies/new", data={**TYPED, "references": "plate2017"})
    assert (
        answer.status_code == 422
        and "“plate2017” names a reference that has its own" in faults(answer)["authors"]
    )
    assert 'value="Larch, Lea; Spruce, Sam"' in answer.text


def test_the_form_of_a_study_with_a_reference_asks_for_no_authors(visitor):
    assert 'name="authors"' not in visitor.get("/studies/plate-2017/edit").text
    assert 'name="authors"' in visitor.get("/studies/new").text


def test_a_study_entered_from_its_reference_has_its_title_and_year_already(visitor):
    text = visitor.get("/studies/new?reference=plate2017").text
    assert 'name="year" value="2017"' in text and 'name="references" value="plate2017"' in text
    assert re.search(r'name="title" value="\[Invented\] [^"]+"', text)
