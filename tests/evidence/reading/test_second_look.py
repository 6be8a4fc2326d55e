"""What a cell's own labels contradict is asked about, never read in silence. Tables invented."""

from evidence.reading.pasted import read_table
from evidence.vocabulary.terms import Statistic


def doubted(text: str) -> set[str]:
    return {cell.printed for cell in read_table(text).cells if cell.doubts}


def test_numbers_of_people_with_percentages_are_no_means() -> None:
    table = (
        "Table 1. [Invented]\n\tSquat (n = 20)\tPress (n = 18)\nWomen, n (%)\t12 (60)\t11 (61)\n"
        "Mass (kg), mean (SD)\t74.9 (11.3)\t75.8 (12.0)\n"
    )
    assert not {"74.9 (11.3)", "75.8 (12.0)"} & doubted(table)
    silent = [c for c in read_table(table).cells if c.printed == "12 (60)" and not c.doubts]
    assert all(c.value_kind is not None and c.value_kind.value != "mean" for c in silent)


def test_a_title_that_speaks_of_changes_makes_a_plain_mean_doubtful() -> None:
    table = (
        "Table 2. Changes in girth, mean (SD). [Invented]\n\tSquat\tPress\nThigh (cm)\t1.4 (0.6)\t1.1 (0.7)\n"
    )
    assert doubted(table) == {"1.4 (0.6)", "1.1 (0.7)"}


def test_a_title_that_opens_with_change_from_baseline_says_what_the_figures_are() -> None:
    table = "Table 2. Change from baseline, mean (SD). [Invented]\n\tSquat\tPress\nThigh (cm)\t1.4 (0.6)\t1.1 (0.7)\n"
    assert {c.value_kind for c in read_table(table).cells} == {Statistic.CHANGE}
    with_times = table.replace("Squat\tPress", "Pre\tPost")
    assert {c.value_kind for c in read_table(with_times).cells} == {Statistic.MEAN}


def test_a_figure_in_the_label_of_a_row_makes_its_cells_doubtful() -> None:
    table = "T. Mean ± SD. [Invented]\n\tSquat\tPress\nSoleus\t48.2 ± -13.1\t3.1 ± 1.0\n"
    assert all(cell.doubts for cell in read_table(table).cells)
