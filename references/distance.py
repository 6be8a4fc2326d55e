"""How far two references are apart, from 0 (the same) to 1, as named penalties that explain themselves.

Each penalty has a weight, the distance it causes alone at its full amount, and an amount from 0 to 1.
Penalties join as 1 - product(1 - weight * amount): a missing field costs nothing, and no agreement can hide
a difference. Weights with their reasons: data/duplicates.yaml.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product

from references.authors import compare_authors
from references.profiles import Profile, build_profile
from references.record import Record
from references.rules import load_rules
from references.titles import compare_titles
from references.venues import compare_venues


@dataclass(frozen=True, slots=True)
class Penalty:
    """One difference: its name, the most it can cost, how much of that it costs here, and why."""

    name: str
    weight: float
    amount: float
    reason: str

    @property
    def cost(self) -> float:
        """The distance this difference causes alone."""
        return self.weight * self.amount


@dataclass(frozen=True, slots=True)
class Distance:
    """How far two references are apart. `vetoes` say why they must not be merged, however alike they look.

    `total`: 0 to 1. `penalties`: the differences, dearest first. `agreements`: names of what was compared and
    found equal, or nearly so.
    """

    total: float
    penalties: tuple[Penalty, ...] = ()
    vetoes: tuple[str, ...] = ()
    agreements: frozenset[str] = frozenset()

    def amount(self, name: str) -> float:
        """How much of the named penalty was taken; 0 where the fields agree or cannot be compared."""
        return max((penalty.amount for penalty in self.penalties if penalty.name == name), default=0.0)

    def __str__(self) -> str:
        reasons = "; ".join(f"{p.name} {p.cost:.2f} ({p.reason})" for p in self.penalties)
        return f"{self.total:.2f}" + (f": {reasons}" if reasons else "")


@cache
def default_weights() -> dict[str, float]:
    """The packaged weight of each penalty."""
    return {name: float(entry["weight"]) for name, entry in load_rules("duplicates")["weights"].items()}


def measure_distance(a: Record, b: Record, weights: Mapping[str, float] | None = None) -> Distance:
    """The explained distance of two records. `weights` replaces packaged weights by name."""
    merged = default_weights() | dict(weights) if weights else default_weights()
    return measure_profiles(build_profile(a), build_profile(b), merged)


class _Tally:
    """Differences and agreements as they are found."""

    __slots__ = ("agreements", "penalties", "weights")

    def __init__(self, weights: Mapping[str, float]) -> None:
        self.weights = weights
        self.penalties: list[Penalty] = []
        self.agreements: set[str] = set()

    def add(self, name: str, amount: float, reason: str, *, agrees_below: float = 0.0) -> None:
        if amount <= agrees_below:
            self.agreements.add(name)
        if amount > 0:
            self.penalties.append(Penalty(name, self.weights[name], min(amount, 1.0), reason))


def measure_profiles(a: Profile, b: Profile, weights: Mapping[str, float] | None = None) -> Distance:
    """The explained distance of two prepared records."""
    tally = _Tally(weights or default_weights())
    _weigh_titles(a, b, tally)
    if a.surnames and b.surnames:
        amount, reason = compare_authors(a, b)
        tally.add("authors", amount, reason, agrees_below=0.35)
    _weigh_year(a, b, tally)
    if a.venue and b.venue:
        amount = compare_venues(a.venue, b.venue)
        tally.add("venue", amount, f"{a.venue} / {b.venue}", agrees_below=0.2)
    if a.volume and b.volume:
        tally.add("volume", float(a.volume != b.volume), f"{a.volume} / {b.volume}")
    _weigh_pages(a, b, tally)
    if a.form != b.form and "other" not in (a.form, b.form):
        tally.add("type", _FORM_AMOUNTS.get(frozenset((a.form, b.form)), 1.0), f"{a.form} / {b.form}")
    vetoes = _weigh_identifiers(a, b, tally)
    remaining = 1.0
    for penalty in tally.penalties:
        remaining *= 1.0 - penalty.cost
    penalties = tuple(sorted(tally.penalties, key=lambda penalty: (-penalty.cost, penalty.name)))
    return Distance(1.0 - remaining, penalties, vetoes, frozenset(tally.agreements))


# readers often mistake these for each other
_FORM_AMOUNTS = {
    frozenset(("article", "meeting")): 0.3,
    frozenset(("chapter", "meeting")): 0.2,
    frozenset(("article", "chapter")): 0.6,
    frozenset(("report", "thesis")): 0.6,
    frozenset(("book", "report")): 0.6,
}


def _weigh_titles(a: Profile, b: Profile, tally: _Tally) -> None:
    if not a.titles or not b.titles:
        return
    best = min(
        (compare_titles(one, other) for one, other in product(a.titles, b.titles)),
        key=lambda found: found.amount + found.words + found.numbers,
    )
    tally.add("title", best.amount, best.reason, agrees_below=0.3)
    if best.words:
        tally.add("words", best.words, best.word_reason)
    if best.numbers:
        tally.add("numbers", best.numbers, best.number_reason)
    if a.marker != b.marker:
        tally.add("type", 1.0, f"{a.marker or 'no notice'} / {b.marker or 'no notice'}")


def _weigh_year(a: Profile, b: Profile, tally: _Tally) -> None:
    if a.year is None or b.year is None:
        return
    gap = abs(a.year - b.year)
    amount = (0.0, 0.25, 0.6)[gap] if gap < 3 else 1.0
    tally.add("year", amount, f"{a.year} / {b.year}", agrees_below=0.25)


def _weigh_pages(a: Profile, b: Profile, tally: _Tally) -> None:
    if not a.pages or not b.pages or a.pages[0].isdecimal() != b.pages[0].isdecimal():
        return  # an article number and a page range may belong to the same article
    if a.pages[0] == b.pages[0]:
        tally.add("pages", 0.0, "")
        return
    same_end = bool(a.pages[1]) and a.pages[1] == b.pages[1]
    tally.add("pages", 0.4 if same_end else 1.0, f"{a.pages[0]} / {b.pages[0]}")


def _weigh_identifiers(a: Profile, b: Profile, tally: _Tally) -> tuple[str, ...]:
    """A shared identifier agrees; two of one kind conflict, and those that name one work each veto a
    merge.
    """
    vetoes: list[str] = []
    conflicts: list[str] = []
    for name, one, other in (
        ("DOI", a.doi, b.doi),
        ("PMID", a.pmid, b.pmid),
        ("PMCID", a.pmcid, b.pmcid),
        ("ISBN", a.isbn, b.isbn),
    ):
        if not one or not other:
            continue
        if one == other:
            tally.agreements.add(name)
        elif name != "ISBN":  # print and electronic editions of one book have an ISBN each
            conflicts.append(f"{name} {one} / {other}")
            vetoes.append(f"two {name}s: {one} and {other}")
    if conflicts:
        tally.add("identifier", 1.0, "; ".join(conflicts))
    return tuple(vetoes)
