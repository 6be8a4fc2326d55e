"""What docs/how-to/page.md shows is what the page does: its texts are sent to the pages that it names, in its order."""

import re
from pathlib import Path
from textwrap import dedent

TEXT = (Path(__file__).parents[3] / "docs" / "how-to" / "page.md").read_text("utf-8")
SHOWN = re.compile(
    r"^ *<!-- page: (?P<page>\S+), (?P<field>\w+) -->\n *```text\n(?P<text>.*?)^ *```$", re.M | re.S
)
STUDY = {
    "title": "[Invented] Split squat and leg press: muscle activity", "references": "larch2024", "year": "2024",
    "design": "randomised_crossover", "weeks": "0", "invented": "yes", "people-count": "1", "people-0-analysed": "18",
    "conditions-count": "2", "conditions-0-printed": "Split squat", "conditions-0-exercise": "split squat",
    "conditions-1-printed": "Leg press", "conditions-1-exercise": "leg press", "outcomes-count": "1",
    "outcomes-0-construct": "activation", "outcomes-0-unit": "%MVIC",
}  # fmt: skip
PAGES = (
    "/", "/references", "/references/add", "/claims", "/catalogue", "/claims/seated-curl-activation",
    "/changes",
    "/studies/chalk-2018", "/studies", "/studies/new",
)  # fmt: skip
BESIDE = {
    "table": {"do": "store", "read_from": "full text"},
    "sentence": {"do": "store"},
    "programmes": {"name": "legs", "format": "text"},
    "drafts": {"name": "glutes", "format": "markdown"},
}


def test_what_the_page_is_said_to_do_it_does(visitor):
    told = {}
    for shown in SHOWN.finditer(TEXT):
        page, field = shown["page"], shown["field"]
        if field == "table":
            assert visitor.post("/studies/new", data=STUDY).url.path == "/studies/larch-2024"
        beside = BESIDE.get(field) or BESIDE.get(page, {})
        answer = visitor.post(f"/{page}", data={field: dedent(shown["text"]), **beside})
        assert answer.status_code == 200, (page, answer.text[:2000])
        told[page] = answer
    assert list(told) == ["references/add", "studies/larch-2024/table", "claims/new", "programmes", "drafts"]
    assert "1 added" in told["references/add"].text
    assert told["studies/larch-2024/table"].text.count("read by one person</p>") == 4
    claim = told["claims/new"]
    assert claim.url.path.startswith("/claims/split-squat")
    assert "+53\u00a0%" in claim.text  # 48.2 / 31.5 = 1.530
    assert "Split squat" in told["programmes"].text and "gluteus maximus" in told["programmes"].text
    assert "finding" in told["drafts"].text and "No source is named" in told["drafts"].text


def test_every_name_of_a_button_or_link_in_the_text_is_on_a_page(visitor):
    visitor.post("/studies/new", data={**STUDY, "references": ""})
    sentence = "Split squat activates the gluteus maximus more than leg press"
    answer = visitor.post("/claims/new", data={"sentence": sentence})
    pages = [
        answer.text,
        *(visitor.get(p).text for p in PAGES),
    ]
    study = re.search(r'href="(/studies/split[^"/]+)"', visitor.get("/studies").text)[1]
    pages += [visitor.get(p).text for p in (study, f"{study}/table")]
    visitor.post("/references/add", data={"text": "@article{a1, title={One}, year={2001}}"})
    pages.append(visitor.get("/references/a1").text)
    pages.append(visitor.post("/programmes", data={"name": "p", "text": "Day 1\nSplit squat 3x8\n"}).text)
    pages.append(visitor.post("/drafts", data={"name": "d", "text": "Words."}).text)
    whole = " ".join(pages)
    for name in set(re.findall(r"\*\*([^*]+)\*\*", TEXT)) - {"Store"}:
        assert re.search(rf">\s*{re.escape(name)}", whole), name
