"""What was changed is counted as people count it, in the words of the catalogue."""

from evidence.catalogue.history import RowCount
from evidence.catalogue.snapshots import BY_NAME
from evidence.workflows.pages.changes_counted import KINDS, count_rows


def rows(*counts):
    return count_rows([RowCount(*count) for count in counts])


def test_twelve_results_of_one_table_are_twelve_not_thirteen():
    assert rows(("raw_table", "add", 1), ("result", "add", 12)) == "12 results added"


def test_a_study_is_one_whatever_it_consists_of():
    parts = [("people", "add", 1), ("condition", "add", 2), ("outcome", "add", 1), ("study", "add", 1)]
    assert rows(*parts) == "1 study added"


def test_what_belongs_to_a_study_is_told_where_it_alone_was_changed():
    assert rows(("condition", "edit", 2)) == "2 conditions edited"


def test_each_operation_is_told_by_itself():
    assert rows(("claim", "edit", 1), ("result", "remove", 3)) == "1 claim edited; 3 results removed"


def test_no_row_is_nothing():
    assert rows() == "nothing"


def test_every_table_has_its_words():
    assert set(BY_NAME) == set(KINDS)
