"""Programmes as people write them in a hurry: nothing typed is lost, and nothing passes for what it is not."""

from pathlib import Path

import pytest

from evidence.reading.programme import Programme, read_programme, read_programme_text
from evidence.reading.programme_model import Effort, Load
from evidence.vocabulary import load_vocabulary

V = load_vocabulary()


def text(written: str, form: str = "text") -> Programme:
    return read_programme_text(written, form, V)


def test_cells_of_a_column_that_nobody_knows_are_kept_as_notes() -> None:
    programme = text("Exercise,Sets,Mood\nLeg press,3,sunny\nLeg curl,3,\n", "csv")
    assert [p.note for p in programme.picks] == ["Mood: sunny", None]
    assert any('column "Mood"' in str(q) for q in programme.questions)


@pytest.mark.parametrize("heading", ["Sätze x Wdh", "Sets × Reps", "Set x Reps", "Sets / Reps"])
def test_a_column_of_sets_and_repetitions_is_known_in_several_writings(heading: str) -> None:
    (pick,) = text(f"Exercise,{heading}\nLeg press,4x6\n", "csv").picks
    assert (pick.sets, pick.prescription.reps) == (4, (6, 6))


def test_a_cell_over_two_lines_keeps_its_words_apart() -> None:
    (pick,) = text('Exercise,Sets,Notes\r\nLeg press,3,"slow\r\ndown"\r\n', "csv").picks
    assert pick.note == "slow down"


def test_what_cannot_be_read_of_a_yaml_pick_is_kept_as_a_note() -> None:
    (pick,) = text(
        "sessions: [{picks: [{exercise: leg press, sets: lots, reps: ~10, load: heavy}]}]", "yaml"
    ).picks
    assert (pick.note, pick.prescription.reps) == ("sets: lots; load: heavy", (10, 10))


def test_two_dumbbells_beside_sets_are_a_load_and_no_second_prescription() -> None:
    (pick,) = text("Bulgarian split squat 3x8/leg, 2x20 kg DBs, RPE 8").picks
    assert (pick.sets, pick.prescription.reps) == (3, (8, 8))
    assert pick.prescription.load == Load("mass", 20, 20, unit="kg", per="hand")
    assert pick.prescription.effort == Effort("RPE", 8, 8)


def test_a_load_with_its_repetitions_is_one_set() -> None:
    ramp = text("Back squat: 20kg x 10, 60 kg x 5, then 3x5 @ 100kg").picks
    assert [(p.sets, p.prescription.reps, p.prescription.load.low) for p in ramp if p.prescription.load] == [
        (1, (10, 10), 20), (1, (5, 5), 60), (3, (5, 5), 100),
    ]  # fmt: skip


def test_a_percentage_of_something_else_is_not_taken_for_one_of_the_1rm() -> None:
    (pick,) = text("Good morning 3x8 @ 40 % of squat").picks
    assert pick.prescription.load == Load("percent", 40, 40, of="squat") and pick.note is None


def test_a_load_for_each_set_is_kept_as_it_is_written() -> None:
    (pick,) = text("Lying leg curl 10, 10, 8, 8 @ 50/55/60/60 kg").picks
    assert pick.sets == 4 and "50/55/60/60 kg" in (pick.note or "")


def test_the_items_of_a_circuit_have_their_load_and_side() -> None:
    first, second = text("3 rounds: 12 goblet squats (24kg), 10 walking lunges per leg").picks
    assert (first.exercise, first.prescription.load) == ("goblet_squat", Load("mass", 24, 24, unit="kg"))
    assert (second.exercise, second.prescription.side) == ("walking_lunge", "each")


@pytest.mark.parametrize(
    "remark",
    ["- Left knee pain: keep it below 3/10", "rest longer where you need it", "Mind the step on the way in."],
)
def test_a_sentence_between_picks_is_a_note_and_no_session(remark: str) -> None:
    programme = text(f"## Monday\n- Leg press 3x10\n{remark}\n- Leg curl 3x10\n", "markdown")
    assert [s.name for s in programme.sessions] == ["Monday"] and len(programme.picks) == 2
    assert remark.lstrip("- ").rstrip(".") in (programme.note or "")
    assert any("is kept as a note" in str(a) for a in programme.assumptions)


def test_a_state_of_health_that_is_read_as_another_word_is_told() -> None:
    audience = "audience: {health: knee osteoarthritis, training_status: untrained}\n"
    plan = audience + "sessions: [{picks: [Leg press 3x10]}]\n"
    told = [str(a) for a in text(plan, "yaml").assumptions]
    assert any('health "knee osteoarthritis" is read as knee pain' in line for line in told)
    assert not any("training status" in line for line in told)


def test_no_folder_of_the_machine_stands_in_what_goes_out(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(
        "weeks: -1\naudience: {health: frail}\nsessions: [{picks: [Leg press 3x10, Curly thing 3x8]}]\n"
    )
    plan = read_programme(path, V)
    told = [str(line) for line in (*plan.questions, *plan.assumptions, *plan.problems)]
    assert any(line.startswith("plan.yaml, line") for line in told)
    assert str(tmp_path) not in " ".join(told)


def test_a_short_line_over_picks_still_names_their_session() -> None:
    assert [s.name for s in text("**Quads** and hams\n- Leg press 3x10\n").sessions] == ["Quads and hams"]


def test_marks_of_markdown_are_no_words() -> None:
    (pick,) = text(
        "| Exercise | Sets | Notes |\n|---|---|---|\n| *Leg press* | 3 | **don't** lock |\n", "markdown"
    ).picks
    assert (pick.as_written, pick.note) == ("Leg press", "don't lock")


def test_a_label_before_an_exercise_is_a_note() -> None:
    (pick,) = text("Finisher: leg press 2x20").picks
    assert (pick.exercise, pick.note) == ("leg_press", "Finisher")
