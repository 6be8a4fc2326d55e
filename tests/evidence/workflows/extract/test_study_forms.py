"""The short name of a study that was typed into a form."""

import pytest

from evidence.workflows.extract.study_forms import suggest_key


@pytest.mark.parametrize(
    ("fields", "key"),
    [
        ({"references": [{"key": "plate2017"}]}, "plate-2017"),
        ({"references": [{"key": "Plate_2017b"}]}, "plate-2017b"),
        ({"references": [{"key": "plate"}]}, "plate"),
        (
            {"references": [{"doi": "10.5555/x"}], "title": "[Invented] Calf raises", "year": 2020},
            "calf-raises-2020",
        ),
        ({"references": [], "title": "A"}, "study"),
        ({"references": [{"key": "pmid30000000"}]}, "pmid30000000"),
    ],
)
def test_a_study_is_named_after_its_reference_or_its_title(fields, key):
    assert suggest_key(fields) == key
