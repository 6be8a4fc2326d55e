"""A page that has nothing to show says what to do next; so does a list that was narrowed to nothing."""

import pytest
from starlette.testclient import TestClient

from evidence.web.application import make_application
from evidence.web.security import make_door
from evidence.web.site import Site
from evidence.web.works import Works
from evidence.workflows.opening import create_named, open_named

HOME = "http://127.0.0.1:7433"


@pytest.fixture(scope="module")
def newcomer(tmp_path_factory):
    """A visitor of an empty catalogue."""
    place = str(tmp_path_factory.mktemp("empty") / "catalogue.sqlite")
    create_named(place, {})
    with open_named(place, {}) as catalogue:
        site = Site(catalogue, "Ada", works=Works(patience=60))
        with TestClient(make_application(site, make_door(7433, "key")), base_url=HOME) as client:
            client.get("/?token=key")
            client.headers["Sec-Fetch-Site"] = "same-origin"
            yield client


@pytest.mark.parametrize(
    ("page", "leads"),
    [
        ("/", "/studies/new"), ("/claims", "/claims/new"), ("/studies", "/studies/new"),
        ("/references", "/references/add"), ("/regions/hamstrings", "/studies/new"),
        ("/exercises/lying_leg_curl", "/studies/new"), ("/review", "/claims/new"), ("/changes", "/claims/new"),
        ("/reading-list", "/claims"), ("/references/to-mend", "/references/add"), ("/find?q=zzz", "/words?words=zzz"),
        ("/nowhere", "/"), ("/references/duplicates", "/references"),
    ],
)  # fmt: skip
def test_an_empty_page_leads_on(newcomer, page, leads):
    main = newcomer.get(page).text.partition("<main")[2].partition("</main>")[0]
    assert f'href="{leads}"' in main


@pytest.mark.parametrize(
    "page",
    [
        "/claims?region=soleus&outcome=strength",
        "/studies?words=zzz",
        "/references?words=zzz",
        "/claims?kind=trend",
    ],
)
def test_a_list_narrowed_to_nothing_says_so_and_leads_back(visitor, page):
    text = visitor.get(page).text
    assert "fits that" in text and f'href="{page.partition("?")[0]}">Show all' in text


def test_the_part_of_the_body_that_was_studied_most_comes_first(visitor):
    text = visitor.get("/regions").text
    assert text.index(">lower limb<") < text.index(">trunk<")


def test_the_fields_of_a_reference_have_names_that_people_use(visitor):
    text = visitor.get("/references/plate2017").text
    assert "<dt>journal or book</dt>" in text and "journal article" in text and "container-title" not in text
