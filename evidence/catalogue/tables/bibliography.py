"""References, their link to studies, and entries of imported files that could not be read."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, UtcTime, one_of


class Reference(SQLModel, table=True):
    """One bibliographic record. `csl` holds every variable; other columns are drawn from it for search."""

    __tablename__ = "reference"
    __table_args__ = (one_of("reading_state", ("unread", "abstract", "full text")),)

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    type: str = "article-journal"
    title: str = ""
    first_author: str = ""
    year: int | None = Field(default=None, index=True)
    container: str = ""
    doi: str | None = Field(default=None, index=True)
    pmid: str | None = Field(default=None, index=True)
    csl: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    raw: str | None = None  # the entry as it stood in the file
    source: str | None = None  # file and line it came from
    reading_state: str = "unread"
    notice: str | None = (
        None  # retracted, concern, corrected, ... (None: nothing known, which is not "clean")
    )
    notice_checked_on: datetime | None = Field(default=None, sa_column=Column(UtcTime))
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class StudyReference(SQLModel, table=True):
    """A study may be reported in several references, and a reference may report several studies."""

    __tablename__ = "study_reference"
    __table_args__ = (
        UniqueConstraint("study_id", "reference_id"),
        one_of("role", ("report", "preprint", "abstract", "secondary analysis", "review of it")),
    )

    id: int | None = Field(default=None, primary_key=True)
    study_id: int = Field(foreign_key="study.id", index=True, ondelete="CASCADE")
    reference_id: int = Field(foreign_key="reference.id", index=True, ondelete="RESTRICT")
    role: str = "report"


class UnreadEntry(SQLModel, table=True):
    """An entry of an imported file that could not be read: kept as text, to be mended."""

    __tablename__ = "unread_entry"
    __table_args__ = (UniqueConstraint("source", "digest"),)

    id: int | None = Field(default=None, primary_key=True)
    source: str
    line: int | None = None
    reason: str
    text: str
    digest: str
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
