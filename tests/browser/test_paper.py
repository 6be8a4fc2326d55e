"""The five-minute paper in a real browser: a study typed, a table pasted, mended in place, stored, taken back."""

import re

TABLE = (
    "Table 2. Normalised EMG amplitude (%MVIC). [Invented]\n\tSplit squat\tLeg press\n"
    "Gluteus maximus\t48.2 ± 13.1\t31.5 ± 10.9\nVasti\t66.0 ± 17.2\t71.3 ± 18.8\n"
)


def fill_study(page):
    page.locator("#title").fill("[Invented] Split squat and leg press: activity")
    page.locator("#year").fill("2024")
    page.locator("#design").select_option("randomised_crossover")
    page.locator("#weeks").fill("0")
    page.locator("#people-0-analysed").fill("18")
    for number, name in enumerate(("Split squat", "Leg press")):
        page.locator(f"#conditions-{number}-printed").fill(name)
        page.locator(f"#conditions-{number}-exercise").fill(name.lower())
        page.locator(f"#conditions-{number}-details").fill("load: 8RM")
    page.locator("#outcomes-0-construct").select_option("activation")
    page.locator("#outcomes-0-unit").fill("%MVIC")


def test_a_study_and_its_table_are_entered_and_taken_back(site, visit):
    page = visit(site, "/studies/new", expect=["htmx:"])  # a button breaks off what is being read meanwhile
    fill_study(page)
    page.get_by_role("button", name="Store the study").click()
    assert re.search(r"/studies/split-squat-press-2024\?done=\d+", page.url)
    page.get_by_role("link", name="Paste a table").click()
    page.locator("#table").fill(TABLE)
    page.get_by_role("heading", name="As understood").wait_for()  # seen while typing, without a button
    page.locator("#read_from").select_option("full text")
    page.locator("#spread").select_option("SD")
    page.get_by_role("button", name="Look again").click()
    page.get_by_label("Vasti", exact=True).select_option("quadriceps_femoris")
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("button", name="Store 4 results").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert page.get_by_role("row", name="gluteus maximus Split squat acute 48.2 ± 13.1").count() == 1
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("No result yet.").wait_for()


def test_a_table_is_read_again_as_soon_as_an_answer_changes(site, visit):
    page = visit(site, "/studies/plate-2017/table")
    page.locator("#read_from").select_option("full text")  # before there is a table: nothing to complain of
    page.locator("#table").fill(
        "Table 2. EMG (%MVIC)\n\tNordic curl\tRomanian deadlift\nHamstrings\t48.2 ± 13.1\t31.5 ± 10.9\n"
    )
    page.get_by_role("heading", name="Goes to").wait_for()
    assert page.get_by_role("button", name="Store 2 results").is_disabled()
    page.locator("#spread").select_option("SE")
    page.get_by_role("row", name="48.2 ± 13.1 SE").first.wait_for()
    assert page.get_by_role("button", name="Store 2 results").is_enabled()


def test_what_was_typed_survives_a_reload_and_an_error(site, visit):
    page = visit(site, "/studies/new", expect=["422"])
    fill_study(page)
    page.locator("#conditions-1-exercise").fill("leg pres")
    page.reload()
    assert page.locator("#title").input_value().startswith("[Invented] Split squat")
    page.get_by_role("button", name="Store the study").click()
    assert "leg pres" in page.get_by_role("alert").inner_text()
    page.get_by_role("button", name="leg press", exact=True).wait_for()
    assert page.locator("#conditions-1-exercise").input_value() == "leg pres"
    page.get_by_role("alert").get_by_role("link").click()  # leads to the field at fault
    assert page.evaluate("document.activeElement.id || location.hash") in (
        "conditions-1-exercise",
        "#conditions-1-exercise",
    )
    page.locator("#conditions-1-exercise").fill("leg press")
    page.get_by_role("button", name="Store the study").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    page.goto("/studies/new")
    assert page.locator("#title").input_value() == ""  # stored, so no longer kept


def test_two_tabs_that_edit_one_study_get_a_choice(site, visit):
    one = visit(site, "/studies/plate-2017/edit", expect=["409"])
    two = one.context.new_page()
    two.goto("/studies/plate-2017/edit")
    two.locator("#note").fill("from the second tab")
    two.get_by_role("button", name="Store the study").click()
    two.get_by_role("status").get_by_text("Stored:").wait_for()
    one.locator("#note").fill("from the first tab")
    one.get_by_role("button", name="Store the study").click()
    assert "changed by Ada after this form was opened" in one.get_by_role("alert").inner_text()
    row = one.get_by_role("row", name="note")
    assert "from the second tab" in row.inner_text() and "from the first tab" in row.inner_text()
    one.get_by_role("button", name="Store mine over it").click()
    one.get_by_text("from the first tab").wait_for()


def test_everything_works_with_the_keyboard_alone(site, visit):
    page = visit(site, "/studies/plate-2017")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Paste a table"
    page.keyboard.press("Enter")
    page.wait_for_url("**/table")
    page.locator("#table").focus()
    page.keyboard.type("x")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none"


def test_the_paper_can_be_entered_without_scripts(site, visit):
    page = visit(site, "/studies/new", java_script_enabled=False)
    fill_study(page)
    page.get_by_role("button", name="One more condition").click()
    page.locator("#conditions-2-printed").wait_for()
    assert page.locator("#title").input_value().startswith("[Invented] Split squat")
    page.get_by_role("button", name="Store the study").click()
    page.get_by_role("link", name="Paste a table").click()
    page.locator("#table").fill(TABLE)
    page.locator("#read_from").select_option("full text")
    page.locator("#spread").select_option("SD")
    page.get_by_role("button", name="Look at it").click()
    page.get_by_label("Vasti", exact=True).select_option("quadriceps_femoris")
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("button", name="Store 4 results").click()
    assert "Stored:" in page.get_by_role("status").inner_text()


def test_a_lost_connection_takes_nothing(site, visit):
    page = visit(site, "/studies/plate-2017/table", expect=["ERR_", "htmx:"])
    page.context.set_offline(True)
    page.locator("#table").fill(TABLE)
    page.get_by_text("Steelyard does not answer").wait_for()
    assert page.locator("#table").input_value() == TABLE
    page.context.set_offline(False)
    page.reload()
    assert page.locator("#table").input_value() == TABLE


def hint_heights(page):
    """How high the line stands that says a table goes on to the side, over each table; 0 where it is not shown."""
    return page.locator(".scroll").evaluate_all(
        "them => them.map(it => parseFloat(getComputedStyle(it, '::before').height))"
    )


def test_a_table_that_goes_on_beyond_a_phone_s_edge_says_so_and_one_that_fits_does_not(site, visit):
    heights = hint_heights(visit(site, "/studies/rack-2016", size=(390, 800)))
    assert heights and all(height > 10 for height in heights)
    heights = hint_heights(visit(site, "/studies/rack-2016", size=(1400, 900)))
    assert heights and not any(heights)


def test_from_a_study_a_ready_sentence_leads_to_a_claim_that_is_weighed(site, visit):
    page = visit(site, "/studies/chalk-2018")
    page.get_by_role("link", name="State a claim from this").click()
    page.get_by_role(
        "link", name="Kettlebell swing activates the semitendinosus more than good morning"
    ).click()
    page.get_by_role("button", name="State it and weigh it").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert page.get_by_role("heading", level=1).inner_text().startswith("Kettlebell swing activates")
