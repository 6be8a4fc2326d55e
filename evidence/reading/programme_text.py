"""Programmes as text:

Markdown with tables, lists and headings, plain lines, and comma- or semicolon-separated rows.
"""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from evidence.reading.programme_cells import Ledger
from evidence.reading.programme_lines import Written, read_line, without_emphasis
from evidence.reading.programme_names import WrittenPick
from evidence.reading.programme_tables import TableRead, read_table_rows
from evidence.vocabulary import Vocabulary

DEFAULT_SESSION = "Session 1"
_BULLET = re.compile(r"^(?:[-*•–]\s+|\d{1,2}[.)]\s+)")
_FIGURES = re.compile(r"\d\s*(?:[x×]|(?:m|metres?|meters?|reps?|kgs?|lbs?)\b)", re.IGNORECASE)


def read_separated(text: str) -> TableRead | None:
    """The picks of a CSV, semicolon- or tab-separated table; None where no row names its columns."""
    separator = find_separator(text)
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator, skipinitialspace=True)
    rows = [(f"line {reader.line_num}", row) for row in _safely(reader)]
    return read_table_rows(rows, DEFAULT_SESSION)


def find_separator(text: str) -> str:
    """The separator that the first lines use most evenly: semicolon, tab or comma."""
    lines = [line for line in text.splitlines() if line.strip()][:10]

    def evenness(mark: str) -> tuple[int, int]:
        counts = [line.count(mark) for line in lines]
        return (min(counts, default=0), sum(counts))

    return max((";", "\t", ","), key=evenness)


def _safely(reader: Iterator[list[str]]) -> Iterator[list[str]]:
    """Rows until the reader gives up (a field over the csv module's limit, a NUL)."""
    while True:
        try:
            yield next(reader)
        except (StopIteration, csv.Error):
            return


@dataclass(frozen=True, slots=True)
class _Bare:
    """A line without figures: the name of a session, or an exercise whose figures follow (`used` once they did)."""

    text: str
    where: str
    used: bool = False


def read_lines(text: str, vocabulary: Vocabulary) -> tuple[str | None, TableRead]:
    """The title, and the picks of plain lines and Markdown tables under the headings they stand under."""
    reader = _LineReader(vocabulary)
    lines = text.splitlines()
    index = 0
    while index < len(lines):
        end = index
        while end < len(lines) and lines[end].strip().startswith("|"):
            end += 1
        if end > index:
            reader.take_table(lines[index:end], index)
        else:
            reader.take(lines[index].strip(), f"line {index + 1}")
            end = index + 1
        index = end
    reader.leave_bare()
    return reader.title, reader.read


def _is_remark(text: str, *, listed: bool) -> bool:
    """Whether a line without a prescription is a sentence to be kept, and no name of a session.

    A heuristic: three words in a list, or four that begin small or end as a sentence does; never unread figures.
    """
    words = len(text.split())
    if _FIGURES.search(text):
        return False
    return words >= 3 if listed else words >= 4 and (text[0].islower() or text[-1] in ".!;")


class _LineReader:
    """Goes down the lines, keeping the session that holds and the bare line that waits to be understood."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.read = TableRead()
        self.title: str | None = None
        self._vocabulary = vocabulary
        self._session = DEFAULT_SESSION
        self._bare: _Bare | None = None

    def take_table(self, lines: list[str], start: int) -> None:
        """A Markdown table."""
        self._name_session()
        _read_markdown_table(lines, start, self._session, self.read)

    def take(self, line: str, where: str) -> None:
        """One line that is no part of a table."""
        heading = re.match(r"(#{1,6})\s+(.*)", line)
        if heading:
            self.leave_bare()
            if len(heading[1]) == 1 and self.title is None:
                self.title = heading[2].strip()
            else:
                self._session = heading[2].strip()
            return
        if not line or re.fullmatch(r"[-=*_\s]+", line):
            return
        ledger = Ledger()
        found = read_line(line, ledger)
        if found:
            self._take_picks(found, line, where, ledger)
        else:
            plain = without_emphasis(line).rstrip(":").strip()
            text = _BULLET.sub("", plain)
            if _is_remark(text, listed=text != plain) and not self._is_exercise(text):
                named = self._session if self._session != DEFAULT_SESSION else ""
                self.read.remarks.append((where, f"{named}: {text}" if named else text))
            else:
                self._take_bare(_Bare(text, where))

    def _take_bare(self, bare: _Bare) -> None:
        """A further bare line: the one before it named the session where this one is an exercise."""
        if _FIGURES.search(bare.text):  # figures nobody understood must not pass for a heading
            self.read.problems.append(f'{bare.where}: "{bare.text}" was not read as an exercise')
            return
        if self._bare and not self._is_exercise(self._bare.text):
            if self._is_exercise(bare.text):
                self._name_session()
            elif self.title is None and not self.read.sessions and not self.read.problems:
                self.title, self._bare = self._bare.text, None  # what stands over the first session
        self.leave_bare()
        self._bare = bare

    def _take_picks(self, found: list[Written], line: str, where: str, ledger: Ledger) -> None:
        nameless = any(not item.name for item in found)
        if nameless and self._bare and self._is_exercise(self._bare.text):
            self._bare = replace(self._bare, used=True)
            found = [replace(item, name=item.name or self._bare.text) for item in found]
        else:
            self._name_session()
        for item in found:
            if item.name:
                picks = self.read.sessions.setdefault(self._session, [])
                picks.append(WrittenPick(item, where, ledger))
            else:
                self.read.problems.append(f'{where}: "{line}" names no exercise and was left out')

    def _is_exercise(self, text: str) -> bool:
        return self._vocabulary.find_exercise(text).outcome == "match"

    def _name_session(self) -> None:
        """The bare line before picks is the name of their session."""
        if self._bare and not self._bare.used:
            self._session = self._bare.text
        self._bare = None

    def leave_bare(self) -> None:
        """Tell of a bare line that nothing followed."""
        if self._bare and not self._bare.used:
            self.read.problems.append(f'{self._bare.where}: "{self._bare.text}" was not read as an exercise')
        self._bare = None


def _read_markdown_table(lines: list[str], start: int, session: str, read: TableRead) -> None:
    rows = []
    for offset, line in enumerate(lines):
        cells = [
            without_emphasis(cell.replace("\\|", "|")).strip()
            for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))
        ]
        rows.append((f"line {start + offset + 1}", cells))
    table = read_table_rows(rows, session)
    if table is None:
        read.problems.append(f"line {start + 1}: a table without a column of exercises was left out")
        return
    for name, picks in table.sessions.items():
        read.sessions.setdefault(name, []).extend(picks)
    read.dates += table.dates
    read.unknown += table.unknown
    read.problems += table.problems
