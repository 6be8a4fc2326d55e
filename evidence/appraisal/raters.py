"""Several people who judged the same thing: what each said, whether they agree, and what holds.

What holds, in this order: what was settled between them; what they agree on; else the most cautious judgement, until it
is settled (a convention of this project: an open question never makes the evidence look better). Nothing is averaged.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from evidence.statistics.agreement import Agreement, measure_agreement


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one person judged, with the reason; `proposed`: what the rules gave for that person's answers."""

    person: str
    value: str
    reason: str = ""
    proposed: str = ""
    date: str = ""


@dataclass(frozen=True, slots=True)
class Settlement:
    """A disagreement settled: by whom, why, and between which judgements."""

    person: str
    value: str
    reason: str
    date: str
    between: tuple[tuple[str, str], ...]  # (person, value) as they stood when it was settled


@dataclass(frozen=True, slots=True)
class Judgements:
    """All that people said of one domain. `order`: the judgements it can have, the least cautious first."""

    domain: str
    name: str
    opinions: tuple[Opinion, ...]
    order: tuple[str, ...]
    settlement: Settlement | None = None

    @property
    def given(self) -> tuple[Opinion, ...]:
        """Opinions that come to a judgement; an open domain is none."""
        return tuple(o for o in self.opinions if o.value in self.order)

    @property
    def disagree(self) -> bool:
        """Whether two people judged it differently."""
        return len({o.value for o in self.given}) > 1

    @property
    def settled(self) -> bool:
        """Whether a disagreement is settled on what people say now."""
        return self.settlement is not None and not self.stale

    @property
    def stale(self) -> bool:
        """Whether someone judged anew after it was settled."""
        return self.settlement is not None and set(self.settlement.between) != {
            (o.person, o.value) for o in self.given
        }

    @property
    def holds(self) -> str | None:
        """The judgement that counts; None while nobody has come to one.

        What was settled stays while people judged anew and differ again; where they agree now, that counts.
        """
        if self.settlement is not None and (self.disagree or not self.stale):
            return self.settlement.value
        return max((o.value for o in self.given), key=self.order.index, default=None)

    @property
    def why(self) -> str:
        """The reasons behind what holds, each with its person."""
        if self.settlement is not None and (self.disagree or not self.stale):
            return f"{self.settlement.person}: {self.settlement.reason}"
        told = [f"{o.person}: {o.reason}" for o in self.given if o.value == self.holds and o.reason]
        return "; ".join(told)

    def told(self) -> str:
        """Who says what, in a line: `Sam low, Kim high (not settled: the more cautious one counts)`."""
        text = ", ".join(f"{o.person} {o.value}" for o in self.opinions)
        if self.settlement is not None:
            again = "; judged anew since: settle it again" if self.stale else ""
            return f"{text} (settled by {self.settlement.person}: {self.settlement.value}{again})"
        return f"{text} (not settled: the more cautious one counts)" if self.disagree else text


@dataclass(frozen=True, slots=True)
class AgreementOfTwo:
    """How far two named people agree, over the domains that both judged."""

    one: str
    other: str
    measured: Agreement


def compare_raters(judged: Iterable[Judgements]) -> tuple[AgreementOfTwo, ...]:
    """Percent agreement and kappa for every two people who judged the same domains, in the order of their names."""
    pairs: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for item in judged:
        given = sorted(item.given, key=lambda o: o.person)
        for place, one in enumerate(given):
            for other in given[place + 1 :]:
                pairs.setdefault((one.person, other.person), []).append((one.value, other.value))
    return tuple(
        AgreementOfTwo(one, other, measure_agreement(values))
        for (one, other), values in sorted(pairs.items())
    )


def tell_agreement(two: AgreementOfTwo, things: str = "domains") -> str:
    """`Kim and Sam: 9 of 12 domains alike (75 %); kappa 0.58, 95 % interval 0.20 to 0.95`."""
    m = two.measured
    things = things.removesuffix("s") if m.n == 1 else things
    text = f"{two.one} and {two.other}: {m.agreed} of {m.n} {things} alike ({m.observed:.0%})".replace(
        "%)", " %)"
    )
    if m.kappa is None:
        return f"{text}; kappa is not defined where both used one word throughout"
    if m.low is None or m.high is None:
        return f"{text}; kappa {m.kappa:.2f}, no interval from one judgement"
    return f"{text}; kappa {m.kappa:.2f}, 95 % interval {m.low:.2f} to {m.high:.2f}"
