"""Damaged characters are inferred from the paste itself, and undamaged text is never changed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.cells import FILLER
from evidence.reading.damage import infer_damage, keep_controls, restore, unify_variants


def repaired(text, answers=None):
    lines = [unify_variants(keep_controls(line)) for line in text.split("\n")]
    damage = infer_damage(lines, answers)
    return damage, "\n".join(restore(line, damage) for line in lines).replace(FILLER, "")


@pytest.mark.parametrize(
    ("text", "char", "sign", "piece"),
    [
        ("A 22 6 1 28 6 2\nB 17 6 1 22 6 1\nValues are means 6 standard error.", "6", "±", "22 ± 1 28 ± 2"),
        ("A 159 T 38 195 T 45\nData presented as mean T SD.", "T", "±", "159 ± 38"),
        ("A 1512 Æ 210 1022 Æ 160", "Æ", "±", "1512 ± 210"),
        ("A 0.95 \ufffd 0.06 1.01 \ufffd 0.09", "U+FFFD", "±", "0.95 ± 0.06"),
        ("A \x050.89 (\x051.53 to \x050.23)", "U+0005", "−", "−0.89 (−1.53 to −0.23)"),
        ("A (n \x02 10) 5.1 (2.0)", "U+0002", "=", "(n = 10)"),
        ("A (n ¼ 12)", "¼", "=", "(n = 12)"),
        ("* P G 0.01.", "G", "<", "P < 0.01"),
        ("*Different (p , 0.05).", ",", "<", "(p < 0.05)"),
        ("P-value group 9 time", "9", "×", "group × time"),
        ("A j2.8 j0.6\nB j4.2 1.0", "j", "−", "−2.8 −0.6"),
    ],
)
def test_a_sign_is_inferred_where_it_stands(text, char, sign, piece):
    damage, result = repaired(text)
    assert sign in damage.mapping[char]
    assert piece in result


def test_six_between_a_mean_of_six_and_a_spread_is_the_sign():
    _, result = repaired("A 6 6 1 22 6 6\nB 6 6 2 20 6 6\nValues are means 6 SD.")
    assert result.startswith("A 6 ± 1 22 ± 6")


def test_a_digit_without_a_legend_is_repaired_but_marked_unsure():
    damage, _ = repaired("Squat 22 6 1 28 6 2\nLunge 17 6 1 22 6 1\nStep 19 6 2 21 6 1")
    assert "6" in damage.unsure


def test_one_character_may_stand_for_two_signs_by_its_place():
    damage, result = repaired(
        "A (ms) 212 \ufffd 24 205 \ufffd 22 \ufffd7 \ufffd 12\nB 3.11 \ufffd 0.12 3.05 \ufffd 0.11 \ufffd0.06 \ufffd "
        "0.05"
    )
    assert "205 ± 22 −7 ± 12" in result
    assert "±" in damage.mapping["U+FFFD"]
    assert "−" in damage.mapping["U+FFFD"]


def test_the_user_overrides_what_was_inferred():
    damage, result = repaired("A 159 T 38 195 T 45\nData presented as mean T SD.", {"T": ""})
    assert "T" not in damage.mapping
    assert "159 T 38" in result


def test_letters_and_digits_of_labels_are_left_alone():
    text = "T20 (s) 2.99 T 0.09\nL4 6 level 12 T 3\nData are mean T SD"
    assert "T20 (s) 2.99 ± 0.09" in repaired(text)[1]


WORDS = st.lists(
    st.sampled_from(["Squat", "Leg press", "Pre", "Post", "(kg)", "mean ± SD", "n = 12", "p < 0.05"]),
    max_size=5,
)
PAIRS = st.lists(st.tuples(st.floats(0.1, 900), st.floats(0.1, 90)), min_size=1, max_size=6)


@given(st.lists(st.tuples(WORDS, PAIRS), min_size=1, max_size=6))
def test_undamaged_text_is_never_changed(rows):
    text = "\n".join(" ".join([*words, *(f"{a:.1f} ± {b:.1f}" for a, b in pairs)]) for words, pairs in rows)
    damage, result = repaired(text)
    assert result == text
    assert not damage.mapping


@given(st.text(max_size=200))
def test_a_repair_keeps_every_place(text):
    line = unify_variants(keep_controls(text.replace("\n", " ")))
    assert len(restore(line, infer_damage([line]))) == len(line)
