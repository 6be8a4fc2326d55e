"""Programmes in every form: the clear is read, the assumed is shown, the unsure is asked, nothing is guessed."""

from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.programme import Programme, read_programme, read_programme_text
from evidence.vocabulary import OwnName, load_vocabulary

V = load_vocabulary()


def text(written: str) -> Programme:
    return read_programme_text(written, "text", V)


def asked(programme: Programme) -> str:
    return "\n".join(str(question) for question in programme.questions)


def test_load_repetitions_and_sets_are_told_apart_by_unit_and_size() -> None:
    picks = text("Squat 155x5x3\nRDL 3x8x60kg\nHip thrust 5 x 100kg, three sets\nLeg press 12 x 180").picks
    figures = [
        (p.sets, p.prescription.reps, p.prescription.load.low if p.prescription.load else None) for p in picks
    ]
    assert figures == [(3, (5, 5), 155), (3, (8, 8), 60), (3, (5, 5), 100), (1, (12, 12), 180)]
    units = [p.prescription.load.unit if p.prescription.load else None for p in picks]
    assert units == [None, "kg", "kg", None]


def test_a_load_without_a_unit_is_asked_for_with_its_line() -> None:
    assert "line 2: 155 x 5 reps x 3 sets? and kg or lb?" in asked(text("Hip thrust 3x8\nBack squat 155x5x3"))


def test_an_abbreviation_is_judged_by_the_session_it_stands_in() -> None:
    lower, upper = text("Lower\nLP 3x10\nRDL 3x8"), text("Upper\nLP 3x10\nBench press 3x5")
    assert lower.picks[0].exercise == "leg_press"
    assert any("lower-body" in str(a) for a in lower.assumptions)
    assert upper.picks[0].exercise is None
    assert "LP" in asked(upper)


def test_an_ambiguous_name_keeps_its_candidates_and_an_own_name_settles_it() -> None:
    pick = text("GM 3x10\nRDL 3x8").picks[0]
    assert (pick.exercise, pick.candidates) == (None, ("good_morning",))
    own = V.with_own([], [OwnName("exercise", "GM", "good_morning")])
    assert read_programme_text("GM 3x10", "text", own).picks[0].exercise == "good_morning"


def test_a_one_leg_exercise_without_a_side_is_asked() -> None:
    assert 'Write "10 each side" or "10 total"' in asked(text("Step-up 3x10"))
    assert not text("Step-up 3x10/leg").questions


def test_headings_bare_lines_and_lists_name_the_sessions() -> None:
    written = "# Plan\n\n## Day 1\n- **Back squat**: 3x5 @ RPE 8\n\nDay 2\n* RDL 3x8\n\nBring water.\n"
    programme = read_programme_text(written, "markdown", V)
    assert programme.title == "Plan"
    assert [(s.name, [p.exercise for p in s.picks]) for s in programme.sessions] == [
        ("Day 1", ["back_squat"]),
        ("Day 2", ["rdl"]),
    ]
    assert any("Bring water" in problem for problem in programme.problems)


def test_an_exercise_may_stand_on_the_line_above_its_figures() -> None:
    programme = text("Day 1\nBack squat\n100kg x 5 x 3\nLeg press 3x10")
    assert [(p.exercise, p.sets) for p in programme.picks] == [("back_squat", 3), ("leg_press", 3)]
    assert programme.sessions[0].name == "Day 1"


def test_a_remark_is_no_pick() -> None:
    programme = text("Back squat 3x5\nRest 3 minutes between all sets")
    assert len(programme.picks) == 1
    assert "Rest 3 minutes" in programme.problems[0]


def test_warm_ups_are_kept_apart() -> None:
    assert [p.warm_up for p in text("Warm-up: leg curl 2x15\nRDL 3x8").picks] == [True, False]


CSV = {
    "rows per exercise": "exercise;sets;reps;load (kg);rest\nBack squat;3;8-12;62,5;120\n",
    "rows per set": "exercise,set,reps,load\nBack squat,1,8-12,62.5kg\n,2,8-12,62.5kg\n,3,8-12,62.5kg\n",
    "column per week": "exercise,Week 1,Week 2\nBack squat,3x8-12 @ 62.5kg,4x8-12 @ 65kg\n",
    "other language": "Esercizio\tSerie\tRip\tCarico (kg)\nBack squat\t3\t8-12\t62,5\n",
}


@pytest.mark.parametrize("layout", CSV)
def test_layouts_of_the_same_thing_are_read_alike(layout: str) -> None:
    pick = read_programme_text(CSV[layout], "csv", V).picks[0]
    done = pick.prescription
    assert (pick.exercise, pick.sets, done.reps) == ("back_squat", 3, (8, 12))
    assert done.load is not None
    assert (done.load.low, done.load.unit) == (62.5, "kg")


def test_a_column_may_hold_two_kinds_of_thing() -> None:
    programme = read_programme_text(
        "exercise,sets,reps,Tempo/RPE\nRDL,3,8,30X1\nLeg press,3,8,8-9\n", "csv", V
    )
    first, second = (pick.prescription for pick in programme.picks)
    assert first.tempo == ("3", "0", "X", "1")
    assert second.effort is not None
    assert (second.effort.low, second.effort.high) == (8, 9)


def test_an_unknown_column_is_asked_about_once() -> None:
    programme = read_programme_text("exercise,sets,reps,colour\nRDL,3,8,red\nLeg press,3,8,blue\n", "csv", V)
    assert asked(programme).count("colour") == 1


def test_dates_in_the_repetitions_are_proposed_back_as_ranges_and_asked_once() -> None:
    programme = read_programme_text("exercise,sets,reps\nRDL,3,12-Aug\nLeg press,3,03-May\n", "csv", V)
    assert [p.prescription.reps for p in programme.picks] == [(8, 12), (3, 5)]
    assert "8-12" in asked(programme)
    assert len(programme.questions) == 1


def test_a_cell_that_says_nothing_known_is_asked_and_kept() -> None:
    programme = read_programme_text("exercise,sets,reps\nRDL,3,heavy-ish\n", "csv", V)
    assert "heavy-ish" in asked(programme)
    assert "heavy-ish" in (programme.picks[0].note or "")


def test_a_workbook_has_a_session_per_sheet_and_its_dates_are_seen(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    day = book.active
    assert day is not None
    day.title = "Lower"
    day.append(["Exercise", "Sets", "Reps", "RPE"])
    day.append(["Back squat", 3, datetime(2026, 8, 12), 8])
    other = book.create_sheet("Notes")
    other.append(["nothing here"])
    book.save(tmp_path / "plan.xlsx")
    programme = read_programme(tmp_path / "plan.xlsx", V)
    pick = programme.picks[0]
    assert (programme.title, programme.sessions[0].name) == ("Plan", "Lower")
    assert (pick.exercise, pick.sets, pick.prescription.reps) == ("back_squat", 3, (8, 12))
    assert pick.prescription.effort is not None
    assert "date" in asked(programme)


def test_a_damaged_workbook_is_told_plainly(tmp_path: Path) -> None:
    broken = tmp_path / "plan.xlsx"
    broken.write_bytes(b"PK\x03\x04 and nothing more")
    with pytest.raises(BadInput, match="damaged"):
        read_programme(broken, V)
    broken.write_bytes(b"exercise,sets\n")
    with pytest.raises(BadInput, match="no XLSX"):
        read_programme(broken, V)


YAML = """steelyard: programme/1
title: Two days
audience: {training_status: recreationally active, age: 20-45, health: healthy}
weeks: 8
goal: growth
priorities: [hamstrings, calves, GM]
equipment: [barbell, leg press]
sessions:
  - name: Day 1
    times_per_week: 2
    picks:
      - {exercise: Back squat, sets: 3, reps: 6-8, effort: RPE 8, rest: 2-3 min, reason: our main lift}
      - {exercise: Copenhagen plank, sets: 2, reps: 20 s, side: each, group: A, order: 1}
      - RDL 3x8 @ RIR 2
      - {exercise: Leg press, sets: 3, reps: [10, 12], load: 70%, tempo: 3-0-1-0, warm_up: yes}
"""


def test_yaml_holds_everything_a_programme_can_say() -> None:
    programme = read_programme_text(YAML, "yaml", V)
    assert programme.audience.training_status == "recreational"
    assert (programme.audience.age, programme.weeks, programme.goal) == ("20-45", 8, "hypertrophy")
    assert programme.priorities == ("hamstrings", "triceps_surae")
    assert 'priority "GM"' in asked(programme)
    squat, plank, rdl, press = programme.picks
    assert (squat.prescription.reps, squat.prescription.rest_s, squat.reason) == (
        (6, 8),
        (120, 180),
        "our main lift",
    )
    assert (plank.prescription.time_s, plank.prescription.side, plank.group) == ((20, 20), "each", "A")
    assert (rdl.exercise, rdl.sets) == ("rdl", 3)
    assert press.warm_up
    assert press.prescription.tempo == ("3", "0", "1", "0")
    assert programme.sessions[0].times_per_week == 2
    assert not programme.problems


def test_a_misspelt_entry_is_told_with_its_line() -> None:
    problems = read_programme_text(YAML.replace("weeks:", "weaks:"), "yaml", V).problems
    assert any("line 4" in p and "weeks" in p for p in problems)


@pytest.mark.parametrize(
    ("written", "kind", "word"),
    [
        ("title: x", "yaml", "sessions"),
        ("sessions: []", "yaml", "no exercise"),
        ("steelyard: study/1\nsessions: []", "yaml", "version"),
        ("a,b\n1,2\n", "csv", "column of exercises"),
        ("exercise,sets,reps\n", "csv", "no exercise"),
        ("Just words.", "text", "no exercise"),
        ("x", "docx", "format"),
    ],
)
def test_what_is_no_programme_is_told_plainly(written: str, kind: str, word: str) -> None:
    with pytest.raises(BadInput, match=word):
        read_programme_text(written, kind, V)


@given(st.text(max_size=120), st.sampled_from(["yaml", "csv", "markdown", "text"]))
@settings(max_examples=80, deadline=None)
def test_any_text_is_read_or_refused_plainly(written: str, kind: str) -> None:
    try:
        read_programme_text(written, kind, V)
    except BadInput as problem:
        told = str(problem)
        assert told


NAMES = st.sampled_from(
    ["Back squat", "Leg press", "Hip thrust", "Front squat", "Seated leg curl", "Goblet squat"]
)


@given(NAMES, st.integers(1, 8), st.integers(1, 24), st.integers(0, 6), st.integers(5, 9))
def test_the_order_of_the_pieces_does_not_matter(name: str, sets: int, low: int, more: int, rpe: int) -> None:
    reps = f"{low}-{low + more}" if more else f"{low}"
    for line in (
        f"{name} {sets}x{reps} RPE {rpe}",
        f"{sets} x {reps} {name} @ RPE {rpe}",
        f"- {name}: {sets} sets of {reps} reps, RPE {rpe}",
    ):
        (pick,) = text(line).picks
        assert (pick.sets, pick.prescription.reps) == (sets, (low, low + more)), line
        assert pick.exercise is not None
        assert pick.prescription.effort is not None
        assert pick.prescription.effort.low == rpe


def test_a_very_long_programme_is_read_in_time_that_grows_with_its_length() -> None:
    import time

    started = time.perf_counter()
    programme = text("Back squat 3x8-12 @ RPE 8, rest 2 min\n" * 3000)
    assert len(programme.picks) == 3000
    # About 0.3 s here; work that grows with the square of the length took 40 s. The margin is for a busy machine.
    assert time.perf_counter() - started < 10


def yaml(lines: str) -> Programme:
    head = 'steelyard: programme/1\ntitle: "[Invented] x"\n'
    return read_programme_text(head + lines, "yaml", V, name="plan.yaml")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "weeks: -5",
            'plan.yaml, line 3: "weeks: -5" was left out: it should be a whole number from 1 to 104',
        ),
        ("weeks: a few", 'plan.yaml, line 3: "weeks: a few" was left out'),
        ("wekes: 8", 'plan.yaml, line 3: "wekes" is not known here (did you mean "weeks"?)'),
    ],
)
def test_what_cannot_be_is_left_out_and_told_with_its_line(line: str, said: str) -> None:
    programme = yaml(f"{line}\nsessions:\n  - picks: [Leg press 3x10]\n")
    assert programme.weeks is None
    assert said in programme.problems[0]


def test_a_session_cannot_be_done_ninety_nine_times_a_week() -> None:
    programme = yaml("sessions:\n  - times_per_week: 99\n    picks: [Leg press 3x10]\n")
    assert programme.sessions[0].times_per_week == 1
    assert "line 4" in programme.problems[0]
    assert "from 0.25 to 14" in programme.problems[0]


def test_more_sets_than_people_do_are_asked_about() -> None:
    assert "300 sets: right?" in asked(text("Leg press 300x10"))
    assert "0 sets: right?" in asked(
        yaml("sessions:\n  - picks: [{exercise: Leg press, sets: 0, reps: 8}]\n")
    )
    assert "limits" not in {q.topic for q in text("Leg press 10x10").questions}


def test_a_pick_says_for_which_muscle_it_is() -> None:
    programme = yaml(
        "sessions:\n  - picks:\n    - {exercise: Hip thrust, sets: 3, reps: 8, for: gluteus maximus and hamstrings}\n"
        "    - {exercise: Leg press, sets: 3, reps: 8, for: [quads, nonsense]}\n"
    )
    assert programme.picks[0].chosen_for == ("gluteus_maximus", "hamstrings")
    assert 'chosen for "nonsense"' in asked(programme)


def test_repetitions_given_twice_and_differently_are_asked_about() -> None:
    programme = read_programme_text("exercise,sets,reps\nLeg press,3x8,10\n", "csv", V)
    assert '"10" repetitions, or those beside the sets (8)?' in asked(programme)


def test_merged_cells_formulas_and_dates_of_a_workbook_lose_nothing(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Plan"
    for row in (
        ["Day", "Exercise", "Sets", "Reps", "Load (kg)"],
        ["Day 1", "Leg press", 3, datetime(2026, 8, 12), 100],
        [None, "Seated leg curl", datetime(2026, 4, 3), 10, "=E2/2"],
        ["Day 2", "Romanian deadlift", 3, 8, None],
    ):
        sheet.append(row)
    sheet.merge_cells("A2:A3")
    path = tmp_path / "plan.xlsx"
    book.save(path)
    programme = read_programme(path, V)
    assert [(s.name, [p.exercise for p in s.picks]) for s in programme.sessions] == [
        ("Day 1", ["leg_press", "seated_leg_curl"]),
        ("Day 2", ["rdl"]),
    ]
    assert programme.picks[0].prescription.reps == (8, 12)
    assert (programme.picks[1].prescription.sets, programme.picks[1].prescription.sets_high) == (3, 4)
    assert "reps of 1 row are a date" in asked(programme)
    assert "sets of 1 row are a date" in asked(programme)
    assert any("Plan, row 3: the formula =E2/2 has no stored value" in p for p in programme.problems)


@pytest.mark.parametrize(
    ("line", "regions"),
    [
        ("Leg press 4x8 for quads", ("quadriceps_femoris",)),
        ("Leg press 4x8 for the quads and adductors", ("quadriceps_femoris", "adductors")),
        ("Leg press 4x8 for time", ()),
        ("Leg press 4x8, slowly", ()),
    ],
)
def test_what_a_line_says_a_pick_is_for_is_what_it_is_chosen_for(line: str, regions: tuple[str, ...]) -> None:
    assert read_programme_text(line, "text", V).picks[0].chosen_for == regions
