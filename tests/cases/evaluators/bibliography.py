"""Bibliographic faults: each case is a file with one fault, and what must be read of it.

A case passes when every expected record is there with every expected field, no other record is, every expected
warning and error is told, and nothing else was lost. `expect.all_equal` is for lists of identifiers: every line has
that normal form. Duplicate pairs in the same document belong to another evaluator.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from outcome import CaseOutcome

from references.errors import Problem, Severity, Unreadable
from references.identifiers import (
    normalise_doi,
    normalise_isbn,
    normalise_issn,
    normalise_pmcid,
    normalise_pmid,
)
from references.reading import ReadReport, read_bytes
from references.record import Name, Record
from references.text import plain, to_html

_ALIASES = {
    "journal": "container_title",
    "pages": "page",
    "editors": "editor",
    "authors": "author",
    "urls": "url",
}
_IDENTIFIERS = {
    "doi": normalise_doi,
    "pmid": normalise_pmid,
    "pmcid": normalise_pmcid,
    "isbn": normalise_isbn,
    "issn": normalise_issn,
}
_LINE = re.compile(r"\s*\(line (\d+)\)$")
_NAME_PARTS = ("family", "given", "suffix", "literal", "non_dropping_particle", "dropping_particle")


def matches(document: Any) -> bool:
    """A mapping whose `faults` each have an input, a format and an expectation."""
    faults = document.get("faults") if isinstance(document, Mapping) else None
    return (
        isinstance(faults, list)
        and bool(faults)
        and all("input" in fault and "expect" in fault for fault in faults)
    )


def evaluate(document: Any) -> Iterable[CaseOutcome]:
    for fault in document["faults"]:
        try:
            differences = tuple(_compare(fault))
        except Exception as error:
            yield CaseOutcome(fault["id"], False, error=f"{type(error).__name__}: {error}")
        else:
            yield CaseOutcome(fault["id"], not differences, differences)


def _compare(fault: Mapping[str, Any]) -> Iterator[str]:
    expect, text = fault["expect"], fault["input"]
    if "all_equal" in expect:
        normalise = _IDENTIFIERS[fault["format"]]
        for line in text.splitlines():
            if (found := normalise(line)) != expect["all_equal"]:
                yield f"{line!r} gives {found!r}, not {expect['all_equal']!r}"
        return
    data = text if isinstance(text, bytes) else text.encode()
    try:
        report = read_bytes(data, name=fault["id"])
    except Unreadable as error:
        if "unreadable" not in expect:
            yield f"not read at all: {error}"
        return
    if fault["format"] != report.format:
        yield f"taken for {report.format}, it is {fault['format']}"
    yield from _compare_records(expect.get("records", []), report)
    yield from _compare_problems(expect, report.problems)


def _compare_records(expected: list[Mapping[str, Any]], report: ReadReport) -> Iterator[str]:
    records = list(report.records)
    if len({record.key for record in records}) != len(records):
        yield "two records have one key"
    if len(records) != len(expected):
        yield f"{len(records)} records, expected {len(expected)}: {[record.key for record in records]}"
    for number, fields in enumerate(expected):
        record = next((item for item in records if item.key == fields.get("key")), None)
        record = record or (records[number] if number < len(records) else None)
        if record is None:
            yield f"record {number + 1} is missing: {dict(fields)}"
            continue
        for name, value in fields.items():
            found = _find(record, name)
            if not _agree(name, value, found, record):
                yield f"{record.key}: {name} is {found!r}, not {value!r}"


def _find(record: Record, name: str) -> Any:
    """The record's value in the words of the case files."""
    if name == "key":
        return record.key
    if name == "date":
        return str(record.issued) if record.issued is not None else None
    if name == "date_raw":
        return record.issued.raw if record.issued is not None else None
    if name == "title_html":
        return to_html(record.title)
    value = getattr(record, _ALIASES.get(name, name), record.extra.get(name))
    if isinstance(value, tuple) and value and isinstance(value[0], Name):
        return [{part: getattr(item, part) for part in _NAME_PARTS if getattr(item, part)} for item in value]
    return plain(value) if isinstance(value, str) else value


def _agree(name: str, expected: Any, found: Any, record: Record) -> bool:
    if name == "key" and isinstance(expected, str):
        if expected.startswith("generated"):
            return bool(record.key)
        if expected.endswith(" + suffix"):
            stem = expected.removesuffix(" + suffix")
            return record.key.startswith(stem) and record.key != stem
    return bool(found == expected) or (isinstance(expected, str) and str(found) == expected)


def _compare_problems(expect: Mapping[str, Any], problems: tuple[Problem, ...]) -> Iterator[str]:
    shown = [str(problem) for problem in problems]
    for warning in expect.get("warnings", []):
        if not any(_tells(problem, warning) for problem in problems):
            yield f"not told: {warning}; told: {shown}"
    for error in expect.get("errors", []):
        if not any(_is_error(problem, error) for problem in problems):
            yield f"no such error: {error}; told: {shown}"
    errors = [problem for problem in problems if problem.severity is Severity.ERROR]
    if len(errors) > len(expect.get("errors", [])):
        yield f"errors not expected: {[str(problem) for problem in errors]}"


def _tells(problem: Problem, warning: str) -> bool:
    match = _LINE.search(warning)
    words = _LINE.sub("", warning)
    return words.casefold() in problem.reason.casefold() and (
        match is None or problem.line == int(match.group(1))
    )


def _is_error(problem: Problem, error: Mapping[str, Any]) -> bool:
    return (
        problem.severity is Severity.ERROR
        and error.get("line") in (None, problem.line)
        and str(error.get("kind", "")) in problem.reason
        and (not error.get("raw_kept") or bool(problem.text))
    )
