"""Examples of checks on printed figures (stat_examples.yaml): each is flagged, or left alone, as expected.

A case names a check (C1 to C18), what was printed (`inp`) and `expect`: consistent, consistent_only_one_sided,
possible, impossible, flag, "flag; suggests ...", ok, "trap: ...", or the figures that must come out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from outcome import CaseOutcome

Z = 1.959964


def matches(document: Any) -> bool:
    """Whether the file is a list of checks with inputs."""
    return bool(
        isinstance(document, list)
        and document
        and all(isinstance(c, dict) and {"check", "inp", "expect"} <= set(c) for c in document)
    )


def evaluate(document: Any) -> Iterable[CaseOutcome]:
    """Run each check; a check that is not known fails."""
    for case in document:
        runner = RUNNERS.get(case["check"])
        if runner is None:
            yield CaseOutcome(case["id"], False, (f"no check is called {case['check']}",))
            continue
        differences = runner(case["inp"], case["expect"], case.get("computed", {}))
        yield CaseOutcome(case["id"], not differences, tuple(differences))


def _compare(finding: Any, expect: Any, silent: tuple[str, ...]) -> list[str]:
    told = finding.text if finding is not None else "nothing to say"
    if (finding is None) != (expect in silent):
        return [f"expected {expect!r}, got: {told}"]
    return []


def _near(name: str, got: float, wanted: Any, tolerance: float) -> list[str]:
    if wanted is None or abs(got - wanted) <= tolerance:
        return []
    return [f"{name} {got:.4g}, expected {wanted}"]


def _run_p(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity import check_p_value, recompute_p

    finding = check_p_value(inp["test"], inp["value"], inp["p"])
    wrong = _compare(finding, expect, ("consistent",))
    if expect == "consistent_only_one_sided" and finding is not None and "one-sided" not in finding.text:
        wrong.append(f"one-sided is not named: {finding.text}")
    return wrong + _near("p", recompute_p(inp["test"], inp["value"], inp["p"]).p, computed.get("p_two"), 5e-4)


def _run_summary_p(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity import check_summary_p

    sides = [(inp[f"m{i}"], inp[f"sd{i}"], inp[f"n{i}"]) for i in (1, 2)]
    return _compare(check_summary_p(sides[0], sides[1], inp["p"]), expect, ("consistent",))


def _run_mean(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_granularity import check_mean_granularity

    return _compare(check_mean_granularity(inp["mean"], inp["n"], inp.get("items", 1)), expect, ("possible",))


def _run_spread(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_granularity import check_spread_granularity

    return _compare(check_spread_granularity(inp["mean"], inp["sd"], inp["n"]), expect, ("possible",))


def _run_large(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_reports import check_large_effect

    return _compare(check_large_effect(inp["smd"]), expect, ("ok",))


def _run_centre(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_intervals import check_interval_centre

    finding = check_interval_centre(inp["est"], inp["lo"], inp["hi"], ratio=bool(inp.get("ratio")))
    wrong = _compare(finding, expect, ("ok",))
    suggested = str(expect).partition("suggests hi=")[2]
    if suggested and (finding is None or suggested not in finding.text):
        wrong.append(f"{suggested} is not suggested")
    return wrong


def _run_width(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_intervals import check_smd_width

    return _compare(check_smd_width(inp["est"], inp["lo"], inp["hi"], inp["n"]), expect, ("ok",))


def _run_percent(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_reports import check_percent

    wrong = _compare(check_percent(inp["a"], inp["b"], expect["relative"]), "ok", ("ok",))
    return wrong + _compare(
        check_percent(inp["a"], inp["b"], str(expect["points"]), both_percent=True), "flag", ("ok",)
    )


def _run_significance(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_significance import check_difference_of_significance

    sides = []
    for i in (1, 2):
        interval = inp.get(f"ci{i}")
        sides.append((inp[f"e{i}"], (interval[1] - interval[0]) / (2 * Z) if interval else inp[f"se{i}"]))
    finding = check_difference_of_significance(*sides)
    wrong = _compare(finding, expect, ("ok",))
    return wrong + (_near("z", finding.arithmetic[0].value, computed.get("z"), 5e-3) if finding else [])


def _run_many(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_significance import expect_false_positives

    expected, anyone = expect_false_positives(inp["m"], inp["alpha"])
    return _near("expected", expected, expect["expected_false"], 1e-9) + _near(
        "any", anyone, expect["any"], 5e-4
    )


def _run_parts(inp: Mapping[str, Any], expect: Any, computed: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_reports import check_sum

    return _compare(check_sum(inp["total"], inp["parts"]), expect, ("ok",))


RUNNERS: dict[str, Callable[[Mapping[str, Any], Any, Mapping[str, Any]], list[str]]] = {
    "C1": _run_p,
    "C2": _run_summary_p,
    "C3": _run_mean,
    "C4": _run_spread,
    "C5": _run_large,
    "C6": _run_centre,
    "C8": _run_width,
    "C10": _run_percent,
    "C11": _run_significance,
    "C13": _run_many,
    "C17": _run_parts,
}
