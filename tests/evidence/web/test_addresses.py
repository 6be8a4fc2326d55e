"""Whatever stands in an address or a form: a page or a sentence, never a fault of the program."""

import re
import runpy
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence.web.routing import all_routes

STRANGE = [
    "-1", "0", "1e9", "999999999999999999999", "٣", "²", "1.5", "unknown",
    "<script>", "'; DROP TABLE claim; --", "%00",
    "\x00", "\ud7ff", "../../etc/passwd",
    "x" * 3000, "2026-13-45", "=1+1", "\r\nSet-Cookie: a=b", "NaN", "[", "(", "\\",
]  # fmt: skip
QUESTIONS = {
    "/claims": ["page", "region", "outcome", "exercise", "confidence", "verdict", "kind", "due"],
    "/studies": ["page", "words", "outcome", "region"],
    "/references": ["page", "words", "author", "year", "journal", "topic", "region", "exercise", "state"],
    "/regions/hamstrings": ["outcome", "against", "level"],
    "/regions/hamstrings/ranking": ["outcome", "against", "level"],
    "/regions/hamstrings/ranking.csv": ["outcome", "against", "level"],
    "/changes": ["since"],
    "/changes/notes.md": ["since"],
    "/published": ["page"],
    "/history": ["before", "done"],
    "/find": ["q"],
    "/words": ["words"],
    "/exercises": ["words"],
    "/studies/new": ["reference"],
    "/claims/new": ["sentence"],
    "/studies/plate-2017/bias": ["tool"],
    "/catalogue/check": ["figures"],
    "/": ["done", "kept"],
}
KINDS = ["claims", "studies", "references", "regions", "exercises", "drafts", "programmes"]
GETS = sorted({r.path for r in all_routes() if "GET" in r.methods})
POSTS = sorted({r.path for r in all_routes() if "POST" in r.methods})
TESTS = Path(__file__).parents[2]
NO_PAGE = re.compile(
    r"\.\w+$|\.\{format\}$|/(?:file|backup|export|whole)$|^/work/"
)  # files, and parts of pages
SENTENCE = re.compile(r'role="alert">\s*\S.{5,}', re.DOTALL)


@pytest.mark.parametrize(
    ("page", "name"), [(page, name) for page, names in QUESTIONS.items() for name in names]
)
def test_a_question_of_the_wrong_kind_is_answered(visitor, page, name):
    for text in STRANGE:
        answer = visitor.get(page, params={name: text})
        assert answer.status_code in (200, 404, 422), (text, answer.status_code, answer.text[:800])
        if answer.status_code != 200:
            assert SENTENCE.search(answer.text), text


@pytest.mark.parametrize("kind", KINDS)
def test_a_key_that_is_not_there_is_told(visitor, kind):
    for text in STRANGE:
        answer = visitor.get(f"/{kind}/{quote(text, safe='')}")
        assert answer.status_code in (200, 404), (text, answer.status_code, answer.text[:800])


@pytest.mark.parametrize("tests", ["browser/test_accessibility.py", "evidence/web/test_hostile_text.py"])
def test_a_page_is_looked_at_by_the_tests_that_look_at_every_page(tests):
    """A new page: an address of it goes into PAGES of both."""
    looked_at = [page.partition("?")[0] for page in runpy.run_path(str(TESTS / tests))["PAGES"]]
    pages = [route for route in all_routes() if route.path in GETS and not NO_PAGE.search(route.path)]
    missing = [route.path for route in pages if not any(route.path_regex.match(page) for page in looked_at)]
    assert missing == [], f"add an address of each to PAGES of tests/{tests}"


@pytest.mark.parametrize("path", [p for p in POSTS if p not in GETS])
def test_what_changes_something_is_not_done_by_opening_an_address(visitor, site, path):
    before = site.newest_change()
    answer = visitor.get(filled(path))
    assert answer.status_code == 405 and "takes" in answer.text
    assert site.newest_change() == before


@pytest.mark.parametrize("path", POSTS)
def test_an_empty_form_is_answered_and_stores_nothing_by_itself(visitor, path):
    answer = visitor.post(filled(path), data={})
    assert answer.status_code in (200, 404, 409, 422), (path, answer.text[:800])


@pytest.mark.parametrize("path", POSTS)
def test_a_form_full_of_strange_text_is_answered(visitor, path):
    shown = visitor.get(filled(path)) if path in GETS else None
    names = set(re.findall(r'name="([^"]+)"', shown.text)) if shown is not None else set()
    names |= {"do", "because", "domain", "level", "study", "reference", "stance", "kind", "n", "next",
              "words", "where", "result", "person",
              "judgement", "format", "paper", "a", "b", "state", "back", "seen", "text"}  # fmt: skip
    for text in ("<script>", "\x00", "-1", "=1+1", "١٢", "x" * 500, "\r\n"):
        answer = visitor.post(filled(path), data=dict.fromkeys(names, text))
        assert answer.status_code in (200, 404, 409, 422), (path, text, answer.text[:800])


@pytest.mark.parametrize("name", ["a\r\nX-Evil: 1", 'a"; filename="b.html', "../../a", "é", "a" * 500])
def test_a_key_in_the_name_of_a_download_adds_no_header(visitor, name):
    from evidence.web.pages.claims import handed

    header = handed(b"", "text/csv", f"{name}.csv").headers["content-disposition"]
    assert re.fullmatch(r'attachment; filename="[A-Za-z0-9._-]+"', header)


def test_no_program_name_of_a_parameter_reaches_another_site(visitor):
    visitor.follow_redirects = False
    for path in POSTS:
        answer = visitor.post(
            filled(path), data={"back": "https://evil.example/", "kept": "//evil.example", "key": "//evil"}
        )
        place = answer.headers.get("location", "/")
        assert place.startswith("/") and not place.startswith(("//", "/\\")), (path, place)


def filled(path):
    """An address with its steps filled in from the demonstration."""
    keys = {"claims": "seated-curl-activation", "studies": "plate-2017", "regions": "hamstrings",
            "drafts": "curl-article", "exercises": "seated_leg_curl",
            "references": "plate2017", "programmes": "two-days"}  # fmt: skip
    made = path.replace("{number:int}", "1").replace("{format}", "md").replace("{region}", "hamstrings")
    made = made.replace("{exercise}", "seated_leg_curl")
    return made.replace("{key}", keys.get(path.split("/")[1], "x"))


TYPED = st.text(max_size=60)
STUDY_FIELDS = [
    "title", "references", "year", "design", "weeks", "key", "sample", "funding", "note", "people-0-label",
    "people-0-recruited", "people-0-analysed", "people-0-sex", "people-0-age_mean", "conditions-0-printed",
    "conditions-0-exercise", "conditions-0-details", "conditions-0-dose", "conditions-0-n", "outcomes-0-construct",
    "outcomes-0-unit", "outcomes-0-better", "people-count", "conditions-count", "outcomes-count", "seen", "more",
]  # fmt: skip
QUICK = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@QUICK
@given(st.dictionaries(st.sampled_from(STUDY_FIELDS), TYPED, min_size=1))
def test_whatever_is_typed_into_the_study_form_is_shown_again_or_stored(visitor, fields):
    answer = visitor.post("/studies/new", data={"people-count": "1", "conditions-count": "1", **fields})
    assert answer.status_code in (200, 409, 422), answer.text[:800]
    if "title" in fields and answer.status_code == 422:
        assert 'id="title"' in answer.text


@QUICK
@given(st.one_of(TYPED, st.lists(st.sampled_from(
    ["seated", "leg curl", "grows", "more", "than", "the same as", "hamstrings", "in", "trained", "women", "8 weeks",
     "by", "40 %",
     "not", "\"", "best", "squat", "at 90", "hurts", "?", "pain"]), max_size=14).map(" ".join)))  # fmt: skip
def test_whatever_sentence_is_typed_is_read_or_asked_about(visitor, sentence):
    for headers in ({}, {"HX-Request": "true"}):
        answer = visitor.post("/claims/new", data={"sentence": sentence}, headers=headers)
        assert answer.status_code in (200, 422), answer.text[:800]
