"""What one evaluator says of one case of a case file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CaseOutcome:
    """The result of one case.

    `case`: its id in the file. `passed`: whether it meets its evaluator's bar. `differences`: one sentence
    for each thing that is not as expected; printed also for a case that passed. `right`, `asked`, `wrong`:
    counts over the case's items where the evaluator counts (tables: cells); left at 0 where it does not.
    `error`: the traceback's last line when the product raised; a case with an error has not passed.
    """

    case: str
    passed: bool
    differences: tuple[str, ...] = ()
    right: int = 0
    asked: int = 0
    wrong: int = 0
    error: str | None = None

    @property
    def counted(self) -> int:
        """Items counted in this case."""
        return self.right + self.asked + self.wrong
