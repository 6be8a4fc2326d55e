"""A study judged and verified on its pages, a claim edited, and figures handed out with their data."""

import csv
import io
import re

import pytest

from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.judge.judging import judge_study
from evidence.workflows.pages.bias_pages import show_bias

STUDY, CLAIM = "/studies/plate-2017", "/claims/seated-curl-activation"


def all_answered(site, who, word):
    """What a form sends in which every prompt is answered alike, where it can be."""
    asked = show_bias(site.catalogue, "plate-2017", who).asked
    return {f"answer:{p.key}": word if word in dict(p.options) else p.options[-1][0] for p in asked.prompts}


def test_answers_propose_a_judgement_before_anything_is_stored(visitor, site):
    before = site.newest_change()
    answers = all_answered(site, "Ada", "yes")
    answer = visitor.post(f"{STUDY}/bias", data={**answers, "do": "look"})
    assert answer.status_code == 200 and site.newest_change() == before
    part = visitor.post(f"{STUDY}/bias", data=answers, headers={"HX-Request": "true"}).text
    assert (
        "<html" not in part and "randomisation" in part and ">low<" in part.replace(" ", "").replace("\n", "")
    )


def test_a_proposal_by_a_rule_that_was_not_read_in_its_source_is_marked_and_the_mark_explained_once(
    visitor, site
):
    answers = all_answered(site, "Ada", "yes")
    text = visitor.post(f"{STUDY}/bias", data={**answers, "do": "look"}).text
    assert (
        text.count("The rule behind it is Steelyard&#39;s own") == 1 and "all answered yes†</small>" in text
    )


def test_a_domain_without_answers_is_open_and_not_said_to_be_answered(visitor):
    text = visitor.post(f"{STUDY}/bias", data={"do": "look"}).text
    assert "all answered yes" not in text and "not answered yet" in text


def test_a_judgement_is_stored_and_shown_beside_that_of_another_person(visitor, site):
    kim = {k.removeprefix("answer:"): v for k, v in all_answered(site, "Kim", "yes").items()}
    judge_study(site.catalogue, "plate-2017", "Kim", kim)
    answer = visitor.post(f"{STUDY}/bias", data={**all_answered(site, "Ada", "no"), "do": "store"})
    for part in ("Kim", "Ada", "not settled", "the more cautious judgement counts"):
        assert part in answer.text, part
    settled = visitor.post(
        f"{STUDY}/bias/settle",
        data={"domain": "randomisation", "judgement": "low", "because": "Asked the authors"},
    )
    assert "settled by" in settled.text and "Asked the authors" in settled.text


def test_a_choice_over_the_proposal_needs_a_reason_and_keeps_what_was_typed(visitor, site):
    fields = {**all_answered(site, "Ada", "yes"), "chosen:D1": "high", "because:D1": "", "do": "store"}
    answer = visitor.post(f"{STUDY}/bias", data=fields)
    assert answer.status_code == 422 and "reason" in answer.text
    assert re.search(r"<option selected>\s*high", answer.text)
    answer = visitor.post(f"{STUDY}/bias", data={**fields, "because:D1": "The list was open"})
    assert answer.status_code == 200 and "The list was open" in answer.text


def test_figures_are_verified_by_somebody_else_than_their_reader(visitor):
    keys = re.findall(r'name="result" value="([^"]+)"', visitor.get(STUDY).text)
    answer = visitor.post(f"{STUDY}/verify", data={"person": "Kim", "do": "ticked", "result": keys[0]})
    assert answer.text.count("checked by") == 1
    answer = visitor.post(f"{STUDY}/verify", data={"person": "Kim", "do": "all"})
    assert answer.text.count("checked by") == len(keys) and "every figure" in answer.text
    answer = visitor.post(f"{STUDY}/verify", data={"do": "withdraw", "result": keys[:2]})
    assert answer.text.count("checked by") == len(keys) - 2
    assert visitor.post(f"{STUDY}/verify", data={"do": "ticked", "person": "Kim"}).status_code == 422


def test_a_reader_who_verifies_their_own_figures_is_told(visitor):
    reader = re.search(r"<td><bdi>([^<]+)</bdi><p class=\"reason\">read by one", visitor.get(STUDY).text)[1]
    answer = visitor.post(f"{STUDY}/verify", data={"person": reader, "do": "all"})
    assert answer.status_code == 422 and "a second person" in answer.text


def test_a_study_leads_to_the_claims_it_can_bear_on(visitor):
    text = visitor.get(STUDY).text
    assert "/claims/nordic" in text[text.index("Claims it can bear on") :]


def test_a_claim_is_edited_part_by_part_and_undo_brings_it_back(visitor, site):
    form = visitor.get(f"{CLAIM}/edit").text
    was = {f"was:{n}": v for n, v in re.findall(r'name="was:(\w+)" value="([^"]*)"', form)}
    fields = {n.removeprefix("was:"): v for n, v in was.items()}
    answer = visitor.post(f"{CLAIM}/edit", data={**was, **fields, "region": "semitendinosus"})
    assert answer.url.path == CLAIM and "semitendinosus more than" in answer.text
    again = visitor.post(f"{CLAIM}/edit", data={**was, **fields, "region": "gluteus maximus"})
    assert (
        again.status_code == 422 and "was changed elsewhere" in again.text and "gluteus maximus" in again.text
    )
    undone = visitor.post(f"/undo/{site.newest_change()}", data={"back": CLAIM})
    assert "semitendinosus more than" not in undone.text


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("margin", "wide", "is no number"),
        ("exercise", "no such curl", "no such curl"),
        ("size", "-", "is no number"),
    ],
)
def test_a_part_that_cannot_be_read_is_told_and_kept(visitor, field, typed, told):
    answer = visitor.post(f"{CLAIM}/edit", data={f"was:{field}": "", field: typed})
    if field == "exercise":
        was = re.search(r'name="was:exercise" value="([^"]*)"', visitor.get(f"{CLAIM}/edit").text)[1]
        answer = visitor.post(f"{CLAIM}/edit", data={"was:exercise": was, "exercise": typed})
    assert answer.status_code == 422 and told in answer.text and f'value="{typed}"' in answer.text


def test_an_opinion_shows_no_level_of_confidence(visitor, site):
    from evidence.workflows.claims.terms import Terms

    words = "Warm up as you like"
    stated = state_claim(site.catalogue, Statement(kind="practice", terms=Terms(text=words)), "Ada")
    text = visitor.get(f"/claims/{stated.key}").text
    assert words in text and "Not rated" in text and "Rate a domain otherwise" not in text
    listed = visitor.get("/claims?kind=practice").text
    assert "very low" not in listed[listed.index("1 claim that fits.") :]


def test_a_claim_tells_which_rule_brought_each_study_and_what_was_found_before(visitor):
    text = visitor.get(CLAIM).text
    brought = text[text.index("by which rule") :]
    assert "anvil-2019" in brought and "the region" in brought and "direct" in brought
    assert "What was found of it before" in text and re.search(
        r"\blow\b", text[text.index("What was found of it before") :]
    )


def test_the_data_of_the_forest_plot_are_its_figures(visitor, site):
    from evidence.workflows.weigh.weighing import weigh

    rows = list(csv.DictReader(io.StringIO(visitor.get(f"{CLAIM}/studies.csv").text)))
    weighing = weigh(site.catalogue, "seated-curl-activation")
    assert float(rows[0]["estimate"]) == pytest.approx(
        weighing.contributions[0].estimate, rel=1e-5
    )  # six figures
    assert (
        rows[0]["study"] == weighing.contributions[0].label
        and int(rows[0]["n"]) == weighing.contributions[0].n
    )
    assert any("Invented" in row["study"] for row in rows)


def test_the_data_of_a_ranking_have_each_part_against_its_comparator(visitor):
    rows = list(csv.DictReader(io.StringIO(visitor.get("/regions/hamstrings/ranking.csv").text)))
    ranked = [row for row in rows if row["against"]]
    assert {row["part"] for row in ranked} == {"1", "2"}
    for part in ("1", "2"):
        own = [row for row in ranked if row["part"] == part]
        assert sum(row["exercise"] == row["against"] and row["estimate"] == "" for row in own) == 1
    svg = visitor.get("/regions/hamstrings/ranking.svg")
    assert (
        svg.headers["content-type"] == "image/svg+xml"
        and "<title" in svg.text
        and "lying leg curl" in svg.text
    )


def test_a_ranking_of_very_many_studies_has_its_own_address(visitor, monkeypatch):
    from evidence.web.pages import subjects

    monkeypatch.setattr(subjects, "AT_ONCE", 0)
    text = visitor.get("/regions/hamstrings").text
    place = re.search(r'hx-get="([^"]+)"', text)[1].replace("&amp;", "&")
    assert f'href="{place.replace("&", "&amp;")}"' in text and 'id="ranking"' not in text
    part = visitor.get(place, headers={"HX-Request": "true"}).text
    assert 'id="ranking"' in part and "<html" not in part
    whole = visitor.get(place).text
    assert 'id="ranking"' in whole and "<html" in whole


def test_a_reading_list_of_very_many_claims_comes_after_its_page(visitor, monkeypatch):
    from evidence.web.pages import upkeep

    assert "Look for:" in visitor.get("/reading-list").text
    monkeypatch.setattr(upkeep, "AT_ONCE", 0)
    text = visitor.get("/reading-list").text
    assert "Look for:" not in text and 'href="/reading-list/whole"' in text
    assert "Look for:" in visitor.get("/reading-list/whole").text
    assert "<html" not in visitor.get("/reading-list/whole", headers={"HX-Request": "true"}).text


def test_a_reference_shows_what_may_be_the_same_work(visitor, site):
    title = "Foot position in the standing calf raise and its marks on the soleus"
    entry = "@article{%s, title={%s}, author={Crane, A and Dock, B}, journal={%s}, year={%s}}"
    text = "\n".join(
        (
            entry % ("crane2020", title, "J Invented", 2020),
            entry % ("crane2020b", title, "Proc Invented", 2021),
        )
    )
    visitor.post("/references/add", data={"text": text})
    page = visitor.get("/references/crane2020").text
    assert "May be the same work" in page and "crane2020b" in page
    merged = visitor.post(
        "/references/duplicates", data={"a": "crane2020", "b": "crane2020b", "do": "keep-a"}
    )
    assert "Stored:" in merged.text
    assert "May be the same work" not in visitor.get("/references/crane2020").text


def test_the_history_is_paged(visitor, site, monkeypatch):
    from evidence.web.pages import start

    monkeypatch.setattr(start, "PER_PAGE", 5)
    first = visitor.get("/history").text
    earlier = re.search(r'href="(/history\?before=\d+)"', first)[1]
    second = visitor.get(earlier).text
    numbers = [re.findall(r'class="number">(\d+)</th>', text) for text in (first, second)]
    assert len(numbers[0]) == 5 and int(numbers[1][0]) == int(numbers[0][-1]) - 1
