"""Single lines as people write them: every figure ends in its place, or is asked about."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.programme_cells import Ledger
from evidence.reading.programme_lines import Written, read_line
from evidence.reading.programme_model import Effort, Load


def read(line: str) -> tuple[list[Written], Ledger]:
    ledger = Ledger()
    return read_line(line, ledger), ledger


# Forms seen in public programme files; what they mean is common practice, no source.
@pytest.mark.parametrize(
    ("line", "name", "sets", "reps"),
    [
        ("Back squat 5x5", "Back squat", 5, (5, 5)),
        ("Back squat - 4 sets x 6 reps (rest: 3 min)", "Back squat", 4, (6, 6)),
        ("Calf raises: 4 sets of 12-15", "Calf raises", 4, (12, 15)),
        ("3x8-12 RDL", "RDL", 3, (8, 12)),
        ("Hip thrust 12/10/8", "Hip thrust", 3, (8, 12)),
        ("Back squat: 5,5,5,3,3", "Back squat", 5, (3, 5)),
        ("45 degree back extension 3x12", "45 degree back extension", 3, (12, 12)),
        ("2. Leg press 4×10", "Leg press", 4, (10, 10)),
    ],
)
def test_sets_and_repetitions(line: str, name: str, sets: int, reps: tuple[float, float]) -> None:
    (found,), _ = read(line)
    assert (found.name, found.prescription.sets, found.prescription.reps) == (name, sets, reps)


@pytest.mark.parametrize(
    ("line", "load"),
    [
        ("Hip thrust 4x6 @ 100kg/side", Load("mass", 100, 100, unit="kg", per="side")),
        ("Hip thrust 3x8 @ 70-75% 1RM", Load("percent", 70, 75, of="1RM")),
        ("Squat 3x5 @ 2.0xBW", Load("bodyweight-multiple", 2, 2)),
        ("KB swing 1.5 pood 5x10", Load("mass", 1.5, 1.5, unit="pood")),
        ("Squat 225 lbs 5x5", Load("mass", 225, 225, unit="lb")),
        ("Squat 5x5 225", Load("mass", 225, 225)),
    ],
)
def test_loads_in_a_line(line: str, load: Load) -> None:
    (found,), _ = read(line)
    assert found.prescription.load == load
    assert found.prescription.side is None


def test_a_pause_within_the_repetition_is_no_rest() -> None:
    (found,), _ = read("Standing calf raise 4x15, pause 2s at bottom")
    assert found.prescription.rest_s is None
    assert found.note == "pause 2s at bottom"


def test_percentages_with_repetitions_are_a_set_each() -> None:
    found, _ = read("Back squat 70%x5, 75%x5, 80%x5+")
    assert [f.prescription.sets for f in found] == [1, 1, 1]
    assert [f.prescription.load.low for f in found if f.prescription.load] == [70, 75, 80]
    assert found[2].prescription.reps == (5, None)


def test_two_exercises_in_a_line_are_two_picks() -> None:
    found, _ = read("Squat 3x5 @ RPE 8; RDL 3x8")
    assert [f.name for f in found] == ["Squat", "RDL"]


def test_an_open_last_set_is_one_of_the_sets() -> None:
    found, ledger = read("Leg press 3x10-12, last set AMRAP")
    assert [(f.prescription.sets, f.prescription.reps_open) for f in found] == [(2, False), (1, True)]
    assert ledger.assumed


def test_special_sets_go_on_with_the_exercise() -> None:
    found, ledger = read("Leg ext 3x12, last set: 2 drops (-20%), to failure")
    assert [(f.name, f.prescription.sets, f.prescription.set_kind) for f in found] == [
        ("Leg ext", 3, None),
        ("Leg ext", 2, "drop"),
    ]
    assert found[1].prescription.effort == Effort("RIR", 0, 0)
    assert any(topic == "counting" for topic, _ in ledger.asked)


def test_figures_that_are_left_over_are_asked_about() -> None:
    _, ledger = read("Back squat 3x5 (ramp 40%, 60%)")
    assert ledger.asked or ledger.assumed


@pytest.mark.parametrize("line", ["Lower A", "Rest 3 minutes between all sets", "", "Drink water."])
def test_a_line_without_an_amount_is_no_pick(line: str) -> None:
    assert read(line)[0] == []


@given(st.text(max_size=80))
def test_any_line_is_read_or_not_and_never_raises(line: str) -> None:
    read(line)


@given(st.text(alphabet="0123456789xX@% ,.-/+()sRPEkgm", max_size=60))
def test_any_jumble_of_figures_is_read_or_not_and_never_raises(line: str) -> None:
    read("Squat " + line)


@pytest.mark.parametrize("bit", ["3x", "1-", "9 ", "(1", "x8/", "1,1 ", "rest ", "@@", "1/1"])
def test_a_hostile_line_is_read_in_no_time(bit: str) -> None:
    started = time.perf_counter()
    read((bit * 400)[:399])
    # Linear patterns need about a millisecond; a runaway pattern would need minutes. The margin is for a busy machine.
    assert time.perf_counter() - started < 2


@pytest.mark.parametrize(
    "line", ["Step-up, 3 x 10", "2. Step-up, 3 x 10.", "Step-up, 3x10, on a low box", "Step-up; 3 x 10"]
)
def test_a_comma_between_an_exercise_and_its_figures_takes_no_name_away(line: str) -> None:
    (pick,) = read_line(line, Ledger())
    assert (pick.name, pick.prescription.sets, pick.prescription.reps) == ("Step-up", 3, (10.0, 10.0))


def test_an_arrow_leads_to_the_next_exercise_or_to_a_remark() -> None:
    found, _ = read("Leg press 3x10 -> leg extension 3x12")
    assert [(item.name, item.prescription.sets) for item in found] == [("Leg press", 3), ("leg extension", 3)]
    (alone,), _ = read("leg ext. 3x12 → last set to failure")
    assert alone.note and not set(alone.note) & set("→>")


@pytest.mark.parametrize(
    ("line", "load"),
    [
        ("Squat 3x5, add 2.5 kg a week", None),
        ("Squat 3x5 add 2,5kg every week", None),
        ("Squat 3x5 +2.5kg/week", None),
        ("Squat 3x5 100 kg, +2.5 kg a week", 100),
    ],
)
def test_what_is_added_from_week_to_week_is_no_load(line: str, load: float | None) -> None:
    (found,), _ = read(line)
    assert (found.prescription.load and found.prescription.load.low) == load
    assert found.prescription.reps == (5, 5)
    assert "week" in (found.note or "")


def test_sets_and_repetitions_to_come_are_no_tempo() -> None:
    (found,), _ = read("Leg press 3x10 → 3x12 over 4 weeks")
    assert found.prescription.tempo is None
    assert "3x12 over 4 weeks" in (found.note or "")
