"""The calculator refuses figures that cannot be, or of two kinds at once: no answer comes out wrong silently."""

from pathlib import Path

import pytest


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ('effect --estimate 0.3 --interval "0.5 0.9" --scale smd', "outside its own interval"),
        ("effect --estimate 0.3 --se -1 --scale smd", "--se: A standard error of -1 cannot be"),
        ('effect --a "68 70 72 12" --b "54 50 60 12" --spread interval', "--a: 68 lies outside"),
        ('effect --a "68 14 12" --b "54 13 12" --events-a 4/30 --events-b 9/28', "Figures of 2 kinds"),
        ('effect --a "68,5 14" --b "54,5 13"', "does not hold 3 numbers"),
        ("effect --events-a -4/30 --events-b 9/28", "-4 is no number of events"),
        ("effect --rate-a 4.5/100 --rate-b 3/100", "4.5 is no number of events"),
        ("convert t-to-p 2 --df 0", "--df: 0 degrees of freedom cannot be"),
        ("convert p-to-t 0.05 --df -3", "--df: -3 degrees of freedom cannot be"),
        ("convert log-ratio-to-percent 800", "800 is too large to convert"),
        ('sameness --estimate 0.03 --interval "0.1 0.2" --margin 0.2', "--estimate: 0.03 lies outside"),
        ('sameness --estimate 0.1 --interval "0 0.2" --se 1 --margin 0.2', "Give one of them"),
        ("sameness --estimate 0.1 --se 1 --margin 0", "above 0"),
        ("power --d 0.5 --difference 3 --sd 2", "Give one of them"),
        ("power --d 0.5 --alpha 0", "--alpha: 0 is no error rate"),
        ("check --f -2 --df1 1 --df 18 --p 0.03", "An F of -2 cannot be"),
        ("check --mean 3.48 --sd -1 --n 20", "An SD of -1 cannot be"),
        ("check --analysed -3 --recruited 25", "--analysed: -3 is no number of people"),
    ],
)
def test_figures_that_cannot_be_are_refused_by_name(steelyard, typed: str, says: str) -> None:
    import shlex

    said = steelyard("compute", *shlex.split(typed))
    assert said.status == 2, said.text
    assert says in " ".join(said.text.split())
    assert "not built for" not in said.text


def test_a_row_whose_estimate_lies_outside_its_limits_is_refused_with_its_line(
    steelyard, tmp_path: Path
) -> None:
    file = tmp_path / "effects.csv"
    file.write_text("study,estimate,low,high\n[Invented] A,0.2,0.1,0.5\n[Invented] B,0.2,0.4,0.5\n", "utf-8")
    said = steelyard("compute", "pool", file)
    assert said.status == 2
    assert "effects.csv, line 3: 0.2 lies outside its own interval, 0.4 to 0.5" in said.text


def test_an_estimate_on_its_limit_by_rounding_is_kept(steelyard, tmp_path: Path) -> None:
    file = tmp_path / "ratios.csv"
    file.write_text("study,estimate,low,high\n[Invented] A,1.3,1.3,1.5\n[Invented] B,1.2,0.8,1.8\n", "utf-8")
    assert steelyard("compute", "pool", file, "--ratio").status == 0


def test_decimal_commas_are_read_when_nothing_else_they_could_be(steelyard) -> None:
    commas = steelyard("compute", "effect", "--a", "112,5 14,2 20", "--b", "105 13,8 20", "--json")
    points = steelyard("compute", "effect", "--a", "112.5,14.2,20", "--b", "105, 13.8, 20", "--json")
    assert commas.text == points.text


def test_the_method_may_be_written_in_small_letters(steelyard, tmp_path: Path) -> None:
    file = tmp_path / "effects.csv"
    file.write_text("study,estimate,variance\n[Invented] A,0.2,0.04\n[Invented] B,0.5,0.09\n", "utf-8")
    small = steelyard("compute", "pool", file, "--method", "dl")
    assert small.status == 0
    assert small.text == steelyard("compute", "pool", file, "--method", "DL").text


def test_the_figures_of_an_example_fit_each_other(steelyard) -> None:
    said = steelyard("compute", "difference", "--first", "0.55", "--second", "0.3 0 0.6").text
    assert 'for example --first "112.5 105.9 119.1"' in said


def test_a_number_needed_is_told_in_whole_people_rounded_up(steelyard) -> None:
    # 1 / (0.2 - 0.1111) = 11.25, by hand
    said = steelyard("compute", "convert", "odds-ratio-to-number-needed", "0.5", "--baseline", "0.2").text
    assert "number needed = 11.25" in said and "whole people it is 12" in said


def test_a_printed_interval_is_told_beside_the_one_rebuilt_for_pooling(steelyard) -> None:
    ask = ("compute", "effect", "--estimate", "1.4", "--interval", "1.1 1.8", "--scale", "risk-ratio")
    assert "To quote: 1.1 to 1.8, as printed." in steelyard(*ask).text
