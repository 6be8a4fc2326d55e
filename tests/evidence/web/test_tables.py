"""A pasted table on the page: what was set aside is told and mended there, labels are answered by choice or by name."""

import re

HEAD = "Table 2. [Invented] EMG amplitude (%MVIC).\n\tNordic curl\tRomanian deadlift\n"
MIXED = HEAD + "Hamstrings\t48,2 ± 13,1\t31.5 ± 10.9\nGluteus maximus\t66.0 ± 17.2\t71.3 ± 18.8\n"
LABELS = HEAD.replace("Nordic", "Nrodic") + "Outer hip\t48.2 ± 13.1\t31.5 ± 10.9\n"
PLACE = "/studies/plate-2017/table"
SAID = {"read_from": "full text", "spread": "SD"}


def test_a_figure_with_the_other_decimal_sign_is_told_with_its_place_and_mended_there(visitor):
    answer = visitor.post(PLACE, data={**SAID, "table": MIXED, "do": "look"})
    assert "line 3 (Hamstrings)" in answer.text and "decimal comma where the rest has a point" in answer.text
    mended = visitor.post(PLACE, data={**SAID, "table": MIXED, "decimal": "both"})
    assert "Set aside" not in mended.text and "Store 4 results" in mended.text
    stored = visitor.post(PLACE, data={**SAID, "table": MIXED, "decimal": "both", "do": "store"})
    assert "48,2 ± 13,1" in stored.text and "Stored:" in stored.text  # as printed


def test_a_row_that_is_lost_for_its_commas_is_told(visitor):
    table = HEAD + "Hamstrings\t48.2 (13.1)\t31.5 (10.9)\nGluteus maximus\t66,0 (17.2)\t71,3 (18,8)\n"
    answer = visitor.post(PLACE, data={**SAID, "table": table, "do": "look"})
    assert "line 4 (Gluteus maximus)" in answer.text


def nearest(text, label):
    """The first group of choices of a label."""
    part = text.split(f'name="means:{label}"')[1]
    return re.findall(r"<option value=\"([^\"]+)\"", part.split("</optgroup>")[0])


def test_the_nearest_meanings_of_a_label_come_first_and_few_the_rest_by_part_of_the_body(visitor):
    answer = visitor.post(PLACE, data={**SAID, "table": LABELS, "do": "look"})
    assert nearest(answer.text, "Outer hip") == ["gluteus_medius", "gluteus_minimus", "tensor_fasciae_latae"]
    assert nearest(answer.text, "Nrodic curl") == ["nordic"]
    assert '<optgroup label="lower limb: gluteal muscles">' in answer.text


def test_a_label_is_answered_by_typing_a_name_and_a_name_that_is_none_is_told(visitor):
    typed = {"typed:Outer hip": "Gluteus medius", "typed:Nrodic curl": "nordic"}
    answer = visitor.post(PLACE, data={**SAID, "table": LABELS, "do": "look", **typed})
    assert "What these labels are" not in answer.text and "Store 2 results" in answer.text
    answer = visitor.post(
        PLACE, data={**SAID, "table": LABELS, "do": "look", "typed:Outer hip": "the hippy bit"}
    )
    assert "“the hippy bit” is none of the choices" in answer.text


def test_an_answer_given_before_there_is_a_table_is_no_error(visitor):
    answer = visitor.post(PLACE, data={"spread": "SD"}, headers={"HX-Request": "true"})
    assert answer.status_code == 200 and "no table" not in answer.text


def test_a_figure_is_shown_with_the_decimals_that_the_paper_prints(visitor):
    table = HEAD + "Hamstrings\t24.0 ± 13.10\t45.0 ± 9\n"
    answer = visitor.post(PLACE, data={**SAID, "table": table, "do": "look"})
    assert "24.0 (SD 13.10)" in answer.text and "45.0 (SD 9)" in answer.text


def test_what_is_asked_of_the_figure_beside_the_mean_is_asked_in_one_wording(visitor):
    table = HEAD + "Hamstrings\t24.0 ± 13.1\t45.0 ± 9.0\n"
    answer = visitor.post(PLACE, data={"read_from": "full text", "table": table, "do": "look"})
    assert "What is the figure beside the mean?" in answer.text  # the form
    assert "What is the figure beside the mean? 2 cells wait for it." in answer.text
    assert "Cells to look at" not in answer.text  # no cell has to be answered by itself
    assert "spread is has not been said" not in answer.text


def test_times_and_spreads_are_offered_in_words_that_a_coach_knows(visitor):
    text = visitor.get(PLACE).text
    assert '<option value="over">over the whole period: a change, a count</option>' in text
    assert '<option value="SE">SE (SEM): standard error</option>' in text
