"""Checks on figures, in pairs: one line that must be flagged and its neighbour that must not be.

The first table holds cases of our own (the right answer worked out by hand beside each, or by the formula named); the
second what is odd in the papers of the design material (cases/papers, `traps` of each), with what is right beside it.
"""

from collections.abc import Callable

import pytest

from evidence.statistics import integrity as checks
from evidence.statistics import integrity_granularity as grain
from evidence.statistics import integrity_intervals as limits
from evidence.statistics import integrity_reports as reports
from evidence.statistics import integrity_significance as significance
from evidence.statistics.effect import Summary
from evidence.statistics.integrity import Finding

Check = Callable[[], Finding | None]

OWN: list[tuple[str, Check, str | None]] = [
    # p from t: 2·P(t22 > 2.07) = 0.0504, printed .05 may be .045 to .055
    ("t and p by rounding", lambda: checks.check_p_value("t", "2.07", ".05", df2=22), None),
    (
        "t far from significant",
        lambda: checks.check_p_value("t", "1.20", "0.05", df2=14, operator="<"),
        "different sides",
    ),
    # P(F2,36 > 3.26) = 0.0499
    ("F and p by rounding", lambda: checks.check_p_value("F", "3.26", ".05", df1=2, df2=36), None),
    # P(F1,18 > 4.41) = 0.0501: half of it is printed, and F has one tail only
    (
        "F is never halved",
        lambda: checks.check_p_value("F", "4.41", "0.025", df1=1, df2=18),
        "gives p = 0.05",
    ),
    # t = .45·√(18/(1 − .45²)) = 2.138, p = .0465
    ("r and p", lambda: checks.check_p_value("r", ".45", ".047", df2=18), None),
    ("r and p that do not fit", lambda: checks.check_p_value("r", ".45", ".004", df2=18), "r = .45"),
    ("p = 0 is no value", lambda: checks.check_p_value("t", "6.1", "0.000", df2=30), "usually means p <"),
    # 88/12 = 7.33; 7.35·12 = 88.2
    ("mean of whole numbers", lambda: grain.check_mean_granularity("7.33", 12), None),
    (
        "no such mean of whole numbers",
        lambda: grain.check_mean_granularity("7.35", 12),
        "cannot have a mean of 7.35",
    ),
    # with 250 people two decimals are always possible
    ("too many people to tell", lambda: grain.check_mean_granularity("7.35", 250), None),
    ("centre of a difference", lambda: limits.check_interval_centre("-0.32", "-0.71", "0.07"), None),
    ("a lost minus sign", lambda: limits.check_interval_centre("-0.32", "0.71", "0.07"), ""),
    # √(1.10·1.91) = 1.449
    ("centre of a ratio", lambda: limits.check_interval_centre("1.45", "1.10", "1.91", ratio=True), None),
    (
        "a ratio taken as a difference",
        lambda: limits.check_interval_centre("1.45", "1.10", "1.80", ratio=True),
        "middle",
    ),
    # 1.96·√(4/40) = 0.62
    (
        "an SMD of 40 people, width as it must be",
        lambda: limits.check_smd_width("0.60", "-0.04", "1.24", 40),
        None,
    ),
    (
        "an SMD too precise for its people",
        lambda: limits.check_smd_width("0.60", "0.45", "0.75", 40),
        "cannot be this precise",
    ),
    ("interval and p agree", lambda: limits.check_interval_against_p("0.40", "-0.05", "0.85", "0.08"), None),
    (
        "interval and p disagree",
        lambda: limits.check_interval_against_p("0.40", "0.02", "0.78", "0.21"),
        "0.21",
    ),
    ("percent of the base", lambda: reports.check_percent("14.0", "17.5", "25"), None),
    (
        "percent the other way round",
        lambda: reports.check_percent("14.0", "17.5", "20"),
        "the other way round",
    ),
    ("percent of %MVIC", lambda: reports.check_percent("40.0", "52.0", "30", both_percent=True), None),
    (
        "points called percent",
        lambda: reports.check_percent("40.0", "52.0", "12", both_percent=True),
        "percentage points",
    ),
    ("change within rounding", lambda: reports.check_change("45.2", "51.9", "6.6"), None),
    ("change that is none", lambda: reports.check_change("45.2", "51.9", "7.6"), "printed is 7.6"),
    # largest SD in a range of 12 with n = 12: 6·√(12/11) = 6.27
    ("SD within its range", lambda: checks.check_range("24", "19", "31", sd="4.0", n=12), None),
    ("SD too large for its range", lambda: checks.check_range("24", "19", "31", sd="8.0", n=12), "range"),
    ("df of two groups", lambda: checks.check_df(30, (16, 16)), None),
    ("df of pairs", lambda: checks.check_df(15, (16,), paired=True), None),
    ("df of more people than there are", lambda: checks.check_df(38, (16, 16)), "38"),
    (
        "parts of percent, rounded",
        lambda: reports.check_sum("100", ["33.3", "33.3", "33.3"], percent=True),
        None,
    ),
    ("parts that do not add up", lambda: reports.check_sum("24", ["12", "11"]), "23"),
    # t = 5/√(4²/10 + 5²/10) = 2.47 on 18 df, p = .024; printed .02 may be .015 to .025
    ("p from means and SDs", lambda: checks.check_summary_p(("25", "4", 10), ("30", "5", 10), ".02"), None),
    (
        "p that means and SDs cannot give",
        lambda: checks.check_summary_p(("25.0", "4.0", 10), ("30.0", "5.0", 10), ".002"),
        "printed is p",
    ),
    (
        "g of the table",
        lambda: reports.check_smd(Summary(112.5, 14.2, 20), Summary(105, 13.8, 20), "0.53"),
        None,
    ),
    (
        "g from nowhere",
        lambda: reports.check_smd(Summary(112.5, 14.2, 20), Summary(105, 13.8, 20), "1.53"),
        "means give",
    ),
    ("age of adults, SD", lambda: reports.check_spread(23.4, 3.1, 20), None),
    ("body mass, an SE", lambda: reports.check_spread(81.0, 2.4, 20), "standard error"),
    ("words and interval agree", lambda: limits.check_direction("0.40", "0.10", "0.70", True), None),
    (
        "words against the interval",
        lambda: limits.check_direction("-0.40", "-0.70", "-0.10", True),
        "other side",
    ),
    ("short figures that happen to agree", lambda: _first({"a": ["12", "3"], "b": ["12", "3"]}), None),
    (
        "seven digits may agree by chance",
        lambda: _first({"a": ["112.4", "13.1"], "b": ["112.4", "13.1"]}),
        None,
    ),
    ("rows copied", lambda: _first({"a": ["112.43", "13.12"], "b": ["112.43", "13.12"]}), "112.43"),
]


def _first(rows: dict[str, list[str]]) -> Finding | None:
    return next(iter(reports.check_copies(rows)), None)


PAPERS: list[tuple[str, Check, str | None]] = [
    # Leenders 2013: all ± are SEM; the age of ± 1 year gives it away (SD about 4.9).
    ("leenders_2013: age 71 ± 1", lambda: reports.check_spread(71, 1, 24), "standard error"),
    ("leenders_2013: age 71 ± 4.9", lambda: reports.check_spread(71, 4.9, 24), None),
    # Leenders 2013: post 1RM 260 ± 2 implies SD 10.8 against 21.5 before.
    ("leenders_2013: spread halves", lambda: reports.check_spread_change("21.5", "10.8"), "spread goes from"),
    ("leenders_2013: spread stays", lambda: reports.check_spread_change("21.5", "20.1"), None),
    # Nogueira 2009: an age range of 69 to 76 is impossible with a mean of 66.
    ("nogueira_2009: mean outside its range", lambda: checks.check_range("66", "69", "76"), "66"),
    ("nogueira_2009: mean inside", lambda: checks.check_range("66", "60", "76"), None),
    # Pareja-Blanco 2017: 200.6 / 127.5 is +57 %, printed 36 % more work; only the reverse is right.
    (
        "pareja_blanco_2017: work",
        lambda: reports.check_percent("127.5", "200.6", "36"),
        "the other way round",
    ),
    ("pareja_blanco_2017: work, rightly", lambda: reports.check_percent("200.6", "127.5", "-36"), None),
    # Maeo 2021: 14 against 9 percent are 5 points; "55 % more" is a percent of percents.
    (
        "maeo_2021: points as relative",
        lambda: reports.check_percent("9.0", "14.0", "5", both_percent=True),
        "percentage points",
    ),
    # D'Antona 2006: 29.9 ± 2.01 (SEM) and 29.9 ± 4.5 printed as SEM, n = 5: 2.01·√5 = 4.49.
    ("dantona_2006: SD printed as SEM", lambda: reports.check_two_spreads("2.01", "4.5", 5), "SD"),
    # Dibble 2006: minus signs lost in copying.
    ("dibble_2006: limits", lambda: limits.check_interval_centre("1.77", "29.17", "20.62"), ""),
    # Bao 2025 (in lehman_2005_swiss_ball): identical estimate and interval for two muscles.
    (
        "bao_2025: two muscles alike",
        lambda: _first({"EO": ["1.04", "0.61", "1.47"], "RA": ["1.04", "0.61", "1.47"]}),
        "1.04",
    ),
    # Pareja-Blanco 2017: P = 0.07 in the text, 0.06 in the table.
    (
        "pareja_blanco_2017: p twice",
        lambda: reports.check_same_figure({"text": ["0.07"], "table": ["0.06"]}),
        "text",
    ),
    (
        "a p with fewer digits",
        lambda: reports.check_same_figure({"text": ["0.07"], "table": ["0.068"]}),
        None,
    ),
    # Dibble 2006: walk, descent, ascent 21/18/11 in the text, 17/22/13 in the caption.
    (
        "dibble_2006: caption",
        lambda: reports.check_same_figure({"text": ["21", "18", "11"], "caption": ["17", "22", "13"]}),
        "caption",
    ),
    # Pereira 2016: thickness gains within groups p = .019 and not significant; no difference between groups.
    (
        "pereira_2016: p within groups",
        lambda: significance.check_within_group_p(0.019, 0.31),
        "one group changed significantly",
    ),
    ("both groups changed", lambda: significance.check_within_group_p(0.019, 0.03), None),
    # McAllister 2014: ten analyses of variance.
    ("mcallister_2014: ten tests", lambda: significance.check_multiplicity(10), "10 tests"),
    ("three tests", lambda: significance.check_multiplicity(3), None),
    # Contreras 2015: 244 % MVIC is legitimate.
    ("contreras_2015: 244 %MVIC", lambda: reports.check_spread(244, 95, 13, unit="%MVIC"), None),
    # Plotkin 2023: -1.6, bootstrap interval -6.1 to 2.0: told as a note, never as an error.
    (
        "plotkin_2023: bootstrap",
        lambda: limits.check_interval_centre("-1.6", "-6.1", "2.0", bootstrap=True),
        "bootstrap",
    ),
]


@pytest.mark.parametrize(
    ("case", "check", "says"), [*OWN, *PAPERS], ids=[case[0] for case in [*OWN, *PAPERS]]
)
def test_a_figure_is_flagged_when_it_must_be_and_only_then(case: str, check: Check, says: str | None) -> None:
    finding = check()
    if says is None:
        assert finding is None, finding.text  # type: ignore[union-attr]
    else:
        assert finding is not None
        assert says in finding.text
