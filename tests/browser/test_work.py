"""A large file in a real browser: how far it is shows while it is brought in, the keyboard stays where it was."""

import threading

import pytest

from evidence.workflows.gather import intake
from references.reading import Reading

RECORDS = "\n".join(
    f"@article{{inv{n}, author={{Fable{n}, A}}, title={{[Invented] Lever number {n * 7919}}}, year={{{1900 + n}}}}}"
    for n in range(100)
)


@pytest.fixture
def gates(monkeypatch):
    """A reader that stops after 40 and 80 records, each time until its gate is opened."""
    gates, read = {40: threading.Event(), 80: threading.Event()}, Reading.items

    def items(self):
        for number, item in enumerate(read(self)):
            if number in gates:
                assert gates[number].wait(30)
            yield item

    monkeypatch.setattr(Reading, "items", items)
    monkeypatch.setattr(intake, "STEP", 20)
    monkeypatch.setattr("references.reading.STEP", 1000)
    yield gates
    for gate in gates.values():
        gate.set()


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "large.bib"
    path.write_text(RECORDS)
    return path


def bring_in(page, file):
    page.goto("/references/add")
    page.locator("#file").set_input_files(file)
    page.get_by_role("button", name="Bring in").click()
    page.wait_for_url("**/work/*")


def test_a_large_file_shows_how_far_it_is_and_ends_in_its_report(site, visit, gates, file):
    page = visit(site)
    bring_in(page, file)
    page.get_by_text("40 of about").wait_for()
    page.locator(".seek input").focus()
    page.locator(".seek input").type("le")
    gates[40].set()
    page.get_by_text("80 of about").wait_for()  # seen without a reload: what was typed is still there
    assert page.evaluate("document.activeElement.name") == "q"
    assert page.locator(".seek input").input_value() == "le"
    assert 50 < int(page.get_by_role("progressbar").get_attribute("value")) < 100
    gates[80].set()
    page.get_by_text("100 references read").wait_for()
    page.get_by_role("button", name="Undo").first.click()
    page.get_by_text("change").first.wait_for()


def test_without_scripts_the_page_looks_again_by_itself(site, visit, gates, file):
    page = visit(site, java_script_enabled=False)
    bring_in(page, file)
    page.get_by_text("40 of about").wait_for()
    assert page.get_by_role("link", name="Look again").count() == 1
    for gate in gates.values():
        gate.set()
    page.get_by_text("100 references read").wait_for()


def test_what_was_pasted_is_back_where_it_fails_and_gone_where_it_is_stored(site, visit, gates, monkeypatch):
    from evidence.errors import BadInput

    def fail(*given):
        raise BadInput("the file went bad")

    keep = intake.keep_unread
    monkeypatch.setattr(intake, "keep_unread", fail)
    page = visit(site, "/references/add", expect=["422"])
    for number in (1, 2):
        page.locator("#text").fill(RECORDS)
        page.get_by_role("button", name="Bring in").click()
        page.wait_for_url("**/work/*")
        for gate in gates.values():
            gate.set()
        page.wait_for_url("**/references/add?work=*")
        if number == 1:
            assert "Lever number 7919" in page.locator("#text").input_value()
            page.goto("/references/add")
            assert "Lever number 7919" in page.locator("#text").input_value()
            monkeypatch.setattr(intake, "keep_unread", keep)
            for gate in gates.values():
                gate.clear()
    page.goto("/references/add")
    assert page.locator("#text").input_value() == ""


def test_axe_finds_nothing_on_the_page_that_shows_how_far_it_is(site, chromium, axe, gates, file):
    window = chromium.new_context(base_url=site.home, bypass_csp=True)  # axe is put into the page
    page = window.new_page()
    page.goto("/?token=key")
    bring_in(page, file)
    place = page.url
    page.get_by_text("40 of about").wait_for()
    found = {}
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found[scheme] = axe(page)
    page.goto("/references/add")
    found["elsewhere"] = axe(page)
    page.goto(place)
    page.set_viewport_size({"width": 320, "height": 640})
    assert found == {"light": [], "dark": [], "elsewhere": []}
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    window.close()
