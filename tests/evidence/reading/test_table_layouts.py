"""Pastes in layouts of their own: commas between fields, arrows in cells, numbers as labels. All invented."""

import unicodedata

import pytest

from evidence.reading.pasted import read_table

CSV = """Outcome,Pre,Post
"Leg press, 45°, 1RM (kg)",201.3 ± 35.2,228.8 ± 37.0
"Leg curl, ""lying"" (kg)",48.1 ± 9.0,53.9 ± 9.4
Mean ± SD"""


def test_commas_divide_fields_and_quotes_keep_them_together():
    reading = read_table(CSV)
    assert [cell.row for cell in reading.cells[::2]] == ["Leg press, 45°, 1RM (kg)", 'Leg curl, "lying" (kg)']
    assert [cell.value for cell in reading.cells] == [201.3, 228.8, 48.1, 53.9]


def test_decimal_commas_divide_nothing():
    reading = read_table(
        "Tab. 1 Mittelwert ± SD\nÜbung A B\nKniebeuge 82,4 ± 11,2 95,1 ± 12,0\nBeinpresse 151,0 ± 25,3 170,6 ± 27,1"
    )
    assert [cell.value for cell in reading.cells] == [82.4, 95.1, 151.0, 170.6]


def test_an_arrow_in_a_cell_is_before_and_after():
    reading = read_table(
        "Mean ± SD\n\tA (n = 9)\tB (n = 8)\n"
        "Squat (kg)\t95 ± 14 → 108 ± 15\t94 ± 13 → 102 ± 14\nPress (kg)\t170 ± 28 → 188 ± 30\t–"
    )
    assert [(c.group, c.timepoint, c.value, c.n) for c in reading.cells if c.value == 108] == [
        ("A", "Post", 108, 9)
    ]
    assert not [
        c for c in reading.cells if c.group == "B" and c.row.startswith("Press") and c.value is not None
    ]


def test_whole_spreads_say_that_a_comma_parts_thousands():
    reading = read_table(
        "Mean ± SD\n\tA\tB\nPull (N)\t1,250 ± 214\t1,985 ± 322\nPush (N)\t985 ± 160\t1,011 ± 158"
    )
    assert [cell.value for cell in reading.cells] == [1250, 1985, 985, 1011]
    assert not reading.doubtful


def test_a_comma_that_nothing_decides_is_still_asked_about():
    assert read_table(
        "Mean (SD)\n\tA\tB\nPull\t1,250 (1,214)\t1,985 (1,322)\nPush\t2,985 (1,160)\t1,011 (1,158)"
    ).doubtful


def test_angles_are_labels():
    reading = read_table(
        "Torque (N·m), mean (SD)\nAngle\tHip\tKnee\n30°\t181 (40)\t–\n60°\t190 (42)\t121 (28)"
    )
    assert [cell.row for cell in reading.cells] == ["30°", "30°", "60°", "60°"]


def test_times_are_known_in_german_and_vietnamese_with_accents_set_apart_too():
    german = "Mittelwert ± SD\nÜbung\tVortest\tNachtest\tp\nKniebeuge (kg)\t82,4 ± 11,2\t95,1 ± 12,0\t0,01"
    assert [cell.timepoint for cell in read_table(german).cells[:2]] == ["Vortest", "Nachtest"]
    vietnamese = "Trung bình ± ĐLC\nBài tập\tTrước\tSau\tp\nSquat (kg)\t82,4 ± 11,2\t95,1 ± 12,0\t0,01"
    for text in (vietnamese, unicodedata.normalize("NFD", vietnamese)):
        cells = read_table(text).cells
        assert [(c.timepoint, c.group, c.spread_kind.value) for c in cells[:2]] == [
            ("Trước", None, "SD"),
            ("Sau", None, "SD"),
        ]


def test_words_that_say_which_part_belong_to_the_muscle_behind_them():
    reading = read_table(
        "Table 2. Mean ± SD\nExercise Upper gluteus maximus Lower gluteus maximus\n"
        "Thrust 69.5 ± 28.1 86.8 ± 30.2\nSquat 29.4 ± 12.0 45.3 ± 17.7"
    )
    assert [cell.column for cell in reading.cells[:2]] == ["Upper gluteus maximus", "Lower gluteus maximus"]
    assert not reading.doubtful


def test_a_rule_between_group_and_time_is_no_times_sign():
    reading = read_table(
        "| Outcome | Group | Time | n | Mean | SD |\n|---|---|---|---|---|---|\n"
        "| Squat (kg) | A | Pre | 12 | 44.3 | 8.0 |\n| Squat (kg) | A | Post | 11 | 52.5 | 8.4 |\n"
        "| Jump (cm) | A | Pre | 12 | 34.0 | 5.7 |\n| Jump (cm) | A | Post | 11 | 34.6 | 5.5 |"
    )
    assert [(c.timepoint, c.n, c.value, c.spread) for c in reading.cells[:2]] == [
        ("Pre", 12, 44.3, 8.0),
        ("Post", 11, 52.5, 8.4),
    ]


def test_a_damaged_sign_between_commas_is_restored():
    reading = read_table(
        "Values are mean T SD\nTest,Pre,Post\nSquat (kg),13.59 T 2.83,11.53 T 2.47\nPress (kg),31.7 T 6.6,32.5 T 5.5"
    )
    assert [(c.value, c.spread) for c in reading.cells[:2]] == [(13.59, 2.83), (11.53, 2.47)]


def test_headings_over_the_same_groups_one_cell_a_line():
    reading = read_table(
        "Mean (SD)\nBaseline\nWeek 8\nThigh (cm)\nTraining group\n33.1 (1.5)\n46.3 (2.7)\n"
        "Control\n45.2 (1.5)\n46.9 (2.3)\n"
        "Calf (cm)\nTraining group\n43.5 (2.8)\n41.8 (2.9)\nControl\n39.1 (1.3)\n46.9 (1.8)"
    )
    assert [(c.row, c.group, c.value) for c in reading.cells[::2]] == [
        ("Thigh (cm)", "Training group", 33.1),
        ("Thigh (cm)", "Control", 45.2),
        ("Calf (cm)", "Training group", 43.5),
        ("Calf (cm)", "Control", 39.1),
    ]


def test_a_heading_that_is_not_over_the_same_rows_is_asked_about():
    reading = read_table(
        "Mean (SD)\nBaseline\nWeek 8\nThigh (cm)\n33.1 (1.5)\n46.3 (2.7)\nTorque (N·m)\nKnee\n45.2 (1.5)\n46.9 (2.3)\n"
        "Calf (cm)\n43.5 (2.8)\n41.8 (2.9)"
    )
    assert [bool(cell.doubts) for cell in reading.cells] == [False, False, True, True, False, False]


@pytest.mark.parametrize("cells", ["23.1\t±\t2.8\t24.9\t±\t3.0", "23.1\t±2.8\t24.9\t±3.0"])
def test_a_sign_in_a_column_of_its_own_joins_what_stands_beside_it(cells: str):
    blanks = "\t" * (cells.count("\t") // 2)
    reading = read_table(f"Mean ± SD\n\tPre{blanks}\tPost{blanks}\nSquat\t{cells}\nPress\t{cells}")
    assert [(c.timepoint, c.value, c.spread) for c in reading.cells[:2]] == [
        ("Pre", 23.1, 2.8),
        ("Post", 24.9, 3.0),
    ]
    assert len(reading.cells) == 4
    assert not reading.doubtful


def test_a_table_that_goes_on_over_a_page_is_one():
    reading = read_table(
        "Table 4. Season (mean ± SD)\nTest Starters Reserves\nSquat (kg) 141.0 ± 20.1 132.2 ± 19.0\n"
        "Journal of Invented Training 2024; 12(3): 145–152\n147\nTable 4 (continued)\nTest Starters Reserves\n"
        "Sprint (s) 3.02 ± 0.11 3.09 ± 0.13"
    )
    assert [(c.row, c.column, c.value) for c in reading.cells] == [
        ("Squat (kg)", "Starters", 141.0),
        ("Squat (kg)", "Reserves", 132.2),
        ("Sprint (s)", "Starters", 3.02),
        ("Sprint (s)", "Reserves", 3.09),
    ]
    assert not reading.doubtful


@pytest.mark.parametrize("between", [" ", "\t"])
def test_the_head_once_more_with_another_name_is_a_heading(between: str):
    lines = [
        ("Women (n = 14)", "Pre", "Post"),
        ("Squat (kg)", "70.1 ± 11.0", "79.9 ± 11.8"),
        ("Press (kg)", "101.2 ± 18.8", "121.0 ± 20.0"),
        ("Men (n = 15)", "Pre", "Post"),
        ("Squat (kg)", "112.4 ± 18.1", "124.0 ± 19.2"),
        ("Press (kg)", "150.0 ± 27.7", "171.3 ± 28.4"),
    ]
    reading = read_table("\n".join(["Table 3. Mean ± SD by sex", *map(between.join, lines)]))
    assert [(c.row, c.group, c.timepoint, c.n) for c in reading.cells[::4]] == [
        ("Squat (kg)", "Women", "Pre", 14),
        ("Squat (kg)", "Men", "Pre", 15),
    ]
    assert not reading.doubtful


def test_a_word_parted_by_a_hyphen_is_one_word():
    reading = read_table(
        "Table 1. Mean (SD)\nMuscle A B\nSemiten-\ndinosus 44.9 (15.0) 52.8 (17.7)\nSingle-\n"
        "leg squat 30.3 (11.9) 39.4 (14.2)"
    )
    assert [c.row for c in reading.cells[::2]] == ["Semitendinosus", "Single-leg squat"]


def test_a_row_of_figures_that_cannot_be_read_is_no_head():
    reading = read_table(
        "Mean ± SD\nTest\tPre\tPost\n3-km run\t12:35 ± 0:48\t12:11 ± 0:45\n"
        "Sprint (s)\t3.21 ± 0.12\t3.15 ± 0.11"
    )
    assert [(c.row, bool(c.doubts)) for c in reading.cells] == [
        ("3-km run", True),
        ("3-km run", True),
        ("Sprint (s)", False),
        ("Sprint (s)", False),
    ]


def test_points_at_half_height_are_decimal_points():
    reading = read_table(
        "Mean (SD)\nOutcome A (n=40) B (n=38)\nStrength 92·4 (21·1) 81·0 (20·2)\n"
        "Speed 1·12 (0·21) 1·03 (0·20)"
    )
    assert [(c.value, c.spread, c.n) for c in reading.cells[:2]] == [(92.4, 21.1, 40), (81.0, 20.2, 38)]


def test_bold_figures_with_escaped_stars_are_read():
    reading = read_table(
        "| Test | A | B |\n|---|---|---|\n| Squat | **55.1 ± 17.0**\\* | 50.2 ± 16.6 |\n"
        "| Press | 40 ± 15 | **48 ± 15** |\nMean ± SD"
    )
    assert [(c.value, c.marks) for c in reading.cells] == [(55.1, ("*",)), (50.2, ()), (40, ()), (48, ())]


def test_headings_that_end_alike_stay_headings():
    reading = read_table(
        "Table 3. Mean ± SD\nPre Post\nKnee extensor peak torque (N·m)\nMen 170.1 ± 11.0 179.9 ± 11.8\n"
        "Women 101.2 ± 18.8 121.0 ± 20.0\n"
        "Knee flexor peak torque (N·m)\nMen 112.4 ± 18.1 124.0 ± 19.2\nWomen 90.0 ± 17.7 91.3 ± 18.4"
    )
    assert {(c.row, c.column) for c in reading.cells} == {
        (f"Knee {muscle} peak torque (N·m)", time)
        for muscle in ("extensor", "flexor")
        for time in ("Pre", "Post")
    }
