"""What pages show after something was sent: axe finds nothing there either, and nothing is wider than the window."""

import pytest

TABLE = (
    "Table 2. EMG (%MVIC). [Invented]\n\tNrodic curl\tRomanian deadlift\n"
    "Outer hip\t48,2 ± 13,1\t31.5 ± 10.9\nHamstrings\t66.0 ± 17.2\t71.3 ± 18.8\n"
)


def unknown_citation(page):
    page.goto("/references/add")
    page.locator("#text").fill(
        "Nobody A. [Invented] Wall squat and sled push. J Invented Train. 2021;7(2):11-20."
    )
    page.get_by_role("button", name="Bring in").click()
    page.get_by_role("button", name="Store the reference").wait_for()


def known_citation(page):
    page.goto("/references/add")
    page.locator("#text").fill("the 2017 Plate study on seated and lying leg curls")
    page.get_by_role("button", name="Bring in").click()
    page.get_by_role("heading", name="It is here").wait_for()


def faulty_study(page):
    page.goto("/studies/new")
    page.locator("#title").fill("x")
    page.locator("#design").select_option("randomised_crossover")
    page.locator("#outcomes-0-construct").select_option("activation")
    page.locator("#conditions-0-printed").fill("Legs")
    page.locator("#conditions-0-exercise").fill("legpres")
    page.get_by_role("button", name="Store the study").click()
    page.get_by_role("button", name="leg press", exact=True).wait_for()


def mixed_table(page):
    page.goto("/studies/plate-2017/table")
    page.locator("#table").fill(TABLE)
    page.get_by_role("heading", name="Set aside: not read as figures").wait_for()
    page.get_by_label("Outer hip", exact=True).wait_for()


def asked_outcome(page):
    page.goto("/claims/new")
    page.locator("#sentence").fill("Legpres is better than back squat for the hamstrings")
    page.locator("#p-outcome").wait_for()


@pytest.mark.parametrize("act", [unknown_citation, known_citation, faulty_study, mixed_table, asked_outcome])
def test_axe_finds_nothing_in_what_an_answer_shows(reading_page, axe, act):
    page = reading_page
    page.set_viewport_size({"width": 1100, "height": 900})
    act(page)
    found = {}
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found[scheme] = axe(page)
    page.set_viewport_size({"width": 320, "height": 640})
    width = page.evaluate("document.documentElement.scrollWidth")
    page.evaluate("localStorage.clear()")  # a form of another test starts empty
    assert found == {"light": [], "dark": []}
    assert width <= 320
