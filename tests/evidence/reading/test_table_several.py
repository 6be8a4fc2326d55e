"""Several tables in one paste are parted at their captions and read apart. Invented."""

from evidence.reading.pasted import read_table
from evidence.reading.several_tables import part_tables

FIRST = "Table 1. Depth, mean ± SD [Invented]\nSex\tFlat\tRaised\nWomen\t52.1 ± 6.0\t47.7 ± 5.8*\n* p < 0.05 vs. flat"
SECOND = "Table 2. Lean, mean ± SE [Invented]\nSex\tFlat\tRaised\nWomen\t38.1 ± 1.2\t33.0 ± 1.1*\n* p < 0.05 vs. men"


def test_captions_with_numbers_part_the_lines():
    lines = f"{FIRST}\n\n{SECOND}".split("\n")
    assert part_tables(lines) == [range(5), range(5, 9)]
    assert part_tables(FIRST.split("\n")) == [range(4)]


def test_each_table_keeps_its_own_kind_of_spread_and_its_own_place_in_the_paste():
    reading = read_table(f"{FIRST}\n\n{SECOND}")
    assert [c.spread_kind.value for c in reading.cells] == ["SD", "SD", "SE", "SE"]
    assert [c.position[0] for c in reading.cells] == [3, 3, 8, 8]
    assert [c.section for c in reading.cells] == ["Table 1", "Table 1", "Table 2", "Table 2"]
    assert not any(c.doubts for c in reading.cells)


def test_a_mark_that_means_two_things_is_explained_by_neither():
    reading = read_table(f"{FIRST}\n\n{SECOND}")
    assert "*" not in reading.legend.marks
    assert any("means different things" in text for text in reading.warnings)


def test_a_caption_without_a_table_of_its_own_parts_nothing():
    reading = read_table(f"{FIRST}\nTable 2 shows the lean of the trunk.")
    assert len(reading.cells) == 2
    assert not any("tables were found" in text for text in reading.warnings)
