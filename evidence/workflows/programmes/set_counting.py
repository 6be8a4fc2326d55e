"""Weekly sets per region, three ways: direct, fractional (a half where the region assists), total.

Counting as in Pelland et al. 2024 (preprint): a set counts for a region 1 where it is the exercise's main one; where
it assists, 0 (direct), 0.5 (fractional) or 1 (total). The figure for assisting sets is data (`set_counting`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.publishing.programmes import WeeklySets
from evidence.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class Done:
    """Sets of one exercise in one session; `times` a week."""

    session: str
    exercise: str
    sets: float
    times: float = 1.0


def count_weekly(
    done: Sequence[Done], priorities: Sequence[str], vocabulary: Vocabulary
) -> tuple[WeeklySets, ...]:
    """Weekly sets of every region that is a priority or that a pick names, priorities first."""
    named: dict[str, None] = dict.fromkeys(priorities)
    for item in done:
        exercise = vocabulary.exercises[item.exercise]
        named.update(dict.fromkeys((*exercise.primary, *exercise.secondary)))
    rank = {region: str(place) for place, region in enumerate(priorities, 1)}
    rows = [count_region(region, done, vocabulary, rank.get(region, "")) for region in named]
    first = [row for row in rows if row.priority]
    return (*first, *sorted((r for r in rows if not r.priority), key=lambda r: (-r.fractional, r.region)))


def count_region(region: str, done: Iterable[Done], vocabulary: Vocabulary, priority: str = "") -> WeeklySets:
    """Weekly sets of one region: an exercise for a portion of it, or for what holds it, counts for it once."""
    kin = {region, *vocabulary.descendants(region), *vocabulary.ancestors(region)}
    direct = assisting = 0.0
    days: dict[str, float] = {}
    for item in done:
        exercise = vocabulary.exercises[item.exercise]
        weekly = item.sets * item.times
        if kin & set(exercise.primary):
            direct += weekly
        elif kin & set(exercise.secondary):
            assisting += weekly
        else:
            continue
        days[item.session] = max(days.get(item.session, 0.0), item.times)
    half = vocabulary.set_counting.secondary
    return WeeklySets(
        vocabulary.regions[region].name,
        direct,
        direct + half * assisting,
        direct + assisting,
        round(sum(days.values())),
        priority,
    )
