"""A claim in a real browser: stated in words, read while typing, weighed, decided about, handed out as a brief."""

SENTENCE = "Seated leg curl activates the semitendinosus more than lying leg curl in trained people"


def test_a_claim_in_words_becomes_a_brief(site, visit):
    page = visit(site, "/claims/new")
    page.locator("#sentence").fill(SENTENCE)
    page.get_by_role("heading", name="Read as: comparison").wait_for()  # seen while typing, without a button
    page.get_by_role("button", name="State it and weigh it").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert "semitendinosus" in page.get_by_role("heading", level=1).inner_text()
    with page.expect_download() as brief:
        page.get_by_role("link", name="Brief as PDF").click()
    assert brief.value.suggested_filename.endswith(".pdf") and brief.value.path().read_bytes().startswith(
        b"%PDF-"
    )
    with page.expect_download() as figure:
        page.get_by_role("link", name="figure (SVG)").click()
    assert figure.value.suggested_filename.endswith(".svg")
    page.get_by_text("Rate a domain otherwise").click()
    page.locator("#domain").select_option("risk_of_bias")
    page.locator("#level").select_option("-2")
    page.locator("#rate-because").fill("The electrodes were moved")
    page.get_by_role("button", name="Rate it so").click()
    page.get_by_text("The electrodes were moved").first.wait_for()
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("heading", level=1).wait_for()
    assert page.get_by_text("The electrodes were moved").count() == 0


def test_a_claim_is_stated_with_the_keyboard_alone(site, visit):
    page = visit(site, "/claims")
    keys = page.keyboard
    keys.press("Tab")
    keys.press("Enter")  # to the content
    keys.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "State a claim"
    keys.press("Enter")
    page.wait_for_url("**/claims/new")
    keys.press("Tab")
    keys.press("Enter")
    keys.press("Tab")
    assert page.evaluate("document.activeElement.id") == "sentence"
    keys.insert_text(SENTENCE)
    page.get_by_role("button", name="State it and weigh it").wait_for()
    for _ in range(8):
        keys.press("Tab")
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
        if page.evaluate("document.activeElement.textContent") == "State it and weigh it":
            break
    keys.press("Enter")
    page.get_by_role("status").get_by_text("Stored:").wait_for()


def test_a_claim_is_stated_without_scripts(site, visit):
    page = visit(site, "/claims/new", java_script_enabled=False)
    page.locator("#sentence").fill(
        "Seated leg curl activates the semitendinosus compared with lying leg curl"
    )
    page.get_by_role("button", name="Read it").click()
    page.get_by_label("direction").select_option("more")
    page.get_by_role("button", name="Read it with these answers").click()
    page.get_by_role("button", name="State it and weigh it").click()
    assert "Stored:" in page.get_by_role("status").inner_text()


def test_a_ranking_of_very_many_studies_comes_after_the_page(reading_site, visit, monkeypatch):
    from evidence.web.pages import subjects

    monkeypatch.setattr(subjects, "AT_ONCE", 0)
    page = visit(reading_site, "/regions/hamstrings")
    page.locator("#ranking").wait_for()
    page = visit(reading_site, "/regions/hamstrings", java_script_enabled=False)
    page.get_by_role("link", name="Show the ranking").click()
    assert page.locator("#ranking").is_visible()


def test_bias_is_judged_prompt_by_prompt(site, visit):
    page = visit(site, "/studies/plate-2017/bias")
    prompts = page.locator("select[name^='answer:']")
    for number in range(prompts.count()):
        prompts.nth(number).select_option(index=1)
    page.locator("#proposed").get_by_text("overall").wait_for()
    page.locator("#proposed strong").get_by_text("low").wait_for()  # proposed while answering
    page.get_by_role("button", name="Store my judgement").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert page.get_by_role("columnheader", name="Ada").count() == 1
