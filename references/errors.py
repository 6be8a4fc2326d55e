"""What can go wrong with bibliographic data: errors that stop a call, and problems that a report lists.

ReferencesError                exit status 2
├── Unreadable                 the input is not bibliographic text at all (binary, empty, wrong file, bomb)
├── BadIdentifier              a DOI, PMID, PMCID, ISBN or ISSN is malformed (also a ValueError)
└── StyleProblem               a citation style or the program that applies it is missing or broken

A reader never raises for a bad entry: it keeps the entry's text in a `Problem` and goes on with the next one.
"""

from dataclasses import dataclass
from enum import StrEnum


class ReferencesError(Exception):
    """A problem told to a person: `message` (what), `where` (file, line, entry), `hint` (what to do)."""

    exit_status = 2

    def __init__(self, message: str, *, where: str | None = None, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        if not self.hint:
            return text
        return f"{text} {self.hint}" if text.endswith((".", "?", "!", ":")) else f"{text}. {self.hint}"


class Unreadable(ReferencesError):
    """The input is not bibliographic text at all."""


class BadIdentifier(ReferencesError, ValueError):
    """An identifier is malformed or fails its check digit."""


class StyleProblem(ReferencesError):
    """A citation style, or the program that applies it, is missing or broken."""


class Severity(StrEnum):
    """How much of an entry a problem costs."""

    NOTE = "note"  # read right, but worth knowing: a repaired habit, text between records
    WARNING = "warning"  # read, with a decision that a person may want to look at
    ERROR = "error"  # not read: the text is kept so that it can be mended


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to look at in what was read.

    `line` counts from 1 in the decoded text (None: the whole file); `entry` is the key or number of the
    record concerned; `text` is the source text when it could not be read, so that no byte is lost.
    """

    reason: str
    line: int | None = None
    entry: str | None = None
    text: str | None = None
    severity: Severity = Severity.WARNING

    def __str__(self) -> str:
        place = f"line {self.line}: " if self.line is not None else ""
        entry = f"{self.entry}: " if self.entry else ""
        return f"{place}{entry}{self.reason}"
