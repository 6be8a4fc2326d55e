"""What goes out as HTML, in a real browser: axe finds nothing, and a phone needs no sideways scrolling."""

import shutil
from importlib.resources import as_file, files

import pytest

NAMES = ("brief", "sheet", "handout", "programme", "plan", "ranking")


@pytest.fixture(scope="module")
def outputs(demonstrated, tmp_path_factory):
    """One page of each kind, made of the demonstration: a folder of HTML files."""
    from evidence.publishing.formats import Wanted
    from evidence.workflows.documents.briefing import write_brief
    from evidence.workflows.documents.handouts import publish_handout
    from evidence.workflows.documents.ranking_files import write_ranking
    from evidence.workflows.opening import open_named
    from evidence.workflows.programmes.annotating import annotate_programme
    from evidence.workflows.rank.ranking import rank

    folder = tmp_path_factory.mktemp("outputs")
    html = Wanted("html", replace=True)
    own = shutil.copy(
        demonstrated, folder / "own.sqlite"
    )  # what goes out is remembered; others look at theirs
    catalogue = open_named(str(own), {})
    for name, one_page in (("brief", False), ("sheet", True)):
        to = folder / f"{name}.html"
        write_brief(catalogue, "seated-curl-growth", to, "Ada", html, one_page=one_page)
    publish_handout(catalogue, [], ["hamstrings"], folder / "handout.html", "Ada", html)
    with as_file(files("evidence.workflows") / "demo_data" / "programme.yaml") as plan:
        for name, sheet in (("programme", False), ("plan", True)):
            annotate_programme(catalogue, plan, folder / f"{name}.html", "Ada", html, sheet=sheet)
    write_ranking(rank(catalogue, "hamstrings", "activation"), folder / "ranking.html")
    catalogue.close()
    return folder


@pytest.mark.parametrize("name", NAMES)
def test_axe_finds_nothing_and_a_phone_needs_no_sideways_scrolling(outputs, chromium, axe, name):
    window = chromium.new_context(bypass_csp=True)  # axe is put into the page
    page = window.new_page()
    page.goto((outputs / f"{name}.html").as_uri())
    found = {}
    for width in (1100, 320):
        page.set_viewport_size({"width": width, "height": 800})
        found[width] = axe(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    window.close()
    assert found == {1100: [], 320: []}


def test_rows_of_tables_take_the_whole_width_of_a_phone(outputs, chromium):
    window = chromium.new_context(viewport={"width": 375, "height": 800})
    page = window.new_page()
    page.goto((outputs / "programme.html").as_uri())
    wide = page.evaluate(
        "[...document.querySelectorAll('table.stack tbody tr')].map(r => r.getBoundingClientRect().width)"
    )
    window.close()
    assert min(w for w in wide if w) > 300


def test_a_mark_never_begins_a_line(outputs, chromium):
    """The mark stands beside the last word before it, whatever the width: both have the same line."""
    window = chromium.new_context()
    page = window.new_page()
    page.goto((outputs / "handout.html").as_uri())
    lines = """[...document.querySelectorAll('.together')].map(held => {
        const [word, mark] = ['bdi', 'svg'].map(part => held.querySelector(part).getBoundingClientRect())
        return mark.top < word.bottom && mark.left >= word.right - 1 })"""
    for width in range(320, 700, 38):
        page.set_viewport_size({"width": width, "height": 800})
        beside = page.evaluate(lines)
        assert beside and all(beside), width
    window.close()
