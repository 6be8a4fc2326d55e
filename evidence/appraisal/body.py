"""A body of evidence: everything that bears on one claim, ready to be judged.

Effects are exercise minus comparator in the metric of the claim (log ratios stay on the log scale), so that a
positive figure always means more of what was measured with the exercise. Filled by the workflows; judged by
`verdict.judge` and `confidence.rate`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from evidence.errors import BadInput
from evidence.vocabulary.terms import Direction

BIAS_WORDS = (
    "low",
    "some concerns",
    "high",
    "not assessed",
    "moderate",
    "serious",
    "critical",
    "no information",
)
DIMENSIONS = ("population", "intervention", "comparator", "outcome", "timeframe")


class PooledEffect(Protocol):
    """What is read of a pooled estimate (`evidence.statistics.pooling.Pooled` has all of it).

    `i2` is in percent (0 to 100); intervals are 95 % unless the pooling says otherwise; None: not defined.
    """

    @property
    def k(self) -> int: ...
    @property
    def estimate(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def tau2(self) -> float | None: ...
    @property
    def i2(self) -> float | None: ...
    @property
    def prediction_low(self) -> float | None: ...
    @property
    def prediction_high(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Indirectness:
    """One way in which a contribution does not answer exactly the claim's question."""

    dimension: str  # population, intervention, comparator, outcome, timeframe
    level: str  # minor or serious
    reason: str

    def __post_init__(self) -> None:
        if self.dimension not in DIMENSIONS:
            raise BadInput(
                f"indirectness by {self.dimension!r}", hint=f"Use one of: {', '.join(DIMENSIONS)}."
            )
        if self.level not in ("minor", "serious"):
            raise BadInput(f"indirectness level {self.level!r}", hint="Use minor or serious.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """What one study adds to the body. No interval: it is shown and never pooled.

    `design` is an id of the vocabulary of designs; `randomised` None: the paper does not say. `n` counts
    people analysed (of both groups, where people are in one group only). `df`: degrees of freedom of its own variance,
    where its figure is one of means; None: not known or none. `weight` is the share in the
    pooled estimate (0 to 1), None where it was not pooled. `construct` is what was measured, which may
    differ from the construct of the claim. `high_domains` counts risk-of-bias domains judged high.
    """

    study: str
    label: str
    year: int | None
    design: str
    randomised: bool | None
    n: int
    estimate: float | None
    variance: float | None = None
    low: float | None = None
    high: float | None = None
    df: float | None = None
    weight: float | None = None
    construct: str
    bias: str = "not assessed"
    high_domains: int = 0
    bias_tool: str = ""
    score: float | None = None  # PEDro total, the only fallback where no domain was judged
    indirectness: tuple[Indirectness, ...] = ()
    via_common_comparator: bool = False
    industry_funded: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        if self.bias not in BIAS_WORDS:
            raise BadInput(
                f"risk of bias {self.bias!r}", where=self.label, hint=f"Use: {', '.join(BIAS_WORDS)}."
            )
        if self.n < 0:
            raise BadInput(f"{self.n} people", where=self.label, hint="A number of people is 0 or more.")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise BadInput("the interval's lower limit is above its upper limit", where=self.label)

    @property
    def has_interval(self) -> bool:
        """Whether a whole interval stands beside the estimate."""
        return self.estimate is not None and self.low is not None and self.high is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """All contributions to one claim, their pooled effect, and what counts as a difference that matters.

    `construct`: of the claim. `metric`: an id or alias of `rules/metrics.yaml`. `mid`: smallest important
    difference; `margin`: of a sameness claim; `large`: what counts as large; all in the metric's own
    scale, None: the metric's default. `within_person_r`: correlation between the conditions of one
    person. `without_high_risk`: the pooled effect with studies at high risk of bias left out, where
    computed. `small_study_p`: of a test for small-study effects. `unpublished`: registered but
    unpublished studies are known.
    """

    construct: str
    metric: str
    contributions: tuple[Contribution, ...] = ()
    pooled: PooledEffect | None = None
    n_total: int | None = None
    within_person_r: float | None = None
    mid: float | None = None
    margin: float | None = None
    large: float | None = None
    direction: Direction = Direction.MORE
    without_high_risk: PooledEffect | None = None
    small_study_p: float | None = None
    unpublished: bool = False
    credible_subgroup: bool = False
    unit: str = ""  # of a difference in the outcome's own unit; empty: several, or not known

    @property
    def measured(self) -> str:
        """The construct behind the figures: the one all contributions share, else that of the claim."""
        constructs = {c.construct for c in self.contributions}
        return constructs.pop() if len(constructs) == 1 else self.construct

    @property
    def own_margin(self) -> float | None:
        """The claim's margin, where the figures are of its own outcome and not of one that stands in for it."""
        return self.margin if self.measured == self.construct else None

    @property
    def own_mid(self) -> float | None:
        """The claim's smallest important difference, under the same condition."""
        return self.mid if self.measured == self.construct else None

    @property
    def people(self) -> int:
        """People in the body: as given, else each study's people once."""
        return self.n_total if self.n_total is not None else count_people(self.contributions)

    @property
    def with_interval(self) -> tuple[Contribution, ...]:
        """Contributions that can be drawn with an interval."""
        return tuple(c for c in self.contributions if c.has_interval)

    @property
    def estimates(self) -> tuple[float, ...]:
        """Every estimate there is, with or without an interval."""
        return tuple(c.estimate for c in self.contributions if c.estimate is not None)

    @property
    def studies(self) -> int:
        """Number of separate studies."""
        return len({c.study for c in self.contributions})


def count_people(contributions: Sequence[Contribution]) -> int:
    """Add up people, counting each study once (its largest n)."""
    largest: dict[str, int] = {}
    for c in contributions:
        largest[c.study] = max(c.n, largest.get(c.study, 0))
    return sum(largest.values())
