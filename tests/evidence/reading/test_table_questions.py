"""Questions about a paste: each that is shown can be answered, and a refused reading is never kept. Invented."""

from evidence.reading.pasted import read_table
from evidence.reading.questions import choose_reading
from evidence.reading.table import Answers, ReadCell, add_doubt
from evidence.vocabulary.terms import Spread, Statistic

BARE = "Muscle\tSquat\tLunge\nGluteus\t40.1\t50.2\nSoleus\t12.0\t13.1"
SE = "Muscle\tSquat\tLunge\nGluteus\t40.1 ± 1.0\t50.2 ± 1.2*\nSoleus\t12.0 ± 0.3\t13.1 ± 0.4\nMean ± SE"
COMMA = "Muskel\tA\tB\nGluteus\t40,1 ± 9,0\t50,2 ± 9,9\nSoleus\t12,0 ± 3,3\t13,1 ± 3,0\nMittelwert ± SD"


def ids(text: str, answers: Answers | None = None) -> list[str]:
    return [q.id for q in read_table(text, answers=answers).questions]


def test_what_no_answer_could_change_is_told_and_not_asked():
    assert ids(SE) == ["n"]
    assert ids(COMMA) == ["n"]
    assert any("explains: *" in text for text in read_table(SE).warnings)
    assert any("comma" in text for text in read_table(COMMA).warnings)


def test_bare_figures_are_asked_about_once_and_the_answer_holds():
    assert "statistic" in ids(BARE)
    answers = Answers(statistic=Statistic.MEDIAN)
    assert "statistic" not in ids(BARE, answers)
    assert {c.value_kind for c in read_table(BARE, answers=answers).cells} == {Statistic.MEDIAN}


def test_a_damaged_character_that_was_settled_is_not_asked_about_again():
    table = "Muscle\tA\tB\nGluteus\t40.1 \x06 9.0\t50.2 \x06 9.9\nSoleus\t12.0 \x06 3.3\t13.1 \x06 3.0\nMean \x06 SD"
    assert "character U+0006" in ids(table)
    assert "character U+0006" not in ids(table, Answers(characters={"U+0006": "±"}))


def doubtful() -> ReadCell:
    cell = ReadCell("Squat", "A", "40.1 (9.0)", (3, 12), value=40.1, spread=9.0, spread_kind=Spread.SD)
    return add_doubt(cell, "another cell has the same labels", ("as read here", "another place"))


def test_the_first_candidate_keeps_the_cell_and_a_refusal_sets_it_aside():
    assert choose_reading(doubtful(), "as read here").value == 40.1
    refused = choose_reading(doubtful(), "another place")
    assert (refused.value, refused.spread, refused.missing, refused.doubts) == (None, None, "set aside", ())
    assert choose_reading(doubtful(), "no such choice") == doubtful()


def test_several_doubts_of_one_cell_take_one_answer_each():
    table = "Table 2. Changes in girth (SD) [Invented]\n\tSquat\tPress\nThigh (cm)\t1.4 (0.6)\t1.1 (0.7)\nMean (SD)"
    cell = read_table(table).cells[0]
    assert [d.candidates for d in cell.doubts] == [("change", "mean")]
    settled = read_table(table, answers=Answers(cells={cell.id: "change\nas read here"})).cells[0]
    assert (settled.value_kind, settled.doubts) == (Statistic.CHANGE, ())
