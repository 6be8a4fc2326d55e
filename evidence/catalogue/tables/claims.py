"""Claims, what was left out of them and why, snapshots of their appraisal, overrides, and their uses."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint, text
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
    construct_id: str = Field(index=True)  # empty: a claim of practice that names no outcome
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
    # What only one kind of claim needs: a band and its source, a graded detail, the field of a "best of".
    terms: JsonObject = Field(
        default_factory=dict, sa_column=Column(Document, nullable=False, server_default=text("'{}'"))
    )
    falsifier: str | None = None  # what would make the person who states it give it up


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


class ClaimLink(SQLModel, table=True):
    """A source that speaks to a claim and gives nothing to pool: a review, an expert, backing."""

    __tablename__ = "claim_link"
    __table_args__ = (
        UniqueConstraint("claim_id", "reference_id", "locator"),
        one_of("stance", ("supports", "against", "mixed", "background")),
        one_of("kind", ("review", "study", "guideline", "expert", "other")),
        CheckConstraint("n >= 0", name="n_not_negative"),
    )

    id: int | None = Field(default=None, primary_key=True)
    claim_id: int = Field(foreign_key="claim.id", index=True, ondelete="CASCADE")
    reference_id: int = Field(foreign_key="reference.id", index=True, ondelete="RESTRICT")
    stance: str
    kind: str
    locator: str
    said: str  # what it says, in the words of the person who linked it
    n: int | None = None
    design: str | None = None
    person: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class Rating(SQLModel, table=True):
    """What one person judged: a domain of a claim's confidence, or of a study's risk of bias."""

    __tablename__ = "rating"
    __table_args__ = (CheckConstraint("(claim_id IS NULL) <> (study_id IS NULL)", name="of_one_thing"),)

    id: int | None = Field(default=None, primary_key=True)
    claim_id: int | None = Field(default=None, foreign_key="claim.id", index=True, ondelete="CASCADE")
    study_id: int | None = Field(default=None, foreign_key="study.id", index=True, ondelete="CASCADE")
    tool: str
    domain: str
    value: str
    answers: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    reason: str
    person: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class Use(SQLModel, table=True):
    """One thing that went out (a programme, a brief) and what it said of a claim, a reference or a region."""

    __tablename__ = "use"

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    name: str = Field(index=True)
    claim_id: int | None = Field(default=None, foreign_key="claim.id", index=True, ondelete="CASCADE")
    appraisal_id: int | None = Field(
        default=None, foreign_key="appraisal.id", index=True, ondelete="SET NULL"
    )
    reference_id: int | None = Field(default=None, foreign_key="reference.id", index=True, ondelete="CASCADE")
    told: str = ""
    catalogue_hash: str
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    place: str = ""  # the file that was written; empty: shown on the screen
    format: str = ""
    body: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
