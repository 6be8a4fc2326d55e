"""Compare what an evaluator returned with what a check file expects."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

DEFAULT_TOLERANCE = {"rel": 1e-9, "abs": 1e-12}


@dataclass(frozen=True, slots=True)
class Deviation:
    """One value that does not agree (or the reason why nothing could be compared)."""

    key: str
    expected: Any
    got: Any
    tolerance: float | None

    def __str__(self) -> str:
        within = "" if self.tolerance is None else f", tolerance {self.tolerance:.3g}"
        return f"{self.key}: expected {self.expected!r}, got {self.got!r}{within}"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One case: passed when `deviations` is empty. `largest` is the largest share of a tolerance used."""

    case: str
    deviations: tuple[Deviation, ...]
    largest: float = 0.0

    @property
    def passed(self) -> bool:
        return not self.deviations


def compare_case(case: Mapping[str, Any], got: Mapping[str, Any]) -> Outcome:
    """Judge every value of `case["expected"]`; keys that begin with "_" are information only."""
    pairs = list(_compare("", case["expected"], got, case.get("tolerance"), None))
    wrong = tuple(deviation for deviation, _ in pairs if deviation is not None)
    return Outcome(str(case["id"]), wrong, max((ratio for _, ratio in pairs), default=0.0))


def _compare(
    key: str, expected: Any, got: Any, tolerance: Any, twin: Any
) -> Iterator[tuple[Deviation | None, float]]:
    """Yield (deviation or None, share of the tolerance used) for each value below `key`.

    `twin` is the file's own full-precision value beside a printed one.
    """
    if isinstance(expected, Mapping):
        if not isinstance(got, Mapping):
            yield Deviation(key or "(all)", expected, got, None), 0.0
            return
        for name, value in expected.items():
            if name.startswith("_"):
                continue
            path = f"{key}.{name}" if key else name
            if name not in got:
                yield Deviation(path, value, "nothing returned", None), 0.0
                continue
            yield from _compare(
                path,
                value,
                got[name],
                _narrow(tolerance, name),
                _twin(expected, name) if not key else _item(twin, name),
            )
    elif isinstance(expected, Sequence) and not isinstance(expected, str):
        items = _as_list(got)
        if items is None or len(items) != len(expected):
            yield Deviation(key, expected, got, None), 0.0
            return
        for index, value in enumerate(expected):
            yield from _compare(f"{key}[{index}]", value, items[index], tolerance, _item(twin, index))
    else:
        yield _compare_value(key, expected, got, tolerance, twin)


def _compare_value(
    key: str, expected: Any, got: Any, tolerance: Any, twin: Any
) -> tuple[Deviation | None, float]:
    if expected is None or isinstance(expected, (bool, str)):
        same = _is_undefined(got) if expected is None else bool(got == expected)
        return (None if same else Deviation(key, expected, got, None)), 0.0
    if got is None or isinstance(got, (str, Mapping, Sequence)) or _is_undefined(got):
        return Deviation(key, expected, got, None), 0.0
    allowed = _allowance(expected, tolerance, twin)
    off = abs(float(got) - float(expected))
    if off <= allowed:
        return None, off / allowed if allowed else 0.0
    return Deviation(key, expected, float(got), allowed), 0.0


def _allowance(expected: float, tolerance: Any, twin: Any) -> float:
    """abs + rel·|expected|; for a printed value half a unit of its last digit, plus what the file itself is off."""
    if isinstance(tolerance, str):
        text = repr(expected)
        decimals = len(text.partition(".")[2]) if "e" not in text and not text.endswith(".0") else 0
        off = abs(float(twin) - expected) if isinstance(twin, (int, float)) else 0.0
        half = 0.5 * 10.0**-decimals
        return (half if off <= half else half + off) * (1 + 1e-6)
    rule = tolerance if isinstance(tolerance, Mapping) else DEFAULT_TOLERANCE
    return float(rule.get("abs", 0.0)) + float(rule.get("rel", 0.0)) * abs(float(expected))


def _narrow(tolerance: Any, name: str) -> Any:
    """A tolerance block may hold a rule of its own for a key: as a block (`printed`, `computed`) or in its note.

    A note reads "NAME... and NAME limits: rel 1e-3" and holds for every key that starts with one of the names.
    """
    if not isinstance(tolerance, Mapping):
        return tolerance
    if name in tolerance:
        return tolerance[name]
    said = re.fullmatch(r"(.+): rel ([0-9.e+-]+)", str(tolerance.get("note", "")))
    if said is None:
        return tolerance
    starts = [_key_of(part) for part in said[1].split(" and ")]
    return {**tolerance, "rel": float(said[2])} if name.startswith(tuple(starts)) else tolerance


def _key_of(words: str) -> str:
    return words.strip().removesuffix("limits").strip().rstrip(".").replace(" ", "_")


def _twin(expected: Mapping[str, Any], name: str) -> Any:
    return expected.get("computed") if name == "printed" else None


def _item(twin: Any, index: Any) -> Any:
    try:
        return twin[index]
    except (TypeError, KeyError, IndexError):
        return None


def _is_undefined(value: Any) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def _as_list(value: Any) -> list[Any] | None:
    if hasattr(value, "tolist"):
        value = value.tolist()
    return list(value) if isinstance(value, Sequence) and not isinstance(value, str) else None
