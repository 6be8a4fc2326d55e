"""Heads of several lines, heads that say two things, and labels that end in a number. All tables are invented."""

import pytest

from evidence.reading.pasted import read_table
from evidence.reading.table import TableReading

FLAT = [("Heavy", "Pre"), ("Heavy", "Post"), ("Training group", "Pre"), ("Training group", "Post")]


def places(reading: TableReading) -> list[tuple[str | None, str | None, float | None]]:
    return [(cell.group, cell.timepoint, cell.value) for cell in reading.cells if cell.value is not None]


ROW = [("Heavy", "Pre", 71.3), ("Heavy", "Post", 75.8), ("Control", "Pre", 72.2), ("Control", "Post", 73.6)]


@pytest.mark.parametrize(
    "paste",
    [
        "Mean ± SD\nTest Heavy Control p\nPre Post Pre Post\n"
        "Squat (kg) 71.3 ± 8.7 75.8 ± 9.5 72.2 ± 6.0 73.6 ± 5.5 0.21\n"
        "Press (kg) 1.3 ± 0.7 5.8 ± 1.5 2.2 ± 1.0 3.6 ± 1.5 0.04",
        "Table 4. Strength\nTest Heavy Control p\nPre Post Pre Post\nMean SD Mean SD Mean SD Mean SD\n"
        "Squat (kg) 71.3 8.7 75.8 9.5 72.2 6.0 73.6 5.5 0.21\nPress (kg) 1.3 0.7 5.8 1.5 2.2 1.0 3.6 1.5 0.04",
        "Mean ± SD\nTest\nHeavy\nControl\np\nPre\nPost\nPre\nPost\n"
        "Squat (kg)\n71.3 ± 8.7\n75.8 ± 9.5\n72.2 ± 6.0\n73.6 ± 5.5\n"
        "0.21\nPress (kg)\n1.3 ± 0.7\n5.8 ± 1.5\n2.2 ± 1.0\n3.6 ± 1.5\n0.04",
        "Test\nHeavy\nControl\nPre\nPost\nPre\nPost\nMean\nSD\nMean\nSD\nMean\nSD\nMean\nSD\n"
        "Squat (kg)\n71.3\n8.7\n75.8\n9.5\n"
        "72.2\n6.0\n73.6\n5.5\nPress (kg)\n1.3\n0.7\n5.8\n1.5\n2.2\n1.0\n3.6\n1.5",
    ],
    ids=["running lines", "running lines with mean and SD", "one a line", "one a line with mean and SD"],
)
def test_heads_over_each_other_with_a_column_that_only_the_upper_names(paste: str):
    reading = read_table(paste)
    assert places(reading)[:4] == ROW
    assert not reading.doubtful
    assert all(cell.spread == 8.7 for cell in reading.cells if cell.value == 71.3)


@pytest.mark.parametrize(
    "head",
    [
        "Test Heavy pre Heavy post Control pre Control post",
        "Test Heavy (n = 9) pre Heavy (n = 9) post Control (n = 8) pre Control (n = 8) post",
        "Test Pre Heavy Post Heavy Pre Control Post Control",
    ],
)
@pytest.mark.parametrize("between", [" ", "\t"])
def test_a_name_and_a_time_in_each_head_are_taken_apart(head: str, between: str):
    words = head.split(" ", 1)
    if between == "\t":
        size = (len(words[1].split()) + 3) // 4
        texts = words[1].split()
        words = [words[0], *(" ".join(texts[i : i + size]) for i in range(0, len(texts), size))]
    rows = [
        ("Squat (kg)", "71.3 ± 8.7", "75.8 ± 9.5", "72.2 ± 6.0", "73.6 ± 5.5"),
        ("Press (kg)", *["9.0 ± 1.0"] * 4),
    ]
    reading = read_table("\n".join(["Table 2. Mean ± SD", between.join(words), *map(between.join, rows)]))
    assert [(g, t.capitalize() if t else t, v) for g, t, v in places(reading)[:4]] == ROW
    assert not reading.doubtful


def test_time_over_rows_of_times_is_no_test_and_moves_nothing():
    reading = read_table(
        "Table 2. Squat (kg)\nTime Men Full ROM ECC P\nMean SD Mean SD Mean SD\n"
        "Pre 131 21 165 27 118 20 <0.001\nPost 141 22 176 28 121 21 0.045"
    )
    assert [(c.column, c.value, c.spread) for c in reading.cells if c.value == 131] == [("Men", 131, 21)]


@pytest.mark.parametrize("note", ["mean ± SE.", "mean and standard error.", "Mean (SE)"])
def test_a_note_behind_a_row_called_after_is_no_part_of_its_label(note: str):
    reading = read_table(
        f"Table 2. Squat (kg)\nTime\tA\tB\nBefore\t91 ± 6\t92 ± 5\nAfter\t99 ± 7\t95 ± 6\n{note}"
    )
    assert [cell.timepoint for cell in reading.cells] == ["Before", "Before", "After", "After"]


def test_the_number_behind_week_is_its_label():
    reading = read_table(
        "Table 3. Squat (kg), mean (SD)\nA (n = 9) B (n = 8)\n"
        "Baseline 91.0 (6.1) 92.2 (5.0)\nWeek 8 99.4 (7.0) 95.1 (6.2)"
    )
    assert [(c.row, c.value) for c in reading.cells][2:] == [("Week 8", 99.4), ("Week 8", 95.1)]


def test_a_column_with_missing_cells_is_no_column_of_labels():
    reading = read_table(
        "Mean (SD)\nTest\tPre\tPost\n"
        "Squat (kg)\tNR\t17.4 (2.2)\nPress (kg)\t55.6 (11.7)\t52.6 (15.8)\nJump (cm)\t–\t11.8 (3.9)"
    )
    assert [cell.missing for cell in reading.cells if cell.timepoint == "Pre"] == ["NR", None, "–"]


def test_a_row_without_any_figure_stays_a_row():
    reading = read_table(
        "Mean (SD)\nTest A B\nSquat 91.0 (6.1) 92.2 (5.0)\nSoleus - -\nPress 99.4 (7.0) 95.1 (6.2)"
    )
    assert [(c.row, c.missing) for c in reading.cells if c.missing] == [("Soleus", "-"), ("Soleus", "-")]


def test_a_longer_spelling_of_plus_minus_parts_no_columns():
    paste = "Table 1. Mean ± SD\nTest           A                B\nSquat (kg)     91.0 +/- 6.1     92.2 +/- 5.0\n"
    paste += "Press (kg)     99.4 +/- 7.0     95.1 +/- 6.2"
    assert [(c.column, c.value, c.spread) for c in read_table(paste).cells][:2] == [
        ("A", 91.0, 6.1),
        ("B", 92.2, 5.0),
    ]


def test_sentences_pasted_with_the_table_are_no_head():
    reading = read_table(
        "The thrust group gained 12.3 ± 4.5 kg, the squat group 9.8 ± 4.1 kg.\nTable 2. Strength (kg), mean ± SD\n"
        "Lift Thrust group (n = 11) Squat group (n = 12)\nHip thrust 140.2 ± 25.5 121.8 ± 22.3\n"
        "Squat 98.8 ± 18.0 107.5 ± 19.1\n"
        "The difference between the groups was 18.4 kg (95% CI 2.1 to 34.7), in line with the principle of specificity."
    )
    assert [(c.row, c.column, c.n) for c in reading.cells[:2]] == [
        ("Hip thrust", "Thrust group", 11),
        ("Hip thrust", "Squat group", 12),
    ]
    assert len(reading.cells) == 4 and not reading.doubtful and not reading.questions


def test_hours_are_no_footnote_and_rests_no_times():
    hours = read_table(
        "Mean ± SD\nTime\tCold\tRest\n24 h\t86.1 ± 9.0\t79.9 ± 10.2\n48 h\t93.3 ± 8.1\t88.0 ± 9.5"
    )
    assert [cell.timepoint for cell in hours.cells] == ["24 h", "24 h", "48 h", "48 h"]
    rests = read_table(
        "Table 2. Mean ± SD\nRest Set 1 Set 2\n1 min 12.4 ± 1.8 8.1 ± 1.6\n3 min 12.6 ± 1.9 10.9 ± 1.7"
    )
    assert [(c.row, c.column, c.timepoint) for c in rests.cells[:2]] == [
        ("1 min", "Set 1", None),
        ("1 min", "Set 2", None),
    ]


def test_a_jump_over_two_times_is_no_group_of_people():
    reading = read_table(
        "Table 2. Mean ± SD\nCondition\tCMJ Pre\tCMJ Post\tSJ Pre\tSJ Post\n"
        "Squat\t36.1 ± 5.0\t38.2 ± 5.3\t33.0 ± 4.6\t34.4 ± 4.8\n"
        "Hip thrust\t35.8 ± 4.8\t36.5 ± 4.9\t32.7 ± 4.4\t33.1 ± 4.5"
    )
    assert [(c.column, c.group, c.timepoint) for c in reading.cells[:2]] == [
        ("CMJ / Pre", None, "Pre"),
        ("CMJ / Post", None, "Post"),
    ]
