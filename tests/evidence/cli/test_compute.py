"""The calculator as a person uses it: figures in, an answer with its derivation out; what is missing is named."""

import json
import math
import re
from pathlib import Path

import pytest

NESTED = """study,outcome,yi,se,kind,year
[Invented] Alder,squat,0.42,0.20,long,2011
[Invented] Alder,press,0.35,0.21,long,2011
[Invented] Birch,squat,0.10,0.25,short,2013
[Invented] Cedar,squat,0.61,0.30,long,2014
[Invented] Cedar,jump,0.22,0.28,short,2014
[Invented] Elm,squat,0.18,0.19,short,2016
[Invented] Fir,squat,0.33,0.22,long,2017
[Invented] Hazel,squat,0.05,0.24,short,2019
"""


def figures(text: str) -> dict[str, dict[str, float]]:
    return {one["name"]: one for one in json.loads(text)["figures"]}


def test_two_groups_give_every_scale_with_formula_source_and_assumption(steelyard) -> None:
    said = steelyard("compute", "effect", "--a", "112.5 14.2 20", "--b", "105 ± 13.8 (n = 20)")
    assert said.status == 0
    for part in (
        "standardised mean difference (g)  0.525",
        "7.14",
        "Hedges 1981, eq. 6e",
        "Cochrane Handbook 6.5.1.1",
    ):
        assert part in said.text
    assert "taken as a standard deviation" in said.text


def test_json_holds_the_same_figures_steps_and_assumptions(steelyard) -> None:
    said = steelyard(
        "compute", "effect", "--a", "112.5,14.2,20", "--b", "105,13.8,20", "--spread", "sd", "--json"
    )
    got = json.loads(said.text)
    assert figures(said.text)["mean difference"]["value"] == pytest.approx(7.5)
    assert got["assumptions"] == []
    assert {step["source"] for step in got["steps"]} >= {"Hedges 1981, eq. 6e"}


def test_a_standard_error_is_turned_into_an_sd_first(steelyard) -> None:
    with_se = steelyard("compute", "effect", "--a", "50 2 16", "--b", "44 2 16", "--spread", "se", "--json")
    with_sd = steelyard("compute", "effect", "--a", "50 8 16", "--b", "44 8 16", "--spread", "sd", "--json")
    assert figures(with_se.text) == figures(with_sd.text)


def test_the_same_people_need_a_correlation_or_an_outcome_to_take_it_from(steelyard) -> None:
    typed = ("compute", "effect", "--a", "68 14 12", "--b", "54 13 12", "--same-people")
    said = steelyard(*typed)
    assert said.status == 2
    assert "--r is missing" in said.text
    assert "--outcome activation" in said.text
    said = steelyard(*typed, "--outcome", "activation")
    assert said.status == 0
    assert "With the correlation varied" in said.text
    assert "was assumed" in said.text
    assert "was assumed" not in steelyard(*typed, "--r", "0.6", "--spread", "sd").text


@pytest.mark.parametrize(
    ("typed", "scale", "name", "log"),
    [
        (("142.5 18.3 12", "131 16.7 12"), "spread-ratio", "ratio of SDs", (0.091492, -0.499459, 0.682444)),
        (("142.5 18.3 12", "131 16.7 12"), "cv-ratio", "ratio of coefficients of variation",
         (0.007338, -0.592417, 0.607092)),
        (("68.4 9.8 10", "63.9 9.1 10", "0.3"), "spread-ratio", "ratio of SDs", (0.074108, -0.549121, 0.697337)),
        (("68.4 9.8 10", "63.9 9.1 10", "0.3"), "cv-ratio", "ratio of coefficients of variation",
         (0.006055, -0.625917, 0.638026)),
    ],
)  # fmt: skip
def test_spreads_are_compared_where_they_are_asked_for(steelyard, typed, scale, name, log) -> None:
    """Outside values: metafor::escalc 5.1-0 (oracles/effect_sizes.json: ind-02 VR, CVR; pair-01 VRC, CVRC)."""
    given = ["compute", "effect", "--a", typed[0], "--b", typed[1]]
    given += ["--same-people", "--r", typed[2]] if len(typed) == 3 else []
    said = steelyard(*given, "--scale", scale, "--json")
    found = figures(said.text)[name]
    got = [math.log(found[part]) for part in ("value", "low", "high")]
    assert got == pytest.approx(log, abs=1e-6)
    assert "How much people differ" in said.text
    assert "How much people differ" not in steelyard(*given).text and name not in steelyard(*given).text


def test_change_of_two_arms_and_of_one(steelyard) -> None:
    arms = (
        "--a-before",
        "100 15 12",
        "--a-after",
        "112 16 12",
        "--b-before",
        "101 14 12",
        "--b-after",
        "104 15 12",
    )
    both = steelyard("compute", "effect", *arms, "--r", "0.9", "--scale", "smd", "--json")
    assert figures(both.text)["standardised difference of changes (g)"]["value"] == pytest.approx(
        0.599, abs=0.001
    )
    one = steelyard("compute", "effect", *arms[:4], "--r", "0.9")
    assert "has nothing to be compared with" in one.text


def test_a_paired_t_is_not_run_through_the_formula_for_groups(steelyard) -> None:
    groups = figures(
        steelyard("compute", "effect", "--t", "2.4", "--n-a", "16", "--n-b", "16", "--json").text
    )
    pairs = steelyard("compute", "effect", "--t", "2.4", "--same-people", "--n", "16", "--json")
    assert "not comparable with other designs" in pairs.text
    paired = next(iter(figures(pairs.text).values()))["value"]
    assert paired == pytest.approx(2.4 / 4 * 0.9490, rel=1e-3)
    assert groups["standardised mean difference (g)"]["value"] == pytest.approx(
        2.4 * math.sqrt(1 / 8) * 0.9748, rel=1e-3
    )


def test_counts_without_any_event_are_no_evidence_of_sameness(steelyard) -> None:
    said = steelyard("compute", "effect", "--events-a", "0/20", "--events-b", "0/22")
    assert said.status == 2
    assert "Nobody in either group had the event" in said.text


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ([], "Nothing to compute an effect from"),
        (["--a", "5 1 10"], "--b is missing"),
        (["--a", "5 1", "--b", "4 1 10"], "--a: '5 1' does not hold 3 numbers"),
        (["--a", "five 1 10", "--b", "4 1 10"], "--a:"),
        (["--a", "5 1 10.5", "--b", "4 1 10"], "10.5 is no number of people"),
        (["--a", "5 -1 10", "--b", "4 1 10"], "cannot be negative"),
        (["--a", "5 1 10", "--b", "4 1 12", "--same-people", "--r", "0.5"], "people"),
        (["--a", "5 1 10", "--b", "4 1 10", "--r", "0.5"], "--same-people"),
        (["--a", "5 1 10", "--b", "4 1 10", "--scale", "furlongs"], "--scale"),
        (["--a", "5 1 10", "--b", "4 1 10", "--spread", "iqr"], "--spread"),
        (["--p", "0.03", "--n-a", "10", "--n-b", "10"], "--higher is missing"),
        (["--t", "2.1"], "--n-a is missing"),
        (["--estimate", "0.4"], "--scale is missing"),
        (["--estimate", "0.4", "--scale", "smd"], "Add --interval"),
        (["--estimate", "0.4", "--scale", "smd", "--interval", "0.7 0.1"], "above the upper limit"),
        (["--events-a", "12/10", "--events-b", "2/10"], "12"),
        (["--correlation", "0.4"], "--n is missing"),
    ],
)
def test_what_is_missing_or_wrong_is_named_with_its_option(steelyard, options: list[str], says: str) -> None:
    said = steelyard("compute", "effect", *options)
    assert said.status == 2
    assert says in said.text


@pytest.mark.parametrize(
    ("arguments", "name", "value"),
    [
        (["se-to-sd", "3.2", "--n", "14"], "SD", 3.2 * math.sqrt(14)),
        (["se to sd", "3,2", "--n", "14"], "SD", 3.2 * math.sqrt(14)),
        (["sd-to-se", "12", "--n", "36"], "SE", 2.0),
        (["interval-to-se", "-0.1", "0.5"], "SE", 0.6 / (2 * 1.959963984540054)),
        (["interval-to-se", "0.5", "2", "--ratio"], "SE", math.log(4) / (2 * 1.959963984540054)),
        # Cochrane Handbook 6.5.2.2: 30 to 34.2 with n = 25 gives t = 2.0639.
        (["interval-to-sd", "30", "34.2", "--n", "25"], "SD", 5 * 4.2 / (2 * 2.0638985616)),
        (["smd-to-log-odds-ratio", "-0.5"], "log odds ratio", -0.5 * math.pi / math.sqrt(3)),
        (["log-odds-ratio-to-smd", "0.906899682"], "d", 0.5),
        (["percent-to-log-ratio", "25"], "log ratio", math.log(1.25)),
        (["log-ratio-to-percent", "-0.2231435513"], "percent", -20.0),
        (["odds-ratio-to-risk-ratio", "3", "--baseline", "0.2"], "risk ratio", 3 / 1.4),
        (["correlation-to-change-sd", "10", "12", "--r", "0.8"], "SD of change", math.sqrt(52)),
        (["sds-to-correlation", "10", "12", "7.2111026"], "r", 0.8),
        (["combine-groups", "12 3 10", "14 4 12"], "mean", 288 / 22),
        (["p-to-t", "0.05", "--df", "10"], "t", 2.2281388520),
    ],
)
def test_conversions(steelyard, arguments: list[str], name: str, value: float) -> None:
    said = steelyard("compute", "convert", *arguments, "--json")
    assert said.status == 0, said.text
    assert figures(said.text)[name]["value"] == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["miles-to-km", "3"], "Known: se-to-sd"),
        (["se-to-sd", "3.2"], "--n is missing"),
        (["sds-to-correlation", "3", "4"], "takes 3 figures, but 2 were given"),
        (["se-to-sd", "many", "--n", "3"], "is no number"),
        (["median-to-mean", "24", "--n", "40"], "--quartiles"),
        (["interval-to-se", "5", "3"], "above the upper limit"),
        (["odds-ratio-to-risk-ratio", "2"], "--baseline is missing"),
        (["percent-to-log-ratio", "-120"], "no logarithm"),
        (["combine-groups", "12 3 10"], "at least two groups"),
    ],
)
def test_conversions_say_what_they_need(steelyard, arguments: list[str], says: str) -> None:
    said = steelyard("compute", "convert", *arguments)
    assert said.status == 2
    assert says in said.text


def test_results_of_one_study_are_pooled_as_nested_and_the_assumption_is_varied(
    steelyard, tmp_path: Path
) -> None:
    (tmp_path / "effects.csv").write_text(NESTED, encoding="utf-8")
    said = steelyard("compute", "pool", "effects.csv", "--leave-one-out")
    assert said.status == 0
    for part in (
        "8 results of 6 studies",
        "cluster-robust standard errors (CR2",
        "With the assumed correlation inside studies varied",
        "Treating all results as independent would have given",
        "Leaving one out",
    ):
        assert part in said.text


def test_ignoring_the_nesting_is_warned_about_and_ends_with_status_one(steelyard, tmp_path: Path) -> None:
    (tmp_path / "effects.csv").write_text(NESTED, encoding="utf-8")
    said = steelyard("compute", "pool", "effects.csv", "--as-independent")
    assert said.status == 1
    assert "people are counted more than once" in said.text


def test_groups_and_moderators_respect_the_nesting(steelyard, tmp_path: Path) -> None:
    (tmp_path / "effects.csv").write_text(NESTED, encoding="utf-8")
    by = steelyard("compute", "pool", "effects.csv", "--by", "kind")
    assert "The groups of kind differ with p" in by.text
    assert "not an experiment" in by.text
    year = steelyard("compute", "pool", "effects.csv", "--moderator", "year")
    assert "Pustejovsky & Tipton 2022 (three-level, CR2)" in year.text


def test_a_published_pool_comes_out_of_the_calculator(steelyard) -> None:
    """Liu & Latham 2009, physical function, 33 effects: published 0.14 [0.05, 0.22]; common effect recomputed."""
    file = Path(__file__).parents[1] / "statistics" / "liu_latham_2009_physical_function_33.csv"
    said = steelyard(
        "compute", "pool", file, "--estimate", "y", "--variance", "v", "--method", "common", "--json"
    )
    pooled = figures(said.text)["pooled effect"]
    assert [pooled[x] for x in ("value", "low", "high")] == pytest.approx([0.1352, 0.0504, 0.2200], abs=5e-5)
    assert figures(said.text)["I²"]["value"] == pytest.approx(10.9, abs=0.05)


def test_ratios_with_intervals_are_pooled_as_logarithms(steelyard, tmp_path: Path) -> None:
    rows = "study;rr;low;high\n[Invented] A;0,80;0,60;1,07\n[Invented] B;0,90;0,70;1,16\n[Invented] C;0,70;0,45;1,09\n"
    (tmp_path / "ratios.csv").write_text(rows, encoding="utf-8")
    said = steelyard("compute", "pool", "ratios.csv", "--estimate", "rr", "--ratio", "--json")
    assert said.status == 0, said.text
    pooled = figures(said.text)["pooled effect"]
    assert 0.75 < pooled["value"] < 0.90
    assert pooled["low"] < pooled["value"] < pooled["high"]
    forgotten = steelyard("compute", "pool", "ratios.csv", "--estimate", "rr")
    assert "Are they ratios? Then add --ratio" in forgotten.text


@pytest.mark.parametrize(
    ("content", "options", "says"),
    [
        ("study,yi,vi\nA,0.1,0.02\nB,,0.02\n", [], "line 3: The column yi is empty"),
        ("study,yi,vi\nA,0.1,0.02\nB,x,0.02\n", [], "line 3: The column yi holds 'x'"),
        ("study,yi,vi\nA,0.1,0\n", [], "line 2: The variance is 0"),
        ("study,yi\nA,0.1\n", [], "No column holds a variance"),
        ("study,score,vi\nA,0.1,0.2\n", [], "Name it with --estimate"),
        ("study,yi,vi\nA,0.1,0.02\n", ["--estimate", "zz"], "There is no column 'zz'"),
        ("study,yi,vi\n", [], "no row under the headings"),
        ("study,yi,vi,yi\nA,1,2,3\n", [], "Two columns are called 'yi'"),
        ("study,yi,vi\nA,0.1\n", [], "line 2: 2 cells under 3 headings"),
        ("study,yi,low,high\nA,0.1,0.5,0.2\n", [], "line 2: 0.5 to 0.2 is no interval"),
        ("just words\n", [], "This is no table"),
        (
            "study,yi,vi\nA,0.1,0.02\nB,0.1,0.02\n",
            ["--by", "study", "--moderator", "yi"],
            "--by and --moderator",
        ),
        ("study,yi,vi\nA,-0.1,0.02\n", ["--ratio"], "has no logarithm"),
        ("study,yi,vi\nA,0.1,0.02\nB,0.1,0.02\n", ["--method", "XX"], "XX"),
    ],
)
def test_a_table_that_cannot_be_pooled_is_told_with_its_place(
    steelyard, tmp_path: Path, content: str, options: list[str], says: str
) -> None:
    (tmp_path / "t.csv").write_text(content, encoding="utf-8")
    said = steelyard("compute", "pool", "t.csv", *options)
    assert said.status == 2
    assert says in said.text


def test_a_trend_holds_only_over_the_range_studied(steelyard) -> None:
    levels = ("--at", "0=40 9 14", "--at", "30=46 10 14", "--at", "60=53 11 14")
    said = steelyard("compute", "trend", *levels, "--same-people", "--r", "0.8")
    assert said.status == 0
    assert "Rises from 0 to 60" in said.text
    assert "Nothing is known below 0 or above 60" in said.text
    assumed = steelyard("compute", "trend", *levels, "--same-people", "--outcome", "activation")
    assert "With the correlation varied" in assumed.text


def test_trends_of_several_studies_are_pooled(steelyard, tmp_path: Path) -> None:
    rows = ["study,angle,mean,sd,n"]
    rows += [
        f"[Invented] {s},{a},{40 + 0.2 * a + shift},8,12"
        for s, shift in (("A", 0), ("B", 3), ("C", -2))
        for a in (0, 30, 60)
    ]
    (tmp_path / "angles.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    said = steelyard(
        "compute", "trend", "angles.csv", "--same-people", "--r", "0.8", "--scale", "difference", "--json"
    )
    assert said.status == 0, said.text
    assert figures(said.text)["per unit of the level"]["value"] == pytest.approx(0.2, abs=1e-9)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ([], "Give either a file or levels"),
        (["--at", "30 40 9 14"], "names no level"),
        (["--at", "30=40 9 14"], "needs at least two conditions"),
        (["--at", "0=40 9 14", "--at", "30=41 9 14", "--same-people"], "--r is missing"),
        (["--at", "0=40 9 14", "--at", "30=41 9 14", "--shape", "quadratic"], "at least 4"),
        (["--at", "0=40 9 14", "--at", "30=41 9 14", "--shape", "wave"], "--shape"),
        (["--at", "0=0 9 14", "--at", "30=41 9 14"], "ratio"),
    ],
)
def test_a_trend_says_what_it_needs(steelyard, options: list[str], says: str) -> None:
    said = steelyard("compute", "trend", *options)
    assert said.status == 2
    assert says in said.text


@pytest.mark.parametrize("margin", ["0.2", "20"])
def test_a_percentage_typed_as_a_ratio_makes_nothing_the_same(steelyard, margin) -> None:
    ask = ("compute", "sameness", "--estimate", "1.04", "--interval", "0.95 1.14", "--ratio")
    refused = steelyard(*ask, "--margin", margin)
    assert refused.status == 2
    assert "1.2 for 20 %" in refused.text


def test_sameness_is_never_claimed_from_an_unclear_difference(steelyard) -> None:
    same = steelyard("compute", "sameness", "--estimate", "0.03", "--se", "0.07", "--margin", "0.2")
    assert same.text.startswith("The same within the margin")
    unclear = steelyard("compute", "sameness", "--estimate", "0.05", "--se", "0.3", "--margin", "0.2")
    assert unclear.text.startswith("Neither the same within the margin nor different")
    assert "not evidence of sameness" in unclear.text
    small = steelyard(
        "compute", "sameness", "--estimate", "1.05", "--interval", "1.02 1.08", "--ratio", "--margin", "1.1"
    )
    assert small.text.startswith("A difference, but one too small to matter")
    assert re.search(r"margin +– +0\.909 to 1\.10", small.text)
    none = steelyard("compute", "sameness", "--estimate", "0.03", "--se", "0.07")
    assert none.status == 2
    assert "--margin is missing" in none.text


@pytest.mark.parametrize(
    ("options", "people"),
    [
        # Cohen 1988, table 2.4.1: 64 per group for d = 0.5 at a power of 0.80 (two-sided 0.05).
        (["--d", "0.5"], 64),
        # Machin et al.: 26 per group for d = 0.8 (from memory).
        (["--d", "0.8"], 26),
        # 34 pairs for dz = 0.5 (from memory); r = 0.5 makes dz = d.
        (["--d", "0.5", "--same-people", "--r", "0.5"], 34),
    ],
)
def test_people_needed(steelyard, options: list[str], people: int) -> None:
    said = steelyard("compute", "power", *options, "--json")
    assert next(iter(figures(said.text).values()))["value"] == people


def test_power_of_a_planned_study_and_people_lost(steelyard) -> None:
    said = steelyard("compute", "power", "--d", "0.5", "--n", "64", "--json")
    assert figures(said.text)["power"]["value"] == pytest.approx(0.8015, abs=5e-4)
    said = steelyard("compute", "power", "--d", "0.5", "--lost", "0.2")
    assert "160" in said.text
    assert steelyard("compute", "power", "--d", "0.5", "--same-people").status == 2
    assert "--d is missing" in steelyard("compute", "power").text


def test_fragility_of_counts_and_of_a_pool(steelyard, tmp_path: Path) -> None:
    said = steelyard("compute", "fragility", "--events-a", "1/40", "--events-b", "9/40")
    assert "with another outcome would lift Fisher's p above 0.05" in said.text
    unclear = steelyard("compute", "fragility", "--events-a", "5/40", "--events-b", "9/40")
    assert "nothing to overturn" in unclear.text
    rows = "study,yi,vi\n[Invented] A,0.5,0.04\n[Invented] B,0.6,0.05\n[Invented] C,0.4,0.03\n[Invented] D,0.5,0.04\n"
    (tmp_path / "e.csv").write_text(rows, encoding="utf-8")
    assert "The pooled interval shuts out 0." in steelyard("compute", "fragility", "e.csv").text
    (tmp_path / "n.csv").write_text(NESTED, encoding="utf-8")
    assert steelyard("compute", "fragility", "n.csv").status == 2
    assert steelyard("compute", "fragility").status == 2


@pytest.mark.parametrize(
    ("options", "flagged"),
    [
        (["--t", "2.31", "--df", "18", "--p", "0.03"], False),
        (["--t", "2.31", "--df", "18", "--p", "0.01"], True),
        (["--t", "2.31", "--df", "18", "--p", "<0.05"], False),
        (["--f", "4.2", "--df1", "2", "--df", "27", "--p", "0.026"], False),
        (["--mean", "3.48", "--n", "20", "--whole-numbers"], True),
        (["--mean", "3.45", "--n", "20", "--whole-numbers"], False),
        (["--estimate", "0.45", "--interval", "0.10 0.80"], False),
        (["--estimate", "0.45", "--interval", "0.10 1.40"], True),
        (["--estimate", "1.5", "--interval", "1.0 2.25", "--ratio"], False),
        (["--before", "10.0", "--after", "12.0", "--change", "2.0"], False),
        (["--before", "10.0", "--after", "12.0", "--change", "-2.0"], True),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--percent", "7.1"], False),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--percent", "12"], True),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--t", "1.69"], False),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--t", "4.1"], True),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--same-people", "--t", "4.1"], False),
        (["--a", "112.5 14.2 20", "--b", "105 13.8 20", "--same-people", "--t", "0.9"], True),
        (["--analysed", "21", "--recruited", "20"], True),
        (["--mean", "81.0", "--sd", "2.4", "--n", "20", "--unit", "kg"], True),
        (["--mean", "178.2", "--sd", "6.1", "--n", "20", "--unit", "cm"], False),
    ],
)
def test_a_printed_line_is_flagged_when_it_should_be_and_only_then(
    steelyard, options: list[str], flagged: bool
) -> None:
    said = steelyard("compute", "check", *options)
    assert said.status == (1 if flagged else 0), said.text
    assert ("Check this figure" in said.text) is flagged


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ([], "allow no check by themselves"),
        (["--t", "2.3", "--p", "0.03"], "--df is missing"),
        (["--t", "2.3", "--df", "18"], "--p is missing"),
        (["--f", "2.3", "--df", "18", "--p", "0.1"], "--df1 is missing"),
        (["--t", "2.3", "--df", "18", "--p", "tiny"], "is no p-value"),
        (["--mean", "3.4", "--whole-numbers"], "--n is missing"),
        (["--estimate", "3.4"], "--interval is missing"),
        (["--change", "3.4"], "--before and --after"),
        (["--a", "3 1 10"], "--b is missing"),
    ],
)
def test_a_check_says_what_it_needs(steelyard, options: list[str], says: str) -> None:
    said = steelyard("compute", "check", *options)
    assert said.status == 2
    assert says in said.text


@pytest.mark.parametrize(
    "name", ["effect", "convert", "pool", "trend", "sameness", "power", "fragility", "check"]
)
def test_every_command_has_an_example(steelyard, name: str) -> None:
    said = steelyard("compute", name, "--help")
    assert said.status == 0
    assert f"Example: steelyard compute {name}" in " ".join(said.text.split())
