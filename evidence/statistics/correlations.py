"""Correlations that papers leave out: a printed one is used, a missing one is assumed, named and varied.

What to assume for which outcome is data of the vocabulary (`Vocabulary.default_correlation`).
"""

from collections.abc import Callable
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import Assumption, Effect, require_correlation, require_finite


@dataclass(frozen=True, slots=True)
class Correlation:
    """A correlation within people; when not `printed` it is assumed, and `low` to `high` is usual."""

    value: float
    low: float
    high: float
    printed: bool
    text: str
    source: str

    def __post_init__(self) -> None:
        require_finite(r=self.value, low=self.low, high=self.high)
        for r in (self.low, self.value, self.high):
            require_correlation(r)
        if not self.low <= self.value <= self.high:
            raise NumberProblem(
                f"The correlation {self.value:g} lies outside its own range {self.low:g} to {self.high:g}.",
                hint="Give low, usual and high in rising order.",
            )

    @property
    def grid(self) -> tuple[float, ...]:
        """The values to try: low, usual, high; one value when it was printed."""
        return (self.value,) if self.printed else (self.low, self.value, self.high)

    def assumptions(self) -> tuple[Assumption, ...]:
        """What has to be said with the result: nothing when the correlation was printed."""
        if self.printed:
            return ()
        text = f"No correlation within people was printed; r = {self.value:g} was assumed. {self.text}."
        return (Assumption("correlation", text, self.value, self.low, self.high, self.source),)


@dataclass(frozen=True, slots=True)
class Sweep:
    """One comparison computed over the grid of a correlation, in the order of the grid."""

    correlations: tuple[float, ...]
    effects: tuple[Effect, ...]

    def changes_conclusion(self, level: float = 0.95) -> bool:
        """Whether the interval shuts out "no difference" for some of the correlations and not for others."""
        signs = set()
        for effect in self.effects:
            low, high = effect.interval(level)
            signs.add((low > 0) - (high < 0))
        return len(signs) > 1


def given(r: float) -> Correlation:
    """A correlation that the paper printed, or that the person entering it knows."""
    return Correlation(r, r, r, True, "Printed", "as entered")


def as_correlation(r: "Correlation | float") -> Correlation:
    """A bare number counts as printed."""
    return r if isinstance(r, Correlation) else given(r)


def sweep_correlations(compute: Callable[[float], Effect], correlation: Correlation) -> Sweep:
    """Compute the same comparison for the low, usual and high correlation."""
    return Sweep(correlation.grid, tuple(compute(r) for r in correlation.grid))
