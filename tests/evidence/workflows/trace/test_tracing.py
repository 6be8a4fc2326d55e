"""Traces: every figure shown is the one in use, from the cell in the paper to the sentence, and back."""

import json
import math
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Result
from evidence.errors import BadInput, NotFound
from evidence.statistics.effect import Step
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import Statement, leave_study_out, state_claim
from evidence.workflows.effects.printed import summarise
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.trace.traced_figures import raw_line, show_figure
from evidence.workflows.trace.tracing import ClaimTrace, trace_claim, trace_result
from evidence.workflows.trace.tracing_text import claim_trace_text, result_trace_text
from evidence.workflows.weigh.weighing import weigh

DEMO = Path(str(files("evidence.workflows") / "demo_data"))
STUDY = """
steelyard: study/1
key: mixed
title: "[Invented] A study"
invented: true
design: randomised_crossover
pairing: within
randomised: "yes"
people:
  - {key: all, recruited: 16, analysed: 16, training_status: trained, health: healthy}
conditions:
  - {key: near, exercise: leg_extension, printed: extension near, details: {load: 10RM}}
  - {key: far, exercise: leg_extension, printed: extension far, details: {load: 10RM}}
  - {key: press, exercise: leg_press, printed: leg press, details: {load: 10RM}}
outcomes:
  - {key: emg, construct: activation, instrument: surface EMG, unit: "%MVIC", normalisation: mvc_standard_isometric,
     amplitude: mean}
  - {key: top, construct: activation, instrument: surface EMG, unit: "%MVIC", normalisation: mvc_standard_isometric,
     amplitude: peak}
tables:
  - outcome: emg
    timepoint: acute
    locator: Table 4
    read_from: full text
    spread: SE
    columns: [near, far, press]
    rows:
      - {region: rectus_femoris, cells: ["80 (5)", "60 (4)", "40 (3)"]}
  - outcome: top
    timepoint: acute
    locator: Table 5
    read_from: full text
    spread: SD
    columns: [near, far, press]
    rows:
      - {region: rectus_femoris, cells: ["180 (25)", "160 (24)", "140 (23)"]}
"""


@pytest.fixture
def demonstration(stocked: Catalogue) -> Catalogue:
    """The invented studies of the demonstration with its claims."""
    for statement in statements_from_file(DEMO / "claims.yaml"):
        state_claim(stocked, statement, "Sam")
    return stocked


@pytest.fixture
def mixed(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    """One study with standard errors, two variants of an exercise, and a second outcome."""
    path = tmp_path / "mixed.yaml"
    path.write_text(STUDY, "utf-8")
    load_study(catalogue, path, "Sam")
    statement = Statement(
        exercise="leg extension",
        comparator="leg press",
        region="rectus femoris",
        outcome="activation",
        key="both",
    )
    state_claim(catalogue, statement, "Sam")
    return catalogue


def step(steps: tuple[Step, ...], name: str) -> Step:
    return next(s for s in steps if s.name == name)


CLAIMS = [s.key or "" for s in statements_from_file(DEMO / "claims.yaml")]


@pytest.mark.parametrize("key", CLAIMS)
def test_the_figures_of_a_trace_are_those_of_the_weighing(demonstration: Catalogue, key: str) -> None:
    trace, weighing = trace_claim(demonstration, key), weigh(demonstration, key)
    assert [s.key for s in trace.studies] == [c.study for c in weighing.contributions]
    for study, contribution in zip(trace.studies, weighing.contributions, strict=True):
        assert (study.estimate, study.variance) == (contribution.estimate, contribution.variance)
        assert study.weight == contribution.weight
        if study.interval:
            assert step(study.interval, "lower limit").value == contribution.low
            assert step(study.interval, "upper limit").value == contribution.high
    assert trace.sentence == weighing.wordings.plain
    assert trace.domains == weighing.confidence.domains
    for shown in trace.shown:
        assert shown.source.removeprefix("shown as ").lstrip("−") in trace.sentence


@pytest.mark.parametrize("key", CLAIMS)
def test_every_printed_figure_stands_in_the_file_that_it_came_from(
    demonstration: Catalogue, key: str
) -> None:
    for study in trace_claim(demonstration, key).studies:
        text = (DEMO / "studies" / f"{study.key}.yaml").read_text("utf-8")
        if study.key == "plate-2017":
            text = (DEMO / "pasted_table.txt").read_text("utf-8")
        assert study.contrasts
        for contrast in study.contrasts:
            assert contrast.figures
            for figure in contrast.figures:
                assert figure.printed in text
                assert figure.place in ("Table 1", "Table 2", "Table 3")
                assert figure.read_by == "Sam" and figure.read_from == "full text"


def test_the_joining_of_two_portions_shows_what_is_averaged(demonstration: Catalogue) -> None:
    (study,) = trace_claim(demonstration, "seated-curl-activation").studies
    average, spread = study.joining
    inputs = dict(average.inputs)
    assert average.value == pytest.approx((float(inputs["y1"]) + float(inputs["y2"])) / 2)
    # By hand from Table 2 of the invented study.
    assert inputs["y1"] == pytest.approx(math.log(68.2 / 61.5))
    v = {name: float(value) for name, value in spread.inputs}
    assert spread.value == pytest.approx(
        (v["v1"] + v["v2"] + 2 * v["rho"] * math.sqrt(v["v1"] * v["v2"])) / 4
    )
    assert spread.value == study.variance


def test_the_pooling_can_be_worked_out_again_from_what_is_shown(demonstration: Catalogue) -> None:
    trace = trace_claim(demonstration, "seated-curl-growth")
    tau2 = step(trace.pooling, "tau²").value
    raw = [1 / (s.variance + tau2) for s in trace.studies if s.variance is not None]
    shares = [s.value for s in trace.pooling if s.name.startswith("weight of ")]
    assert shares == pytest.approx([w / sum(raw) for w in raw])
    pooled = step(trace.pooling, "pooled estimate")
    assert pooled.value == pytest.approx(
        sum(w * float(y) for w, (_, y) in zip(shares, pooled.inputs, strict=True))
    )
    error = step(trace.pooling, "standard error")
    squares = sum(w * (float(y) - pooled.value) ** 2 for w, (_, y) in zip(shares, pooled.inputs, strict=True))
    assert error.value == pytest.approx(math.sqrt(squares / 2))  # k - 1 = 2
    low = step(trace.pooling, "lower limit")
    given_ = {name: float(value) for name, value in low.inputs}
    assert low.value == pytest.approx(given_["estimate"] - given_["q"] * given_["SE"])
    assert given_["q"] == pytest.approx(4.302653, abs=1e-6)  # t, 2 df, two-sided 5 %: any table of t


def test_a_standard_error_is_traced_to_the_sd_in_use(mixed: Catalogue) -> None:
    (study,) = trace_claim(mixed, "both").studies
    figure = study.contrasts[0].figures[0]
    assert figure.conversions[0].name == "SD from SE"
    assert figure.sd == pytest.approx(5 * math.sqrt(16)) == figure.conversions[0].value
    assert (figure.n, figure.n_from) == (16, "analysed in its group")


def test_every_contrast_of_a_study_shows_its_steps_and_then_how_they_were_joined(mixed: Catalogue) -> None:
    (study,) = trace_claim(mixed, "both").studies
    assert [c.estimate for c in study.contrasts] == pytest.approx([math.log(80 / 40), math.log(60 / 40)])
    assert all(c.steps for c in study.contrasts)
    spread = dict(study.joining[-1].inputs)
    assert study.joining[-1].value == study.variance
    # The joint covariance by hand: log means with r = 0.5 between the conditions (delta method, n = 16).
    cv = [5 * 4 / 80, 4 * 4 / 60, 3 * 4 / 40]
    covariance = (cv[2] ** 2 + 0.5 * (cv[0] * cv[1] - cv[0] * cv[2] - cv[1] * cv[2])) / 16
    assert spread["c12"] == pytest.approx(covariance)
    assert study.variance == pytest.approx((float(spread["v1"]) + float(spread["v2"]) + 2 * covariance) / 4)
    assert study.estimate == pytest.approx((math.log(80 / 40) + math.log(60 / 40)) / 2)
    assert "not averaged with what is shown" in " ".join(trace_claim(mixed, "both").notes)


def test_figures_that_give_another_scale_are_not_shown(catalogue: Catalogue, tmp_path: Path) -> None:
    text = (DEMO / "studies" / "chalk-2021.yaml").read_text("utf-8").replace("references: [chalk2021]", "")
    text += """
results:
  - {outcome: thickness, region: hamstrings, condition: seated, timepoint: over, statistic: percent_change, value: 13.2,
     spread: 4.1, spread_kind: SD, printed: "13.2 (4.1)", locator: "p. 6", read_from: full text}
  - {outcome: thickness, region: hamstrings, condition: lying, timepoint: over, statistic: percent_change, value: 8.6,
     spread: 4.0, spread_kind: SD, printed: "8.6 (4.0)", locator: "p. 6", read_from: full text}
"""
    path = tmp_path / "chalk.yaml"
    path.write_text(text, "utf-8")
    load_study(catalogue, path, "Sam")
    for key, scale in (("standard", "smd"), ("percent", "percent-change-difference")):
        statement = Statement(
            exercise="seated leg curl", comparator="lying leg curl", region="hamstrings", outcome="growth", key=key,
            scale=scale, direction="differs" if key == "percent" else "more",
        )  # fmt: skip
        state_claim(catalogue, statement, "Sam")
    (one,), (other,) = (trace_claim(catalogue, key).studies for key in ("standard", "percent"))
    assert [f.printed for f in one.contrasts[0].figures] == [
        "34.1 (5.2)",
        "38.6 (5.4)",
        "33.8 (5.0)",
        "36.7 (5.3)",
    ]
    assert [f.printed for f in other.contrasts[0].figures] == ["13.2 (4.1)", "8.6 (4.0)"]


def test_a_pasted_figure_is_traced_to_its_line_in_the_table(demonstration: Catalogue) -> None:
    trace = trace_result(demonstration, "plate-2017", "emg-semitendinosus-nordic-acute")
    assert trace.figure.table == "pasted_table.txt"
    assert trace.figure.line == "Semitendinosus | 91.7 (24.0) | 49.2 (15.8)* | 80.3 (22.1)"
    (feed,) = trace.feeds
    assert feed.claim == "nordic-rdl-activation"
    assert [c.region for c in feed.contrasts] == ["semitendinosus"]
    assert feed.contrasts[0].estimate == pytest.approx(math.log(91.7 / 49.2))
    marked = trace_result(demonstration, "plate-2017", "emg-semitendinosus-rdl-acute").figure
    assert "P < 0.05" in marked.note


def test_a_figure_of_a_retracted_study_says_why_it_feeds_nothing(demonstration: Catalogue) -> None:
    retracted = trace_result(demonstration, "sleeve-2015", "emg.rectus_femoris.extension.acute")
    assert not retracted.feeds
    assert dict(retracted.unused)["extension-activation"].startswith(
        "the study is left out: the report is retracted"
    )


def test_a_figure_of_an_outcome_that_is_not_averaged_says_so(mixed: Catalogue) -> None:
    peak = trace_result(mixed, "mixed", "top.rectus_femoris.near.acute")
    assert dict(peak.unused)["both"] == "another outcome of the study is used; they are not averaged"
    used = trace_result(mixed, "mixed", "emg.rectus_femoris.near.acute")
    assert [f.claim for f in used.feeds] == ["both"]
    assert [(c.exercise, c.comparator) for c in used.feeds[0].contrasts] == [("extension near", "leg press")]


def test_a_study_left_out_by_a_person_is_named_in_both_directions(demonstration: Catalogue) -> None:
    leave_study_out(demonstration, "seated-curl-growth", "dumbbell-2022", "runners, not lifters", "Ada")
    assert any(
        item.reason == "runners, not lifters"
        for item in trace_claim(demonstration, "seated-curl-growth").left_out
    )
    trace = trace_result(demonstration, "dumbbell-2022", "thickness.hamstrings.seated.pre")
    assert "runners, not lifters (Ada)" in dict(trace.unused)["seated-curl-growth"]


def test_a_claim_that_leans_on_a_stand_in_is_fed_by_it(demonstration: Catalogue) -> None:
    trace = trace_result(demonstration, "kettle-2018", "emg.gluteus_maximus.thrust.acute")
    assert [f.claim for f in trace.feeds] == ["thrust-growth"]
    assert not trace_result(demonstration, "kettle-2018", "emg.vastus_lateralis.thrust.acute").feeds


def test_an_estimate_without_spread_is_traced_and_not_pooled(catalogue: Catalogue, tmp_path: Path) -> None:
    text = STUDY.replace("spread: SE", "spread: none").replace(
        '"80 (5)", "60 (4)", "40 (3)"', '"80", "60", "40"'
    )
    path = tmp_path / "bare.yaml"
    path.write_text(text, "utf-8")
    load_study(catalogue, path, "Sam")
    statement = Statement(
        exercise="leg extension",
        comparator="leg press",
        region="rectus femoris",
        outcome="activation",
        key="bare",
    )
    state_claim(catalogue, statement, "Sam")
    (study,) = trace_claim(catalogue, "bare").studies
    assert study.variance is None and study.weight is None
    assert study.estimate == pytest.approx((math.log(2) + math.log(1.5)) / 2) == study.joining[0].value
    assert "no spread was printed" in study.contrasts[0].figures[0].problem
    assert "without an interval" in claim_trace_text(trace_claim(catalogue, "bare"))


def test_names_that_are_not_there_are_told(demonstration: Catalogue) -> None:
    with pytest.raises(BadInput, match="is a study, not a claim"):
        trace_claim(demonstration, "anvil-2019")
    with pytest.raises(NotFound, match="Nearest: seated-curl-growth"):
        trace_claim(demonstration, "seated-curl-grwth")
    with pytest.raises(NotFound, match="Nearest"):
        trace_result(demonstration, "anvil-2019", "emg.semitendinosus.seated")
    with pytest.raises(NotFound):
        trace_result(demonstration, "nobody-1999", "x")


def shown_claim(trace: ClaimTrace) -> str:
    return " ".join(claim_trace_text(trace).split())


def test_the_text_walks_from_the_page_to_the_sentence(demonstration: Catalogue) -> None:
    text = shown_claim(trace_claim(demonstration, "seated-curl-activation"))
    places = [
        text.index(part)
        for part in (
            'printed "68.2 (18.4)" %MVIC (SD)',
            "Table 2; read from full text by Sam",
            "log ratio of means = 0.103407",
            "Lajeunesse 2011",
            "r = 0.5 was assumed",
            "average within the study = 0.110281",
            "POOLING",
            "VERDICT",
            "CONFIDENCE",
            "100·(exp(x) − 1)",
            "IN THE SENTENCE",
        )
    ]
    assert places == sorted(places)
    back = " ".join(
        result_trace_text(
            trace_result(demonstration, "anvil-2019", "emg.semitendinosus.seated.acute")
        ).split()
    )
    assert "FEEDS 1 claim" in back and "seated-curl-activation" in back


spreads = st.sampled_from(["SD", "SE", "CI", "IQR", "range"])


@given(
    kind=spreads,
    mean=st.floats(1, 500),
    wide=st.floats(0.1, 100),
    n=st.integers(3, 200),
    off=st.floats(0.3, 0.7),
)
def test_the_conversion_shown_ends_in_the_sd_in_use(
    kind: str, mean: float, wide: float, n: int, off: float
) -> None:
    result = Result(
        study_id=1, key="r", outcome_id=1, condition_id=1, timepoint="acute", statistic="mean", value=mean, printed="x",
        locator="Table 1", read_from="full text", read_by="Sam", spread_kind=kind,
        spread=wide if kind in ("SD", "SE") else None,
        low=mean - off * wide if kind in ("CI", "IQR", "range") else None,
        high=mean + (1 - off) * wide if kind in ("CI", "IQR", "range") else None,
    )  # fmt: skip
    converted = summarise(result, n)
    steps, summary = converted.steps, converted.summary
    by_name = {s.name: s.value for s in steps}
    if kind == "SD":
        assert not steps and summary.sd == wide
    elif kind in ("SE", "CI"):
        assert [*by_name.values()] == [summary.sd]
    else:
        assert (by_name["mean"], by_name["SD"]) == (summary.mean, summary.sd)


@pytest.mark.parametrize(
    "cell", [None, "", "line", "line x, column 2", "line 9, column 1", "B3", "line 0, column 1"]
)
def test_a_cell_that_is_no_line_of_the_table_shows_nothing(cell: str | None) -> None:
    assert raw_line("a\tb\n1\t2\n", cell) == ""
    assert raw_line("a\tb\n1\t2\n", "line 2, column 1") == "1 | 2"


def test_figures_have_a_real_minus_sign() -> None:
    assert show_figure(-0.25) == "−0.25"
    assert show_figure(-1.5e-7) == "−1.5e−07"


def test_the_command_prints_text_or_data(demonstration: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    import typer

    from evidence.cli import tracing as command

    monkeypatch.setattr(command, "opened", lambda: demonstration)
    app = typer.Typer()
    app.callback()(lambda: None)
    command.register(app)
    run = CliRunner().invoke
    assert "IN THE SENTENCE" in run(app, ["trace", "seated-curl-growth"]).output
    data = json.loads(run(app, ["trace", "seated-curl-growth", "--json"]).output)
    assert data["studies"][0]["contrasts"][0]["figures"][0]["printed"] == "612.4 (118.0)"
    back = json.loads(run(app, ["trace", "plate-2017/emg-semitendinosus-nordic-acute", "--json"]).output)
    assert back["feeds"][0]["claim"] == "nordic-rdl-activation"
    missing = run(app, ["trace", "nothing"])
    assert missing.exit_code == 3 and "Problem:" in missing.output
