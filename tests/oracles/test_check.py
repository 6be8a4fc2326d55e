"""The runner itself, and the check files of effects, conversions, printed-figure checks and worked examples.

Check files: from the project's design material, oracles/*.json; each case names what produced it.
"""

import importlib.util
import json
import sys
from pathlib import Path

import pytest

from evidence.statistics.counts import Events
from evidence.statistics.exact_tests import compare_exactly

ORACLES = Path(__file__).parent

LOOSE_ROOT = "the reference stops its root search for this limit at 1e-4"
AT_ZERO = "the reference ends its search at tau² = 5e-13, and the square root of that is listed as tau"
NO_MODERATOR = "the generalised-Q interval is offered without moderators only"
KNOWN = {
    "effect_sizes": dict.fromkeys(
        ["bin-01-fisher", "bin-07-fisher", "bin-08-fisher", "bin-11-fisher"], LOOSE_ROOT
    ),
    "conversions": {},
    "stat_checks": {},
    "worked_examples": {
        "we-dersimonian-kacker2007": AT_ZERO,
        "we-bcg-jss2010": LOOSE_ROOT,
        "we-vanhouwelingen2002": LOOSE_ROOT,
        "we-jackson2014-tau2ci-regression": NO_MODERATOR,
    },
}


@pytest.fixture(scope="module")
def runner():
    spec = importlib.util.spec_from_file_location("oracle_runner", ORACLES / "check.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["oracle_runner"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("subject", KNOWN)
def test_every_case_agrees_but_those_known_to_differ(runner, subject):
    report = runner.check_file(ORACLES / f"{subject}.json")
    failed = {result.case for result in report.outcomes if not result.passed}
    assert failed == set(KNOWN[subject]), "\n".join(report.lines())
    assert report.passed > 10


def test_our_exact_limits_are_the_ones_at_which_the_tail_is_a_fortieth():
    # Reason for the four Fisher cases above: the noncentral hypergeometric of SciPy as a second opinion
    from scipy.stats import nchypergeom_fisher

    ours = compare_exactly(Events(4, 30), Events(9, 28)).low
    assert nchypergeom_fisher.sf(3, 58, 30, 13, ours) == pytest.approx(0.025, abs=1e-12)
    assert abs(nchypergeom_fisher.sf(3, 58, 30, 13, 0.0645528573023645) - 0.025) > 1e-5


def write_file(tmp_path, cases, subject="conversions"):
    path = tmp_path / "file.json"
    path.write_text(json.dumps({"file": subject, "cases": cases}), encoding="utf-8")
    return path


def make_case(expected, tolerance=None):
    return {
        "id": "one",
        "variant": "t_to_r",
        "inputs": {"t": 2.5, "n": 20},
        "expected": expected,
        "tolerance": tolerance or {"rel": 1e-9, "abs": 1e-12},
    }


def test_agreement_prints_a_count_and_leaves_with_zero(runner, tmp_path, capsys):
    path = write_file(tmp_path, [make_case({"r": 0.50767308256681, "_note": "anything"})])
    assert runner.main([str(path)]) == 0
    assert capsys.readouterr().out.strip() == "file.json: 1 passed, 0 failed"


def test_a_difference_is_shown_with_expected_got_and_tolerance(runner, tmp_path, capsys):
    path = write_file(tmp_path, [make_case({"r": 0.6})])
    assert runner.main([str(path)]) == 1
    shown = capsys.readouterr().out
    assert "0 passed, 1 failed" in shown
    assert "expected 0.6, got 0.5076" in shown
    assert "tolerance 6" in shown


@pytest.mark.parametrize(
    ("expected", "tolerance", "passes"),
    [
        ({"r": None}, None, False),
        ({"r": 0.5}, {"rel": 0, "abs": 0.01}, True),
        ({"r": 0.5}, {"rel": 0.02, "abs": 0}, True),
        ({"r": 0.5}, {"rel": 0.001, "abs": 0.001}, False),
        ({"missing": 1}, None, False),
        ({"r": [0.5]}, None, False),
        ({"r": "0.5"}, None, False),
        ({"r": 0.51}, {"rel": 0, "abs": 0, "note": "r... limits: rel 1e-2"}, True),
        ({"r": True}, None, False),
    ],
)
def test_the_rule_of_agreement(runner, tmp_path, expected, tolerance, passes):
    report = runner.check_file(write_file(tmp_path, [make_case(expected, tolerance)]))
    assert (report.failed == 0) is passes


def test_a_printed_value_agrees_to_half_a_unit_of_its_last_digit(runner):
    case = {"id": "x", "expected": {"printed": {"a": 0.51}}, "tolerance": {"printed": "half a unit"}}
    assert runner.outcome.compare_case(case, {"printed": {"a": 0.5149}}).passed
    assert not runner.outcome.compare_case(case, {"printed": {"a": 0.5151}}).passed


def test_a_crash_in_one_case_is_a_failure_of_that_case_only(runner, tmp_path):
    broken = make_case({"r": 1.0}) | {"inputs": {}}
    report = runner.check_file(write_file(tmp_path, [broken, make_case({"r": 0.50767308256681})]))
    assert (report.passed, report.failed) == (1, 1)


@pytest.mark.parametrize(
    "content", ["", "{}", "[]", '{"file": "nobody", "cases": []}', '{"file": "../x", "cases": []}']
)
def test_a_file_that_cannot_be_checked_is_told_and_leaves_with_two(runner, tmp_path, capsys, content):
    path = tmp_path / "bad.json"
    path.write_text(content, encoding="utf-8")
    assert runner.main([str(path), str(tmp_path / "absent.json")]) == 2
    assert capsys.readouterr().err.count("cannot be checked") == 2


def test_paths_of_data_are_taken_from_the_folder_of_the_file(runner, tmp_path):
    placed = runner._place_files({"dataset": "data/x.csv", "n": 3, "more": ["y.csv"]}, tmp_path)
    assert placed == {
        "dataset": str((tmp_path / "data/x.csv").resolve()),
        "n": 3,
        "more": [str((tmp_path / "y.csv").resolve())],
    }
