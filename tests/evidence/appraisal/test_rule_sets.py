"""Published rule sets at their own boundaries, and the grading case files through the case runner."""

import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from evidence.appraisal.confidence import combine_outcomes, rate
from evidence.appraisal.levels import Level
from evidence.appraisal.rulebook import load_rules, load_sources
from evidence.errors import BadInput

ROOT = Path(__file__).parents[3]
CASES = ROOT / "tests" / "cases"
RULE_SETS = ("default", "pollock2016", "smo2023", "ashton2020", "narrative")


def proposed(body, rule_set, domain):
    return rate(body, rule_set).domain(domain).proposed


@pytest.mark.parametrize(("n", "levels"), [(200, 0), (199, -1), (100, -1), (99, -2)])
def test_pollock_counts_people(body, n, levels):
    assert proposed(body(n_total=n), "pollock2016", "imprecision") == levels


@pytest.mark.parametrize(("i2", "levels"), [(75.0, 0), (75.1, -1), (None, -1)])
def test_pollock_takes_unknown_heterogeneity_as_high(body, pool, i2, levels):
    assert proposed(body(pool(0.4, 0.2, 0.6, i2=i2)), "pollock2016", "inconsistency") == levels


@pytest.mark.parametrize(
    ("n", "low", "levels"), [(800, 0.1, 0), (799, 0.1, -1), (800, -0.1, -1), (799, -0.1, -2)]
)
def test_smo2023_adds_people_and_direction(body, pool, n, low, levels):
    assert proposed(body(pool(0.4, low, 0.9), n_total=n), "smo2023", "imprecision") == levels


@pytest.mark.parametrize(("i2", "levels"), [(24.9, 0), (25.0, -1), (75.0, -1), (75.1, -2), (None, None)])
def test_smo2023_has_its_own_bands(body, pool, i2, levels):
    assert proposed(body(pool(0.4, 0.2, 0.6, i2=i2)), "smo2023", "inconsistency") == levels


@pytest.mark.parametrize(("score", "levels"), [(3.0, -2), (4.0, -1), (5.5, -1), (6.0, 0), (None, None)])
def test_smo2023_reads_the_median_pedro(body, score, levels):
    assert proposed(body(each={"score": score}), "smo2023", "risk_of_bias") == levels


@pytest.mark.parametrize(("n", "low", "levels"), [(400, 0.1, 0), (399, 0.1, -1), (400, -0.1, -1)])
def test_ashton2020_rates_down_once(body, pool, n, low, levels):
    assert proposed(body(pool(0.4, low, 0.9), n_total=n), "ashton2020", "imprecision") == levels


def test_ashton2020_rates_a_surrogate_down_once(body):
    assert proposed(body(each={"construct": "architecture"}), "ashton2020", "indirectness") == -1


@pytest.mark.parametrize(("n", "levels"), [(401, 0), (400, -1)])
def test_a_narrative_rating_counts_people(body, n, levels):
    assert proposed(body(n_total=n), "narrative", "imprecision") == levels


def test_a_narrative_rating_looks_at_direction_first(body, contribution):
    mixed = (contribution(1), contribution(2, estimate=-0.4, low=-0.7, high=-0.1))
    assert proposed(body(contributions=mixed), "narrative", "inconsistency") == -1
    assert proposed(body(), "narrative", "inconsistency") == 0


@pytest.mark.parametrize("name", RULE_SETS)
def test_each_rule_has_an_id_a_reason_and_sources_that_are_listed(name):
    book, seen = load_rules(name), set()
    for rules in book["domains"].values():
        for rule in rules:
            assert rule["id"] not in seen
            seen.add(rule["id"])
            assert rule["text"]
            assert rule["conf"] in ("verified", "memory", "project")
            assert set(rule["src"]) <= set(load_sources())
            if rule["propose"] is None:
                assert {"suggest", "range"} <= set(rule)
        assert "when" not in rules[-1] or name == "default"
        assert not rules[-1].get("when")


@pytest.mark.parametrize("name", RULE_SETS)
def test_the_rule_set_is_stored_with_the_rating(body, name):
    confidence = rate(body(), name)
    assert (confidence.rule_set, confidence.version) == (name, str(load_rules(name)["version"]))
    assert all(d.rule_set == name for d in confidence.domains)


def test_several_outcomes_take_the_lowest_critical_one():
    # US ACIP GRADE handbook 2024, chapter 10: high, moderate, moderate among critical ones gives moderate
    assert combine_outcomes([Level.HIGH, Level.MODERATE, Level.MODERATE]) is Level.MODERATE
    with pytest.raises(BadInput):
        combine_outcomes([])


def run_cases(*files):
    command = [sys.executable, str(CASES / "check.py"), "--quiet", *map(str, files)]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)


def test_the_published_rows_pass():
    done = run_cases(CASES / "grading" / "worked_examples.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "29 passed, 0 failed" in done.stdout


def test_the_examples_of_checks_on_figures_pass():
    done = run_cases(CASES / "grading" / "stat_examples.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "18 passed, 0 failed" in done.stdout


def test_a_row_with_a_wrong_level_or_domain_fails(tmp_path):
    document = yaml.safe_load((CASES / "grading" / "worked_examples.yaml").read_text("utf-8"))
    rows = {row["id"]: row for row in document["rows"]}
    rows["LBP-1"]["published"]["overall"] = "low"
    rows["PLYO-2"]["published"]["domains"] |= {"imprecision": 0, "inconsistency": -2}
    rows["BFRP-4"]["inputs"]["ci95"] = [-0.9, 0.9]
    rows["ASH-2"]["inputs"]["ci95"] = [-5.92, 2.11]
    file = tmp_path / "changed.yaml"
    file.write_text(yaml.safe_dump(document, allow_unicode=True), "utf-8")
    done = run_cases(file)
    assert done.returncode == 1
    for name in ("LBP-1", "PLYO-2", "BFRP-4", "ASH-2"):
        assert f"FAILED  {name}" in done.stdout
