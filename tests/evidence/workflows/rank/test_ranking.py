"""Rankings of a region's exercises: one model over all studies, checked by hand and against claims."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from evidence.appraisal.metrics import find_metric
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.catalogue.tables import Condition
from evidence.errors import BadInput, NotFound, NumberProblem
from evidence.publishing.rankings import Pair
from evidence.statistics.conditions import join_same_people
from evidence.statistics.effect import Effect, Metric, Summary
from evidence.statistics.paired import log_ratio_of_means
from evidence.vocabulary import load_vocabulary
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.documents.ranking_files import write_ranking
from evidence.workflows.effects.contrasts import Contrast
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.rank.ranking import rank
from evidence.workflows.rank.ranking_notes import tell_apart, tell_order
from evidence.workflows.relevance.contributions import study_effect
from evidence.workflows.relevance.ranked_studies import (
    Block,
    bearing_on_region,
    by_place,
    gather_pairs,
    join_pairs,
    lump,
    symmetric_root,
)
from evidence.workflows.weigh.weighing import weigh

CURLS = ("lying leg curl", "seated leg curl", "Nordic hamstring exercise", "Romanian deadlift")
STUDY = """
steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
design: {design}
pairing: {pairing}
randomised: "yes"
people:
  - {{key: all, recruited: {n}, analysed: {n}, training_status: trained, health: healthy}}
conditions:
{conditions}
outcomes:
  - {{key: emg, construct: {construct}, instrument: surface EMG, unit: "{unit}", normalisation: {normalisation}}}
tables:
  - outcome: emg
    timepoint: acute
    locator: Table 1
    read_from: full text
    spread: {spread}
    columns: [{columns}]
    rows:
{rows}
"""


def add_study(
    catalogue: Catalogue,
    folder: Path,
    key: str,
    conditions: dict[str, tuple[str, str]],
    figures: dict[str, list[str]],
    *,
    pairing: str = "within",
    n: int = 12,
    tail: str = "",
    **changes: str,
) -> None:
    """Store an invented study. conditions: key -> (exercise, load); figures: region -> cells."""
    per_arm = n if pairing == "within" else n // len(conditions)
    lines = [
        f"  - {{key: {name}, exercise: {exercise}, printed: {name}, n: {per_arm}, details: {{load: {load}}}}}"
        for name, (exercise, load) in conditions.items()
    ]
    rows = [f"      - {{region: {region}, cells: {json.dumps(cells)}}}" for region, cells in figures.items()]
    values = {
        "design": "randomised_crossover" if pairing == "within" else "randomised_parallel",
        "construct": "activation",
        "unit": "%MVIC",
        "normalisation": "mvc_standard_isometric",
        "spread": "SD",
    } | changes
    path = folder / f"{key}.yaml"
    path.write_text(
        STUDY.format(
            key=key,
            n=n,
            pairing=pairing,
            conditions="\n".join(lines),
            columns=", ".join(conditions),
            rows="\n".join(rows),
            **values,
        )
        + tail,
        "utf-8",
    )
    load_study(catalogue, path, "Sam")


def claim_on(catalogue: Catalogue, a: str, b: str, region: str, outcome: str) -> str:
    return state_claim(
        catalogue, Statement(exercise=a, comparator=b, region=region, outcome=outcome), "Sam"
    ).key


def test_what_no_study_connects_is_ranked_apart_and_the_gap_is_named(stocked: Catalogue) -> None:
    ranking = rank(stocked, "hamstrings", "activation")
    assert [{e.name for e in part.exercises} for part in ranking.parts] == [
        set(CURLS),
        {"kettlebell swing", "good morning"},
    ]
    assert any("2 parts that no study connects" in note for note in ranking.notes)
    assert ranking.invented


def test_a_direct_difference_is_the_one_that_a_claim_on_it_has(stocked: Catalogue) -> None:
    key = claim_on(stocked, "seated leg curl", "lying leg curl", "hamstrings", "activation")
    weighing = weigh(stocked, key)
    effect = study_effect(weighing.studies[0], weighing.scale)
    assert effect is not None
    seated = next(
        e
        for e in rank(stocked, "hamstrings", "activation", "lying leg curl").parts[0].exercises
        if e.name == "seated leg curl"
    )
    assert seated.estimate == pytest.approx(effect.estimate, rel=1e-9)
    low, high = effect.interval()
    # The same normal interval from the same variance: equal to rounding error.
    assert (seated.low, seated.high) == (pytest.approx(low, rel=1e-9), pytest.approx(high, rel=1e-9))


def test_within_person_and_between_person_studies_stand_in_one_model(stocked: Catalogue) -> None:
    key = claim_on(stocked, "seated leg curl", "lying leg curl", "hamstrings", "growth")
    pooled = weigh(stocked, key).pooled
    assert pooled is not None
    (part,) = rank(stocked, "hamstrings", "growth", "lying leg curl").parts
    seated = next(e for e in part.exercises if e.name == "seated leg curl")
    # With two exercises the network model is random-effects pooling; both REML searches end within 1e-6.
    assert seated.estimate == pytest.approx(pooled.estimate, rel=1e-5)
    assert part.tau2 == pytest.approx(pooled.tau2, rel=1e-4)
    assert (part.q, part.q_df) == (pytest.approx(pooled.q, rel=1e-9), 2)
    assert part.people == 80


def test_an_indirect_difference_goes_by_way_of_the_shared_exercise(stocked: Catalogue) -> None:
    (part, _) = rank(stocked, "hamstrings", "activation", "lying leg curl").parts
    by_name = {e.name: e for e in part.exercises}
    pair = next(
        p for p in part.pairs if {p.first, p.second} == {"Nordic hamstring exercise", "seated leg curl"}
    )
    nordic, seated = by_name["Nordic hamstring exercise"], by_name["seated leg curl"]
    assert nordic.estimate is not None and seated.estimate is not None
    assert pair.k_direct == 0
    assert pair.estimate == pytest.approx(nordic.estimate - seated.estimate)
    # By hand: two different studies, so the squared half-widths add.
    half = [(e.high - e.low) / 2 for e in (nordic, seated) if e.high is not None and e.low is not None]
    assert (pair.high - pair.low) / 2 == pytest.approx(math.hypot(*half), rel=1e-9)


def test_ties_and_clear_differences_are_named(stocked: Catalogue) -> None:
    told = " ".join(rank(stocked, "hamstrings", "activation").parts[0].told)
    assert (
        "Not told apart (intervals of their differences hold zero): Nordic hamstring exercise and seated"
        in told
    )
    assert "Lying leg curl stands clear of Romanian deadlift" in told


def test_a_change_of_the_assumed_correlation_is_told(stocked: Catalogue) -> None:
    ranking = rank(stocked, "hamstrings", "activation")
    low = next(row for row in ranking.orders if row.pick == "low")
    assert low.correlations == (0.3,)
    assert "seated leg curl and lying leg curl can no longer be told apart" in low.changes
    assert not ranking.order_holds


def test_a_retracted_study_is_left_out_and_named(stocked: Catalogue) -> None:
    ranking = rank(stocked, "rectus femoris", "activation")
    assert not ranking.parts
    assert ("Sleeve 2015 (invented)", "the report is retracted") in [
        (o.label, o.reason) for o in ranking.left_out
    ]
    assert any("variants of one exercise" in o.reason for o in ranking.left_out)
    assert "No study in the catalogue gives a comparison" in ranking.notes[0]


def test_loads_that_differ_are_named_as_what_forbids_raw_ranking(stocked: Catalogue) -> None:
    forbids = " ".join(rank(stocked, "hamstrings", "activation").forbids)
    assert "Only differences within each study are used" in forbids
    assert "Loads differ between studies" in forbids
    assert "Plate et al. 2017: its conditions were not done with the same load (body weight, 10RM)" in forbids


def test_two_exercises_are_told_to_be_a_comparison(stocked: Catalogue) -> None:
    part = rank(stocked, "gluteus maximus", "activation").parts[0]
    assert part.told[0].startswith("Two exercises are a comparison, not a ranking")
    assert "One study" in part.notes[0]


def test_the_comparator_asked_for_is_used_and_an_absent_one_is_refused(stocked: Catalogue) -> None:
    ranking = rank(stocked, "hamstrings", "activation", "RDL")
    assert ranking.parts[0].comparator == "Romanian deadlift"
    assert all(e.estimate is None or e.estimate > 0 for e in ranking.parts[0].exercises)
    with pytest.raises(NotFound, match="It has: "):
        rank(stocked, "hamstrings", "activation", "hip thrust")
    with pytest.raises(NotFound):
        rank(stocked, "no such muscle", "activation")


def test_the_same_catalogue_gives_the_same_ranking(stocked: Catalogue) -> None:
    assert rank(stocked, "hamstrings", "activation") == rank(stocked, "hamstrings", "activation")


def test_conditions_of_one_exercise_are_averaged_and_it_is_said(catalogue: Catalogue, tmp_path: Path) -> None:
    add_study(
        catalogue,
        tmp_path,
        "angles",
        {"near": ("leg_extension", "10RM"), "far": ("leg_extension", "10RM"), "press": ("leg_press", "10RM")},
        {"rectus_femoris": ["80 (20)", "60 (15)", "40 (10)"]},
    )
    (part,) = rank(catalogue, "rectus femoris", "activation", "leg press").parts
    extension = next(e for e in part.exercises if e.name == "leg extension")
    by_hand = (math.log(80 / 40) + math.log(60 / 40)) / 2
    assert extension.estimate == pytest.approx(by_hand, rel=1e-12)
    # Delta method by hand: all CVs 1/4, n 12, r 0.5: w'Vw with w = (1/2, 1/2, -1).
    weights, cv = np.array([0.5, 0.5, -1.0]), 0.25
    variance = weights @ (cv**2 / 12 * (0.5 + 0.5 * np.eye(3))) @ weights
    assert extension.high is not None and extension.low is not None
    assert (extension.high - extension.low) / 2 == pytest.approx(1.959963985 * math.sqrt(variance), rel=1e-8)
    assert (
        "angles: near, far are averaged as leg extension."
        in rank(catalogue, "rectus femoris", "activation").notes
    )


def test_a_printed_correlation_is_used_and_then_nothing_is_varied(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add_study(
        catalogue,
        tmp_path,
        "printed-r",
        {"a": ("leg_extension", "10RM"), "b": ("leg_press", "10RM")},
        {"rectus_femoris": ["80 (20)", "40 (10)"]},
    )
    before = rank(catalogue, "rectus femoris", "activation", "leg press")
    assert before.orders
    from evidence.catalogue.tables import Correlation

    with catalogue.changing("Sam", "correlation") as session:
        rows = study_rows(session, study_by_key(session, "printed-r"))
        ids = [r.id for r in rows.results]
        assert rows.study.id and ids[0] and ids[1]
        session.add(Correlation(study_id=rows.study.id, result_a_id=ids[0], result_b_id=ids[1], r=0.9))
    after = rank(catalogue, "rectus femoris", "activation", "leg press")
    assert not after.orders and not after.assumptions
    one, other = before.parts[0].pairs[0], after.parts[0].pairs[0]
    # Equal CVs: the variance is 2(1 - r)cv^2/n, so half-widths stand as the roots of 0.1 to 0.5.
    assert (other.high - other.low) / (one.high - one.low) == pytest.approx(math.sqrt(0.1 / 0.5), rel=1e-9)


def test_an_assumption_of_a_study_that_ranks_nothing_is_not_varied(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    figures = {"rectus_femoris": ["80 (20)", "40 (10)"]}
    add_study(
        catalogue,
        tmp_path,
        "groups",
        {"a": ("leg_extension", "x"), "b": ("leg_press", "x")},
        figures,
        pairing="between",
    )
    add_study(
        catalogue,
        tmp_path,
        "variants",
        {"a": ("leg_extension", "x"), "b": ("leg_extension", "x")},
        figures,
    )
    ranking = rank(catalogue, "rectus femoris", "activation")
    assert ranking.parts
    assert not ranking.orders
    assert not ranking.assumptions


def test_different_scales_and_task_normalised_figures_are_named(catalogue: Catalogue, tmp_path: Path) -> None:
    pair = {"a": ("leg_extension", "10RM"), "b": ("leg_press", "10RM")}
    figures = {"rectus_femoris": ["80 (20)", "40 (10)"]}
    add_study(catalogue, tmp_path, "one", pair, figures)
    add_study(catalogue, tmp_path, "two", pair, figures, normalisation="task_peak_or_mean", unit="%peak")
    forbids = " ".join(rank(catalogue, "rectus femoris", "activation").forbids)
    assert "different scales" in forbids
    assert "two: figures are shares of the peak or mean within each task" in forbids
    assert "Loads differ" not in forbids


def test_a_study_without_spread_or_on_a_wider_region_is_left_out_with_its_reason(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    pair = {"a": ("leg_extension", "10RM"), "b": ("leg_press", "10RM")}
    add_study(catalogue, tmp_path, "bare", pair, {"rectus_femoris": ["80", "40"]}, spread="none")
    add_study(catalogue, tmp_path, "wide", pair, {"quadriceps_femoris": ["80 (20)", "40 (10)"]})
    ranking = rank(catalogue, "rectus femoris", "activation")
    reasons = {o.label: o.reason for o in ranking.left_out}
    assert "no spread was printed" in reasons["bare"]
    assert "which is wider" in reasons["wide"]
    assert not ranking.parts


def test_direct_and_indirect_evidence_are_held_against_each_other(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    names = {"ext": "leg_extension", "press": "leg_press", "squat": "back_squat"}
    figures = {"ext": "80 (8)", "press": "40 (4)", "squat": "60 (6)"}
    for key, (a, b) in {"ab": ("ext", "press"), "bc": ("press", "squat"), "ac": ("ext", "squat")}.items():
        cells = [figures[a], figures[b]]
        if key == "ac":  # against the other two studies
            cells.reverse()
        add_study(
            catalogue,
            tmp_path,
            key,
            {a: (names[a], "10RM"), b: (names[b], "10RM")},
            {"rectus_femoris": cells},
        )
    (part,) = rank(catalogue, "rectus femoris", "activation").parts
    notes = " ".join(part.notes)
    assert "contradict each other" in notes
    assert part.q_df == 1 and part.q_p < 0.001


def test_groups_of_their_own_share_the_variance_of_their_common_group(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    arms = {"a": ("leg_extension", "x"), "b": ("leg_press", "x"), "c": ("back_squat", "x")}
    add_study(
        catalogue,
        tmp_path,
        "groups",
        arms,
        {"rectus_femoris": ["80 (20)", "40 (10)", "60 (30)"]},
        pairing="between",
        n=30,
    )
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, "groups"))
    vocabulary = load_vocabulary()
    bearing = bearing_on_region(rows, "rectus_femoris", "activation", vocabulary)
    assert bearing is not None
    evidence = gather_pairs(bearing, "activation", vocabulary, "usual")
    (group,) = by_place(evidence.contrasts)
    block = join_pairs(group, "log_ratio_of_means", 1.0, evidence)
    assert block is not None and block.people == 30
    study = lump("groups", ("a", "b", "c"), [block], lambda c: c.key, 0.2)
    # Gleser & Olkin 2009: two contrasts with one group have the variance of that group as covariance.
    own = [0.25**2 / 10, 0.25**2 / 10, 0.5**2 / 10]
    assert study.covariance == pytest.approx(
        np.array([[own[0] + own[1], own[0]], [own[0], own[0] + own[2]]]), rel=1e-9
    )


def test_lower_is_better_is_turned_round_beside_higher_is_better(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    pair = {"a": ("leg_extension", "x"), "b": ("leg_press", "x")}
    seconds = {"unit": "s", "normalisation": "not stated, better: lower"}
    add_study(catalogue, tmp_path, "time", pair, {"rectus_femoris": ["2 (0.4)", "4 (0.8)"]}, **seconds)
    alone = rank(catalogue, "rectus femoris", "activation", "leg press")
    assert alone.first == "lowest"
    assert [e.name for e in alone.parts[0].exercises] == ["leg extension", "leg press"]
    assert alone.parts[0].exercises[0].estimate == pytest.approx(math.log(0.5))
    add_study(catalogue, tmp_path, "height", pair, {"rectus_femoris": ["40 (8)", "20 (4)"]})
    both = rank(catalogue, "rectus femoris", "activation", "leg press")
    assert both.first == "best"
    assert both.parts[0].exercises[0].estimate == pytest.approx(math.log(2))
    assert any("turned round" in note for note in both.notes)


def test_people_reported_twice_are_counted_once(catalogue: Catalogue, tmp_path: Path) -> None:
    pair = {"a": ("leg_extension", "10RM"), "b": ("leg_press", "10RM")}
    for key in ("first", "second"):
        add_study(
            catalogue, tmp_path, key, pair, {"rectus_femoris": ["80 (20)", "40 (10)"]}, tail="sample: one\n"
        )
    ranking = rank(catalogue, "rectus femoris", "activation")
    assert ranking.parts[0].studies == ("first",)
    assert "the same people" in ranking.left_out[0].reason


summaries = st.lists(
    st.tuples(st.floats(20, 100), st.floats(0.1, 0.6)), min_size=3, max_size=5
)  # means, and SDs as shares of them


@given(figures=summaries, r=st.floats(-0.1, 0.9), n=st.integers(5, 40))
def test_pairs_hold_the_whole_joint_covariance(figures: list[tuple[float, float]], r: float, n: int) -> None:
    given_ = [Summary(mean, mean * share, n) for mean, share in figures]
    joint = join_same_people(given_, r)
    size = len(given_)
    variances, differences = np.zeros((size, size)), np.zeros((size, size))
    for i in range(size):
        for j in range(size):
            if i != j:
                effect = log_ratio_of_means(given_[i], given_[j], r)
                variances[i, j], differences[i, j] = effect.variance, effect.estimate
    centre = np.eye(size) - 1 / size
    block = Block(
        tuple(Condition(id=i, study_id=1, key=str(i)) for i in range(size)),
        differences.mean(axis=1),
        -0.5 * centre @ variances @ centre,
        n,
    )
    study = lump("s", tuple(str(i) for i in range(size)), [block], lambda c: c.key, 0.2)
    effects, covariance = joint.contrast_covariance([(i, 0) for i in range(1, size)])
    assert study.effects == pytest.approx(effects, abs=1e-9)
    assert study.covariance == pytest.approx(covariance, abs=1e-9 * float(covariance.max()))


@given(first=st.floats(0.01, 4), second=st.floats(0.01, 4), rho=st.floats(0, 0.9))
def test_two_regions_of_two_conditions_average_as_a_claim_averages_them(
    first: float, second: float, rho: float
) -> None:
    pair = tuple(Condition(id=i, study_id=1, key=str(i)) for i in range(2))
    blocks = [
        Block(pair, np.array([-d / 2, d / 2]), v / 4 * np.array([[1.0, -1.0], [-1.0, 1.0]]), 10)
        for d, v in ((0.2, first), (0.6, second))
    ]
    study = lump("s", ("0", "1"), blocks, lambda c: c.key, rho)
    assert study.effects[0] == pytest.approx(0.4)
    # Borenstein et al. 2009, ch. 24: (v1 + v2 + 2 rho sqrt(v1 v2)) / 4
    expected = (first + second + 2 * rho * math.sqrt(first * second)) / 4
    assert study.covariance[0, 0] == pytest.approx(expected, rel=1e-6)


@given(st.lists(st.floats(-1, 1), min_size=9, max_size=9))
def test_the_symmetric_root_squares_to_its_matrix(values: list[float]) -> None:
    half = np.array(values).reshape(3, 3)
    matrix = half @ half.T
    root = symmetric_root(matrix)
    assert root @ root == pytest.approx(matrix, abs=1e-7)
    assert root == pytest.approx(root.T, abs=1e-9)


def test_comparisons_printed_against_one_condition_only_are_joined_by_it(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    arms = {"a": ("leg_extension", "x"), "b": ("leg_press", "x"), "c": ("back_squat", "x")}
    add_study(catalogue, tmp_path, "star", arms, {"rectus_femoris": ["80 (20)", "40 (10)", "60 (30)"]})
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, "star"))
    vocabulary = load_vocabulary()
    bearing = bearing_on_region(rows, "rectus_femoris", "activation", vocabulary)
    assert bearing is not None
    evidence = gather_pairs(bearing, "activation", vocabulary, "usual")
    a, b, c = rows.conditions

    def contrast(x: Condition, y: Condition, estimate: float, variance: float) -> Contrast:
        effect = Effect(Metric.LOG_RATIO_OF_MEANS, estimate, variance, 12)
        return Contrast(x, y, rows.outcomes[0], "rectus_femoris", {"log_ratio_of_means": effect}, {}, (), ())

    star = [contrast(a, b, 0.5, 0.04), contrast(a, c, 0.2, 0.09)]
    block = join_pairs(star, "log_ratio_of_means", 1.0, evidence)
    assert block is not None and "go by way of" in block.notes[0]
    study = lump("star", ("a", "b", "c"), [block], lambda x: x.key, 0.2)
    assert study.effects == pytest.approx([-0.5, -0.2])
    # Half of the product of the errors is shared.
    assert study.covariance == pytest.approx(np.array([[0.04, 0.03], [0.03, 0.09]]))
    impossible = [contrast(a, b, 0.5, 0.01), contrast(a, c, 0.2, 0.01), contrast(b, c, -0.3, 1.0)]
    with pytest.raises(NumberProblem, match="cannot belong"):
        join_pairs(impossible, "log_ratio_of_means", 1.0, evidence)
    loose = [contrast(a, b, 0.5, 0.04), contrast(a, c, 0.2, 0.04), contrast(b, c, 0.9, 0.04)]
    told = join_pairs(loose, "log_ratio_of_means", 1.0, evidence)
    assert told is not None and "do not quite add up" in told.notes[0]


def test_long_lists_are_counted_and_not_recited() -> None:
    names = [f"e{i}" for i in range(20)]
    pairs = [
        Pair(a, b, 0.1, -0.1 if j - i < 12 else 0.05, 0.3, 1)
        for i, a in enumerate(names)
        for j, b in enumerate(names)
        if i < j
    ]
    told = tell_apart(names, pairs, find_metric("log_ratio_of_means"))
    assert told[0].endswith("12 from e0 down to e11.")
    assert "E0 stands clear of e12, e13, e14, e15, e16, e17, e18 and e19." in told
    assert any("190 comparisons" in text for text in told)
    assert tell_order(names, names[::-1]).endswith("and 12 more")
    assert tell_order(["a", "b"], ["b", "a"]) == "the order becomes b, a"


def test_a_ranking_is_written_by_the_ending_of_its_file(stocked: Catalogue, tmp_path: Path) -> None:
    ranking = rank(stocked, "hamstrings", "activation")
    for name, start in (("r.html", "<!doctype html>"), ("r.md", "**Invented data"), ("r.svg", "<svg")):
        write_ranking(ranking, tmp_path / name)
        assert (tmp_path / name).read_text("utf-8").lstrip().startswith(start)
    with pytest.raises(BadInput, match="ends in"):
        write_ranking(ranking, tmp_path / "r.exe")


def test_a_ranking_goes_out_on_paper_too_with_every_part_and_study(
    stocked: Catalogue, tmp_path: Path
) -> None:
    from pypdf import PdfReader

    ranking = rank(stocked, "hamstrings", "activation")
    for ending in ("pdf", "docx", "txt", "xlsx", "csv"):
        write_ranking(ranking, tmp_path / f"r.{ending}", "letter")
    told = (tmp_path / "r.txt").read_text("utf-8")
    for number, part in enumerate(ranking.parts, 1):
        assert f"Part {number} of {len(ranking.parts)}: against {part.comparator}" in told
    assert all(study.label in told for study in ranking.studies)
    page = PdfReader(tmp_path / "r.pdf").pages[0]
    assert round(page.mediabox.width) == 612  # points: 8.5 inches
    assert "Ranking of exercises" in page.extract_text()
    write_ranking(ranking, tmp_path / "again.pdf", "letter")
    assert (tmp_path / "again.pdf").read_bytes() == (tmp_path / "r.pdf").read_bytes()


def test_the_command_prints_text_or_data(
    stocked: Catalogue, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import typer

    from evidence.cli import ranking as command

    monkeypatch.setattr(command, "opened", lambda: stocked)
    app = typer.Typer()
    app.callback()(lambda: None)
    command.register(app)
    run = CliRunner().invoke
    shown = run(app, ["rank", "hamstrings", "--outcome", "activation"])
    assert shown.exit_code == 0 and "Part 2 of 2" in shown.output
    data = json.loads(run(app, ["rank", "hamstrings", "--outcome", "activation", "--json"]).output)
    assert data["parts"][0]["exercises"][0]["rank_low"] == 1
    refused = run(app, ["rank", "hamstrings", "--outcome", "nonsense"])
    assert refused.exit_code == 3 and "Problem:" in refused.output
