"""`refs duplicates`, `refs merge`, `refs apart` through the command; invented references."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
TWO = """
@article{long, author={Plate, Percy and Rack, Ruth}, title={Calf raises held long: a randomised trial},
  journal={Journal of Invented Strength}, year=2020, volume=4, pages={1--9}}
@article{short, author={Plate, P.}, title={Calf raises held longer: randomized trial},
  journal={J Invented Strength}, year=2021, volume=4, doi={10.5555/inv.1}, abstract={Twelve weeks.}}
"""


@pytest.fixture
def two(steelyard: Run, tmp_path: Path) -> Run:
    steelyard("init")
    (tmp_path / "two.bib").write_text(TWO)
    added = steelyard("refs", "add", tmp_path / "two.bib")
    assert "2 added, 0 already here, 1 to compare" in added.text
    return steelyard


def test_a_pair_is_merged_and_the_merge_taken_back(two: Run) -> None:
    assert two("refs", "duplicates").status == 1
    done = two("refs", "merge", "long", "short")
    assert done.status == 0
    assert "short is now part of long." in done.text
    assert "  DOI: from short" in done.text
    assert "set aside: container-title 'J Invented Strength' of short" in done.text
    assert two("refs", "duplicates").status == 0
    assert two("refs", "show", "short").status == 3
    assert two("undo").status == 0
    assert two("refs", "show", "short").status == 0
    assert two("refs", "duplicates").status == 1


def test_a_pair_set_apart_is_not_listed_until_that_is_taken_back(two: Run) -> None:
    assert two("refs", "apart", "long", "short", "--why", "two samples").status == 0
    assert "already" in two("refs", "apart", "short", "long").text
    assert two("refs", "duplicates").status == 0
    assert two("undo").status == 0
    assert two("refs", "duplicates").status == 1


def test_what_was_done_is_given_as_data(two: Run) -> None:
    assert json.loads(two("refs", "apart", "short", "long", "--json").text) == {
        "keys": ["long", "short"],
        "apart": True,
        "new": True,
    }
    merged = json.loads(two("refs", "merge", "short", "long", "--json").text)
    assert (merged["kept"], merged["gone"]) == ("short", "long")


def test_unknown_keys_and_one_key_twice_are_refused(two: Run) -> None:
    for command in ("merge", "apart"):
        assert two("refs", command, "long", "nobody").status == 3
        assert two("refs", command, "long", "long").status == 2
