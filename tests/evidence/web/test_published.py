"""The page of what went out: what was published, and whether it still holds. Studies and figures invented."""

import re

from evidence.workflows.pages.published import PER_PAGE, list_published
from evidence.workflows.upkeep.uses import list_uses, register_use


def test_what_went_out_is_listed_with_what_holds_no_longer(visitor, site):
    fallen = [use for use in list_uses(site.catalogue) if use.holds is False]
    text = visitor.get("/published").text
    assert len(fallen) == 1 and fallen[0].told in text and fallen[0].now in text
    assert "<strong>No longer holds</strong>: 1 of 8 statements" in text
    assert text.index("What went out") < text.index("Programme <bdi>") < text.index("Brief <bdi>")
    assert 'href="/claims/thrust-growth"' in text and "7 statements hold" in text


def test_every_line_of_the_list_of_uses_is_on_the_page_once(site):
    listed = list_published(site.catalogue)
    lines = [line for thing in listed.things for line in (*thing.fallen, *thing.holding, *thing.unknown)]
    assert sorted(line.number for line in lines) == sorted(use.number for use in list_uses(site.catalogue))


def test_what_was_written_again_to_the_same_place_is_told_as_replaced(visitor, site):
    for _ in range(2):
        register_use(site.catalogue, "brief", "curls.html", "Ada", place="/papers/curls.html")
    text = visitor.get("/published").text
    assert text.count("curls.html") == 2 and text.count("Replaced by a later one.") == 1


def test_many_things_come_a_page_at_a_time_newest_first(visitor, site):
    for number in range(PER_PAGE):
        register_use(site.catalogue, "handout", f"[Invented] sheet {number}", "Ada")
    names = re.findall(r"sheet (\d+)", visitor.get("/published").text)
    assert names == [str(number) for number in reversed(range(PER_PAGE))]
    assert "Programme <bdi>" in visitor.get("/published?page=2").text
    assert visitor.get("/published?page=99").text == visitor.get("/published?page=2").text


def test_the_lists_of_claims_and_of_what_moved_lead_to_it(visitor):
    for page in ("/claims", "/changes"):
        assert 'href="/published"' in visitor.get(page).text
