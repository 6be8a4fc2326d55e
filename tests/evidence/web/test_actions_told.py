"""Changes are told in the words of the page."""

import re
from pathlib import Path

import pytest

from evidence.web.actions_told import tell_action

SOURCES = Path(__file__).parents[3] / "evidence" / "workflows"
NAMED = sorted(
    {
        found
        for path in SOURCES.rglob("*.py")
        for found in re.findall(r"changing\(\w+, f?\"([^\"]+)\"", path.read_text("utf-8"))
        if not found.startswith("{")
    }
)


@pytest.mark.parametrize("action", NAMED)
def test_every_change_that_the_work_makes_has_words_of_its_own(action):
    named = re.sub(r"\{[^}]*\}", "x1", action)
    assert tell_action(named).text != named, named


def test_a_change_leads_to_what_it_changed():
    told = tell_action("results paste plate-2017 (Table 2)")
    assert (told.text, told.place) == ("results of plate-2017 stored from Table 2", "/studies/plate-2017")
    assert tell_action("refs merge 10.5555/a b").place == "/references/10.5555%2Fa"


def test_what_went_out_is_told_so_and_leads_to_the_list_of_it():
    told = tell_action("source list /home/ada/video.txt")
    assert (told.text, told.place) == ("source list went out: /home/ada/video.txt", "/published")
    assert tell_action("programme add legs").place == "/programmes/legs"


def test_a_change_of_an_unknown_kind_is_told_as_it_is_named():
    assert tell_action("something else {0}").text == "something else {0}"
