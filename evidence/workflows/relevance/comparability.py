"""What has to be told before figures of several studies, or of two conditions, are read together.

Normalisation, load, phase and amplitude by the rules of `appraisal/rules/comparability.yaml`; and units: a difference
in the outcome's own unit is never pooled with one in another unit.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal.rulebook import load_rules
from evidence.catalogue.tables import Condition, Outcome
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Pairing
from evidence.workflows.relevance.bearing import fold
from evidence.workflows.relevance.contributions import StudyEvidence, choose_outcomes, name_study

NOT_STATED = "not stated"
IN_A_UNIT = ("mean_difference", "rate_difference")
MOST = 6  # names of studies in one sentence; above that they are counted


@dataclass(frozen=True, slots=True)
class Held:
    """What a study held: the stated values by what they are about, and those of its two sides where they have sides."""

    label: str
    same_people: bool
    values: Mapping[str, tuple[str, ...]]
    sides: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]


def note_comparability(
    studies: Sequence[StudyEvidence], vocabulary: Vocabulary, named: Collection[str] = ()
) -> list[str]:
    """What is told of a claim's studies; `named`: details that the claim is about, which are meant to differ."""
    held = [
        hold(
            s,
            [side.condition for side in s.bearing.exercise_sides],
            [side.condition for side in s.bearing.comparator_sides],
        )
        for s in studies
    ]
    return tell_rules(held, vocabulary, named)


def tell_scaling(studies: Sequence[StudyEvidence], vocabulary: Vocabulary) -> list[str]:
    """What is told of single studies by how they scaled their figures, for a ranking."""
    held = [hold(s, s.rows.conditions, ()) for s in studies]
    return tell_rules(held, vocabulary, only="holds")


def hold(evidence: StudyEvidence, exercises: Iterable[Condition], comparators: Iterable[Condition]) -> Held:
    """What a study held, of what it states."""
    outcomes = choose_outcomes(evidence.bearing.outcomes)
    sides = (stated(map(load_of, exercises)), stated(map(load_of, comparators)))
    return Held(
        name_study(evidence.rows),
        evidence.rows.study.pairing == Pairing.WITHIN,
        {
            "normalisation": stated(o.normalisation for o in outcomes),
            "phase": stated(o.phase for o in outcomes),
            "amplitude": stated(o.amplitude for o in outcomes),
            "load": stated((*sides[0], *sides[1])),
        },
        {"load": sides},
    )


def load_of(condition: Condition) -> str:
    """The load a condition was done with, as it was written."""
    load = {**condition.dose, **condition.details}.get("load")
    return NOT_STATED if load is None else str(load)


def stated(values: Iterable[str]) -> tuple[str, ...]:
    """Values that somebody stated, each once."""
    return tuple({fold(value): value for value in values if value and value != NOT_STATED}.values())


def tell_rules(
    held: Sequence[Held], vocabulary: Vocabulary, named: Collection[str] = (), *, only: str = ""
) -> list[str]:
    """The texts of all rules that hold."""
    told = []
    for rule in load_rules("comparability")["rules"]:
        if rule["about"] in named or (only and only not in rule):
            continue
        if "holds" in rule:
            told += tell_held(rule, held)
        elif rule["differs"] == "between studies":
            told += tell_between(rule, held, vocabulary)
        else:
            told += tell_inside(rule, held)
    return told


def tell_held(rule: Mapping[str, Any], held: Sequence[Held]) -> list[str]:
    """Studies that hold one of the values named."""
    found = [
        h.label
        for h in held
        if set(h.values[rule["about"]]) & set(rule["holds"])
        and not (rule.get("unless") == "same_people" and h.same_people)
    ]
    return [rule["text"].format(studies=some(found))] if found else []


def tell_between(rule: Mapping[str, Any], held: Sequence[Held], vocabulary: Vocabulary) -> list[str]:
    """Values that differ between studies, of those who state them."""
    groups: dict[str, list[str]] = {}
    shown: dict[str, str] = {}
    for h in held:
        values = h.values[rule["about"]]
        if values:
            key = " and ".join(sorted(map(fold, values)))
            shown.setdefault(key, " and ".join(name_value(rule["about"], v, vocabulary) for v in values))
            groups.setdefault(key, []).append(h.label)
    if len(groups) < 2:
        return []
    return [rule["text"].format(listed="; ".join(f"{shown[k]} ({some(g)})" for k, g in groups.items()))]


def tell_inside(rule: Mapping[str, Any], held: Sequence[Held]) -> list[str]:
    """Studies whose two sides state different values."""
    told = []
    for h in held:
        one, other = h.sides[rule["about"]]
        if one and other and {fold(v) for v in one} != {fold(v) for v in other}:
            values = f"{' and '.join(one)} against {' and '.join(other)}"
            told.append(rule["text"].format(studies=h.label, values=values))
    return told


def name_value(about: str, value: str, vocabulary: Vocabulary) -> str:
    """A value as people call it."""
    known = vocabulary.normalisations.get(value) if about == "normalisation" else None
    return known.name if known else value


def some(labels: Sequence[str]) -> str:
    """Names, or the first of them and how many more there are."""
    if len(labels) <= MOST:
        return ", ".join(labels)
    return f"{', '.join(labels[:MOST])} and {len(labels) - MOST} more"


def in_one_unit(studies: Sequence[StudyEvidence], scale: str) -> tuple[StudyEvidence, ...]:
    """Studies of which only those in the most frequent unit keep a difference in the outcome's own unit."""
    if scale not in IN_A_UNIT:
        return tuple(studies)
    units = Counter(
        unit for s in studies for unit in {unit_of(c.outcome) for c in s.contrasts if scale in c.effects}
    )
    if len(units) < 2:
        return tuple(studies)
    chosen = max(units, key=lambda unit: units[unit])  # of equally frequent ones the first
    return tuple(keep_unit(s, scale, chosen) for s in studies)


def keep_unit(evidence: StudyEvidence, scale: str, chosen: str) -> StudyEvidence:
    """A study without its differences in other units; why is kept with each contrast."""
    contrasts = []
    for contrast in evidence.contrasts:
        own = unit_of(contrast.outcome)
        if own == chosen or not (scale in contrast.effects or scale in contrast.bare):
            contrasts.append(contrast)
            continue
        reason = f"in {own}, where the others are in {chosen}: differences in different units are not pooled"
        contrasts.append(
            replace(
                contrast,
                effects={name: e for name, e in contrast.effects.items() if name != scale},
                bare={name: v for name, v in contrast.bare.items() if name != scale},
                reasons=(*contrast.reasons, reason),
            )
        )
    return replace(evidence, contrasts=tuple(contrasts), known={})


def unit_of(outcome: Outcome) -> str:
    """The unit of an outcome's figures; a percentage with what it is a percentage of."""
    if outcome.unit.startswith("%") and outcome.normalisation != NOT_STATED:
        return f"{outcome.unit} ({outcome.normalisation.replace('_', ' ')})"
    return outcome.unit or "a unit that is not stated"
