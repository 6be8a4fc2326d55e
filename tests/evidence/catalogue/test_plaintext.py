"""Our YAML is YAML: what is written is read back exactly, by us and by a general-purpose reader."""

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.catalogue.plaintext import read_yaml, write_yaml
from evidence.errors import BadInput

# ruff: noqa: E501
AWKWARD = [
    "yes", "No", "null", "~", "1", "1.0", "1e5", "0x1F", "012", "1_000", "12:30", "2020-01-01", ".nan", ".inf", "-",
    "- a", "a: b", "a #b", "#", "&a", "*a", "!a", "|", ">", "%", "@", "`", "'", '"', "?", "? a", "[", "{a", "=", "<<",
    " a", "a ", "a\n", "\na", "a\n\n", "a\r\nb", "a\tb", "\t", "a\n b", "a\n\tb", "a\n   \nb", "x\u2028y\nz", "\x85",
    "\ufeff", "\x7f", "\x1b[0m", "é", "e\u0301", "股\n四頭筋", "😀", "\U000e0001", "---", "...", "--- a\n...", "±", "−5",
    "a" * 300, "line\n" * 3, "a:\n  - b\n", "y", "n", "on", "",
]  # fmt: skip
TEXT = st.one_of(st.sampled_from(AWKWARD), st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
SCALAR = st.one_of(
    TEXT,
    st.none(),
    st.booleans(),
    st.integers(-(2**63) + 1, 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
)
VALUE = st.recursive(
    SCALAR, lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(TEXT, inner, max_size=4))
)


def same(a, b):
    """Equal, and of the same kinds all the way down (1, 1.0 and True are equal in Python)."""
    if isinstance(a, dict):
        return list(a) == list(b) and all(same(a[name], b[name]) for name in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    return type(a) is type(b) and repr(a) == repr(b)


@settings(max_examples=400, deadline=None)
@given(st.dictionaries(TEXT, VALUE, max_size=5))
def test_everything_comes_back_as_it_was(value):
    text = write_yaml(value)
    assert same(value, read_yaml(text, "file"))
    assert write_yaml(read_yaml(text, "file")) == text


# Floats are left out: readers of YAML 1.1 take 1e+22 for a text, as a float needs a point there.
READABLE = st.text(st.characters(codec="utf-8", exclude_characters="\ufeff"), max_size=20)


@settings(max_examples=200, deadline=None)
@given(
    st.dictionaries(
        READABLE, st.one_of(READABLE, st.sampled_from(AWKWARD), st.integers(), st.lists(READABLE))
    )
)
def test_a_general_purpose_reader_reads_the_same(value):
    assert yaml.safe_load(write_yaml(value)) == value


@pytest.mark.parametrize("text", AWKWARD)
def test_awkward_texts_come_back_wherever_they_stand(text):
    value = {
        "a": text,
        "b": [text, [text], {"c": text, text + "k": {"d": text}}],
        "e": {text + "!": [{"f": text}]},
    }
    assert same(value, read_yaml(write_yaml(value), "file"))
    assert yaml.safe_load(write_yaml(value)) == value


def test_long_names_come_back():
    value = {"k" * 5000: {"\n" * 2000: [1]}, "a": "b"}
    assert same(value, read_yaml(write_yaml(value), "file"))


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a: 1\nb: [1, 2\n", 3, "cannot be read"),
        ("a: 1\na: 2\n", 2, "twice"),
        ("a: &x 1\nb: *x\n", 1, "references"),
        ("a: !!python/object/apply:os.system [ls]\n", 1, "tag"),
        ("a: !own 1\n", 1, "tag"),
        ("a: !!binary aGk=\n", 1, "tag"),
        ("- a\n", 1, "no mapping"),
        ("just text\n", 1, "no mapping"),
        ("1: a\n", 1, "no text"),
        ("? [a]\n: b\n", 1, "no text"),
        ("a: 1\n--- \nb: 2\n", 2, "document"),
        ("a: \x07\n", None, "cannot be read"),
        ("", None, "empty"),
        ("# only a comment\n", None, "empty"),
        ("a: " + "[" * 200 + "]" * 200, 1, "too deep"),
    ],
)
def test_what_is_not_plain_yaml_is_told_with_its_line(text, line, words):
    with pytest.raises(BadInput, match=words) as caught:
        read_yaml(text, "file")
    assert caught.value.where == (f"file:{line}" if line else "file")


@pytest.mark.parametrize("text", ["[" * 100_000, "a: " + "{a: " * 100_000, "- " * 100_000, "? " * 100_000])
def test_bottomless_files_are_refused(text):
    with pytest.raises(BadInput):
        read_yaml(text, "file")


def test_a_bomb_of_references_is_refused_at_once():
    bomb = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30))
    with pytest.raises(BadInput, match="references"):
        read_yaml(bomb, "file")


def test_a_number_that_is_not_finite_is_not_written():
    with pytest.raises(BadInput, match="finite"):
        write_yaml({"a": float("nan")})


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("1e400", "1e400"),
        ("TRUE", True),
        ("tRUE", "tRUE"),
        ("+5", 5),
        (".5", 0.5),
        ("5.", 5.0),
        ("-0.0", -0.0),
    ],
)
def test_unquoted_words_mean_what_the_core_schema_says(word, value):
    """YAML 1.2.2, section 10.3.2; a number too large for a float stays a text."""
    assert same(read_yaml(f"a: {word}", "file")["a"], value)
