"""What people write: drafts and programmes."""

from datetime import datetime

from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, UtcTime


class Draft(SQLModel, table=True):
    """An article, a script or notes before publishing, and when it was last held against the catalogue."""

    __tablename__ = "draft"

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    title: str
    format: str
    text: str
    audience: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    accepted: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    checked_at: datetime | None = Field(default=None, sa_column=Column(UtcTime))
    catalogue_hash: str | None = None
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    added_by: str


class Programme(SQLModel, table=True):
    """A training plan as it was written."""

    __tablename__ = "programme"

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    title: str
    format: str
    text: str
    added_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    added_by: str
