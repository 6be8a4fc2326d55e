"""Whether an exercise can be done with the equipment that a programme names.

The vocabulary says with what an exercise is done: "barbell or dumbbells" are two ways, "barbell, bench" needs both.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files

import yaml

from evidence.vocabulary import Exercise


def missing_for(exercise: Exercise, equipment: Sequence[str]) -> str:
    """What is not at hand for an exercise, in words; empty where it can be done, or where no equipment is named."""
    if not equipment or not exercise.implement:
        return ""
    ways = [_parts(way) for way in re.split(r"\s+or\s+", exercise.implement)]
    lacking = [[part for part in way if not _is_there(part, exercise, equipment)] for way in ways]
    return "" if any(not parts for parts in lacking) else " or ".join(" and ".join(p) for p in lacking)


def _parts(way: str) -> list[str]:
    return [part.strip() for part in re.split(r",|\+", way) if part.strip()]


def _is_there(part: str, exercise: Exercise, equipment: Sequence[str]) -> bool:
    words = _words(part)
    if words & _rules("always"):
        return True
    named = _words(exercise.name) | _words(" ".join(exercise.names))
    for entry in equipment:
        has = _words(entry)
        if has & _rules("everything") or words <= has:
            return True
        if "machine" in words and (has == {"machine"} or (has - {"machine"} and has - {"machine"} <= named)):
            return True
    return False


def _words(text: str) -> set[str]:
    """The words of a text in one form: `Dumbbells` and `dumbbell` are one, `DB` and `dumbbell` too."""
    same = _same()
    found = (word.rstrip("s") if len(word) > 3 else word for word in re.findall(r"[a-z]+", text.casefold()))
    return {same.get(word, word) for word in found} - {"with", "and", "a", "the", "of", "behind", "knee"}


@lru_cache(maxsize=1)
def _data() -> dict[str, dict[str, list[str]]]:
    text = (files("evidence.workflows.programmes") / "equipment.yaml").read_text("utf-8")
    loaded: dict[str, dict[str, list[str]]] = yaml.safe_load(text)
    return loaded


def _rules(name: str) -> set[str]:
    return set(_data()["words"][name])


@lru_cache(maxsize=1)
def _same() -> dict[str, str]:
    return {other: word for word, others in _data()["same"].items() for other in others}
