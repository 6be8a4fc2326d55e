"""The page of a study shows what is known of it: who took part, how many stand behind a figure, what comes next."""


def test_those_recruited_are_told_beside_those_analysed_and_sex_is_told_in_words(visitor):
    text = visitor.get("/studies/rack-2016").text
    assert "recruited 30, analysed 28; untrained men and women, mean age 22.9 years, healthy" in text


def test_a_figure_shows_the_n_of_its_condition_or_group_and_says_so(visitor):
    text = visitor.get("/studies/plate-2017").text
    assert '<td class="number">(' in text and "n in brackets: as its condition or group has it" in text
