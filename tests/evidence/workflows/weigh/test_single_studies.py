"""Claims that rest on one study: its own interval by Student's t, and no high confidence from few people."""

import math
from pathlib import Path

import pytest

from evidence.appraisal.levels import Level
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key
from evidence.catalogue.tables import ClaimLink, Reference
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.trace.tracing import trace_claim
from evidence.workflows.weigh.weighing import weigh

STUDY = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: randomised_crossover
read_from: full text
bias: {{overall: low, tool: "RoB 2"}}
people: [{{key: all, analysed: {n}, sex: male, training_status: trained, health: healthy}}]
conditions:
  - {{key: a, exercise: hip thrust, n: {n}}}
  - {{key: b, exercise: back squat, n: {n}}}
outcomes: [{{key: emg, construct: activation, unit: "%MVIC", normalisation: mvc_standard_isometric}}]
tables:
  - outcome: emg
    timepoint: acute
    locator: Table 1
    spread: SD
    columns: [a, b]
    rows: [{{region: gluteus maximus, cells: ["{a}", "{b}"]}}]
"""


def add(catalogue: Catalogue, folder: Path, key: str, n: int, a: str, b: str) -> None:
    path = folder / f"{key}.yaml"
    path.write_text(STUDY.format(key=key, n=n, a=a, b=b), "utf-8")
    load_study(catalogue, path, "Sam")


def state(catalogue: Catalogue, **parts: object) -> str:
    base = {
        "exercise": "hip thrust",
        "comparator": "back squat",
        "region": "gluteus maximus",
        "outcome": "activation",
    }
    return state_claim(catalogue, Statement(**{**base, **parts}), "Sam").key  # type: ignore[arg-type]


def test_one_study_of_few_people_has_the_interval_of_its_own_degrees_of_freedom(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", 14, "67 (20)", "40 (12)")
    key = state(catalogue)
    found = weigh(catalogue, key)
    assert found.pooled is not None
    assert found.pooled.df == 13
    # t at 0.975 with 13 degrees of freedom: 2.160 (any table of t); the normal one is 1.960
    half = 2.160369 * math.sqrt(found.contributions[0].variance or 0)
    assert found.verdict.low == pytest.approx(math.log(67 / 40) - half, abs=1e-5)
    assert found.verdict.high == pytest.approx(math.log(67 / 40) + half, abs=1e-5)
    assert (found.contributions[0].low, found.contributions[0].high) == (
        found.verdict.low,
        found.verdict.high,
    )
    assert any("Student's t, 13 degrees of freedom" in note for note in found.notes)
    steps = trace_claim(catalogue, key)
    assert any("Student's t, 13 df" in step.source for step in steps.pooling)


def test_of_two_studies_each_keeps_the_normal_interval_and_its_weight(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", 14, "67 (20)", "40 (12)")
    add(catalogue, tmp_path, "two", 20, "60 (20)", "40 (12)")
    found = weigh(catalogue, state(catalogue))
    for c in found.contributions:
        assert c.low is not None
        assert c.high is not None
        assert (c.high - c.low) / 2 == pytest.approx(1.959964 * math.sqrt(c.variance or 0), rel=1e-5)


@pytest.mark.parametrize(("people", "level"), [(44, Level.MODERATE), (99, Level.MODERATE), (140, Level.HIGH)])
def test_one_small_study_is_never_rated_high(
    catalogue: Catalogue, tmp_path: Path, people: int, level: Level
) -> None:
    add(catalogue, tmp_path, "one", people, "67 (12)", "40 (7)")
    found = weigh(catalogue, state(catalogue))
    assert found.confidence.level is level
    domain = found.confidence.domain("imprecision")
    if level is not Level.HIGH:
        assert found.confidence.high is level
        assert f"one study with {people} people, fewer than 100" in domain.reason
        assert "our convention" in domain.reason
        assert domain.conf == "project"


def test_two_small_studies_may_be_rated_high(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", 44, "67 (12)", "40 (7)")
    add(catalogue, tmp_path, "two", 44, "66 (12)", "40 (7)")
    assert weigh(catalogue, state(catalogue)).confidence.level is Level.HIGH


@pytest.mark.parametrize(
    ("who", "says"),
    [
        ({"sex": "female"}, "Studied in men only; the claim is about women."),
        (
            {"training_status": "untrained"},
            "Studied in trained people only; the claim is about untrained people.",
        ),
        ({"health": "knee osteoarthritis"}, "Studied in healthy people only; the claim is about people with"),
    ],
)
def test_people_that_nobody_studied_are_told_beside_the_figure(
    catalogue: Catalogue, tmp_path: Path, who: dict[str, str], says: str
) -> None:
    add(catalogue, tmp_path, "one", 44, "67 (12)", "40 (7)")
    found = weigh(catalogue, state(catalogue, **who))
    assert says in found.verdict.sentence
    for told in (found.wordings.plain, found.wordings.full):
        assert says in told
    assert says[1:].partition(";")[0] in found.wordings.short  # in the sentence that stands alone, too


def link(catalogue: Catalogue, key: str, stance: str, name: str) -> None:
    with catalogue.changing("Sam", "link") as session:
        csl = {"id": name, "type": "article-journal", "title": name, "author": [{"family": name.title()}],
               "issued": {"date-parts": [[2015]]}}  # fmt: skip
        reference = Reference(key=name, title=f"[Invented] {name}", csl=csl, added_at=catalogue.now())
        session.add(reference)
        session.flush()
        session.add(
            ClaimLink(
                claim_id=claim_by_key(session, key).id,
                reference_id=reference.id,
                stance=stance,
                kind="review",
                locator="p. 3",
                said=f"what {name} says",
                person="Sam",
                at=catalogue.now(),
            )
        )


def test_where_only_linked_sources_speak_their_stances_are_told(catalogue: Catalogue) -> None:
    key = state(catalogue)
    assert weigh(catalogue, key).verdict.text == "nothing found"
    for stance, name in (
        ("supports", "ash"),
        ("supports", "birch"),
        ("against", "cedar"),
        ("background", "oak"),
    ):
        link(catalogue, key, stance, name)
    found = weigh(catalogue, key)
    assert found.verdict.text == "no figures to weigh; 3 linked sources speak of it: 2 for it, 1 against it"
    assert "Cedar 2015 (review), p. 3: what cedar says" in found.verdict.sentence
    assert "oak" not in found.verdict.sentence
    assert found.verdict.estimate is None
    assert "3 linked sources speak of it: 2 for it, 1 against it" in found.wordings.short
    assert found.confidence.rule_set == "narrative"


def test_people_that_were_studied_are_not_told_as_others(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", 44, "67 (12)", "40 (7)")
    found = weigh(catalogue, state(catalogue, sex="male", training_status="trained"))
    assert "the claim is about" not in found.wordings.full + found.wordings.short + found.verdict.sentence
