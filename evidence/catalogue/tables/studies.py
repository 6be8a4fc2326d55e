"""Studies as extracted: people, conditions, outcomes, and the results exactly as printed."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, UtcTime, one_of
from evidence.vocabulary.terms import Pairing, ReadFrom, Spread, Statistic, Timepoint


class Study(SQLModel, table=True):
    """One investigation."""

    __tablename__ = "study"
    __table_args__ = (
        one_of("pairing", Pairing),
        one_of("randomised", ("yes", "no", "not stated")),
        CheckConstraint("weeks >= 0", name="weeks_not_negative"),
    )

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    title: str
    year: int | None = None
    design: str  # id in the vocabulary of designs
    pairing: str
    randomised: str = "not stated"
    weeks: float | None = None
    invented: bool = False  # demonstration data says so wherever it is shown
    sample: str | None = None  # studies that report the same people share this word
    funding: str | None = None
    note: str | None = None
    bias: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    source: str | None = None
    digest: str | None = Field(
        default=None, index=True
    )  # of the study file: the same file is not loaded twice
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class People(SQLModel, table=True):
    """A group of participants, described as the paper describes them."""

    __tablename__ = "people"
    __table_args__ = (
        UniqueConstraint("study_id", "key"),
        one_of("sex", ("female", "male", "both", "not stated")),
        CheckConstraint("recruited >= 0", name="recruited_not_negative"),
        CheckConstraint("analysed >= 0", name="analysed_not_negative"),
    )

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    key: str
    label: str = ""
    recruited: int | None = None
    analysed: int | None = None
    sex: str = "not stated"
    age_mean: float | None = None
    age_sd: float | None = None
    training_status: str = "not stated"  # id in the vocabulary
    health: str = "not stated"  # "healthy", or the condition in the paper's words
    note: str | None = None


class Condition(SQLModel, table=True):
    """What participants did in one arm or one trial: an exercise with its details and dose."""

    __tablename__ = "condition"
    __table_args__ = (UniqueConstraint("study_id", "key"),)

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    key: str
    exercise: str | None = Field(
        default=None, index=True
    )  # id in the vocabulary; None: no exercise (control)
    printed: str = ""  # as the paper names it
    details: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    dose: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    people_id: int | None = Field(default=None, foreign_key="people.id", index=True, ondelete="SET NULL")
    n: int | None = None


class Outcome(SQLModel, table=True):
    """What was measured: construct, instrument, unit, normalisation."""

    __tablename__ = "outcome"
    __table_args__ = (
        UniqueConstraint("study_id", "key"),
        one_of("better", ("higher", "lower", "neither")),
    )

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    key: str
    construct_id: str = Field(index=True)
    instrument: str = "not stated"
    unit: str = ""
    normalisation: str = "not stated"
    amplitude: str = "not stated"  # mean, peak, integrated: activation outcomes only
    phase: str = "not stated"
    better: str = "higher"
    note: str | None = None


class RawTable(SQLModel, table=True):
    """A table as it was pasted or saved, kept beside the results that were read from it."""

    __tablename__ = "raw_table"
    __table_args__ = (UniqueConstraint("study_id", "digest"),)

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    name: str
    text: str
    digest: str
    mapping: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class Result(SQLModel, table=True):
    """Numbers extracted for an outcome, exactly as printed, with a locator and who read them from what.

    `value`, `spread`, `low`, `high` are the printed figures as numbers; nothing computed is stored here.
    """

    __tablename__ = "result"
    __table_args__ = (
        UniqueConstraint("study_id", "key"),
        one_of("statistic", Statistic),
        one_of("spread_kind", Spread),
        one_of("timepoint", Timepoint),
        one_of("read_from", ReadFrom),
        CheckConstraint("n >= 0", name="n_not_negative"),
        CheckConstraint("spread >= 0", name="spread_not_negative"),
        CheckConstraint("level > 0 AND level < 1", name="level_is_a_share"),
    )

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    key: str
    outcome_id: int = Field(foreign_key="outcome.id", index=True, ondelete="CASCADE")
    condition_id: int = Field(foreign_key="condition.id", index=True, ondelete="CASCADE")
    comparator_id: int | None = Field(
        default=None, foreign_key="condition.id", index=True, ondelete="CASCADE"
    )
    people_id: int | None = Field(default=None, foreign_key="people.id", index=True, ondelete="SET NULL")
    region: str | None = Field(default=None, index=True)
    timepoint: str
    timepoint_label: str | None = None
    statistic: str
    value: float | None = None
    spread: float | None = None
    spread_kind: str = Spread.NONE.value
    low: float | None = None
    high: float | None = None
    level: float | None = None  # of the interval low..high
    n: int | None = None
    events: int | None = None
    person_time: float | None = None
    test: str | None = None  # as printed: "t(11) = 2.31", "F(1, 20) = 4.2"
    p: str | None = None  # as printed: "<0.001", "0.04", "ns"
    marks: str | None = None
    printed: str  # the cell or phrase as it stands in the paper
    printed_unit: str | None = None
    locator: str  # "Table 1", "p. 5", "Figure 2", "abstract"
    read_from: str
    read_by: str
    read_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    verified_by: str | None = None
    raw_table_id: int | None = Field(
        default=None, foreign_key="raw_table.id", index=True, ondelete="SET NULL"
    )
    raw_cell: str | None = None
    note: str | None = None


class Correlation(SQLModel, table=True):
    """A correlation between two results of the same people: printed, or computed from individual data."""

    __tablename__ = "correlation"
    __table_args__ = (
        UniqueConstraint("result_a_id", "result_b_id"),
        CheckConstraint("r >= -1 AND r <= 1", name="r_in_range"),
        one_of("origin", ("printed", "computed from individual data", "computed from printed figures")),
    )

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    result_a_id: int = Field(foreign_key="result.id", index=True, ondelete="CASCADE")
    result_b_id: int = Field(foreign_key="result.id", index=True, ondelete="CASCADE")
    r: float
    origin: str = "printed"
    locator: str = ""
