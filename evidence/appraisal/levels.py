"""The four levels of confidence and arithmetic on them."""

from enum import StrEnum


class Level(StrEnum):
    """How far a verdict can be trusted."""

    VERY_LOW = "very low"
    LOW = "low"
    MODERATE = "moderate"
    HIGH = "high"

    @property
    def rank(self) -> int:
        """1 (very low) to 4 (high)."""
        return ORDER.index(self) + 1


ORDER = (Level.VERY_LOW, Level.LOW, Level.MODERATE, Level.HIGH)


def read_level(text: str) -> Level:
    """A level from a word: `very low`, `very_low`, `Very Low`. Raises ValueError for anything else."""
    return Level(text.strip().lower().replace("_", " "))


def level_at(rank: int) -> Level:
    """The level of a rank, held inside very low to high (the clamp of the overall rating)."""
    return ORDER[min(max(rank, 1), len(ORDER)) - 1]


def describe_range(level: Level, low: Level, high: Level) -> str:
    """The level, with its range where a domain is open: `moderate`, or `low (between very low and moderate)`."""
    return str(level) if low == high else f"{level} (between {low} and {high})"
