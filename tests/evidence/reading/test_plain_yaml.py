"""Plain YAML: words stay words, numbers keep their text, hostile documents are refused with the line."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.plain_yaml import load_yaml, written


@pytest.mark.parametrize(
    "word",
    [
        "no",
        "yes",
        "on",
        "off",
        "y",
        "n",
        "NO",
        "12:30",
        "2019-03-04",
        "12-Aug",
        "8-12",
        "1_000",
        "0x1F",
        "007",
        ".inf",
    ],
)
def test_words_that_other_readers_change_stay_text(word: str) -> None:
    assert load_yaml(f"key: {word}", "f").data == {"key": word}
    assert load_yaml(f"{word}: 1", "f").data == {word: 1}


def test_numbers_keep_the_text_they_were_written_as() -> None:
    data = load_yaml("p: 0.040\nx: -26\ny: 1e3\nz: 5.", "f").data
    assert data == {"p": 0.04, "x": -26, "y": 1000, "z": 5}
    assert [written(v) for v in data.values()] == ["0.040", "-26", "1e3", "5."]


def test_quoted_numbers_are_text_and_null_is_nothing() -> None:
    assert load_yaml("a: '12'\nb: ~\nc:\nd: true", "f").data == {"a": "12", "b": None, "c": None, "d": True}


def test_every_part_knows_its_line() -> None:
    document = load_yaml("a: 1\nb:\n  - c: 2\n    d: 3\n", "f.yaml")
    assert document.where(("b", 0, "d")) == "f.yaml, line 4"
    assert document.where(("b", 0, "missing")) == "f.yaml, line 3"


BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n"


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("a: 1\nb: 2\na: 3", 3, "twice"),
        ("a: 1\nb: !!python/object/apply:os.system ['true']", 2, "tag"),
        (BOMB, 1, "anchor"),
        ("x: 1\n" + "a: " + "[" * 60 + "]" * 60, 2, "nested"),
        ("[" * 100_000, 1, "nesting"),
        ("a: 1\n---\nb: 2", 2, "second document"),
        ("a:\n\t- b", 2, "tab"),
        ("a: [1, 2", 1, "brackets"),
        ("? [a, b]\n: c", 1, "plain word"),
        ("a: 'x", 1, "quotes"),
    ],
)
def test_broken_and_hostile_documents_are_refused_with_the_line(text: str, line: int, word: str) -> None:
    with pytest.raises(BadInput, match=word) as caught:
        load_yaml(text, "f.yaml")
    assert caught.value.where == f"f.yaml, line {line}"


def test_too_much_text_is_refused() -> None:
    with pytest.raises(BadInput, match="characters"):
        load_yaml("a" * 5_000_001, "f")


@given(st.text(max_size=120))
def test_any_text_is_read_or_refused_plainly(text: str) -> None:
    with suppress(BadInput):  # anything else raised fails the test
        load_yaml(text, "f")


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), max_size=5))
def test_numbers_written_by_python_are_read_back(numbers: list[float]) -> None:
    assert load_yaml(f"x: {numbers}", "f").data["x"] == numbers
