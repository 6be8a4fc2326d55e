"""What a catalogue knows, as the checks of drafts need it: references, studies, claims, their figures and people."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import VerdictKind
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from references.citing import short_citation
from references.names import Name
from references.record import Record

if TYPE_CHECKING:
    from evidence.workflows.drafts.rankings import Ranker
    from evidence.workflows.drafts.topics import TopicFinder

TOLD = ("type", "author", "editor", "translator", "issued", "status", "genre", "title")  # variables of CSL
CORRELATION = "r"  # unit of correlations, printed or pooled
SMD = "smd"  # unit of standardised mean differences, printed or pooled


@dataclass(frozen=True, slots=True)
class Figure:
    """A number of a study or claim, as a text may tell it.

    `kind`: mean, change, percent_change, points, relative, per_hundred, estimate, bound. `text`: what it is, with
    its locator. `side`: the key of the condition it belongs to ("" for a comparison).
    """

    value: float
    kind: str
    unit: str
    text: str
    side: str = ""


@dataclass(frozen=True, slots=True)
class Size:
    """A number of people. `counts`: what it counts, one of those of `sizes`; `text`: the same in words."""

    value: int
    counts: int
    text: str


@dataclass(frozen=True, slots=True)
class Group:
    """People as studied: words of the vocabulary, ages in years (None: not said)."""

    sex: str = "not stated"
    status: str = "not stated"
    health: str = "not stated"
    age_low: float | None = None
    age_high: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class KnownContrast:
    """Two conditions compared on a region and an outcome. `between`: an interval of the difference can be had."""

    exercise: str | None
    comparator: str | None
    region: str | None
    construct: str
    between: bool
    scale: str  # unit, normalisation and load, to tell scales apart


@dataclass(frozen=True)
class KnownStudy:
    """One study: who, what, how, and its figures (worked out when first asked)."""

    key: str
    label: str
    references: tuple[str, ...]
    sample: str
    people: int | None
    sizes: tuple[Size, ...]
    groups: tuple[Group, ...]
    randomised: bool | None
    weeks: float | None
    contrasts: tuple[KnownContrast, ...]
    names: tuple[str, ...]  # what its conditions are called
    added_at: datetime | None
    find_figures: Callable[[], tuple[Figure, ...]] = field(compare=False, repr=False)

    @cached_property
    def figures(self) -> tuple[Figure, ...]:
        """Every number a text may tell of it."""
        return self.find_figures()

    @property
    def constructs(self) -> frozenset[str]:
        """What it measured."""
        return frozenset(c.construct for c in self.contrasts)

    @property
    def within_only(self) -> bool:
        """Whether it gives changes within groups and no estimate of the difference between them."""
        return bool(self.contrasts) and not any(c.between for c in self.contrasts)


@dataclass(frozen=True)
class KnownReference:
    """One reference, with its state and whether anybody has marked it as read.

    `csl`: its record as stored, read only for those that a draft names: of 100,000 that is what takes the time.
    """

    key: str
    csl: Mapping[str, Any] = field(repr=False)
    year: int | None
    journal: str
    title: str
    notice: str | None
    studies: tuple[str, ...]
    read_in_full: bool
    later_version: str | None = None  # of a preprint
    mended: bool = False  # its figures were taken after it was corrected

    @cached_property
    def authors(self) -> tuple[Name, ...]:
        """Who wrote it."""
        return self._record.author

    @cached_property
    def short(self) -> str:
        """How a text names it."""
        return short_citation(self._record)

    @cached_property
    def _record(self) -> Record:
        return Record.from_csl({name: self.csl[name] for name in TOLD if name in self.csl} | {"id": self.key})

    @property
    def surnames(self) -> tuple[str, ...]:
        """The authors' surnames as stored, in order, without the record being read."""
        names = self.csl.get("author")
        if not isinstance(names, list):
            return ()
        return tuple(
            str(n.get("family") or n.get("literal") or "") if isinstance(n, Mapping) else str(n)
            for n in names
        )


@dataclass(frozen=True, slots=True)
class KnownClaim:
    """One claim as last weighed. `found`: what the figures say of exercise against comparator (None: open).

    `against`: references whose results speak against it. `wordings`: short, plain, full. `weighed`: whether the
    appraisal is newer than the evidence.
    """

    key: str
    kind: str
    statement: str
    exercise: str | None
    comparator: str | None
    names: tuple[str, ...]  # of the exercise side
    other_names: tuple[str, ...]  # of the comparator side
    region: str | None
    construct: str
    stated: Direction
    verdict: str
    found: Direction | None
    level: Level
    studies: tuple[str, ...]
    against: tuple[str, ...]
    figures: tuple[Figure, ...]
    wordings: tuple[str, ...]
    analysed: Mapping[str, int]  # people by study
    surrogate: bool
    review_due: date | None
    weighed: bool
    words: str = ""  # further words it may be known by
    found_words: str = ""  # the verdict as it is told everywhere, with what it depends on

    @property
    def same(self) -> bool:
        """Whether sameness within a margin is what was found."""
        return self.found is Direction.SAME

    @property
    def people(self) -> int:
        """How many people were analysed for it."""
        return sum(self.analysed.values())

    @property
    def nothing_found(self) -> bool:
        """Whether nothing was found that bears on it."""
        return self.verdict == VerdictKind.NOTHING_FOUND

    @property
    def open(self) -> bool:
        """Whether the figures leave it open."""
        return self.found is None


class Studies(Mapping[str, KnownStudy]):
    """Studies by key, read from the catalogue when first asked for: many at once by `prefetch`."""

    def __init__(self, keys: Iterable[str], load: Callable[[Sequence[str]], Iterable[KnownStudy]]) -> None:
        self._keys = dict.fromkeys(keys)
        self._load = load
        self._held: dict[str, KnownStudy] = {}

    def prefetch(self, keys: Iterable[str]) -> None:
        """Read the named ones that were not read yet, all together."""
        wanted = [k for k in dict.fromkeys(keys) if k in self._keys and k not in self._held]
        if wanted:
            self._held.update({study.key: study for study in self._load(wanted)})

    def __getitem__(self, key: str) -> KnownStudy:
        if key not in self._keys:
            raise KeyError(key)
        self.prefetch([key])
        return self._held[key]

    def __contains__(self, key: object) -> bool:
        return key in self._keys

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


@dataclass(frozen=True)
class Knowledge:
    """All of it, by key. `weigh` brings claims up to date that were weighed before the evidence last changed."""

    vocabulary: Vocabulary
    references: Mapping[str, KnownReference]
    studies: Studies
    claims: Mapping[str, KnownClaim]
    today: date
    weigh: Callable[[Iterable[str]], Mapping[str, KnownClaim]] = field(
        default=lambda keys: {}, compare=False, repr=False
    )
    rank: "Ranker" = field(default=lambda region, construct: None, compare=False, repr=False)

    def refreshed(self, keys: Iterable[str]) -> "Knowledge":
        """The same with the named claims weighed anew where that is needed."""
        from dataclasses import replace

        wanted = [k for k in dict.fromkeys(keys) if k in self.claims and not self.claims[k].weighed]
        return replace(self, claims={**self.claims, **self.weigh(wanted)}) if wanted else self

    def studies_of(self, reference: str) -> tuple[KnownStudy, ...]:
        """The studies that a reference reports."""
        known = self.references.get(reference)
        return tuple(self.studies[s] for s in known.studies if s in self.studies) if known else ()

    @cached_property
    def finder(self) -> "TopicFinder":
        """Finds exercises, regions and outcomes by the names of its vocabulary."""
        from evidence.workflows.drafts.topics import TopicFinder

        return TopicFinder(self.vocabulary)

    @cached_property
    def journals(self) -> tuple[str, ...]:
        """Names of journals that are long enough to be told from other words."""
        return tuple(sorted({r.journal for r in self.references.values() if len(r.journal) > 8}))

    @cached_property
    def by_doi(self) -> Mapping[str, str]:
        """The key of each reference that has a DOI, by it."""
        return {
            doi.lower(): r.key
            for r in reversed(list(self.references.values()))
            if isinstance(doi := r.csl.get("DOI"), str)
        }

    @cached_property
    def by_surname(self) -> Mapping[str, tuple[KnownReference, ...]]:
        """References by each author's surname, folded."""
        from references.folding import fold

        found: dict[str, dict[str, KnownReference]] = {}
        for reference in self.references.values():
            for name in reference.surnames:
                if surname := fold(name):
                    found.setdefault(surname, {})[reference.key] = reference
        return {surname: tuple(held.values()) for surname, held in found.items()}

    @cached_property
    def first_surnames(self) -> frozenset[str]:
        """Surnames of first authors, folded."""
        from references.folding import fold

        return frozenset(fold(name) for r in self.references.values() for name in r.surnames[:1]) - {""}
