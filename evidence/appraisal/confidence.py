"""Confidence: how far a verdict can be trusted, by domain, each with the rule that fired and its numbers.

A proposal, never a decision: a person may choose otherwise with a reason (`overrides`). The same body,
rule set and settings give the same rating to the last character.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal.body import Body
from evidence.appraisal.designs import Start, split_by_start, start_of
from evidence.appraisal.facts import DOMAINS, Settings, gather_facts, name_construct, read_settings, share_out
from evidence.appraisal.imprecision import gather_imprecision
from evidence.appraisal.levels import Level, describe_range, level_at
from evidence.appraisal.metrics import find_metric, find_thresholds, format_value
from evidence.appraisal.origins import name_origin
from evidence.appraisal.rulebook import Fact, Facts, Rule, fill_text, find_rule, load_rules
from evidence.errors import BadInput

SEEN = 0.005  # a share of the information below half a percent does not stretch the range


@dataclass(frozen=True, slots=True)
class DomainRating:
    """One domain's proposal.

    `proposed`: levels (0, -1, -2, -3), None where the rules leave it open. `counted`: the levels used for the
    overall rating (the suggestion where it is open). `best` and `worst` span what a reader may hold instead.
    `options`: adjustments offered and not applied. `sources`: keys of `rules/sources.csv`; `conf`: verified,
    memory or project. `facts`: what the rules saw.
    """

    domain: str
    proposed: int | None
    counted: int
    best: int
    worst: int
    borderline: bool
    rule_id: str
    rule_set: str
    version: str
    reason: str
    inputs_hash: str
    sources: tuple[str, ...]
    conf: str
    flags: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    facts: tuple[tuple[str, Fact], ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """What a person chose instead of a proposal. `stale`: the inputs have changed since."""

    domain: str
    proposed: str
    chosen: str
    reason: str
    person: str
    date: str
    stale: bool


@dataclass(frozen=True, slots=True)
class Confidence:
    """The rating of one body of evidence.

    `level` with its range `low` to `high` (equal unless a domain is open or borderline); `start` and why.
    `proposed_level` is what the rules alone gave; it differs from `level` only where `choices` apply.
    """

    level: Level
    low: Level
    high: Level
    start: Level
    start_reason: str
    domains: tuple[DomainRating, ...]
    notes: tuple[str, ...]
    rule_set: str
    version: str
    inputs_hash: str
    target: str
    proposed_level: Level
    choices: tuple[Choice, ...] = ()

    @property
    def span(self) -> str:
        """The level with its range: `moderate`, or `low (between very low and low)`."""
        return describe_range(self.level, self.low, self.high)

    def domain(self, name: str) -> DomainRating:
        """One domain by name. Raises KeyError."""
        return {d.domain: d for d in self.domains}[name]


def rate(body: Body, rule_set: str = "default", settings: Settings | None = None) -> Confidence:
    """Propose a rating. `settings` replaces entries of the rule data's settings (see `facts.read_settings`).

    Raises BadInput for an unknown rule set, setting or metric.
    """
    chosen = read_settings(settings)
    return finish_rating(body, gather_facts(body, chosen), rule_set, chosen)


def finish_rating(
    body: Body, facts: Mapping[str, Facts], rule_set: str, chosen: Mapping[str, Any]
) -> Confidence:
    """The rating that facts and a start come to. `chosen`: all settings, as `read_settings` gives them."""
    domains = rate_facts(facts, rule_set)
    domains = tuple(replace(d, options=_options(d, facts, body, chosen)) for d in domains)
    start, best_start, worst_start, notes = _choose_start(body, chosen["nrs_start"])
    level, low, high = combine(start.level, domains, best_start=best_start, worst_start=worst_start)
    target = str(facts["imprecision"]["target"])
    return Confidence(
        level,
        low,
        high,
        start.level,
        start.reason,
        domains,
        (*notes, *_note(body, facts)),
        rule_set,
        str(load_rules(rule_set)["version"]),
        hash_facts({"start": start.design_class, "settings": chosen, **facts}, rule_set),
        target,
        level,
    )


def rate_facts(facts: Mapping[str, Facts], rule_set: str) -> tuple[DomainRating, ...]:
    """Each domain's rating from its facts alone: how published summaries are rated."""
    book = load_rules(rule_set)
    version = str(book["version"])
    return tuple(
        _rate_domain(name, book["domains"][name], facts[name], rule_set, version) for name in DOMAINS
    )


def _rate_domain(
    domain: str, rules: Sequence[Rule], facts: Facts, rule_set: str, version: str
) -> DomainRating:
    rule = find_rule(rules, facts)
    proposed: int | None = rule["propose"]
    counted = rule["suggest"] if proposed is None else proposed
    worst, best = rule.get("range", sorted((counted, rule.get("or", counted))))
    reason = fill_text(rule["text"], facts)
    return DomainRating(
        domain,
        proposed,
        counted,
        best,
        worst,
        bool(rule.get("borderline", False)),
        rule["id"],
        rule_set,
        version,
        reason[:1].upper() + reason[1:] + ".",
        hash_facts(facts, f"{rule_set}/{version}/{domain}"),
        tuple(rule["src"]),
        rule["conf"],
        tuple(rule.get("flags", ())),
        facts=tuple(sorted(facts.items())),
    )


def combine(
    start: Level,
    domains: Sequence[DomainRating],
    *,
    best_start: Level | None = None,
    worst_start: Level | None = None,
) -> tuple[Level, Level, Level]:
    """(level, low, high): the start and all domains added up, held between very low and high."""
    level = level_at(start.rank + sum(d.counted for d in domains))
    low = level_at((worst_start or start).rank + sum(d.worst for d in domains))
    high = level_at((best_start or start).rank + sum(d.best for d in domains))
    return level, low, high


def _choose_start(body: Body, nrs_start: str) -> tuple[Start, Level, Level, list[str]]:
    """The start of the designs that carry most of the information; the others stretch the range."""
    if not body.contributions:
        nothing = Start("nothing", Level.VERY_LOW, "no study bears on this", (), "project", False)
        return nothing, Level.VERY_LOW, Level.VERY_LOW, []
    groups = split_by_start(body, nrs_start)
    shares = dict(zip(map(id, body.contributions), share_out(body.contributions), strict=True))
    held = {level: sum(shares[id(c)] for c in group) for level, group in groups.items()}
    counting = [g for g in groups if held[g] >= SEEN] or list(groups)
    level = max(held, key=lambda x: (round(held[x], 9), -x.rank))
    start = start_of(max(groups[level], key=lambda c: shares[id(c)]), nrs_start)
    notes = []
    if len(counting) > 1:
        parts = ", ".join(f"{held[g]:.0%} starts {g}" for g in counting)
        notes.append(f"Designs are mixed ({parts}): rate randomised and other studies apart, and show both.")
    unknown = sorted({c.design for c in body.contributions if start_of(c, nrs_start).guessed})
    if unknown:
        notes.append(
            f"Design not in the rule data ({', '.join(unknown)}): started by whether it was randomised."
        )
    unsaid = sum(c.randomised is None for c in body.contributions)
    if unsaid:
        notes.append(
            f"{unsaid} of {len(body.contributions)} do not say whether they were randomised: taken as not."
        )
    return start, max(counting, key=lambda x: x.rank), min(counting, key=lambda x: x.rank), notes


def _options(
    rating: DomainRating, facts: Mapping[str, Facts], body: Body, settings: Settings
) -> tuple[str, ...]:
    """Adjustments that are offered to the person and never applied."""
    options: list[str] = []
    domain = rating.domain
    if domain == "inconsistency":
        seen = facts["inconsistency"]
        estimates = [e for e in body.estimates if e != 0]
        if _at_least(seen["i2"], 40) and (all(e > 0 for e in estimates) or all(e < 0 for e in estimates)):
            options.append(
                "All estimates lie on one side of no difference: one level less may be right (GRADE 36)."
            )
        if seen["credible_subgroup"]:
            options.append("A credible subgroup explains the differences: split the claim (GRADE 36).")
        if seen["pi_crosses"]:
            options.append(
                "The prediction interval holds no difference while the interval does not: at least −1."
            )
    if domain == "imprecision" and rating.rule_set == "default" and body.pooled is not None:
        options += _beside(body, settings)
    if domain == "indirectness" and facts["indirectness"]["in_part"]:
        options.append(f"Part of the information is indirect: {facts['indirectness']['in_part']}.")
    return tuple(options)


def _at_least(fact: Fact, bound: float) -> bool:
    return isinstance(fact, (int, float)) and fact >= bound


def _beside(body: Body, settings: Settings) -> list[str]:
    """The rating at the other usual smallest important difference, printed beside the proposal."""
    thresholds = find_thresholds(body.metric, body.measured)
    if body.own_mid is not None or thresholds.mid_beside is None or thresholds.mid is None:
        return []
    facts = gather_imprecision(body, settings, mid=thresholds.mid_beside)
    if facts["target"] == "little to no difference":
        return []
    rules = load_rules("default")["domains"]["imprecision"]
    other = _rate_domain("imprecision", rules, facts, "default", "")
    metric, source = find_metric(body.metric), name_origin(thresholds.conf)
    return [
        f"Taken with {format_value(metric, thresholds.mid)} as the smallest important difference "
        f"({source}); with {format_value(metric, thresholds.mid_beside)} it would be "
        f"{format_levels(other.proposed)}: {other.reason[:1].lower()}{other.reason[1:]}"
    ]


def _note(body: Body, facts: Mapping[str, Facts]) -> list[str]:
    notes: list[str] = []
    if body.pooled is not None and body.pooled.k >= 2 and facts["inconsistency"]["i2"] is not None:
        spread = [f"I² {facts['inconsistency']['i2']:.0f} %"]
        if facts["inconsistency"]["tau2"] is not None:
            spread.append(f"τ² {facts['inconsistency']['tau2']:.3g}")
        spread.append(str(facts["inconsistency"]["directions"]))
        notes.append("Differences between studies: " + "; ".join(spread) + ".")
    if facts["indirectness"]["activation_for_other"]:
        notes.append(
            f"Rests on muscle activation, which is an acute measure and not {name_construct(body.construct)}."
        )
    return notes


def format_levels(levels: int | None) -> str:
    """`0`, `−1`, or `open`."""
    return "open" if levels is None else str(levels).replace("-", "−")


def hash_facts(facts: Mapping[str, object], salt: str) -> str:
    """Sixteen hexadecimal characters that change when anything the rules saw changes."""
    text = json.dumps({"salt": salt, "facts": facts}, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def combine_outcomes(critical: Sequence[Level]) -> Level:
    """The level over several outcomes: the lowest among the critical ones (ACIP handbook, chapter 10).

    Raises BadInput when no outcome is called critical.
    """
    if not critical:
        raise BadInput("no outcome is critical", hint="Say which outcomes a decision would turn on.")
    return min(critical, key=lambda level: level.rank)
