"""Questions about several results: do two differ from each other, what is left of many p-values."""

import json

import pytest


def test_two_results_are_compared_with_each_other_and_not_each_with_nothing(steelyard) -> None:
    # Altman & Bland 2003, BMJ 326:219, from memory: risks of 0.67 and 0.88, their ratio 0.77 (0.50 to 1.18), P = 0.2.
    said = steelyard(
        "compute",
        "difference",
        "--ratio",
        "--first",
        "0.67 0.46 0.98",
        "--second",
        "0.88 0.71 1.08",
        "--json",
    )
    got = json.loads(said.text)
    (figure,) = got["figures"]
    assert [figure["value"], figure["low"], figure["high"]] == pytest.approx([0.77, 0.50, 1.18], abs=0.02)
    assert "not shown to differ" in got["answer"]
    assert any("by itself that is no difference" in one for one in got["cautions"])


def test_two_results_far_apart_differ(steelyard) -> None:
    said = steelyard("compute", "difference", "--first", "1.0 0.8 1.2", "--second", "0.1 -0.1 0.3")
    assert said.status == 0
    assert "differ from each other, p < 0.001" in said.text
    assert "no difference between them" not in said.text


def test_a_result_without_its_interval_is_refused_with_an_example(steelyard) -> None:
    for typed in ("0.4", "0.4 0.9 0.1", "0.4 0.5 0.9", "0.4 0.4 0.4", "x y z"):
        said = steelyard("compute", "difference", "--first", typed, "--second", "0.1 0 0.2")
        assert said.status == 2, typed
        assert "Problem:" in said.text


def test_many_p_values_are_adjusted_for_their_number(steelyard) -> None:
    # Holm 1979 by hand: 0.005·4, 0.01·3, 0.03·2, then never falling. Benjamini & Hochberg 1995: 0.005·4/1, 0.01·4/2 …
    said = steelyard("compute", "tests", "0.01", "0.04", "0.03", "0.005", "--json")
    (grid,) = json.loads(said.text)["grids"]
    assert [row[1:] for row in grid["rows"]] == [
        ["0.030", "0.020"], ["0.060", "0.040"], ["0.060", "0.040"], ["0.020", "0.020"],
    ]  # fmt: skip


def test_twenty_tests_of_nothing_give_one_by_chance_and_that_is_said(steelyard) -> None:
    said = steelyard("compute", "tests", *["0.2"] * 19, "0.04")
    assert "20 tests at 0.05 give 1 false positive on average" in said.text
    assert "0 after Holm" in said.text


@pytest.mark.parametrize(
    "typed", [("0.4",), ("1.4", "0.2"), ("-0.1", "0.2"), ("abc", "0.2"), ("nan", "0.2"), (">0.05", "0.2")]
)
def test_what_is_no_list_of_p_values_is_refused(steelyard, typed: tuple[str, ...]) -> None:
    said = steelyard("compute", "tests", "--", *typed)
    assert said.status == 2
    assert "Traceback" not in said.text


def test_one_line_is_checked_for_widths_parts_and_p_within_groups(steelyard) -> None:
    for typed, flagged in (
        (("--smd", "0.45", "--interval", "0.30 0.60", "--n", "24"), "cannot be this precise"),
        (("--p-a", "0.02", "--p-b", "0.2"), "that is no difference between them"),
        (("--total", "24", "--parts", "12 13"), "12 + 13 = 25, not 24"),
    ):
        said = steelyard("compute", "check", *typed)
        assert said.status == 1, typed
        assert flagged in said.text
    for typed in (
        ("--smd", "0.45", "--interval", "-0.40 1.30", "--n", "24"),
        ("--p-a", "0.02", "--p-b", "0.2", "--p", "0.01"),
        ("--total", "25", "--parts", "12 13"),
    ):
        assert steelyard("compute", "check", *typed).status == 0, typed


@pytest.mark.parametrize(
    ("typed", "status"),
    [
        (("--p-a", "<0.05", "--p-b", ">0.05"), 1),
        (("--p-a", "0.01", "--p-b", ">0.05", "--p", ">0.05"), 1),
        (("--p-a", "<0.05", "--p-b", ">0.05", "--p", "<0.05"), 0),
        (("--p-a", "<0.05", "--p-b", "<0.01"), 0),
        (("--p-a", "0.01", "--p-b", "<0.1"), 0),  # it may lie below 0.05 as well
    ],
)
def test_a_p_printed_as_a_bound_lies_on_the_side_that_its_sign_says(steelyard, typed, status: int) -> None:
    said = steelyard("compute", "check", *typed)
    assert said.status == status
    assert ("(p < 0.05)" in said.text or "(p = 0.01)" in said.text) is (status == 1)
    assert ("not (p > 0.05)" in said.text) is (status == 1)


def test_half_of_a_pair_of_options_names_the_other(steelyard) -> None:
    for typed, missing in (
        (("--p-a", "0.02"), "--p-b is missing"),
        (("--parts", "1 2"), "--total is missing"),
    ):
        said = steelyard("compute", "check", *typed)
        assert said.status == 2
        assert missing in said.text
