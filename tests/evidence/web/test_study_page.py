"""The page of a study shows what is known of it: who took part, how many stand behind a figure, what comes next."""

from urllib.parse import urlencode


def test_those_recruited_are_told_beside_those_analysed_and_sex_is_told_in_words(visitor):
    text = visitor.get("/studies/rack-2016").text
    assert "recruited 30, analysed 28; untrained men and women, mean age 22.9 years, healthy" in text


def test_a_figure_shows_the_n_of_its_condition_or_group_and_says_so(visitor):
    text = visitor.get("/studies/plate-2017").text
    assert '<td class="number">(' in text and "n in brackets: as its condition or group has it" in text


def test_a_study_offers_a_ready_sentence_for_what_its_results_compare(visitor):
    text = visitor.get(
        "/studies/chalk-2018"
    ).text  # kettlebell swing against good morning; no claim on it yet
    sentence = "Kettlebell swing activates the semitendinosus more than good morning"
    link = f'<a href="/claims/new?{urlencode({"sentence": sentence})}">'.replace("&", "&amp;")
    assert "State a claim from this" in text and link in text
    read = visitor.get("/claims/new", params={"sentence": sentence})
    assert "Read as: comparison" in read.text and "State it and weigh it" in read.text
    assert "kettlebell_swing" not in read.text  # an id is for whoever types it at a terminal
    stored = visitor.post("/claims/new", data={"sentence": sentence, "do": "store"})
    assert stored.url.path.startswith("/claims/") and f"<h1><bdi>{sentence}" in stored.text
    assert sentence in (again := visitor.get("/studies/chalk-2018").text) and link not in again


def test_what_is_stated_already_is_not_offered_again_whichever_way_round(visitor):
    text = visitor.get("/studies/dumbbell-2022").text  # its figures point the other way than the claim
    assert "Seated leg curl grows the hamstring muscles more than lying leg curl" in text
    assert "State a claim from this" not in text


def test_a_study_without_results_offers_no_claim(visitor):
    sent = {
        "title": "[Invented] No table yet", "design": "randomised_crossover", "conditions-count": "2",
        "conditions-0-exercise": "leg press", "conditions-1-exercise": "split squat", "outcomes-count": "1",
        "outcomes-0-construct": "activation",
    }  # fmt: skip
    text = visitor.post("/studies/new", data=sent).text
    assert "No result yet" in text and "State a claim from this" not in text


def test_a_design_is_told_in_plain_words_and_the_same_ones_everywhere(visitor):
    listed = visitor.get("/studies").text
    assert "(within)" not in listed and "(between)" not in listed and "nonrandomised" not in listed
    assert "randomised order or limb; the same people did all of it" in listed
    assert "groups not randomised; different people did each" in listed
    assert "the same people did all of it" in visitor.get("/studies/plate-2017").text


def test_the_regions_to_choose_from_stand_in_groups(visitor):
    text = visitor.get("/studies", params={"region": "soleus"}).text
    assert '<optgroup label="' in text and '<option value="soleus" selected>' in text
