"""A study as read from a file, before it is stored: the shape of the catalogue's tables, linked by keys."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from evidence.vocabulary.terms import Pairing, ReadFrom, Spread, Statistic, Timepoint

Details = Mapping[str, str | int | float | bool]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong or unclear in a file: the place in words, what it is, what to do; `path`: the entry itself."""

    message: str
    where: str
    hint: str = ""
    path: tuple[str | int, ...] = field(default=(), compare=False)

    def __str__(self) -> str:
        return f"{self.where}: {self.message}. {self.hint}".rstrip()


@dataclass(frozen=True, slots=True)
class ReferenceLink:
    """Where a study is reported: the key of a reference, its DOI, or both."""

    key: str | None = None
    doi: str | None = None
    role: str = "report"


@dataclass(frozen=True, slots=True)
class PeopleDraft:
    """A group of participants.

    `sex`, `training_status` and `health` are ids of the vocabulary where it knows them.
    """

    key: str
    label: str = ""
    recruited: int | None = None
    analysed: int | None = None
    sex: str = "not stated"
    age_mean: float | None = None
    age_sd: float | None = None
    training_status: str = "not stated"
    health: str = "not stated"
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ConditionDraft:
    """What was done in one arm or trial. `exercise` None: no exercise (control). `people`: key of a group."""

    key: str
    exercise: str | None = None
    printed: str = ""
    details: Details = field(default_factory=dict)
    dose: Details = field(default_factory=dict)
    people: str | None = None
    n: int | None = None


@dataclass(frozen=True, slots=True)
class OutcomeDraft:
    """What was measured; ids of the vocabulary."""

    key: str
    construct: str
    instrument: str = "not stated"
    unit: str = ""
    normalisation: str = "not stated"
    amplitude: str = "not stated"
    phase: str = "not stated"
    better: str = "higher"
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ResultDraft:
    """Figures as printed.

    `outcome`, `condition`, `comparator`, `people` are keys; `level` is a share (0.95).
    """

    key: str
    outcome: str
    condition: str
    printed: str
    comparator: str | None = None
    people: str | None = None
    region: str | None = None
    timepoint: Timepoint = Timepoint.ACUTE
    timepoint_label: str | None = None
    statistic: Statistic = Statistic.MEAN
    value: float | None = None
    spread: float | None = None
    spread_kind: Spread = Spread.NONE
    low: float | None = None
    high: float | None = None
    level: float | None = None
    n: int | None = None
    events: int | None = None
    person_time: float | None = None
    test: str | None = None
    p: str | None = None
    marks: str | None = None
    printed_unit: str | None = None
    locator: str = ""
    read_from: ReadFrom = ReadFrom.FULL_TEXT
    read_by: str | None = None
    read_on: date | None = None
    verified_by: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class CorrelationDraft:
    """A correlation between two results of the same people; `result_a`, `result_b` are keys of results."""

    result_a: str
    result_b: str
    r: float
    origin: str = "printed"
    locator: str = ""


@dataclass(frozen=True, slots=True)
class BiasDomain:
    """The judgement on one domain, with its reason."""

    domain: str
    judgement: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BiasDraft:
    """Risk of bias as a person judged it."""

    tool: str = ""
    overall: str = "not assessed"
    score: float | None = None
    domains: tuple[BiasDomain, ...] = ()
    note: str | None = None

    def as_document(self) -> dict[str, Any]:
        """The form kept in the catalogue; `high_domains` counts domains judged high, serious or critical."""
        high = sum(d.judgement in ("high", "serious", "critical") for d in self.domains)
        return {
            "tool": self.tool,
            "overall": self.overall,
            "score": self.score,
            "high_domains": high,
            "domains": [
                {"domain": d.domain, "judgement": d.judgement, "reason": d.reason} for d in self.domains
            ],
            "note": self.note,
        }


@dataclass(frozen=True, slots=True)
class StudyDraft:
    """One study.

    `warnings` are things to look at that do not stop it from being stored; they take no part in ==.
    """

    key: str
    title: str
    design: str
    pairing: Pairing
    randomised: str = "not stated"
    year: int | None = None
    weeks: float | None = None
    invented: bool = False
    sample: str | None = None
    funding: str | None = None
    source: str | None = None
    note: str | None = None
    references: tuple[ReferenceLink, ...] = ()
    people: tuple[PeopleDraft, ...] = ()
    conditions: tuple[ConditionDraft, ...] = ()
    outcomes: tuple[OutcomeDraft, ...] = ()
    results: tuple[ResultDraft, ...] = ()
    correlations: tuple[CorrelationDraft, ...] = ()
    bias: BiasDraft | None = None
    warnings: tuple[Problem, ...] = field(default=(), compare=False)
