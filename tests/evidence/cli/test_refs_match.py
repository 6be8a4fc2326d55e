"""`refs match` on the invented demonstration data."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    return steelyard


def test_a_name_and_a_year_are_a_match_with_reasons(stocked: Run) -> None:
    done = stocked("refs", "match", "Chalk and colleagues, 2021")
    assert done.status == 0
    assert done.text.startswith("match: chalk2021\n1. chalk2021")
    assert "is author 1" in done.text


def test_a_misheard_name_is_told_as_one(stocked: Run) -> None:
    found = json.loads(stocked("refs", "match", "dum bell twenty twenty two", "--json").text)
    assert found["key"] == "dumbbell2022"
    assert any("heard as" in reason for reason in found["candidates"][0]["reasons"])


def test_a_name_that_fits_two_works_is_asked_about(stocked: Run) -> None:
    done = stocked("refs", "match", "the Chalk paper", "--json")
    found = json.loads(done.text)
    assert done.status == 1
    assert found["answer"] == "ambiguous"
    assert found["key"] is None
    assert len(found["candidates"]) > 1


@pytest.mark.parametrize("mention", ["Smith 1999 on swimming", "zzz", "the literature", "?", "\x00", "2"])
def test_what_no_reference_fits_is_none_and_not_the_nearest(stocked: Run, mention: str) -> None:
    done = stocked("refs", "match", mention)
    assert done.status == 1
    assert done.text.startswith("none: ")


def test_an_empty_mention_is_refused(stocked: Run) -> None:
    assert stocked("refs", "match", "  ").status == 2


def test_people_and_regions_of_a_loaded_study_help_to_find_its_reference(
    stocked: Run, demo_inputs: Path
) -> None:
    mention = "the one on calves with 10 people"
    before = json.loads(stocked("refs", "match", mention, "--json").text)
    assert stocked("study", "load", *sorted((demo_inputs / "studies").glob("*.yaml"))).status == 0
    after = json.loads(stocked("refs", "match", mention, "--json").text)
    assert not any("10 people" in r for c in before["candidates"] for r in c["reasons"])
    assert any("10 people" in r for c in after["candidates"] for r in c["reasons"])


def test_in_an_empty_catalogue_nothing_fits(steelyard: Run) -> None:
    steelyard("init")
    assert steelyard("refs", "match", "Chalk 2021").status == 1
