"""The one error tree of the product. Each error says what was wrong, where, and what to do.

SteelyardError                 exit status 2
├── BadInput                   a file, table, cell or option is not what it says
│   └── Ambiguous              several readings fit equally well; `candidates` lists them
├── NotFound                   a named thing is not in the catalogue or vocabulary (exit status 3)
├── NumberProblem              a figure cannot be computed from these inputs (also a ValueError)
└── CatalogueProblem           the catalogue cannot be used as asked
    ├── CatalogueLocked        another program is writing
    ├── CatalogueNewer         it was written by a later version of Steelyard
    ├── CatalogueDamaged       it is not a catalogue, or fails its integrity check
    └── StorageFull            the disk is full or read-only; nothing was stored
"""

from collections.abc import Sequence


class SteelyardError(Exception):
    """A problem told to a person: `message` (what), `where` (file, line, row, cell), `hint` (what to do)."""

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


class BadInput(SteelyardError):
    """A file, table, cell or option is not what it says."""


class Ambiguous(BadInput):
    """Several readings fit equally well; `candidates` are shown and a person chooses."""

    def __init__(
        self,
        message: str,
        *,
        candidates: Sequence[str] = (),
        where: str | None = None,
        hint: str | None = None,
    ) -> None:
        super().__init__(message, where=where, hint=hint)
        self.candidates = tuple(candidates)


class NotFound(SteelyardError):
    """A named thing is not in the catalogue or the vocabulary."""

    exit_status = 3


class NumberProblem(SteelyardError, ValueError):
    """A figure cannot be computed from these inputs."""


class CatalogueProblem(SteelyardError):
    """The catalogue cannot be used as asked."""


class CatalogueLocked(CatalogueProblem):
    """Another program is writing to the catalogue."""


class CatalogueNewer(CatalogueProblem):
    """The catalogue was written by a later version of Steelyard."""


class CatalogueDamaged(CatalogueProblem):
    """The file is not a catalogue, or it fails its integrity check."""


class StorageFull(CatalogueProblem):
    """The disk is full or read-only; nothing was stored."""
