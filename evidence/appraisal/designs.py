"""How a study design starts in the rating, and whether the same people did both conditions."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.levels import Level, read_level
from evidence.appraisal.rulebook import load_rules


@dataclass(frozen=True, slots=True)
class Start:
    """The level a design starts from, and why."""

    design_class: str
    level: Level
    reason: str
    sources: tuple[str, ...]
    conf: str
    guessed: bool  # the design's id is not in the rule data; its randomisation alone was used


def _entry_of(contribution: Contribution) -> Mapping[str, Any] | None:
    entry: Mapping[str, Any] | None = load_rules("default")["designs"].get(contribution.design)
    return entry


def pairing_of(contribution: Contribution) -> str:
    """`within`, `between` or `none`, from the design; an unknown design is `within` when its id says so."""
    entry = _entry_of(contribution)
    if entry is not None:
        return str(entry["pairing"])
    return "within" if any(word in contribution.design for word in ("within", "cross", "limb")) else "between"


def class_of(contribution: Contribution) -> tuple[str, bool]:
    """The start class of a contribution, and whether it had to be guessed.

    What the paper said about randomising decides over the name of the design: an order that is not known
    to be randomised is treated as not randomised.
    """
    entry = _entry_of(contribution)
    guessed = entry is None
    name = str(entry["class"]) if entry else ""
    if name in ("single_arm", "backing"):
        return name, guessed
    if pairing_of(contribution) == "within":
        return ("randomised_within" if contribution.randomised else "within_not_randomised"), guessed
    return ("randomised_parallel" if contribution.randomised else "nonrandomised_comparative"), guessed


def start_of(contribution: Contribution, nrs_start: str) -> Start:
    """The start of one contribution under the setting `nrs_start` (grade18 or coregrade2025)."""
    name, guessed = class_of(contribution)
    if (
        name == "nonrandomised_comparative"
        and contribution.bias_tool == "ROBINS-I"
        and nrs_start == "grade18"
    ):
        name = "nonrandomised_robins"
    row = load_rules("default")["start_levels"][name]
    return Start(name, read_level(row["start"]), row["text"], tuple(row["src"]), row["conf"], guessed)


def split_by_start(body: Body, nrs_start: str) -> dict[Level, tuple[Contribution, ...]]:
    """Contributions by the level they start from, highest first."""
    groups: dict[Level, list[Contribution]] = {}
    for c in body.contributions:
        groups.setdefault(start_of(c, nrs_start).level, []).append(c)
    return {level: tuple(groups[level]) for level in sorted(groups, key=lambda x: -x.rank)}
