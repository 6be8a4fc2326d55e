"""Figures that are hardly ever meant in a programme, and the limits of those that cannot be otherwise."""

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

from evidence.reading.plain_yaml import load_yaml
from evidence.reading.programme_model import Prescription


@lru_cache(maxsize=1)
def _data() -> Mapping[str, Any]:
    text = (files("evidence.reading") / "programme_limits.yaml").read_text("utf-8")
    found: Mapping[str, Any] = load_yaml(text, "programme_limits.yaml").data
    return found


LIMITS: Mapping[str, tuple[float, float]] = {
    key: (float(entry["low"]), float(entry["high"])) for key, entry in _data()["refused"].items()
}


def find_excesses(done: Prescription) -> list[str]:
    """What of a prescription is more than people write, in words: "300 sets"."""
    load = done.load
    percent = (
        load.high or load.low if load is not None and load.kind == "percent" and load.of == "1RM" else None
    )
    figures = {
        "sets": done.sets_high or done.sets,
        "repetitions": done.reps[1] or done.reps[0] if done.reps else None,
        "seconds of work": done.time_s[1] or done.time_s[0] if done.time_s else None,
        "seconds of rest": done.rest_s[1] or done.rest_s[0] if done.rest_s else None,
        "% of 1RM": percent,
    }
    asked = _data()["asked"]
    found = []
    for name, value in figures.items():
        if value is not None and (value > float(asked[name]["above"]) or (name == "sets" and value == 0)):
            found.append(f"{value:g} {name}")
    return found
