"""Every change, with its author, time, before and after: the way back."""

from datetime import datetime

from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, UtcTime, one_of


class ChangeSet(SQLModel, table=True):
    """One action of a person: everything in it is stored together and undone together."""

    __tablename__ = "change_set"

    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    who: str
    action: str  # "study load lehman-2004.yaml"
    undoes_id: int | None = Field(default=None, foreign_key="change_set.id", index=True)


class Change(SQLModel, table=True):
    """One row before and after. `before` None: added; `after` None: removed."""

    __tablename__ = "change"
    __table_args__ = (one_of("operation", ("add", "edit", "remove")),)

    id: int | None = Field(default=None, primary_key=True)
    change_set_id: int = Field(foreign_key="change_set.id", index=True, ondelete="CASCADE")
    table_name: str
    row_id: int
    row_key: str = ""
    operation: str
    before: JsonObject | None = Field(default=None, sa_column=Column(Document(none_as_null=True)))
    after: JsonObject | None = Field(default=None, sa_column=Column(Document(none_as_null=True)))
