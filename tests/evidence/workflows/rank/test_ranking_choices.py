"""What can be asked of a ranking: scale, people, what counts as one exercise; bad input; and that it is remembered."""

import json
import math
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import uses_of_kind
from evidence.errors import BadInput
from evidence.workflows.documents.ranking_files import publish_ranking
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.rank.ranking import rank
from evidence.workflows.trace.tracing import trace_result
from evidence.workflows.trace.tracing_text import result_trace_text
from evidence.workflows.weigh.ranked_regions import rank_region

STUDY = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: randomised_crossover
read_from: full text
locator: Table 1
people: [{{key: all, analysed: 16, sex: {sex}, training_status: {status}, health: healthy}}]
conditions:
{conditions}
outcomes:
  - {{key: emg, construct: activation, instrument: surface EMG, unit: "{unit}", normalisation: {scaled}}}
tables:
  - {{outcome: emg, timepoint: acute, spread: SD, columns: [{columns}], rows: [{{region: hamstrings, cells: {cells}}}]}}
"""


def add(
    catalogue: Catalogue,
    folder: Path,
    key: str,
    figures: dict[str, str],
    *,
    sex: str = "both",
    status: str = "trained",
    unit: str = "%MVIC",
    scaled: str = "mvc_standard_isometric",
) -> None:
    """An invented study; figures: exercise, or "exercise @ load", to the cell as printed."""
    lines, names = [], []
    for number, name in enumerate(figures):
        exercise, _, load = name.partition(" @ ")
        details = f", details: {{load: {load}}}" if load else ""
        lines.append(f"  - {{key: c{number}, exercise: {exercise}, n: 16{details}}}")
        names.append(f"c{number}")
    text = STUDY.format(
        key=key, sex=sex, status=status, unit=unit, scaled=scaled, conditions="\n".join(lines),
        columns=", ".join(names), cells=json.dumps(list(figures.values())),
    )  # fmt: skip
    (folder / f"{key}.yaml").write_text(text, "utf-8")
    load_study(catalogue, folder / f"{key}.yaml", "Sam")


@pytest.fixture
def two(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    three = {
        "seated leg curl @ 10RM": "60 (12)",
        "seated leg curl @ 5RM": "75 (15)",
        "lying leg curl @ 10RM": "50 (10)",
    }
    add(catalogue, tmp_path, "ash-2011", three)
    rest = {"lying leg curl @ 10RM": "52 (10)", "Romanian deadlift @ 10RM": "40 (8)"}
    add(catalogue, tmp_path, "birch-2012", rest, status="untrained", sex="female")
    return catalogue


def nodes(ranking: object) -> set[str]:
    return {e.name for part in ranking.parts for e in part.exercises}  # type: ignore[attr-defined]


def test_details_are_lumped_unless_asked_apart_and_which_it_was_is_told(two: Catalogue) -> None:
    lumped, apart = (rank(two, "hamstrings", "activation", level=level) for level in ("exercise", "details"))
    assert nodes(lumped) == {"seated leg curl", "lying leg curl", "Romanian deadlift"}
    assert "are lumped" in lumped.notes[0]
    assert nodes(apart) == {
        "seated leg curl (load 10RM)",
        "seated leg curl (load 5RM)",
        "lying leg curl",
        "Romanian deadlift",
    }
    assert "ranked apart" in apart.notes[0]
    heavy = next(e for e in apart.parts[0].exercises if "5RM" in e.name)
    assert heavy.estimate == pytest.approx(math.log(75 / 50))


def test_a_family_takes_its_variants_in(catalogue: Catalogue, tmp_path: Path) -> None:
    figures = {"back squat": "50 (10)", "box squat": "55 (10)", "Romanian deadlift": "70 (10)"}
    add(catalogue, tmp_path, "ash-2011", figures)
    ranking = rank(catalogue, "hamstrings", "activation", "box squat", level="family")
    assert nodes(ranking) == {"barbell back squat", "Romanian deadlift"}
    assert ranking.parts[0].comparator == "barbell back squat"


def test_only_studies_of_the_people_asked_for_are_ranked_and_the_others_are_named(two: Catalogue) -> None:
    ranking = rank(two, "hamstrings", "activation", status="trained")
    assert nodes(ranking) == {"seated leg curl", "lying leg curl"}
    assert [o.reason for o in ranking.left_out] == [
        "its people: training status untrained, asked for: trained"
    ]
    assert any("recorded as trained" in note for note in ranking.notes)
    assert nodes(rank(two, "hamstrings", "activation", sex="female")) == {
        "lying leg curl",
        "Romanian deadlift",
    }


def test_another_scale_can_be_asked_for(two: Catalogue) -> None:
    ranking = rank(two, "hamstrings", "activation", "lying leg curl", scale="mean-difference")
    rdl = next(e for e in ranking.parts[0].exercises if e.name == "Romanian deadlift")
    assert rdl.estimate == pytest.approx(-12)


def test_differences_in_other_units_are_left_out_of_a_ranking_in_units(
    two: Catalogue, tmp_path: Path
) -> None:
    figures = {"lying leg curl": "0.5 (0.1)", "Romanian deadlift": "0.4 (0.1)"}
    add(two, tmp_path, "cedar-2013", figures, unit="mV", scaled="none")
    ranking = rank(two, "hamstrings", "activation", scale="mean-difference")
    assert len(ranking.studies) == 2
    assert any("in mV" in item.reason for item in ranking.left_out)
    assert len(rank(two, "hamstrings", "activation").studies) == 3


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"level": "muscle"}, "does not say what counts as one exercise"),
        ({"scale": "percentages"}, "No scale is called"),
        ({"sex": "men"}, 'Sex "men" is not known'),
    ],
)
def test_a_choice_that_does_not_exist_is_refused_with_those_there_are(
    two: Catalogue, asked: dict[str, str], told: str
) -> None:
    with pytest.raises(BadInput, match=told) as problem:
        rank(two, "hamstrings", "activation", **asked)  # type: ignore[arg-type]
    assert problem.value.hint


def test_nothing_measured_gives_an_empty_ranking_with_a_sentence(catalogue: Catalogue) -> None:
    ranking = rank(catalogue, "hamstrings", "activation")
    assert ranking.parts == ()
    assert "No study in the catalogue" in ranking.notes[0]
    assert rank_region(catalogue, "hamstrings", "activation").items == ()


def test_no_spread_anywhere_says_what_is_missing(catalogue: Catalogue, tmp_path: Path) -> None:
    text = STUDY.replace("spread: SD, ", "spread: none, ")
    figures = {"lying leg curl": "50", "Romanian deadlift": "40"}
    lines = "\n".join(f"  - {{key: c{n}, exercise: {name}, n: 16}}" for n, name in enumerate(figures))
    filled = text.format(
        key="ash-2011", sex="both", status="trained", unit="%MVIC", scaled="none", conditions=lines,
        columns="c0, c1", cells=json.dumps(list(figures.values())),
    )  # fmt: skip
    (tmp_path / "s.yaml").write_text(filled, "utf-8")
    load_study(catalogue, tmp_path / "s.yaml", "Sam")
    ranking = rank(catalogue, "hamstrings", "activation")
    assert ranking.parts == ()
    assert "no spread was printed" in ranking.left_out[0].reason


def test_an_sd_of_zero_everywhere_is_refused_in_words(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "ash-2011", {"lying leg curl": "50 (0)", "Romanian deadlift": "40 (0)"})
    ranking = rank(catalogue, "hamstrings", "activation")
    assert ranking.parts == ()
    assert "variance" in ranking.left_out[0].reason or "spread" in ranking.left_out[0].reason


def test_a_star_ranks_all_by_way_of_its_centre(catalogue: Catalogue, tmp_path: Path) -> None:
    for key, other, cell in (
        ("ash-2011", "seated leg curl", "60 (12)"),
        ("birch-2012", "Romanian deadlift", "40 (8)"),
        ("cedar-2013", "good morning", "35 (8)"),
    ):
        add(catalogue, tmp_path, key, {"lying leg curl": "50 (10)", other: cell})
    ranking = rank_region(catalogue, "hamstrings", "activation")
    assert ranking.field == ("seated leg curl", "lying leg curl", "Romanian deadlift", "good morning")
    assert ranking.unconnected == ()
    last = ranking.items[-1]
    assert last.behind is not None
    assert last.behind[0] == pytest.approx(math.log(60 / 50) - math.log(35 / 50))
    assert last.k_direct == 0


def test_rank_region_gives_places_ties_and_what_is_not_connected(two: Catalogue, tmp_path: Path) -> None:
    add(two, tmp_path, "cedar-2013", {"good morning": "30 (15)", "kettlebell swing": "31 (15)"})
    ranking = rank_region(two, "hamstrings", "activation")
    assert [item.place for item in ranking.items] == [1, 2, 3]
    assert ranking.first == "highest"
    assert ranking.items[0].behind is None and not ranking.items[0].tied_with_first
    for item in ranking.items[1:]:
        assert item.behind is not None
        assert item.tied_with_first == (item.behind[1] <= 0 <= item.behind[2])
        assert ((ranking.items[0].name, item.name) in ranking.ties) == item.tied_with_first
    assert set(ranking.unconnected[0]) == {"good morning", "kettlebell swing"}


def test_a_ranking_that_is_written_out_is_remembered_and_traced_from_its_figures(
    two: Catalogue, tmp_path: Path
) -> None:
    output = tmp_path / "hamstrings.html"
    publish_ranking(two, rank(two, "hamstrings", "activation", draws=200), output, "Sam")
    with two.reading() as session:
        (use,) = uses_of_kind(session, "ranking")
    assert (use.body["region"], use.body["outcome"], use.format, use.claim_id) == (
        "hamstrings", "activation", "html", None,
    )  # fmt: skip
    with two.reading() as session:
        from evidence.catalogue.queries import study_by_key, study_rows

        result = study_rows(session, study_by_key(session, "birch-2012")).results[0].key
    trace = trace_result(two, "birch-2012", result)
    (fed,) = trace.rankings
    assert fed.enters and fed.name == str(output)
    assert "Romanian deadlift" in fed.order
    assert "RANKINGS WRITTEN OUT" in result_trace_text(trace)


def test_a_figure_that_a_ranking_left_out_says_why(two: Catalogue, tmp_path: Path) -> None:
    output = tmp_path / "hamstrings.md"
    publish_ranking(two, rank(two, "hamstrings", "activation", status="trained", draws=200), output, "Sam")
    with two.reading() as session:
        from evidence.catalogue.queries import study_by_key, study_rows

        result = study_rows(session, study_by_key(session, "birch-2012")).results[0].key
    (fed,) = trace_result(two, "birch-2012", result).rankings
    assert not fed.enters and fed.reason


def test_the_command_takes_the_choices(tmp_path: Path, two: Catalogue) -> None:
    from evidence.cli.main import app

    place = ["--catalogue", str(two.location)]
    choices = ["--outcome", "activation", "--level", "details", "--status", "trained", "--json"]
    told = CliRunner().invoke(app, [*place, "rank", "hamstrings", *choices])
    assert told.exit_code == 0, told.output
    assert json.loads(told.output)["level"] == "details"
