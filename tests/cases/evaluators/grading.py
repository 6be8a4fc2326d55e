"""Published evidence-profile rows, against the rules of confidence.

A row passes when all that can be asked of it holds:
(a) the start and the published domains, added up and held between very low and high, give the published level, unless
    the row itself says that they do not (`reproducible: NOT ...`), in which case they must not;
(b) where the row's source is one of the rule sets, that set gives every published domain it has inputs for (a domain
    that `reproducible` names as needing judgement is left out);
(c) where estimate, interval and n are known, the default rules' imprecision is within one level of the published one,
    and so is the overall level with it;
(d) the checks on printed figures (an estimate in the middle of its interval; an SMD no more precise than its people
    allow) flag the row if its note expects a flag, and leave it alone if not.

One more case over the whole file: (c) holds on at least 90 % of the rows that carry inputs. Published calls are not
matched exactly, on purpose: published exercise reviews are lenient about imprecision.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from types import SimpleNamespace
from typing import Any

from outcome import CaseOutcome

OWN_SETS = {"PLYO": "smo2023", "ASH": "ashton2020"}
DOMAINS = ("risk_of_bias", "inconsistency", "indirectness", "imprecision", "publication_bias")
NEEDED_SHARE = 0.90
RATIOS = ("IRR", "RR", "OR", "HR")


def matches(document: Any) -> bool:
    """Whether the file holds published rows with inputs and levels."""
    rows = document.get("rows") if isinstance(document, dict) else None
    return bool(
        isinstance(rows, list) and rows and all("published" in row and "inputs" in row for row in rows)
    )


def evaluate(document: Any) -> Iterable[CaseOutcome]:
    """One outcome per row, and one for the share of rows within a level."""
    near = with_inputs = 0
    table: Counter[str] = Counter()
    for row in document["rows"]:
        differences = [*_check_sum(row), *_check_own_set(row), *_check_flags(row)]
        table.update(_count(row))
        distance = _check_default(row)
        if distance is not None:
            with_inputs += 1
            near += not distance
            differences += distance
        yield CaseOutcome(row["id"], not differences, tuple(differences))
    if with_inputs:
        share = near / with_inputs
        told = f"(c) {near} of {with_inputs} rows with inputs are within one level"
        others = tuple(f"{what}: {count}" for what, count in sorted(table.items()))
        yield CaseOutcome("default-within-one-level", share >= NEEDED_SHARE, (told, *others))


def _count(row: Mapping[str, Any]) -> Counter[str]:
    """What one row adds to the table of what was checked."""
    counted: Counter[str] = Counter()
    contradicts = str(row.get("reproducible", "")).startswith("NOT")
    kind = "rows that contradict themselves, as noted" if contradicts else "rows that add up to their level"
    counted[f"(a) {kind}"] += not _check_sum(row)
    name = OWN_SETS.get(row["source"])
    if name is not None:
        from evidence.appraisal.confidence import rate_facts

        facts, known = _own_facts(row["inputs"])
        proposed = {rating.domain: rating.proposed for rating in rate_facts(facts, name)}
        published = {d: row["published"]["domains"].get(d) for d in known}
        same = sum(proposed[d] == level for d, level in published.items() if isinstance(level, int))
        asked = sum(isinstance(level, int) for level in published.values())
        counted[f"(b) domains that {name} gives as its own source does"] += same
        counted[f"(b) domains where {name} differs, and its source names judgement"] += asked - same
    if row["inputs"].get("ci95") and not _check_flags(row):
        expected = "flag expected" in str(row.get("note", ""))
        counted["(d) rows flagged as noted" if expected else "(d) rows rightly not flagged"] += 1
    return counted


def _published_levels(row: Mapping[str, Any]) -> dict[str, int]:
    """The published domains that are figures; what is not stated or only described counts 0."""
    domains = row["published"]["domains"]
    return {d: domains[d] if isinstance(domains.get(d), int) else 0 for d in DOMAINS}


def _check_sum(row: Mapping[str, Any]) -> list[str]:
    from evidence.appraisal.confidence import combine_outcomes
    from evidence.appraisal.levels import level_at, read_level

    domains, published = row["published"]["domains"], read_level(row["published"]["overall"])
    if "critical" in domains:
        got = combine_outcomes([read_level(text) for text in domains["critical"]])
    else:
        reasons = domains.get("number_of_reasons")
        down = -reasons if reasons is not None else sum(_published_levels(row).values())
        got = level_at(read_level(row["inputs"]["start_level"]).rank + down)
    expected = not str(row.get("reproducible", "")).startswith("NOT")
    if (got is published) == expected:
        return []
    return [f"(a) the published domains add up to {got}; published: {published}"]


def _check_own_set(row: Mapping[str, Any]) -> list[str]:
    name = OWN_SETS.get(row["source"])
    if name is None:
        return []
    from evidence.appraisal.confidence import rate_facts

    facts, known = _own_facts(row["inputs"])
    ratings = {rating.domain: rating for rating in rate_facts(facts, name)}
    wrong = []
    for domain in known:
        published = row["published"]["domains"].get(domain)
        judged = re.search(
            rf"{domain} (calls?|domain)[^;]*(not reproducible|judgement)", str(row["reproducible"])
        )
        if isinstance(published, int) and not judged and ratings[domain].proposed != published:
            wrong.append(f"(b) {name}: {domain} {ratings[domain].proposed}, published {published}")
    return wrong


def _own_facts(inputs: Mapping[str, Any]) -> tuple[dict[str, dict[str, Any]], list[str]]:
    """Facts as far as a row's summary gives them, and the domains for which it does."""
    known = []
    score = re.search(r"median PEDro (\d+(?:\.\d+)?)", str(inputs.get("risk_of_bias_summary") or ""))
    span = [float(x) for x in re.findall(r"\d+(?:\.\d+)?", str(inputs.get("I2") or ""))]
    p = re.search(r"p\s*[<=]\s*(\d*\.\d+)", str(inputs.get("publication_bias_note") or ""))
    interval = inputs.get("ci95")
    crosses = inputs.get("ci_crosses_null")
    if crosses is None and interval:
        crosses = interval[0] <= 0 <= interval[1]
    if score:
        known.append("risk_of_bias")
    if span:
        known.append("inconsistency")
    if "low by default" in str(inputs.get("indirectness_note")):
        known.append("indirectness")
    if crosses is not None and inputs.get("n"):
        known.append("imprecision")
    if inputs.get("publication_bias_note"):
        known.append("publication_bias")
    k = inputs.get("k") or 0
    facts: dict[str, dict[str, Any]] = {
        "risk_of_bias": {
            "median_score": float(score.group(1)) if score else None,
            "n_assessed": 0,
            "share_unclear": None,
            "share_high": None,
            "typical_high_domains": None,
        },
        "inconsistency": {"k": k, "i2": sum(span) / len(span) if span else None},
        "indirectness": {"surrogate": False, "measured": ""},
        "imprecision": {
            "people": inputs.get("n"),
            "holds_zero": crosses,
            "interval_known": crosses is not None,
            "interval": str(interval),
        },
        "publication_bias": {"k": k, "k_word": "studies", "small_study_p": float(p.group(1)) if p else None},
    }
    return facts, known


def _check_flags(row: Mapping[str, Any]) -> list[str]:
    from evidence.statistics.integrity_intervals import check_interval_centre, check_smd_width

    inputs = row["inputs"]
    if inputs.get("estimate") is None or not inputs.get("ci95"):
        return []
    estimate, low, high = _as_printed([inputs["estimate"], *inputs["ci95"]])
    ratio = str(inputs["measure"]) in RATIOS
    found = [check_interval_centre(estimate, low, high, ratio=ratio)]
    if "SMD" in str(inputs["measure"]) and inputs.get("n"):
        found.append(check_smd_width(estimate, low, high, inputs["n"]))
    flagged = any(found)
    if flagged == ("flag expected" in str(row.get("note", ""))):
        return []
    return [f"(d) {'flagged' if flagged else 'not flagged'}: {estimate} ({low} to {high})"]


def _as_printed(figures: list[float]) -> list[str]:
    """Figures of one row with the decimals of the most exact one: YAML drops a closing 0."""
    decimals = max(len(str(x).partition(".")[2]) if isinstance(x, float) else 0 for x in figures)
    return [f"{x:.{decimals}f}" for x in figures]


def _check_default(row: Mapping[str, Any]) -> list[str] | None:
    """None: no inputs. Else what is more than one level away from the published row."""
    from evidence.appraisal.levels import level_at, read_level

    inputs, domains = row["inputs"], row["published"]["domains"]
    if inputs.get("estimate") is None or not inputs.get("ci95") or not inputs.get("n"):
        return None
    if not isinstance(domains.get("imprecision"), int):
        return None
    proposed = _default_imprecision(inputs)
    wrong = []
    if abs(proposed - domains["imprecision"]) > 1:
        wrong.append(f"(c) imprecision {proposed}, published {domains['imprecision']}")
    published = _published_levels(row)
    down = sum(published.values()) - published["imprecision"] + proposed
    level = level_at(read_level(inputs["start_level"]).rank + down)
    if abs(level.rank - read_level(row["published"]["overall"]).rank) > 1:
        wrong.append(f"(c) level {level} with it, published {row['published']['overall']}")
    return wrong


def _default_imprecision(inputs: Mapping[str, Any]) -> int:
    from evidence.appraisal.body import Body, Contribution
    from evidence.appraisal.confidence import rate
    from evidence.vocabulary.terms import Direction

    measure = str(inputs["measure"])
    metric = "smd" if "SMD" in measure else "log_rate_ratio" if measure in RATIOS else "mean_difference"
    figures = [inputs["estimate"], *inputs["ci95"]]
    if metric == "log_rate_ratio":
        figures = [math.log(x) for x in figures]
    pooled = SimpleNamespace(
        k=inputs["k"],
        estimate=figures[0],
        low=figures[1],
        high=figures[2],
        tau2=None,
        i2=None,
        prediction_low=None,
        prediction_high=None,
    )
    one = Contribution(
        study="all",
        label="all studies",
        year=None,
        design="randomised_parallel",
        randomised=True,
        n=inputs["n"],
        estimate=figures[0],
        construct="other",
    )
    body = Body(
        construct="other", metric=metric, contributions=(one,), pooled=pooled, direction=Direction.DIFFERS
    )
    return rate(body).domain("imprecision").counted
