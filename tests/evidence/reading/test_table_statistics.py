"""What a table's figures are, where its title, its units or its layout say so. All tables are invented."""

from evidence.reading.pasted import read_table
from evidence.reading.table import Answers, ReadCell, TableReading
from evidence.vocabulary.terms import Spread, Statistic


def kinds(reading: TableReading) -> set[Statistic | None]:
    return {cell.value_kind for cell in reading.cells}


def asked(reading: TableReading) -> set[tuple[str, ...]]:
    return {doubt.candidates for cell in reading.cells for doubt in cell.doubts}


def pairs(cells: tuple[ReadCell, ...]) -> list[tuple[float | None, float | None, Spread]]:
    return [(cell.value, cell.spread, cell.spread_kind) for cell in cells]


def test_a_title_of_correlations_over_bare_figures_is_believed():
    reading = read_table(
        "Table 4. Pearson correlations\n\tSprint\tJump\nSquat\t−0.52\t0.61\nNordic curl\t−0.33\t0.25"
    )
    assert kinds(reading) == {Statistic.CORRELATION}


def test_a_title_of_correlations_over_figures_above_one_is_asked_about():
    reading = read_table(
        "Table 4. Strength and its correlations\n\tSquat\tPress\nMen\t120\t240\nOld men\t88\t150"
    )
    assert asked(reading) == {("correlation", "mean")}


def test_a_title_of_effect_sizes_is_believed_and_one_that_names_means_too_is_asked_about():
    table = "\n\tSquat\tLunge\nVastus lateralis\t0.62\t0.41\nSoleus\t0.10\t0.05"
    assert kinds(read_table("Table 3. Effect sizes (Hedges' g)" + table)) == {Statistic.SMD}
    assert asked(read_table("Table 3. Means and effect sizes" + table)) == {("smd", "mean")}


def test_kilograms_below_zero_are_no_mean_in_silence():
    reading = read_table(
        "Table 2\n\tA\tB\nSquat (kg)\t−4.1 ± 2.0\t3.0 ± 2.2\nPress (kg)\t5.0 ± 3.0\t2.0 ± 2.0\nMean ± SD"
    )
    assert {cell.id for cell in reading.doubtful} == {cell.id for cell in reading.cells if cell.column == "A"}


def test_a_title_that_opens_with_change_over_figures_below_zero_is_believed():
    reading = read_table(
        "Table 2. Change after detraining, mean ± SD\n\tA\tB\nSquat (kg)\t−4.1 ± 2.0\t−3.0 ± 2.2"
    )
    assert kinds(reading) == {Statistic.CHANGE}
    assert not reading.doubtful


def test_change_of_direction_is_a_test_and_no_change():
    reading = read_table(
        "Table 1. Mean ± SD\nTest\tChange of direction (s)\tSprint (s)\nA\t2.61 ± 0.11\t3.20 ± 0.12\n"
    )
    assert kinds(reading) == {Statistic.MEAN}


def test_sem_beside_icc_is_no_spread():
    reading = read_table(
        "Test\tTrial (mean ± SD)\tICC\tSEM\tMDC\nA (N)\t180 ± 40\t0.94\t9.9\t27.5\nB (N)\t150 ± 30\t0.90\t9.7\t26.9"
    )
    assert [cell.spread for cell in reading.cells if cell.column == "ICC"] == [None, None]
    assert {cell.value_kind for cell in reading.cells if cell.column != "Trial"} == {
        Statistic.MEAN,
        Statistic.TEST,
    }
    assert sum(cell.value_kind is Statistic.TEST for cell in reading.cells) == 6


def test_sem_beside_means_alone_stays_a_standard_error():
    reading = read_table("Muscle\tMean\tSEM\nSoleus\t20.1\t1.1\nGluteus maximus\t40.2\t2.0")
    assert pairs(reading.cells) == [(20.1, 1.1, Spread.SE), (40.2, 2.0, Spread.SE)]


def test_spreads_on_the_line_below_are_put_behind_their_figures():
    wanted = [
        (121.4, 18.2, Spread.SD),
        (119.8, 17.5, Spread.SD),
        (36.2, 5.1, Spread.SD),
        (38.0, 5.4, Spread.SD),
    ]
    tabs = (
        "Mean (SD)\n\tA\tB\nSquat (kg)\t121.4\t119.8\n\t(18.2)\t(17.5)\nJump (cm)\t36.2\t38.0\n\t(5.1)\t(5.4)"
    )
    lines = "Table 1. Mean (SD)\nTest A B\nSquat (kg) 121.4 119.8\n(18.2) (17.5)\nJump (cm) 36.2 38.0\n(5.1) (5.4)"
    assert pairs(read_table(tabs).cells) == wanted
    assert pairs(read_table(lines).cells) == wanted


def test_a_line_with_fewer_spreads_than_figures_is_not_shared_out():
    reading = read_table(
        "Table 1. Mean (SD)\nTest A B\nSquat (kg) 121.4 119.8\n(18.2)\nJump (cm) 36.2 38.0\n(5.1) (5.4)"
    )
    squat = [cell for cell in reading.cells if cell.row.startswith("Squat")]
    assert all(cell.spread is None or cell.doubts for cell in squat)


def test_two_brackets_are_a_spread_and_an_interval():
    reading = read_table(
        "Values are mean (SD) [95% CI]\n\tA\tB\nSpeed (m/s)\t1.21 (0.20) [1.13, 1.29]\t1.10 (0.19) [1.02, 1.18]"
    )
    first = reading.cells[0]
    assert (first.spread, first.spread_kind, first.low, first.high) == (0.20, Spread.SD, 1.13, 1.29)
    assert (first.interval_kind, first.level) == (Spread.CI, 95)


def test_a_third_figure_in_brackets_is_kept_and_asked_about_unless_it_is_explained():
    table = (
        "\n\tMen\tWomen\nSquat (kg)\t120 ± 18 (15)\t80 ± 12 (15)\nPress (kg)\t240 ± 24 (10)\t180 ± 18 (10)"
    )
    assert not read_table("Mean ± SD (CV%)" + table).doubtful
    told = read_table("Mean ± SD" + table)
    assert [cell.word for cell in told.cells] == ["15", "15", "10", "10"]
    assert len(told.doubtful) == 4


def test_one_header_line_of_names_with_statistics_is_taken_apart():
    reading = read_table(
        "Test\tPre mean\tPre SD\tPost mean\tPost SD\nSquat (kg)\t100\t10\t110\t11\nPress (kg)\t200\t20\t210\t21"
    )
    assert [(c.timepoint, c.value, c.spread, c.spread_kind) for c in reading.cells[:2]] == [
        ("Pre", 100, 10, Spread.SD),
        ("Post", 110, 11, Spread.SD),
    ]
    assert len(reading.cells) == 4


def test_a_lone_header_that_names_a_spread_over_bare_figures_is_asked_about():
    reading = read_table("Test\tSquat\tSpread (SD)\nA (kg)\t100\t10\nB (kg)\t110\t11")
    assert all(cell.doubts for cell in reading.cells if cell.value in (10, 11))


def test_two_ends_that_nothing_explains_are_not_offered_as_a_standard_deviation():
    reading = read_table(
        "Table 3. Peak EMG (%)\nMuscle\tStep-up\tLunge\nSoleus\t44 (31-60)\t52 (38-71)\nVastus\t29 (18-43)\t37 (25-52)"
    )
    assert next(q for q in reading.questions if q.id == "spread").candidates == ("CI", "IQR", "range")


def test_the_third_figure_is_n_where_the_legend_says_so():
    reading = read_table(
        "Mean ± SD (n)\n\tA\tB\nSquat (kg)\t120 ± 18 (15)\t80 ± 12 (14)\n"
        "Press (kg)\t240 ± 24 (15)\t180 ± 18 (13)"
    )
    assert [(cell.n, cell.word) for cell in reading.cells] == [(15, None), (14, None), (15, None), (13, None)]


def test_rows_of_sd_least_and_most_complete_the_figure_above():
    reading = read_table(
        "Table 1\n\tSquat (kg)\tJump (cm)\nMean\t128.4\t38.2\nSD\t19.0\t5.1\nMinimum\t95.0\t29.4\n"
        "Maximum\t170.0\t48.8"
    )
    assert [(c.value, c.spread, c.spread_kind, c.low, c.high, c.interval_kind) for c in reading.cells] == [
        (128.4, 19.0, Spread.SD, 95.0, 170.0, Spread.RANGE),
        (38.2, 5.1, Spread.SD, 29.4, 48.8, Spread.RANGE),
    ]


def test_a_row_of_sd_below_a_named_row_is_its_spread():
    reading = read_table(
        "Table 1\n\tA\tB\nSquat (kg)\t128.4\t131.0\nSD\t19.0\t20.1\nJump (cm)\t38.2\t37.7\nSD\t5.1\t5.0"
    )
    assert [(c.row, c.spread) for c in reading.cells] == [
        ("Squat (kg)", 19.0),
        ("Squat (kg)", 20.1),
        ("Jump (cm)", 5.1),
        ("Jump (cm)", 5.0),
    ]


def test_a_figure_under_a_head_that_names_no_figure_is_asked_about():
    reading = read_table("Test\tMaximum\tSquat (kg)\nA\t170.0\t128.4\nB\t150.0\t121.0")
    assert all(cell.doubts for cell in reading.cells if cell.column == "Maximum")


def test_bounds_in_columns_stand_beside_the_standard_error():
    reading = read_table(
        "Group\tMean\tSE\tLower bound\tUpper bound\nA\t141.2\t5.1\t130.9\t151.5\nB\t158.8\t5.3\t148.1\t169.5\n"
        "The bounds are those of the 95% confidence interval."
    )
    first = reading.cells[0]
    assert (first.spread, first.spread_kind, first.interval_kind, first.level) == (
        5.1,
        Spread.SE,
        Spread.CI,
        95,
    )


def test_capitals_and_other_languages_name_the_same_statistic():
    for head, kind in (
        ("Hedges' g [95% CI]", Statistic.SMD),
        ("Cohen's d [95% CI]", Statistic.SMD),
        ("Effect Size [95% CI]", Statistic.SMD),
        ("Differenz [95%-KI]", Statistic.DIFFERENCE),
        ("Veränderung [95%-KI]", Statistic.CHANGE),
        ("Diferencia [IC 95%]", Statistic.DIFFERENCE),
    ):
        reading = read_table(f"Test\t{head}\nSquat\t0.45 [0.10, 0.80]\nPress\t0.21 [−0.50, 0.92]")
        assert kinds(reading) == {kind}, head


def test_single_people_are_no_results():
    people = "\tPre\tPost\nP01\t92.5\t105.0\nP02\t110.0\t117.5\nP03\t85.0\t97.5"
    refused = read_table(f"Table 2. Squat (kg) of each participant\n{people}")
    assert refused.refused is not None and "individual data" in refused.refused
    kept = read_table(f"Table 2. Squat (kg) of each participant\n{people}\nMean\t95.8\t106.7\nSD\t12.8\t10.1")
    assert pairs(kept.cells) == [(95.8, 12.8, Spread.SD), (106.7, 10.1, Spread.SD)]
    assert any("individual data" in text for text in kept.warnings)


def test_rows_named_by_letters_and_numbers_with_spreads_are_groups():
    reading = read_table(
        "Mean ± SD\nExercise\tPre\tPost\nS1\t92.5 ± 9.0\t105.0 ± 9.9\nS2\t110 ± 10\t117 ± 11\n"
        "S3\t85 ± 8\t97 ± 9"
    )
    assert len(reading.cells) == 6


def test_one_number_of_people_in_the_title_counts_everyone():
    reading = read_table(
        "Table 2. Within-person comparison (n = 16), mean ± SD\n\tPre\tPost\n"
        "Squat\t23.0 ± 2.8\t25.1 ± 3.0\nJump\t19 ± 2\t21 ± 2"
    )
    assert {cell.n for cell in reading.cells} == {16}


def test_values_that_are_medians_are_medians():
    reading = read_table(
        "Values are medians (interquartile range)\n\tA\tB\nSoleus\t24.0 (16.5–33.0)\t47.5 (35.0–62.5)"
    )
    assert kinds(reading) == {Statistic.MEDIAN}


def test_a_row_that_counts_women_is_no_group():
    reading = read_table(
        "Characteristic\tA (n = 12)\tB (n = 11)\nAge (years), mean (SD)\t27.3 (7.7)\t33.1 (4.3)\n"
        "Women, n (%)\t7 (58)\t5 (45%)"
    )
    assert [(c.row, c.group, c.value_kind) for c in reading.cells] == [
        ("Age (years), mean (SD)", "A", Statistic.MEAN),
        ("Age (years), mean (SD)", "B", Statistic.MEAN),
        ("Women, n (%)", "A", Statistic.COUNT),
        ("Women, n (%)", "B", Statistic.COUNT),
    ]


def test_a_title_of_p_values_over_bare_figures_is_believed():
    reading = read_table(
        "Table 5. P values of the comparisons\n\tSquat\tLunge\nStep-up\t0.002\t0.410\nDeadlift\t0.650\t0.012"
    )
    assert [(c.p, c.value) for c in reading.cells] == [
        ("0.002", None),
        ("0.410", None),
        ("0.650", None),
        ("0.012", None),
    ]


def test_a_difference_with_its_p_in_the_bracket_is_a_difference():
    reading = read_table(
        "Outcome\tDifference (95% CI; p)\nSquat (kg)\t12.7 (4.1 to 21.3; 0.005)\n"
        "Press (kg)\t0.3 (−0.2 to 0.8; 0.24)"
    )
    first = reading.cells[0]
    assert (first.value_kind, first.value, first.low, first.high, first.word) == (
        Statistic.DIFFERENCE,
        12.7,
        4.1,
        21.3,
        "0.005",
    )


def test_an_analysis_or_norms_are_no_results():
    for table, word in (
        (
            "Analysis\nSource\tdf\tSS\tMS\tF\tp\nStance\t2\t310.4\t155.2\t9.81\t<0.001\nError\t57\t901.7\t15.8\t\t",
            "variance",
        ),
        (
            "Linear regression\nPredictor\tB\tSE\tβ\tt\n"
            "Squat\t−0.004\t0.001\t−0.41\t−3.10\nMass\t0.002\t0.001\t0.18\t1.40",
            "regression",
        ),
        (
            "Percentiles of the test\nAge\t5th\t25th\t50th\t75th\n60–64\t9\t12\t14\t17\n65–69\t8\t11\t13\t16",
            "percentile",
        ),
    ):
        refused = read_table(table).refused
        assert refused is not None and word in refused


def test_a_change_counted_from_after_to_before_is_asked_about():
    reading = read_table(
        "Mean (SD)\nTest\tPre\tPost\tDifference (pre − post)\nUp-and-go (s)\t8.4 (1.5)\t7.2 (1.2)\t1.2 (0.8)"
    )
    cell = reading.doubtful[0]
    turned = read_table(reading.raw, answers=Answers(cells={cell.id: cell.doubts[0].candidates[0]})).cells[-1]
    assert (turned.value, turned.value_kind, turned.doubts) == (-1.2, Statistic.CHANGE, ())


def test_an_effect_has_no_standard_deviation():
    reading = read_table(
        "Mean ± SD\nTest\tPre\tPost\tEffect size\nSprint (s)\t1.84 ± 0.08\t1.79 ± 0.07\t−0.60 ± 0.31"
    )
    cell = reading.doubtful[0]
    assert cell.doubts[0].candidates == ("confidence limits", "the standard error")
    limits = read_table(reading.raw, answers=Answers(cells={cell.id: "confidence limits"})).cells[-1]
    assert (limits.low, limits.high, limits.spread, limits.spread_kind) == (-0.91, -0.29, None, Spread.CI)


def test_quartiles_as_an_answer_stand_about_a_median():
    paste = "Table 3. Peak EMG (%)\nMuscle\tStep-up\tLunge\n"
    paste += "Soleus\t44 (31-60)\t52 (38-71)\nVastus\t29 (18-43)\t37 (25-52)"
    answered = read_table(paste, answers=Answers(spread=Spread.IQR))
    assert {(c.value_kind, c.spread_kind) for c in answered.cells} == {(Statistic.MEDIAN, Spread.IQR)}
    ranges = read_table(paste, answers=Answers(spread=Spread.RANGE))
    assert {(c.value_kind, c.spread_kind) for c in ranges.cells} == {(Statistic.MEAN, Spread.RANGE)}
