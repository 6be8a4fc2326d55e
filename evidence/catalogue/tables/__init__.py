"""The tables of a catalogue. Every row that a person names carries a `key`, unique in its table.

Table models do not validate what they are given (a SQLModel property): input is validated at the edge,
a before-flush guard refuses non-finite numbers, and CHECK constraints stand behind both.
"""

from sqlmodel import SQLModel

from evidence.catalogue.tables.bibliography import Reference, StudyReference, UnreadEntry
from evidence.catalogue.tables.claims import (
    Appraisal,
    Claim,
    ClaimLink,
    Exclusion,
    Override,
    Rating,
    Use,
)
from evidence.catalogue.tables.columns import harden
from evidence.catalogue.tables.history import Change, ChangeSet
from evidence.catalogue.tables.studies import (
    Condition,
    Correlation,
    Outcome,
    People,
    RawTable,
    Result,
    Study,
)
from evidence.catalogue.tables.vocabulary import OwnAlias, OwnExercise, Setting
from evidence.catalogue.tables.writing import Draft, Programme

harden(SQLModel.metadata)

__all__ = [
    "Appraisal",
    "Change",
    "ChangeSet",
    "Claim",
    "ClaimLink",
    "Condition",
    "Correlation",
    "Draft",
    "Exclusion",
    "Outcome",
    "Override",
    "OwnAlias",
    "OwnExercise",
    "People",
    "Programme",
    "Rating",
    "RawTable",
    "Reference",
    "Result",
    "Setting",
    "Study",
    "StudyReference",
    "UnreadEntry",
    "Use",
]
