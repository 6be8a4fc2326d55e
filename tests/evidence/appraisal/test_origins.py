"""A rule that was not read in its source carries a mark where it is used; what that means is said once below."""

import pytest

from evidence.appraisal.origins import MARKS, explain_origins, mark_origin


def test_each_mark_that_occurs_is_explained_once_and_no_other():
    told = explain_origins(["verified", "memory", "memory"])
    assert len(told) == 1 and told[0].startswith(mark_origin("memory"))
    assert explain_origins(["verified"]) == ()


@pytest.mark.parametrize("conf", ["memory", "project"])
def test_what_is_not_verified_is_marked_and_explained_in_words(conf):
    (text,) = explain_origins([conf])
    assert mark_origin(conf) and text.startswith(f"{MARKS[conf]} The rule behind it")
