"""Every page, in light and dark, wide and narrow: axe finds nothing, and nothing is wider than the window."""

import pytest

PAGES = [
    "/",
    "/history",
    "/claims",
    "/claims/seated-curl-activation",
    "/claims/calf-soleus-same",
    "/regions",
    "/regions/hamstrings",
    "/exercises",
    "/exercises/lying_leg_curl",
    "/studies",
    "/studies/new",
    "/studies/plate-2017",
    "/studies/plate-2017/edit",
    "/studies/plate-2017/table",
    "/references",
    "/references/add",
    "/references/duplicates",
    "/references/notices",
    "/references/to-mend",
    "/catalogue",
    "/catalogue/check?figures=yes",
    "/words?words=squat",
]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing(reading_site, visit, axe, path, scheme):
    page = visit(reading_site, path, color_scheme=scheme, bypass_csp=True)
    assert axe(page) == []


@pytest.mark.parametrize("path", PAGES)
def test_a_small_screen_needs_no_sideways_scrolling(reading_site, visit, path):
    page = visit(reading_site, path, size=(320, 640))
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_a_page_that_is_not_there_is_accessible_too(reading_site, visit, axe):
    page = visit(reading_site, "/nowhere", expect=["404"], bypass_csp=True)
    assert axe(page) == []
