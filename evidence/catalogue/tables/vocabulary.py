"""What a user adds to the vocabulary: own exercises and aliases; and the catalogue's settings."""

from sqlalchemy import UniqueConstraint
from sqlmodel import Column, Field, SQLModel

from evidence.catalogue.tables.columns import Document, JsonObject, one_of


class OwnExercise(SQLModel, table=True):
    """An exercise that the shipped vocabulary lacks. `body` holds its details as the data file would."""

    __tablename__ = "own_exercise"

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    name: str
    body: JsonObject = Field(default_factory=dict, sa_column=Column(Document, nullable=False))
    added_by: str


class OwnAlias(SQLModel, table=True):
    """A name that this user, or the papers they read, give to a known exercise or region."""

    __tablename__ = "own_alias"
    __table_args__ = (UniqueConstraint("kind", "alias", "target"), one_of("kind", ("exercise", "region")))

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    alias: str
    target: str
    added_by: str


class Setting(SQLModel, table=True):
    """A setting kept with the catalogue."""

    __tablename__ = "setting"

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    value: str
