"""Everything a paper can print of a comparison is used, rightly, and what it leans on is said. Figures invented.

Expected values are worked out here by the textbook formulas named in each test.
"""

import math
from pathlib import Path

import pytest
from scipy.special import stdtrit

from evidence.catalogue import Catalogue
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.weigh.weighing import Weighing, weigh

HEAD = """steelyard: study/1
key: birch-2021
title: "[Invented] Back squat against hip thrust"
invented: true
references: [{{doi: 10.5555/steelyard.test.birch}}]
design: {design}
read_from: full text
locator: Table 2
people: [{{key: all, analysed: 24, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: squat, exercise: back squat, n: 12}}
  - {{key: thrust, exercise: hip thrust, n: 12}}
outcomes:
  - {{key: rm, construct: strength, instrument: 1RM, unit: kg}}
results:
"""


def weighed(
    catalogue: Catalogue, path: Path, results: str, *, scale: str | None = None, design: str = ""
) -> Weighing:
    path.write_text(HEAD.format(design=design or "randomised_parallel") + results, "utf-8")
    load_study(catalogue, path, "Sam")
    statement = Statement(exercise="back squat", comparator="hip thrust", outcome="strength", scale=scale)
    return weigh(catalogue, state_claim(catalogue, statement, "Sam").key)


def assumptions(weighing: Weighing) -> str:
    return " ".join(
        a.text
        for s in weighing.studies
        for c in s.contrasts
        for e in c.effects.values()
        for a in e.assumptions
    )


def test_a_printed_t_gives_its_effect(catalogue: Catalogue, tmp_path: Path) -> None:
    """g = J t sqrt(1/n1 + 1/n2), J exact (Hedges 1981)."""
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        "  - {outcome: rm, condition: squat, comparator: thrust, timepoint: post, statistic: test,\n"
        "     test: 't(22) = 2.5'}\n",
    )
    j = math.exp(math.lgamma(11) - math.lgamma(10.5) - 0.5 * math.log(11))
    assert got.verdict.estimate == pytest.approx(j * 2.5 * math.sqrt(2 / 12), rel=1e-12)
    assert "sign of t(22) = 2.5" in assumptions(got)


def test_a_p_beside_a_difference_of_means_is_turned_back_with_t(catalogue: Catalogue, tmp_path: Path) -> None:
    """SE = difference / t(22) at 1 - p/2; the t interval then leaves out zero, as p = 0.040 says."""
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        "  - {outcome: rm, condition: squat, comparator: thrust, timepoint: over, statistic: difference, value: 1.5,\n"
        "     p: '0.040', printed: '1.5, p = 0.040'}\n",
        scale="mean-difference",
    )
    se = 1.5 / stdtrit(22, 0.98)
    margin = stdtrit(22, 0.975) * se
    assert (got.verdict.low, got.verdict.high) == pytest.approx((1.5 - margin, 1.5 + margin), rel=1e-9)
    assert str(got.verdict.kind) == "supported"


def test_a_printed_interval_of_a_difference_comes_back_as_printed(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        "  - {outcome: rm, condition: squat, comparator: thrust, timepoint: over, statistic: difference, value: 5.0,\n"
        "     ci: [1.0, 9.0], level: 95, printed: '5.0 (1.0 to 9.0)'}\n",
        scale="mean-difference",
    )
    assert (got.verdict.low, got.verdict.high) == pytest.approx((1.0, 9.0))


def test_medians_stand_in_for_means_and_say_so(catalogue: Catalogue, tmp_path: Path) -> None:
    row = "  - {{outcome: rm, condition: {c}, timepoint: post, statistic: median, value: {m}, iqr: [{q1}, {q3}],\n"
    row += "     printed: '{m} ({q1}-{q3})'}}\n"
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        row.format(c="squat", m=100, q1=90, q3=110) + row.format(c="thrust", m=80, q1=70, q3=90),
    )
    assert got.verdict.estimate is not None and got.verdict.estimate > 0
    assert "worked out from a median" in assumptions(got)


ARMS = "".join(
    f"  - {{outcome: rm, condition: {c}, timepoint: {t}, value: {m}, sd: {sd}, printed: '{m} ({sd})'}}\n"
    for c, t, m, sd in (
        ("squat", "pre", 100, 20), ("squat", "post", 115, 20), ("thrust", "pre", 100, 20), ("thrust", "post", 105, 20),
    )
)  # fmt: skip
CHANGES = "".join(
    f"  - {{outcome: rm, condition: {c}, timepoint: over, statistic: change, value: {m}, sd: 6, printed: '{m} (6)'}}\n"
    for c, m in (("squat", 15), ("thrust", 5))
)


def test_the_printed_sd_of_change_takes_the_place_of_an_assumed_correlation(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    """r = (20^2 + 20^2 - 6^2) / (2 * 20 * 20) = 0.955 (Cochrane Handbook 6.5.2.8); the t interval of the changes."""
    got = weighed(catalogue, tmp_path / "s.yaml", ARMS + CHANGES, scale="mean-difference")
    margin = stdtrit(22, 0.975) * math.sqrt(2 * 36 / 12)
    assert (got.verdict.low, got.verdict.high) == pytest.approx((10 - margin, 10 + margin), rel=1e-9)
    assert not got.grid


def test_unequal_n_of_the_same_people_uses_the_smaller_and_says_so(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        "  - {outcome: rm, condition: squat, timepoint: acute, value: 100, sd: 20, n: 12, printed: '100 (20)'}\n"
        "  - {outcome: rm, condition: thrust, timepoint: acute, value: 80, sd: 20, n: 11, printed: '80 (20)'}\n",
        design="randomised_crossover",
    )
    assert got.pooled is not None
    assert got.contributions[0].n == 11
    assert "the smaller was used" in assumptions(got)


def test_changes_without_the_sd_before_are_put_on_it_and_that_is_told(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    """g of the changes times the root of 2(1 - r), r = 0.71 before to after for strength (Morris & DeShon 2002)."""
    changes = weighed(catalogue, tmp_path / "s.yaml", CHANGES)
    j = math.exp(math.lgamma(11) - math.lgamma(10.5) - 0.5 * math.log(11))
    assert changes.verdict.estimate == pytest.approx(j * 10 / 6 * math.sqrt(2 * 0.29), rel=1e-12)
    assert any("put on the SD before training" in note for note in changes.notes)
    assert [row.correlations for row in changes.grid] == [(0.5,), (0.71,), (0.88,)]


def test_changes_with_the_sd_before_printed_stand_on_it_without_any_assumption(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    """d = J * 10/20; variance (36/12 + 36/12)/400 + d^2/(2*22) (delta method, Bonett 2008)."""
    before = "".join(line + "\n" for line in ARMS.splitlines() if "timepoint: pre" in line)
    got = weighed(catalogue, tmp_path / "s.yaml", before + CHANGES)
    j = math.exp(math.lgamma(11) - math.lgamma(10.5) - 0.5 * math.log(11))
    d = j * 10 / 20
    assert got.pooled is not None and not got.grid
    assert got.verdict.estimate == pytest.approx(d, rel=1e-12)
    assert got.pooled.se**2 == pytest.approx(6 / 400 + d**2 / 44, rel=1e-9)


def test_a_t_test_of_changes_is_put_on_the_sd_before(catalogue: Catalogue, tmp_path: Path) -> None:
    line = "  - {{outcome: rm, condition: squat, comparator: thrust, timepoint: {0}, statistic: test,\n"
    line += "     test: 't(22) = 2.5'}}\n"
    after = weighed(catalogue, tmp_path / "a.yaml", line.format("post"))
    assert after.verdict.estimate is not None
    other = HEAD.replace("birch-2021", "birch-2022").replace("test.birch", "test.birch22")
    (tmp_path / "b.yaml").write_text(
        other.format(design="randomised_parallel") + line.format("over"), "utf-8"
    )
    load_study(catalogue, tmp_path / "b.yaml", "Sam")
    estimates = [c.estimate for c in weigh(catalogue, after.claim.key).contributions]
    assert estimates[1] == pytest.approx(after.verdict.estimate * math.sqrt(2 * (1 - 0.71)), rel=1e-12)


def test_a_standardised_difference_of_the_papers_own_says_that_its_yardstick_is_not_known(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    got = weighed(
        catalogue,
        tmp_path / "s.yaml",
        "  - {outcome: rm, condition: squat, comparator: thrust, statistic: smd, value: 0.5, ci: [0.1, 0.9],\n"
        "     printed: '0.5 (0.1 to 0.9)'}\n",
    )
    assert got.verdict.estimate == pytest.approx(0.5)
    assert any("by which SD" in note for note in got.notes)


def test_a_comparison_after_training_only_is_told(catalogue: Catalogue, tmp_path: Path) -> None:
    after = "".join(line + "\n" for line in ARMS.splitlines() if "timepoint: post" in line)
    assert any("after training only" in note for note in weighed(catalogue, tmp_path / "s.yaml", after).notes)
