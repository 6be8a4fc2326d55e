"""Every page, in light and dark, wide and narrow: axe finds nothing, and nothing is wider than the window."""

import pytest

PAGES = [
    "/",
    "/changes?since=1",
    "/published",
    "/review",
    "/reading-list",
    "/find?q=curl",
    "/history",
    "/claims",
    "/claims/new",
    "/claims/add",
    "/claims/seated-curl-activation",
    "/claims/seated-curl-activation/edit",
    "/claims/calf-soleus-same",
    "/regions",
    "/regions/hamstrings",
    "/regions/hamstrings/ranking",
    "/exercises",
    "/exercises/lying_leg_curl",
    "/studies",
    "/studies/new",
    "/studies/plate-2017",
    "/studies/plate-2017/edit",
    "/studies/plate-2017/table",
    "/studies/plate-2017/bias",
    "/studies/plate-2017/bias?tool=pedro",
    "/references",
    "/references/plate2017",
    "/references/add",
    "/references/type",
    "/references/duplicates",
    "/references/notices",
    "/references/to-mend",
    "/programmes",
    "/programmes/two-days",
    "/drafts",
    "/drafts/curl-article",
    "/catalogue",
    "/catalogue/check?figures=yes",
    "/words?words=squat",
    "/nowhere",
]


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_and_a_small_screen_needs_no_sideways_scrolling(reading_page, axe, path):
    page = reading_page
    page.set_viewport_size({"width": 1100, "height": 900})
    page.goto(path)
    found = {}
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found[scheme] = axe(page)
    page.set_viewport_size({"width": 320, "height": 640})
    assert found == {"light": [], "dark": []}
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_dark_is_dark_and_light_is_light(reading_page):
    lightness = "getComputedStyle(document.body).backgroundColor.match(/\\d+/g).slice(0, 3).reduce((a, b) => a + +b, 0)"
    page = reading_page
    page.goto("/claims/seated-curl-activation")
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate(lightness)
    page.emulate_media(color_scheme="light")
    assert dark < 200 < 600 < page.evaluate(lightness)


def test_paper_shows_the_answer_without_the_controls(reading_page):
    page = reading_page
    page.goto("/claims/seated-curl-activation")
    page.emulate_media(media="print")
    assert (
        not page.locator(".masthead").is_visible() and not page.get_by_text("Your own judgement").is_visible()
    )
    assert page.get_by_role("heading", level=1).is_visible() and page.locator("svg").nth(1).is_visible()
    page.emulate_media(media="screen")
