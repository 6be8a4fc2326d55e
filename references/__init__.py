"""Bibliographic records: reading, sameness, mentions, citing, notices. A library that knows nothing of evidence.

    from references import read_path, find_duplicates, format_bibliography

    report = read_path("library.bib")
    pairs = find_duplicates(report.records).pairs
    lines = format_bibliography(report.records)

Names are loaded when they are first asked for.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from references.citing import format_bibliography, short_citation
    from references.duplicates import KnownRecords, compare_with, find_duplicates
    from references.errors import Problem, ReferencesError
    from references.mentions import match_mention
    from references.merging import merge
    from references.notices import find_notices, judge_state
    from references.reading import ReadReport, read_bytes, read_folder, read_path
    from references.record import Name, PartialDate, Record

__all__ = [
    "KnownRecords",
    "Name",
    "PartialDate",
    "Problem",
    "ReadReport",
    "Record",
    "ReferencesError",
    "compare_with",
    "find_duplicates",
    "find_notices",
    "format_bibliography",
    "judge_state",
    "match_mention",
    "merge",
    "read_bytes",
    "read_folder",
    "read_path",
    "short_citation",
]

_HOMES = {
    "KnownRecords": "duplicates",
    "Name": "record",
    "PartialDate": "record",
    "Problem": "errors",
    "ReadReport": "reading",
    "Record": "record",
    "ReferencesError": "errors",
    "compare_with": "duplicates",
    "find_duplicates": "duplicates",
    "find_notices": "notices",
    "format_bibliography": "citing",
    "judge_state": "notices",
    "match_mention": "mentions",
    "merge": "merging",
    "read_bytes": "reading",
    "read_folder": "reading",
    "read_path": "reading",
    "short_citation": "citing",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
