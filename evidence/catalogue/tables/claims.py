"""Claims, what was left out of them and why, snapshots of their appraisal, overrides, and their uses."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, UtcTime, one_of
from evidence.vocabulary.terms import Direction


class Claim(SQLModel, table=True):
    """A statement that can be held against contrasts. Vocabulary ids throughout; None: no restriction."""

    __tablename__ = "claim"
    __table_args__ = (
        one_of("direction", Direction),
        CheckConstraint("margin > 0", name="margin_positive"),
    )

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    kind: str = "comparison"
    statement: str
    exercise: str | None = Field(default=None, index=True)
    exercise_details: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    comparator: str | None = Field(default=None, index=True)
    comparator_details: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    region: str | None = Field(default=None, index=True)
    construct_id: str = Field(index=True)
    direction: str = Direction.MORE.value
    training_status: str | None = None
    sex: str | None = None
    health: str | None = None
    margin: float | None = None  # smallest difference that matters, in the metric of the claim
    metric: str | None = None  # None: the default of the construct
    surrogate: str | None = None  # construct the claim may lean on, told openly ("activation")
    note: str | None = None
    review_due: date | None = None
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    added_by: str


class Exclusion(SQLModel, table=True):
    """A study or one of its results left out of a claim by a person, with the reason that is shown."""

    __tablename__ = "exclusion"
    __table_args__ = (UniqueConstraint("claim_id", "study_id", "result_key"),)

    id: int | None = Field(default=None, primary_key=True)
    claim_id: int = Field(foreign_key="claim.id", index=True, ondelete="CASCADE")
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    result_key: str = ""  # empty: the whole study
    reason: str
    person: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class Appraisal(SQLModel, table=True):
    """A snapshot of what the evidence said of a claim: never changed, only followed by a later one."""

    __tablename__ = "appraisal"

    id: int | None = Field(default=None, primary_key=True)
    claim_id: int = Field(foreign_key="claim.id", index=True, ondelete="CASCADE")
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    inputs_hash: str = Field(index=True)
    versions: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    verdict: str
    confidence: str
    confidence_low: str
    confidence_high: str
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    metric: str | None = None
    k: int = 0
    body: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))


class Override(SQLModel, table=True):
    """A person's choice over a proposed rating. The proposal stays visible beside it."""

    __tablename__ = "override"

    id: int | None = Field(default=None, primary_key=True)
    claim_id: int = Field(foreign_key="claim.id", index=True, ondelete="CASCADE")
    domain: str
    proposed: str
    chosen: str
    reason: str
    person: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    inputs_hash: str
    rule_set: str
    rule_version: str


class Use(SQLModel, table=True):
    """One thing that went out (a programme, a brief) and what it said of a claim."""

    __tablename__ = "use"

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    name: str = Field(index=True)
    claim_id: int = Field(foreign_key="claim.id", index=True, ondelete="CASCADE")
    appraisal_id: int | None = Field(
        default=None, foreign_key="appraisal.id", index=True, ondelete="SET NULL"
    )
    told: str = ""
    catalogue_hash: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
