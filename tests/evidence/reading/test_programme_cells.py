"""The small languages of a prescription. Forms as seen in public programme files; readings: common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.programme_cells import (
    Ledger,
    read_bare_effort,
    read_date_as_reps,
    read_effort,
    read_load,
    read_reps,
    read_rest,
    read_sets,
    read_tempo,
)
from evidence.reading.programme_model import Effort, Load


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("90s", (90, 90)), ("2-3 min", (120, 180)), ("~3-4 min", (180, 240)), ('30"', (30, 30)), ("60″", (60, 60)),
        ("120", (120, 120)), ("1:30", (90, 90)), ("rest 2 min", (120, 120)), ("0", (0, 0)), ("1,5 min", (90, 90)),
    ],
)  # fmt: skip
def test_rest_is_in_seconds(text: str, seconds: tuple[float, float]) -> None:
    assert read_rest(text, Ledger()) == seconds


def test_a_small_bare_rest_is_asked_and_a_large_one_assumed() -> None:
    small, large = Ledger(), Ledger()
    assert read_rest("3", small) is None
    assert small.asked
    assert read_rest("90", large) == (90, 90)
    assert large.assumed


@pytest.mark.parametrize(
    ("text", "reps", "side", "opened"),
    [
        ("8-12", (8, 12), None, False), ("10/leg", (10, 10), "each", False), ("8/8", (8, 8), "each", False),
        ("10 each side", (10, 10), "each", False), ("10 x lato", (10, 10), "each", False),
        ("3+", (3, None), None, True),
        ("AMRAP", None, None, True), ("12 total", (6, 6), "each", False), ("8–10 reps", (8, 10), None, False),
    ],
)  # fmt: skip
def test_repetitions_ranges_sides_and_open_sets(
    text: str, reps: tuple[float, float | None] | None, side: str | None, opened: bool
) -> None:
    read = read_reps(text, Ledger())
    assert read is not None
    assert (read.reps, read.side, read.reps_open) == (reps, side, opened)


def test_time_and_distance_stand_in_for_repetitions() -> None:
    hold, carry = read_reps("20s/side", Ledger()), read_reps("40 m", Ledger())
    assert hold is not None
    assert (hold.time_s, hold.side, hold.reps) == ((20, 20), "each", None)
    assert carry is not None
    assert carry.distance_m == 40


def test_uneven_sides_are_not_read() -> None:
    assert read_reps("8/10", Ledger()) is None


@pytest.mark.parametrize(
    ("text", "load"),
    [
        ("80%", Load("percent", 80, 80, of="1RM")),
        ("70-75% 1RM", Load("percent", 70, 75, of="1RM")),
        ("85% TM", Load("percent", 85, 85, of="TM")),
        ("20% BW each hand", Load("percent", 20, 20, of="bodyweight", per="hand")),
        ("1.5xBW", Load("bodyweight-multiple", 1.5, 1.5)),
        ("bodyweight", Load("bodyweight")),
        ("62,5 kg", Load("mass", 62.5, 62.5, unit="kg")),
        ("135 lbs", Load("mass", 135, 135, unit="lb")),
        ("1.5 pood", Load("mass", 1.5, 1.5, unit="pood")),
        ("-15%", Load("relative", -15, -15)),
        ("10RM", Load("RM", 10, 10)),
    ],
)
def test_loads_say_of_what_they_are(text: str, load: Load) -> None:
    assert read_load(text, Ledger()) == load


@pytest.mark.parametrize("text", ["100", "135/95", "85% TM"])
def test_a_load_that_leaves_something_open_is_asked(text: str) -> None:
    ledger = Ledger()
    read_load(text, ledger)
    assert ledger.asked


@pytest.mark.parametrize(
    ("text", "effort"),
    [
        ("RPE 8", Effort("RPE", 8, 8)), ("8-9 RPE", Effort("RPE", 8, 9)), ("@7", Effort("RPE", 7, 7)),
        ("RIR 1-2", Effort("RIR", 1, 2)), ("2 in reserve", Effort("RIR", 2, 2)), ("leave 1", Effort("RIR", 1, 1)),
        ("to failure", Effort("RIR", 0, 0)), ("@80", None), ("RPE 12", None),
    ],
)  # fmt: skip
def test_effort_is_rpe_or_rir_up_to_ten(text: str, effort: Effort | None) -> None:
    assert read_effort(text, Ledger()) == effort


def test_a_bare_effort_is_asked_unless_its_column_says_which() -> None:
    ledger = Ledger()
    assert read_bare_effort("8", ledger, None) is None
    assert ledger.asked
    assert read_bare_effort("8-9", Ledger(), "RPE") == Effort("RPE", 8, 9)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("30X1", ("3", "0", "X", "1")), ("3010", ("3", "0", "1", "0")), ("3-1-1-0", ("3", "1", "1", "0")),
        ("tempo 3:1:1", ("3", "1", "1")), ("fast", None), ("8-12", None),
    ],
)  # fmt: skip
def test_tempo_has_three_or_four_parts(text: str, parts: tuple[str, ...] | None) -> None:
    assert read_tempo(text) == parts


@pytest.mark.parametrize(
    ("text", "reps"),
    [
        ("12-Aug", (8, 12)), ("03-May", (3, 5)), ("2026-10-12", (10, 12)), ("Oct-06", (6, 10)), ("8.12.2024", (8, 12)),
        ("8-12", None), ("15-20", None), ("31-Foo", None),
    ],
)  # fmt: skip
def test_a_date_is_the_range_it_was_typed_as(text: str, reps: tuple[int, int] | None) -> None:
    assert read_date_as_reps(text) == reps


def test_sets_may_be_a_range() -> None:
    assert read_sets("3-4") == (3, 4)
    assert read_sets("3") == (3, None)
    assert read_sets("2.5") is None


@given(st.text(max_size=30))
def test_any_cell_is_read_or_not_and_never_raises(text: str) -> None:
    for read in (read_rest, read_reps, read_load, read_effort):
        read(text, Ledger())
    read_tempo(text)
    read_sets(text)
    read_date_as_reps(text)


@given(st.integers(1, 30), st.integers(0, 20))
def test_a_range_is_read_low_to_high_in_any_order(low: int, more: int) -> None:
    for text in (f"{low}-{low + more}", f"{low + more} – {low}"):
        read = read_reps(text, Ledger())
        assert read is not None
        assert read.reps == (low, low + more)
