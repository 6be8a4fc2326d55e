"""Study files (`steelyard: study/1`): one study in YAML, checked against the published schema and against itself.

All problems are collected before any is told. What only needs a look is a warning on the draft.
"""

from collections.abc import Sequence
from pathlib import Path as FilePath

from evidence.errors import BadInput
from evidence.reading.files import open_input
from evidence.reading.plain_yaml import Document, load_yaml
from evidence.reading.study_draft import (
    BiasDomain,
    BiasDraft,
    ConditionDraft,
    CorrelationDraft,
    OutcomeDraft,
    PeopleDraft,
    Problem,
    ReferenceLink,
    ResultDraft,
    StudyDraft,
)
from evidence.reading.study_reader import StudyReader
from evidence.reading.study_schema import find_schema_problems, load_schema
from evidence.reading.study_writing import write_study_file
from evidence.vocabulary import Vocabulary

__all__ = [
    "BiasDomain",
    "BiasDraft",
    "ConditionDraft",
    "CorrelationDraft",
    "OutcomeDraft",
    "PeopleDraft",
    "Problem",
    "ReferenceLink",
    "ResultDraft",
    "StudyDraft",
    "StudyProblems",
    "load_schema",
    "read_study_document",
    "read_study_file",
    "read_study_text",
    "write_study_file",
]

VERSION = "study/1"
_SHOWN = 12


class StudyProblems(BadInput):
    """Everything that is wrong with a study file: `problems`; `warnings` apart."""

    def __init__(self, name: str, problems: Sequence[Problem], warnings: Sequence[Problem] = ()) -> None:
        self.problems = tuple(problems)
        self.warnings = tuple(warnings)
        listed = "\n".join(f"- {problem}" for problem in self.problems[:_SHOWN])
        more = len(self.problems) - _SHOWN
        tail = f"\n- and {more} more" if more > 0 else ""
        count = "1 problem" if len(self.problems) == 1 else f"{len(self.problems)} problems"
        super().__init__(f"{count}; nothing was stored\n{listed}{tail}", where=name)


def read_study_file(path: FilePath | str, vocabulary: Vocabulary) -> StudyDraft:
    """Read a study file.

    BadInput where the file is not readable text or YAML; StudyProblems with all problems where it is no
    sound study.
    """
    source = open_input(path)
    return read_study_text(source.text, vocabulary, name=source.name)


def read_study_text(text: str, vocabulary: Vocabulary, *, name: str = "study file") -> StudyDraft:
    """Read the text of a study file; `name` is what messages call it. Raises as `read_study_file`."""
    document = load_yaml(text, name)
    _check_version(document)
    return read_study_document(document, vocabulary)


def read_study_document(document: Document, vocabulary: Vocabulary) -> StudyDraft:
    """Read the entries of a study, from a file or from a form. Raises StudyProblems with all problems."""
    reader = StudyReader(document, vocabulary)
    problems = list(find_schema_problems(document))
    draft = reader.read()
    told = {problem.where for problem in problems}
    problems += [problem for problem in reader.problems if problem.where not in told]
    if problems or draft is None:
        raise StudyProblems(document.name, problems, reader.warnings)
    return draft


def _check_version(document: Document) -> None:
    data = document.data
    if not isinstance(data, dict):
        raise BadInput(
            "this is no study file: it holds no named entries.",
            where=document.name,
            hint="A study file begins with: steelyard: study/1",
        )
    version = data.get("steelyard")
    if version != VERSION:
        said = f'it says "{version}"' if version is not None else "it does not say so"
        raise BadInput(
            f"this is no study file of version 1: {said}.",
            where=document.where(("steelyard",)),
            hint="A study file begins with: steelyard: study/1",
        )
