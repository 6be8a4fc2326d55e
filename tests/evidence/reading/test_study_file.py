"""Study files: real papers fit, every problem is told with its line, and what is written reads back equal."""

from contextlib import suppress
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.study_entries import candidates_in_words, fault_in_words
from evidence.reading.study_file import (
    BiasDomain,
    BiasDraft,
    ConditionDraft,
    CorrelationDraft,
    OutcomeDraft,
    PeopleDraft,
    ReferenceLink,
    ResultDraft,
    StudyDraft,
    StudyProblems,
    load_schema,
    read_study_file,
    read_study_text,
    write_study_file,
)
from evidence.vocabulary import load_vocabulary
from evidence.vocabulary.terms import Pairing, ReadFrom, Spread, Statistic, Timepoint

V = load_vocabulary()
DATA = Path(__file__).parent / "data"
PAPERS = sorted(DATA.glob("*.study.yaml"))

BASE = """steelyard: study/1
key: s1
title: A study
design: randomised_crossover
read_from: abstract
locator: abstract
people:
  - {key: all, recruited: 12, analysed: 12}
conditions:
  - {key: a, exercise: back squat, n: 12}
  - {key: b, exercise: hip thrust, n: 12}
outcomes:
  - {key: emg, construct: activation, unit: '%MVIC', normalisation: MVIC}
  - {key: rm, construct: strength, unit: kg}
results:
"""
BASE_LINES = BASE.count("\n")


def read(*results: str, base: str = BASE) -> StudyDraft:
    return read_study_text(base + "".join(f"  - {result}\n" for result in results), V, name="s.yaml")


def problems_of(*results: str, base: str = BASE) -> list[str]:
    with pytest.raises(StudyProblems) as caught:
        read(*results, base=base)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize("path", PAPERS, ids=lambda p: p.name)
def test_real_papers_fit_the_format_and_read_back_equal(path: Path) -> None:
    draft = read_study_file(path, V)
    assert draft.results
    assert read_study_text(write_study_file(draft), V) == draft


def test_lehman_2004_keeps_its_table_as_printed() -> None:
    draft = read_study_file(DATA / "lehman_2004.study.yaml", V)
    found = {(r.region, r.condition): r for r in draft.results if r.outcome == "emg"}
    cell = found["latissimus_dorsi", "row_retract"]
    # Lehman et al. 2004, Dynamic Medicine 3:4, Table 1.
    assert (cell.value, cell.spread, cell.spread_kind, cell.printed) == (
        37.08,
        14.04,
        Spread.SD,
        "37.08 [14.04]",
    )
    assert (cell.timepoint, cell.locator, draft.pairing) == (Timepoint.ACUTE, "Table 1", Pairing.WITHIN)
    assert draft.outcomes[0].normalisation == "mvc_standard_isometric"


def test_plotkin_2023_keeps_difference_se_and_interval_together() -> None:
    draft = read_study_file(DATA / "plotkin_2023.study.yaml", V)
    lower = next(r for r in draft.results if r.region == "gluteus_maximus_lower")
    # Plotkin et al. 2023, Front Physiol 14:1279170, abstract: -1.6 ± 2.1, CI -6.1 to 2.0.
    assert (lower.value, lower.spread, lower.spread_kind) == (-1.6, 2.1, Spread.SE)
    assert (lower.low, lower.high, lower.level) == (-6.1, 2.0, 0.95)
    assert (lower.condition, lower.comparator, lower.statistic) == ("SQ", "HT", Statistic.DIFFERENCE)
    assert [link.role for link in draft.references] == ["report", "preprint"]


def test_values_over_a_hundred_percent_and_no_sd_are_taken_as_they_are() -> None:
    draft = read_study_file(DATA / "contreras_2015.study.yaml", V)
    assert (
        max(r.value or 0 for r in draft.results) == 244
    )  # Contreras et al. 2015, abstract: peak in the squat
    assert {r.spread_kind for r in draft.results} == {Spread.NONE}


def test_an_empty_cell_is_no_result_and_never_zero() -> None:
    draft = read_study_file(DATA / "nogueira_2009.study.yaml", V)
    press = [r for r in draft.results if r.outcome == "leg_press"]
    assert [(r.condition, r.value) for r in press] == [("TRT", 176.67), ("TRT", 223.89)]


def test_all_problems_are_told_at_once_each_with_its_line() -> None:
    told = problems_of(
        "{outcome: emg, condition: a, value: 20, sd: -3}",
        "{outcome: emg, condition: c, value: 20, sd: 3}",
        "{outcome: rm, condition: a, comparator: b, statistic: difference, value: 3, ci: [4, -2], level: 95}",
        "{outcome: rm, condition: a, timepoint: pre, value: 3, colour: red}",
    )
    for number, words in enumerate(
        ["SD is negative", 'no condition has the key "c"', "from 4 to -2", '"colour"'], 1
    ):
        assert any(words in line and f"line {BASE_LINES + number}:" in line for line in told), (words, told)


@pytest.mark.parametrize(
    ("result", "words"),
    [
        ("{outcome: emg, condition: a, value: 20, sd: 3, n: 0}", "n is 0"),
        ("{outcome: emg, condition: a, value: 20, sd: 3, n: 1}", "n is 1"),
        ("{outcome: rm, condition: a, value: 20, sd: 3, unit: lb, timepoint: pre}", 'unit "lb"'),
        ("{outcome: emg, condition: a, statistic: count, events: 13, n: 12}", "13 events among 12"),
        ("{outcome: emg, condition: a, comparator: b, statistic: test, p: '1.2'}", "p is"),
        (
            "{outcome: emg, condition: a, comparator: a, statistic: difference, value: 2}",
            "compared with itself",
        ),
        ("{outcome: emg, condition: a, statistic: difference, value: 2}", "without a comparator"),
        ("{outcome: emg, condition: a, comparator: b, value: 2}", "is of one condition"),
        ("{outcome: emg, condition: a, value: 2, region: GM}", 'region "GM" may mean several things'),
        ("{outcome: emg, condition: a, value: 2, region: vastus lateralus rex}", "region"),
        ("{outcome: rm, condition: a, value: 2}", "timepoint is missing"),
        ("{outcome: emg, condition: a, value: high}", "should be a number"),
        ("{outcome: emg, condition: a, printed: '22 6 1'}", "not a figure"),
        ("{outcome: emg, condition: a, value: 2, sd: 1, se: 0.3}", "both sd and se"),
        ("{outcome: emg, condition: a, statistic: correlation, value: 1.4}", "between -1 and 1"),
        ("{outcome: emg, condition: a}", "value is missing"),
    ],
)
def test_a_figure_that_cannot_be_is_refused(result: str, words: str) -> None:
    told = problems_of(result)
    assert any(words in line for line in told), told


@pytest.mark.parametrize(
    ("result", "words"),
    [
        ("{outcome: emg, condition: a, printed: 20 (3)}", "is not said"),
        ("{outcome: emg, condition: a, value: 0, sd: 3}", "no ratio"),
        (
            "{outcome: rm, condition: a, value: 5, ci: [6, 8], timepoint: pre, level: 95}",
            "outside its interval",
        ),
        ("{outcome: rm, condition: a, value: 7, ci: [6, 8], timepoint: pre}", "level of the interval"),
        ("{outcome: emg, condition: a, value: 7, spread_kind: SD}", "has no SD"),
        ("{outcome: emg, condition: a, value: 7, sd: 2, region: VL (50 %)}", '"50" is not kept'),
    ],
)
def test_a_figure_to_look_at_is_kept_with_a_warning(result: str, words: str) -> None:
    draft = read(result)
    assert any(words in str(warning) for warning in draft.warnings), draft.warnings


def test_a_spread_nobody_named_is_kept_as_not_stated() -> None:
    assert read("{outcome: emg, condition: a, printed: 20 ± 3}").results[0].spread_kind is Spread.NOT_STATED


def test_an_unknown_exercise_comes_with_its_nearest() -> None:
    told = problems_of(
        "{outcome: emg, condition: a, value: 2}", base=BASE.replace("hip thrust", "hip thrusting sled")
    )
    assert any("hip_thrust" in line and "line 11:" in line for line in told), told


def test_a_misspelt_entry_is_told_with_the_right_spelling() -> None:
    told = problems_of("{outcome: emg, condition: a, valu: 2}")
    assert any('Did you mean "value"' in line for line in told)


@pytest.mark.parametrize(
    "text", ["", "just words", "[1, 2]", "steelyard: study/2\nkey: x", "key: x", "steelyard: programme/1"]
)
def test_what_is_no_study_file_is_told_plainly(text: str) -> None:
    with pytest.raises(BadInput, match="no study file"):
        read_study_text(text, V, name="x.yaml")


def test_a_study_key_that_looks_like_something_else_stays_as_typed() -> None:
    for key in ("no", "on", "2004", "1e3"):
        draft = read_study_text(BASE.replace("key: s1", f"key: {key}") + "  []\n", V)
        assert draft.key == key


def test_p_keeps_its_zeros() -> None:
    draft = read("{outcome: emg, condition: a, comparator: b, statistic: test, p: 0.040}")
    assert draft.results[0].p == "0.040"


def test_keys_of_results_are_made_once_and_stay_apart() -> None:
    draft = read(
        *["{outcome: emg, condition: a, value: 2}"] * 2,
        "{key: emg.a.acute.2, outcome: emg, condition: b, value: 1}",
    )
    keys = [r.key for r in draft.results]
    assert len(set(keys)) == 3


def test_the_schema_is_itself_sound_and_describes_its_entries() -> None:
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(load_schema())
    assert set(load_schema()["required"]) <= set(load_schema()["properties"])


words = st.text(max_size=12)
figure = st.none() | st.floats(min_value=0.001, max_value=1e6, allow_subnormal=False)
details = st.dictionaries(
    st.text(min_size=1, max_size=5), words | st.integers(0, 99) | st.booleans(), max_size=2
)


@st.composite
def drafts(draw: st.DrawFn) -> StudyDraft:
    note = words.map(lambda t: t or None)
    result = st.builds(
        ResultDraft,
        key=st.just("r"),
        outcome=st.just("o"),
        condition=st.sampled_from(["a", "b"]),
        printed=words.filter(bool),
        region=st.sampled_from([None, "vastus_lateralis", "hamstrings"]),
        timepoint=st.sampled_from(Timepoint),
        value=figure.filter(lambda v: v is not None),
        spread=figure,
        spread_kind=st.sampled_from([Spread.SD, Spread.SE, Spread.NONE, Spread.NOT_STATED]),
        n=st.integers(2, 50),
        marks=note,
        locator=words.filter(bool),
        read_from=st.sampled_from(ReadFrom),
        read_on=st.none() | st.dates(date(2000, 1, 1), date(2030, 1, 1)),
        note=note,
    )
    listed = draw(st.lists(result, max_size=3))
    from dataclasses import replace

    results = tuple(replace(r, key=f"r{i}") for i, r in enumerate(listed))
    return StudyDraft(
        key="s",
        title=draw(words),
        design="randomised_crossover",
        pairing=Pairing.WITHIN,
        randomised="yes",
        year=draw(st.none() | st.integers(1900, 2030)),
        weeks=draw(figure),
        invented=draw(st.booleans()),
        note=draw(note),
        references=(ReferenceLink("k"), ReferenceLink(doi="10.5555/x", role="preprint")),
        people=(
            PeopleDraft("p", draw(words), 20, 18, "female", 24.5, None, "trained", draw(words.filter(bool))),
        ),
        conditions=(
            ConditionDraft("a", "back_squat", draw(words), draw(details), draw(details), "p", 18),
            ConditionDraft("b", None, draw(words)),
        ),
        outcomes=(OutcomeDraft("o", "hypertrophy", "mri_csa", "cm2", note=draw(note)),),
        results=results,
        correlations=(CorrelationDraft("r0", "r1", 0.5, "printed", draw(words)),) if len(results) > 1 else (),
        bias=draw(
            st.none() | st.just(BiasDraft("RoB 2", "high", 3.0, (BiasDomain("D1", "high", "no list"),)))
        ),
    )


@given(drafts())
@settings(max_examples=60, deadline=None)
def test_what_is_written_reads_back_equal(draft: StudyDraft) -> None:
    assert read_study_text(write_study_file(draft), V) == draft


@given(st.text(max_size=200))
@settings(max_examples=100)
def test_any_text_behind_the_first_line_is_read_or_refused_plainly(text: str) -> None:
    with suppress(BadInput):  # anything else raised fails the test
        read_study_text("steelyard: study/1\n" + text, V)


def test_a_name_with_one_thing_like_it_is_not_said_to_mean_several() -> None:
    found = V.find_exercise("half squat")
    assert fault_in_words(found) == "is not known"
    assert candidates_in_words(found).startswith("Nearest: back_squat")


def test_a_decimal_comma_between_braces_is_named_as_what_it_is() -> None:
    assert any(
        "write 27.5, not 27,5" in line for line in problems_of("{outcome: emg, condition: a, value: 20,5}")
    )
