"""What the vocabulary is made of: frozen entries read from data files that state their sources."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Origin = Literal["shipped", "own"]


@dataclass(frozen=True, slots=True)
class Region:
    """A muscle, a portion of one, or a muscle group. `kind` "site" marks a level of a limb, not a muscle."""

    id: str
    name: str
    latin: str
    names: tuple[str, ...]
    parent: str | None
    portion_of: str | None
    fma: str | None
    uberon: str | None
    provenance: str
    kind: Literal["muscle", "site"] = "muscle"


@dataclass(frozen=True, slots=True)
class Exercise:
    """An exercise with the details that set it apart. `unsure_names` are names that other exercises share."""

    id: str
    name: str
    names: tuple[str, ...] = ()
    unsure_names: tuple[str, ...] = ()
    parent: str | None = None  # the exercise of which this is plainly a variant
    implement: str = ""
    position: str = ""
    grip: str = ""
    laterality: str = ""
    joint_action: str = ""
    plane: str = ""
    type: str = ""
    resistance: str = ""
    primary: tuple[str, ...] = ()  # region ids
    secondary: tuple[str, ...] = ()
    provenance: str = ""
    origin: Origin = "shipped"


@dataclass(frozen=True, slots=True)
class OwnName:
    """A name that a user gives to a known exercise or region: it settles the question for that user."""

    kind: Literal["exercise", "region"]
    name: str
    target: str


@dataclass(frozen=True, slots=True)
class Instrument:
    """A way of measuring a construct. `better` None: as for the construct."""

    id: str
    name: str
    construct: str
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    better: str | None = None


@dataclass(frozen=True, slots=True)
class Construct:
    """What is measured: activation, growth, strength, ... with the defaults for comparing it.

    `metric` compares different people, `metric_within` the same people; `better` is higher, lower or neither.
    """

    id: str
    name: str
    names: tuple[str, ...]
    better: str
    metric: str
    metric_within: str
    shown: str
    acute: bool
    surrogate_for: tuple[str, ...]
    instruments: tuple[Instrument, ...]
    clinical: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Term:
    """An entry of a plain list: normalisation, sex."""

    id: str
    name: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Design:
    """A study design: `start` is the level from which confidence is rated down ("" where none applies).

    `short`: in a few words, for lists, where who did what is told beside it.
    """

    id: str
    short: str
    name: str
    names: tuple[str, ...]
    start: str
    pairing: str
    randomised: str
    source: str


@dataclass(frozen=True, slots=True)
class TrainingStatus:
    """How trained people are; `tiers` as in McKay et al. 2022; `rank` orders the list (None: no order)."""

    id: str
    name: str
    tiers: tuple[int, ...]
    rank: int | None
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Health:
    """A state of health in words; `clinical` ones call up a caution."""

    id: str
    name: str
    names: tuple[str, ...]
    clinical: bool


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as printed. `factor` brings it to the first of its quantity; `relative`: a share of a base."""

    id: str
    quantity: str
    factor: float
    names: tuple[str, ...] = ()
    relative: bool = False


@dataclass(frozen=True, slots=True)
class DefaultCorrelation:
    """A correlation to assume where a paper prints none: always shown, and varied from `low` to `high`."""

    construct: str  # "*": any
    situation: str  # "pre-post", "between conditions", "between changes", "results of one study"
    low: float
    default: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Margin:
    """The largest difference that still counts as the same, in `metric`."""

    construct: str
    metric: str
    margin: float
    told: str
    source: str


@dataclass(frozen=True, slots=True)
class Worthwhile:
    """The smallest difference worth having, in `metric`, and the other value it is shown beside."""

    construct: str
    metric: str
    value: float
    alternative: float | None
    source: str


@dataclass(frozen=True, slots=True)
class SizeScale:
    """From which value on an effect is called small, medium or large."""

    applies_to: str
    metric: str
    small: float
    medium: float
    large: float
    source: str


@dataclass(frozen=True, slots=True)
class MeasurementError:
    """What an instrument can tell apart: intraclass correlation and coefficient of variation in percent."""

    construct: str
    instrument: str
    icc: float | None
    cv_percent: float | None
    source: str


@dataclass(frozen=True, slots=True)
class SetCounting:
    """What a set counts for a region that the exercise works directly, and for one it works besides."""

    direct: float
    secondary: float
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A text that goes out where someone could be hurt, and the words that call it up.

    `sentence`: the same in one sentence, to stand inside a text of somebody's own.
    """

    id: str
    applies: str
    text: str
    sentence: str
    words: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class SharedName:
    """A name that more than one thing answers to: `ids` in the vocabulary, `other` readings outside it."""

    text: str
    ids: tuple[str, ...]
    other: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WordLists:
    """Words inside longer names: what short ones stand for, and which may be left over from a match."""

    expand: Mapping[str, str]
    neutral: frozenset[str]
    implements: frozenset[str]
    positions: frozenset[str]
    grips: frozenset[str]
    laterality: frozenset[str]
    sides: frozenset[str]
