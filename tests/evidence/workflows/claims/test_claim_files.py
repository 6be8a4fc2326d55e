"""Claims from a file: each is stated, those that are here stay, what cannot be stated is told with its line."""

from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import list_claims
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.claims import claim_files, claiming
from evidence.workflows.claims.claim_files import (
    ENTRIES,
    foresee_list,
    load_claims,
    read_list,
    statements_from_file,
)
from evidence.workflows.opening import vocabulary_of

GOOD = """\
- {key: a, exercise: back squat, over: leg press, region: quadriceps, outcome: growth, weeks: 8, margin: 0.2}
- {kind: sameness, exercise: standing calf raise, over: seated calf raise, region: soleus, outcome: growth}
- {kind: superlative, exercise: hip thrust, region: gluteus maximus, outcome: activation, among: [back squat, lunge]}
- {kind: practice, exercise: leg press, text: Knees out.}
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "claims.yaml"
    path.write_text(text, "utf-8")
    return path


def test_all_claims_of_a_file_are_stated_and_a_second_time_left_as_they_are(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    path = write(tmp_path, GOOD)
    (done,) = load_claims(catalogue, [path], "Sam")
    assert (len(done.stated), done.known, done.refused) == (4, (), ())
    assert [s.kind for s in done.stated] == ["comparison", "sameness", "superlative", "practice"]
    (again,) = load_claims(catalogue, [path], "Sam")
    assert (again.stated, len(again.known), again.refused) == ((), 4, ())


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ("{exercise: back squat, over: leg press}", "lacks: outcome"),
        ("{exercise: back squat, against: leg press, outcome: growth}", "against"),
        ("{exercise: [a, b], over: leg press, outcome: growth}", "exercise is one text"),
        ("{exercise: back squat, over: leg press, outcome: growth, margin: much}", 'margin is a number, not "much"'),
        ("{exercise: back squat, over: leg press, outcome: growth, margin: true}", "margin is a number"),
        ("{exercise: 7, over: leg press, outcome: growth, region: quadriceps}", '"7"'),
        ("{exercise: back squat, over: leg press, outcome: growth, region: glutes}", "gluteus_maximus"),
        ("{exercise: back squat, over: leg press, outcome: growth, region: quadriceps, says: maybe}", '"maybe"'),
        ("{exercise: back squat, over: leg press, outcome: growth, region: quadriceps, detail: deep}", "NAME=VALUE"),
        ("just words", "is not a claim"),
        ("{key: a, exercise: hip thrust, over: leg press, region: quadriceps, outcome: growth}", 'is called "a"'),
        ('{kind: practice, key: nul, text: "a\\0b"}', "NUL"),
    ],
)  # fmt: skip
def test_what_cannot_be_stated_is_told_with_its_line_and_keeps_back_no_other(
    catalogue: Catalogue, tmp_path: Path, entry: str, told: str
) -> None:
    (done,) = load_claims(catalogue, [write(tmp_path, f"{GOOD}- {entry}\n")], "Sam")
    assert len(done.stated) == 4
    (reason,) = done.refused
    assert "line 5" in reason and told in reason


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ("{key: a, exercise: hip thrust, over: leg press, outcome: growth}", "a name with key."),
        ("{exercise: hip thrust, over: hip thrust, outcome: growth}", "with detail and over_detail."),
        ("{kind: superlative, exercise: hip thrust, outcome: growth}", "region: hamstrings"),
        ("{kind: trend, exercise: lunge, outcome: growth}", "graded: NAME, the detail whose levels"),
        ("{kind: level, exercise: lunge, outcome: activation}", 'level: 60, or band: "very high".'),
        ("{kind: level, exercise: lunge, outcome: activation, level: 60, to_level: 40}", "level: 41, to_level: 60"),
        ("{kind: trend, exercise: lunge, over: leg press, outcome: growth}", "Leave over out."),
        ("{kind: practice, text: Knees out., scale: smd}", "so scale would say nothing. Leave scale out."),
        ("{kind: practice, text: Knees out., among: [lunge]}", "has no among. It may have: text."),
        ("{exercise: lunge, over: leg press, outcome: growth, margin: 0,2}", "write 27.5, not 27,5"),
        ("{exercise: lunge, over: leg press, outcome: growth, size: 4}", "percent: relative (40 % of"),
        ("{exercise: lunge, over: leg press, outcome: growth, detail: shoes=red}", "detail: no detail is called"),
    ],
)  # fmt: skip
def test_a_refusal_names_the_parts_of_the_file_and_no_option(
    catalogue: Catalogue, tmp_path: Path, entry: str, told: str
) -> None:
    (done,) = load_claims(catalogue, [write(tmp_path, f"{GOOD}- {entry}\n")], "Sam")
    (reason,) = done.refused
    assert told in reason and "--" not in reason
    assert "line 5 (claim 5): " in reason


def test_what_a_file_would_come_to_is_what_comes_of_it_and_nothing_is_stored(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    twice = GOOD + GOOD.splitlines()[3] + "\n- {key: a, exercise: lunge, over: leg press, outcome: growth}\n"
    path = write(tmp_path, twice)
    foreseen = foresee_list(catalogue, read_list(path))
    with catalogue.reading() as session:
        assert list_claims(session) == []
    (done,) = load_claims(catalogue, [path], "Sam")
    assert foreseen == done
    assert (len(done.stated), len(done.known), len(done.refused)) == (4, 1, 1)


def test_the_vocabulary_is_read_once_for_a_whole_file(
    catalogue: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[Catalogue] = []

    def counted(of: Catalogue) -> Vocabulary:
        read.append(of)
        return vocabulary_of(of)

    monkeypatch.setattr(claim_files, "vocabulary_of", counted)
    monkeypatch.setattr(claiming, "vocabulary_of", counted)
    (done,) = load_claims(catalogue, [write(tmp_path, GOOD)], "Sam")
    assert (len(done.stated), len(read)) == (4, 1)


def test_a_file_that_cannot_be_read_keeps_back_the_files_before_it(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    good = write(tmp_path, GOOD)
    with pytest.raises(BadInput, match="no such file"):
        load_claims(catalogue, [good, tmp_path / "missing.yaml"], "Sam")
    (done,) = load_claims(catalogue, [good], "Sam")
    assert (len(done.stated), done.known) == (4, ())


@pytest.mark.parametrize("text", ["", "claims: 3\n", "just a sentence\n", "[]\n"])
def test_what_is_no_list_is_refused_whole(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadInput, match=r"no list of claims|empty"):
        statements_from_file(write(tmp_path, text))


def test_every_part_is_named_in_the_reference() -> None:
    page = (Path(__file__).parents[4] / "docs" / "reference" / "claims-file.md").read_text("utf-8")
    assert [name for name in ENTRIES if f"`{name}`" not in page] == []
