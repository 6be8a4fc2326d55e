"""Programmes as text:

Markdown with tables, lists and headings, plain lines, and comma- or semicolon-separated rows.
"""

import csv
import re
from collections.abc import Iterator

from evidence.reading.programme_cells import Ledger
from evidence.reading.programme_lines import read_line
from evidence.reading.programme_names import WrittenPick
from evidence.reading.programme_tables import TableRead, read_table_rows
from evidence.vocabulary import Vocabulary

DEFAULT_SESSION = "Session 1"


def read_separated(text: str) -> TableRead | None:
    """The picks of a CSV, semicolon- or tab-separated table; None where no row names its columns."""
    separator = find_separator(text)
    reader = csv.reader(text.splitlines(), delimiter=separator, skipinitialspace=True)
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


def read_lines(text: str, vocabulary: Vocabulary) -> tuple[str | None, TableRead]:
    """The title, and the picks of plain lines and Markdown tables under the headings they stand under."""
    read = TableRead()
    title: str | None = None
    session = DEFAULT_SESSION
    waiting: tuple[str, str] | None = None  # a bare line, which may be a heading or an exercise
    lines = text.splitlines()
    index = 0
    while index < len(lines):
        line, where = lines[index].strip(), f"line {index + 1}"
        if line.startswith("|"):
            end = index
            while end < len(lines) and lines[end].strip().startswith("|"):
                end += 1
            session = _name_session(waiting, session, read)
            waiting = None
            _read_markdown_table(lines[index:end], index, session, read)
            index = end
            continue
        index += 1
        heading = re.match(r"(#{1,6})\s+(.*)", line)
        if heading:
            _leave(waiting, read)
            waiting = None
            if len(heading[1]) == 1 and title is None:
                title = heading[2].strip()
            else:
                session = heading[2].strip()
            continue
        if not line or re.fullmatch(r"[-=*_\s]+", line):
            continue
        session, waiting = _read_text_line(line, where, session, waiting, read, vocabulary)
    _leave(waiting, read)
    return title, read


def _read_text_line(
    line: str,
    where: str,
    session: str,
    waiting: tuple[str, str] | None,
    read: TableRead,
    vocabulary: Vocabulary,
) -> tuple[str, tuple[str, str] | None]:
    """One line into `read`; gives the session that holds from here on, and the line that now waits to be understood."""
    ledger = Ledger()
    found = read_line(line, ledger)
    if not found:
        _leave(waiting, read)
        return session, (line.strip("*_ ").rstrip(":").strip(), where)
    nameless = [item for item in found if not item.name]
    if nameless and waiting is not None and vocabulary.find_exercise(waiting[0]).outcome == "match":
        from dataclasses import replace

        found = [replace(item, name=waiting[0]) if not item.name else item for item in found]
        picks = read.sessions.setdefault(session, [])
        picks += [WrittenPick(item, where, ledger) for item in found]
        return session, waiting
    session = _name_session(waiting, session, read)
    for item in found:
        if item.name:
            read.sessions.setdefault(session, []).append(WrittenPick(item, where, ledger))
        else:
            read.problems.append(f'{where}: "{line}" names no exercise and was left out')
    return session, None


def _name_session(waiting: tuple[str, str] | None, session: str, read: TableRead) -> str:
    """A bare line before the picks is the name of their session."""
    return waiting[0] if waiting is not None else session


def _leave(waiting: tuple[str, str] | None, read: TableRead) -> None:
    if waiting is not None:
        read.problems.append(f'{waiting[1]}: "{waiting[0]}" was not read as an exercise')


def _read_markdown_table(lines: list[str], start: int, session: str, read: TableRead) -> None:
    rows = []
    for offset, line in enumerate(lines):
        cells = [cell.replace("\\|", "|").strip() for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))]
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
