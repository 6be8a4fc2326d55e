"""The embedded fonts: their licences stand beside them, and the list of what they can show is theirs."""

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from evidence.publishing import glyphs

FONTS = Path(glyphs.__file__).parent / "fonts"


def listed() -> str:
    points = sorted({p for path in sorted(FONTS.glob("*.ttf")) for p in TTFont(path).getBestCmap()})
    ranges: list[list[int]] = []
    for point in points:
        if ranges and ranges[-1][1] == point - 1:
            ranges[-1][1] = point
        else:
            ranges.append([point, point])
    return "".join(f"{low:04X}-{high:04X}\n" if low != high else f"{low:04X}\n" for low, high in ranges)


def test_the_list_of_characters_is_that_of_the_fonts():
    assert (FONTS / "coverage.txt").read_text("ascii") == listed()


def test_each_family_has_its_licence_beside_it():
    licences = tuple(path.name.removesuffix("-LICENSE.txt") for path in FONTS.glob("*-LICENSE.txt"))
    assert [path.name for path in FONTS.glob("*.ttf") if not path.name.startswith(licences)] == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("τ² ≥ −0.3 → ü ß ﬁ", "τ² ≥ −0.3 → ü ß ﬁ"),
        ("漢", "[U+6F22]"),
        ("\U0001f3cb\ufe0f lift", "[U+1F3CB] lift"),
        ("א ש ا", "א ש ا"),  # right-to-left letters are in the fallback font
        ("a\u202eb\x1b", "ab"),  # a turned direction hides text: dropped, as control characters are
    ],
)
def test_what_no_font_holds_is_told_by_its_number(text, shown):
    assert glyphs.showable(text) == shown


def test_long_words_may_be_broken_and_lose_nothing():
    word = "https://doi.org/" + "x" * 200
    assert glyphs.breakable(word).replace("\u200b", "") == word
    assert max(map(len, glyphs.breakable(word).split("\u200b"))) < glyphs.LONG


if __name__ == "__main__":
    (FONTS / "coverage.txt").write_text(listed(), "ascii")
