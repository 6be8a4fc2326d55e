"""A study file to fill in: what is left is told by its line, and once filled in it is a study, for every design."""

import re
from pathlib import Path

import pytest

from evidence.errors import BadInput
from evidence.reading.study_file import read_study_file
from evidence.reading.study_template import study_template
from evidence.vocabulary import Vocabulary, load_vocabulary

VOCABULARY = load_vocabulary()
DESIGNS = list(VOCABULARY.designs)
VALUES = {
    "key": "oak-2021", "title": '"[Invented] A: B"', "year": "2021", "weeks": "8", "read_from": "full text",
    "recruited": "22", "analysed": "20", "sex": "both", "age_mean": "25", "age_sd": "3.1",
    "training_status": "trained", "health": "healthy", "exercise": "back squat", "printed": "as it stands", "n": "10",
    "construct": "growth", "instrument": "ultrasound muscle thickness", "unit": "mm", "locator": "Table 2",
    "spread": "SD", "region": "soleus",
}  # fmt: skip
EMPTY = re.compile(r"^(\s*(?:- )?)(?P<name>\w+):(?: +\"\?\")? *(?:#.*)?$", re.MULTILINE)


def filled(text: str, without: str = "") -> str:
    """The file with every empty line filled in, but one kind of them."""

    def fill(found: re.Match[str]) -> str:
        name = found["name"]
        known = name in VALUES and name != without
        return f"{found[1]}{name}: {VALUES[name]}" if known else found[0]

    def fill_cells(found: re.Match[str]) -> str:
        return found[0] if without == "cells" else found[0].replace('"?"', '"18.2 ± 2.1"')

    return re.sub(r"cells: .*", fill_cells, EMPTY.sub(fill, text))


def read(text: str, folder: Path, vocabulary: Vocabulary = VOCABULARY):
    path = folder / "study.yaml"
    path.write_text(text, "utf-8")
    return read_study_file(path, vocabulary)


@pytest.mark.parametrize("design", DESIGNS)
def test_once_filled_in_it_is_a_study_of_its_design(design: str, tmp_path: Path) -> None:
    study = read(filled(study_template(VOCABULARY.designs[design], VOCABULARY)), tmp_path)
    assert (study.key, study.design, study.title) == ("oak-2021", design, "[Invented] A: B")
    assert len(study.conditions) == (1 if VOCABULARY.designs[design].pairing == "none" else 2)


@pytest.mark.parametrize("design", DESIGNS)
def test_left_empty_it_is_refused_with_each_line_and_what_to_write(design: str, tmp_path: Path) -> None:
    text = study_template(VOCABULARY.designs[design], VOCABULARY)
    with pytest.raises(BadInput) as refused:
        read(text, tmp_path)
    told = str(refused.value)
    assert "line 5: key is empty. Write text or a whole number, or leave the entry out." in told
    assert (
        "read_from is empty. Use one of: abstract, full text, figure, open data; or leave the entry out."
        in told
    )
    assert "None" not in told


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("exercise", 'exercise "?" is not known'),
        ("region", 'region "?" is not known'),
        ("cells", 'cell "?": not a figure'),
        ("construct", "construct is empty"),
        ("spread", "spread is empty. Use one of: SD, SE, CI"),
    ],
)
def test_one_thing_left_is_enough_to_be_told(name: str, said: str, tmp_path: Path) -> None:
    text = study_template(VOCABULARY.designs["randomised_parallel"], VOCABULARY)
    with pytest.raises(BadInput) as refused:
        read(filled(text, without=name), tmp_path)
    assert said in str(refused.value)


def test_what_may_be_written_is_named_from_the_vocabulary() -> None:
    text = study_template(VOCABULARY.designs["randomised_crossover"], VOCABULARY)
    assert all(construct in text for construct in VOCABULARY.constructs)
    assert all(status in text for status in VOCABULARY.training_statuses)
