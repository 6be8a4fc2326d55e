"""Labels of pasted tables: label columns named by their headers, labels that go on below, marks on labels. Invented."""

import pytest

from evidence.reading.body import Row
from evidence.reading.label_columns import column_roles, split_trailing_times
from evidence.reading.labels import drop_superscripts
from evidence.reading.pasted import read_table
from evidence.reading.wrapped_labels import all_go_on, goes_on
from evidence.vocabulary.terms import Statistic


def row(*labels: str) -> Row:
    return Row(labels, (), 1)


@pytest.mark.parametrize(
    ("stubs", "labels", "roles"),
    [
        (("Outcome", "Group", "Time"), ("Squat", "A", "Pre"), ("label", "group", "time")),
        (("Group Time",), ("A", "Pre"), ("group", "time")),
        (("Übung", "Gruppe", "Zeit"), ("Kniebeuge", "KG", "Vor"), ("label", "group", "time")),
        (("Test", "Side"), ("Hop", "left"), ()),
        (("Exercise",), ("Squat",), ()),
        (("Outcome", "Group"), ("Squat",), ()),
    ],
)
def test_headers_say_what_label_columns_hold(stubs, labels, roles):
    assert column_roles(stubs, [row(*labels)]) == roles


def test_times_at_the_end_of_all_labels_become_labels_of_their_own():
    rows = [row(text) for text in ("Low load Pre", "Low load Post", "High load Pre", "High load Post")]
    assert [r.labels for r in split_trailing_times(rows)][:2] == [("Low load", "Pre"), ("Low load", "Post")]
    assert split_trailing_times(rows[:3]) == rows[:3]
    assert split_trailing_times([*rows, row("Sprint")]) == [*rows, row("Sprint")]


@pytest.mark.parametrize(
    ("label", "rest", "expected"),
    [
        ("Knee extensors at", "60°/s (N·m)", True),
        ("Peak torque", "(N·m)", True),
        ("Peak torque of the", "Quadriceps", True),
        ("Squat (1RM,", "kg)", True),
        ("Gluteus maximus", "Vastus lateralis", False),
        ("Gluteus maximus", "Table 2. Torque", False),
        ("Squat", "pre", False),
        ("", "kg", False),
    ],
)
def test_the_rest_of_a_label_is_told_from_a_heading(label, rest, expected):
    assert goes_on(label, rest) is expected


def test_texts_after_each_row_and_the_last_are_rests_of_labels():
    assert all_go_on(["values", "section", "values", "section"])
    assert not all_go_on(["values", "section", "values"])


def test_superscripts_are_dropped_only_where_the_notes_explain_them():
    assert drop_superscripts("Clam²", {"2"}) == "Clam"
    assert drop_superscripts("Clam²", set()) == "Clam²"
    assert drop_superscripts("CSA, cm²", {"2"}) == "CSA, cm²"


def test_a_label_that_says_its_statistic_sets_the_kind_of_its_cells():
    table = (
        "[Invented]\tA (n = 20)\tB (n = 18)\nWomen, n (%)\t12 (60)\t11 (61)\n"
        "Steps, median (range)\t3 (0–8)\t3 (0–9)\nForce (N)\t210 (40)\t220 (41)\nMean (SD)"
    )
    kinds = {c.printed: c.value_kind for c in read_table(table).cells}
    assert kinds["12 (60)"] is Statistic.COUNT
    assert kinds["3 (0–8)"] is Statistic.MEDIAN
    assert kinds["210 (40)"] is Statistic.MEAN


def test_a_last_row_of_whole_figures_with_one_damaged_is_said_to_be_unread():
    rows = (
        "Table 3 Volume (cm3), mean (SD)\n            Deep        Half\n"
        "Gluteus max 830 (110)   821 (98)\nVastus lat  612 (88)    598 (80)\n"
    )
    damaged = "Adductors   702 (95)  698 (90)  70l (92)"
    assert any("702 (95)" in line for line in read_table(rows + damaged + "\n* p < .05").unread)


def test_a_line_of_figures_that_is_no_row_is_said_to_be_unread():
    table = (
        "Table 1. Mean ± SD [Invented]\nMuscle Squat Lunge\nGluteus maximus 40.1 ± 9.0 50.2 ± 9.9\n"
        "Soleus 12.0 ± 3.3 ~~broken\nVastus medialis 60.1 ± 12.0 62.2 ± 11.5"
    )
    reading = read_table(table)
    assert any("12.0 ± 3.3" in line for line in reading.unread)
    assert not any("12.0" in (cell.section or "") for cell in reading.cells)
