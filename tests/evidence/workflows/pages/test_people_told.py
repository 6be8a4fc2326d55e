"""Who was studied is told in words: how many came, how many were analysed, and what they were."""

import pytest

from evidence.catalogue.tables import People
from evidence.vocabulary import load_vocabulary
from evidence.workflows.pages.people_told import tell_group


def group(**said):
    return People(**{"study_id": 1, "key": "all", **said})


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"recruited": 24, "analysed": 20}, "recruited 24, analysed 20"),
        ({"recruited": 20, "analysed": 20}, "20 people"),
        ({"analysed": 1}, "1 person"),
        (
            {"analysed": 20, "training_status": "recreational", "sex": "both"},
            "20 people; recreationally active men and women",
        ),
        ({"analysed": 9, "sex": "female", "age_mean": 22.9, "health": "healthy"},
         "9 people; women, mean age 22.9 years, healthy"),
        ({"training_status": "trained"}, "trained people"),
        ({}, "people, not described"),
        ({"label": "Heavy group", "analysed": 8}, "Heavy group: 8 people"),
    ],
)  # fmt: skip
def test_a_group_is_told_in_words(said, told):
    assert tell_group(group(**said), load_vocabulary()) == told


def test_one_of_several_groups_is_named_by_its_key_where_it_has_no_name():
    assert tell_group(group(key="young", analysed=8), load_vocabulary(), named=True) == "young: 8 people"
