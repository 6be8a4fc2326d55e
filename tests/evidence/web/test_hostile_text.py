"""What people type is text wherever it shows: no page, figure, table or document makes script or a formula of it."""

import csv
import io
import re
from html.parser import HTMLParser

import pytest

MARK = "xq7"
SCRIPT = f"</textarea></title>\"'><script>alert('{MARK}')</script><img src=x onerror=alert('{MARK}')>"
FORMULA = f"=HYPERLINK('http://evil.example/{MARK}')"


class Live(HTMLParser):
    """Collects whatever of a page would run: script in the page, handlers, addresses that are script."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.found = []

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if (tag == "script" and "src" not in given) or tag in ("iframe", "object", "embed", "base"):
            self.found.append(tag)
        for name, value in attributes:
            leads = name in ("href", "src", "action", "formaction", "xlink:href")
            place = re.sub(r"\s", "", value or "").lower()
            if name.startswith("on") or (leads and place.startswith(("javascript:", "data:", "x"))):
                self.found.append(f"{tag} {name}={value}")


def live(text):
    """What of a page would run."""
    reader = Live()
    reader.feed(text)
    return reader.found


STUDY = {
    "title": SCRIPT, "year": "2024", "design": "randomised_crossover", "weeks": "0", "key": "hostile", "sample": SCRIPT,
    "funding": SCRIPT, "note": SCRIPT, "references": "hostile2024", "people-count": "1", "people-0-label": SCRIPT,
    "people-0-analysed": "18", "people-0-health": SCRIPT, "conditions-count": "2", "conditions-0-printed": SCRIPT,
    "conditions-0-exercise": "seated leg curl", "conditions-0-details": f"load: {SCRIPT.replace(';', ',')}",
    "conditions-1-printed": FORMULA, "conditions-1-exercise": "lying leg curl", "outcomes-count": "1",
    "outcomes-0-construct": "activation", "outcomes-0-instrument": SCRIPT, "outcomes-0-unit": "%MVIC",
}  # fmt: skip
TABLE = (
    f"Table 1. {SCRIPT}\n\t{SCRIPT}\t{FORMULA}\nHamstrings\t48.2 ± 13.1\t31.5 ± 10.9\n"
    f"{SCRIPT}\t66.0 ± 17.2\t71.3 ± 18.8\n"
)
BIBTEX = (
    "@article{hostile2024, title={%s}, author={%s, Eve and Mallory, M}, journal={%s}, year={2024}, "
    "doi={10.5555/hostile.1}, url={javascript:alert('xq7')}, note={%s}, abstract={%s}}\n"
    "@article{broken, title = {%s\n"
)


@pytest.fixture
def sown(visitor):
    """A catalogue into every text field of which somebody typed script; `visitor` walks it."""
    clean = SCRIPT.replace("{", "").replace("}", "")
    put(visitor, "/references/add", {"text": BIBTEX % ((clean,) * 6)})
    put(visitor, "/studies/new", STUDY)
    put(
        visitor,
        "/studies/hostile/table",
        {"table": TABLE, "read_from": SCRIPT, "where": SCRIPT, "do": "look"},
    )
    answer = put(
        visitor, "/studies/hostile/table",
        {"table": TABLE.replace(SCRIPT + "\t66.0 ± 17.2\t71.3 ± 18.8\n", ""), "read_from": "full text", "where": SCRIPT,
         "spread": "SD", "do": "store", f"means:{SCRIPT}": "", "means:Hamstrings": "hamstrings"},
    )  # fmt: skip
    assert answer.status_code in (200, 422)
    claim = "/claims/seated-curl-activation"
    put(visitor, "/claims/new", {"sentence": SCRIPT, "note": SCRIPT, "falsifier": SCRIPT, "key": SCRIPT})
    put(visitor, f"{claim}/edit", {"was:note": "", "note": SCRIPT})
    put(visitor, f"{claim}/rate", {"domain": "imprecision", "level": "-1", "because": SCRIPT})
    put(visitor, f"{claim}/falsifier", {"words": SCRIPT})
    link = {
        "reference": "hostile2024",
        "stance": "against",
        "kind": "study",
        "says": SCRIPT,
        "locator": SCRIPT,
    }
    put(visitor, f"{claim}/link", link)
    put(visitor, f"{claim}/review", {"note": SCRIPT})
    put(visitor, f"{claim}/told", {"where": SCRIPT})
    put(visitor, f"{claim}/leave-out", {"study": "anvil-2019", "because": SCRIPT})
    put(visitor, "/claims/calf-soleus-same/leave-out", {"study": "hostile", "because": FORMULA})
    prompts = re.findall(r'name="(answer:[^"]+)"', visitor.get("/studies/hostile/bias").text)
    chosen = re.findall(r'name="(chosen:[^"]+)"', visitor.get("/studies/hostile/bias").text)
    bias = {
        prompts[0]: "yes",
        chosen[0]: "high",
        chosen[0].replace("chosen", "because"): SCRIPT,
        "do": "store",
    }
    put(visitor, "/studies/hostile/bias", bias)
    put(visitor, "/studies/hostile/verify", {"person": SCRIPT, "do": "all"})
    put(visitor, "/words", {"do": "alias", "alias": SCRIPT, "meaning": "squat"})
    put(visitor, "/words", {"do": "exercise", "key": "hostile_curl", "name": SCRIPT, "primary": "hamstrings"})
    draft = f"# {SCRIPT}\n\nSeated leg curls grow hamstrings. {SCRIPT}\n\n[x](javascript:alert('{MARK}'))\n"
    put(visitor, "/drafts", {"name": "hostile", "format": "markdown", "text": draft, "audience": SCRIPT})
    put(visitor, "/drafts/hostile/accept/1", {"because": SCRIPT})
    programme = f"{SCRIPT}\nDay 1 {SCRIPT}\nSeated leg curl 3x10 {SCRIPT}\n{FORMULA} 3x10\n"
    put(visitor, "/programmes", {"name": "hostile", "format": "text", "text": programme})
    named = {"file": (f"<script>alert('{MARK}').md", b"Squats grow legs.", "text/markdown")}
    visitor.post("/drafts", data={"format": "markdown"}, files=named)
    return visitor


def put(visitor, place, fields):
    """Send a form; whatever comes of it is a page without live script."""
    answer = visitor.post(place, data=fields)
    assert answer.status_code in (200, 404, 409, 422), (place, answer.status_code, answer.text[:300])
    assert not live(answer.text), (place, live(answer.text))
    return answer


PAGES = [
    "/", "/history", "/claims", "/claims/seated-curl-activation", "/claims/seated-curl-activation/edit",
    "/claims/calf-soleus-same", "/claims/new", "/claims/add", "/regions",
    "/regions/hamstrings", "/regions/hamstrings/ranking",
    "/exercises", "/exercises/seated_leg_curl", "/exercises/hostile_curl", "/studies",
    "/studies/new?reference=" + SCRIPT, "/studies/hostile",
    "/studies/hostile/edit", "/studies/hostile/table", "/studies/hostile/bias", "/references",
    "/references/hostile2024", "/references/duplicates", "/references/notices", "/references/to-mend",
    "/references/add", "/references/type", "/drafts",
    "/drafts/hostile", "/programmes", "/programmes/hostile", "/catalogue", "/catalogue/check?figures=yes", "/words",
    "/changes", "/published", "/review", "/reading-list", "/find?q=hostile", "/find?q=" + SCRIPT,
    "/words?words=" + SCRIPT,
    "/changes?since=" + SCRIPT, "/claims?region=" + SCRIPT, "/studies?words=" + SCRIPT, "/references?author=" + SCRIPT,
    "/regions/hamstrings?against=" + SCRIPT, "/claims/" + SCRIPT.replace("/", ""), "/history?before=" + SCRIPT,
]  # fmt: skip
FILES = [
    "/claims/seated-curl-activation/forest.svg", "/claims/seated-curl-activation/studies.csv",
    "/claims/seated-curl-activation/brief.html", "/claims/seated-curl-activation/brief.md",
    "/claims/seated-curl-activation/brief.csv", "/claims/seated-curl-activation/brief.txt",
    "/regions/hamstrings/ranking.svg", "/regions/hamstrings/ranking.csv", "/studies/hostile/file",
]  # fmt: skip
PLAIN = ("text/plain", "text/csv", "text/markdown")


def test_script_typed_anywhere_stays_text_everywhere(sown):
    seen = 0
    for page in PAGES:
        answer = sown.get(page)
        assert answer.status_code in (200, 404, 422), (page, answer.status_code)
        assert not live(answer.text), (page, live(answer.text))
        seen += MARK in answer.text
    assert seen > 20  # it does show, as text
    for page in ("/studies/hostile", "/references/hostile2024", "/drafts/hostile", "/programmes/hostile"):
        assert MARK in sown.get(page).text, page


def test_script_stays_text_in_every_download(sown):
    for place in FILES:
        answer = sown.get(place)
        assert answer.status_code == 200, (place, answer.text[:300])
        assert answer.headers["content-disposition"].startswith("attachment"), place
        media = answer.headers["content-type"].split(";")[0]
        if media in PLAIN:  # never shown as a page: saved, and of a kind that runs nothing
            assert answer.headers["x-content-type-options"] == "nosniff"
        else:
            assert not live(answer.text), (place, live(answer.text))
    for form in ("html", "md", "txt"):
        made = sown.post("/drafts/hostile/publish", data={"format": form})
        assert made.status_code == 200 and "attachment" in made.headers["content-disposition"]
        assert form != "html" or not live(made.text)
    for form in ("html", "md", "csv"):
        made = sown.post("/programmes/hostile/print", data={"format": form})
        assert made.status_code == 200 and (form != "html" or not live(made.text))


def test_no_cell_of_a_table_that_goes_out_starts_a_formula(sown):
    texts = [sown.get(f).text for f in FILES if f.endswith(".csv")]
    texts.append(sown.post("/programmes/hostile/print", data={"format": "csv"}).text)
    cells = [cell for text in texts for row in csv.reader(io.StringIO(text)) for cell in row]
    assert any(cell.startswith("'=HYPERLINK") for cell in cells)
    for cell in cells:
        assert not cell.startswith(("=", "@", "\t", "\r")), cell
        assert not cell.startswith(("+", "-")) or re.fullmatch(r"[-+][\d.e-]+", cell), cell
