"""Any bibliographic file as a report: records, problems with their lines, the format and encoding found.

The format is found from the content, never from the name. Record starts are counted apart from reading, and a
gap between what the file begins and what was read is a problem of its own.
"""

import bz2
import gzip
import io
import lzma
import re
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO

from references.encodings import (
    SAMPLE,
    Encoding,
    cut_byte_lines,
    decode_lines,
    detect_encoding,
    refuse_binary,
)
from references.errors import Problem, Severity, Unreadable
from references.formats import FORMATS, Format, detect_format
from references.record import Record

_GROUPED = ("text outside records ignored", "entry without a key: one was made")
STEP = 1 << 14  # bytes at a time: the position of a reading is told as finely as this
_COMPRESSED = (b"\x1f\x8b", b"BZh", b"\xfd7zXZ\x00")


@dataclass(frozen=True, slots=True)
class ReadReport:
    """What one file held. `starts` counts the places where a record begins."""

    name: str
    format: str
    encoding: str
    records: tuple[Record, ...]
    problems: tuple[Problem, ...]
    starts: int

    @property
    def unread(self) -> tuple[Problem, ...]:
        """The problems that cost an entry: its text is kept in them."""
        return tuple(problem for problem in self.problems if problem.severity is Severity.ERROR)


@dataclass(frozen=True, slots=True)
class _Source:
    """A file or bytes that can be read more than once, uncompressed on the way."""

    name: str
    opener: Callable[[], IO[bytes]]

    def chunks(self, tell: Callable[[int], None] | None = None, size: int = SAMPLE) -> Iterator[bytes]:
        """The bytes, uncompressed; `tell` hears how many bytes of the file itself have been gone through."""
        with self.opener() as stream:
            head = stream.read(8)
            stream.seek(0)
            is_compressed = head.startswith(_COMPRESSED)
            source = _unpack(stream, head) if is_compressed else stream
            try:
                while chunk := source.read(size):
                    if tell is not None:
                        tell(stream.tell())
                    yield chunk
            except (EOFError, lzma.LZMAError, zlib.error, OSError, ValueError) as error:
                if not is_compressed:
                    raise
                raise _Truncated(str(error)) from error


def _unpack(stream: IO[bytes], head: bytes) -> IO[bytes] | gzip.GzipFile | bz2.BZ2File | lzma.LZMAFile:
    if head.startswith(b"BZh"):
        return bz2.BZ2File(stream)
    return gzip.GzipFile(fileobj=stream) if head.startswith(b"\x1f") else lzma.LZMAFile(stream)


class _Truncated(Exception):
    """A compressed file ends in the middle or is damaged; what came before it counts."""


def read_bytes(data: bytes, *, name: str) -> ReadReport:
    """Everything in `data`. Raises Unreadable where it is no bibliographic text."""
    return _read(_Source(name, lambda: io.BytesIO(data)))


def read_path(path: Path | str) -> ReadReport:
    """Everything in a file, compressed (gzip, bzip2, xz) or not. Raises Unreadable, OSError."""
    return _read(_open(path))


def iterate_path(path: Path | str) -> Iterator[Record | Problem]:
    """Records and problems one by one, for files too large to hold. Raises Unreadable, OSError."""
    yield from open_path(path).items()


def open_path(path: Path | str) -> "Reading":
    """A file ready to be read item by item, its format and encoding found. Raises Unreadable, OSError."""
    return Reading(_open(path))


def read_folder(folder: Path | str) -> tuple[ReadReport, ...]:
    """Every file below a folder, in name order; one that cannot be read gives a report that says why."""
    reports = []
    for path in sorted(
        item for item in Path(folder).rglob("*") if item.is_file() and not item.name.startswith(".")
    ):
        try:
            reports.append(read_path(path))
        except (Unreadable, OSError) as error:
            problem = Problem(getattr(error, "message", str(error)), severity=Severity.ERROR)
            reports.append(ReadReport(path.name, "unknown", "unknown", (), (problem,), 0))
    return tuple(reports)


def _open(path: Path | str) -> _Source:
    return _Source(Path(path).name, lambda: Path(path).open("rb"))


def _read(source: _Source) -> ReadReport:
    intake = Reading(source)
    records: list[Record] = []
    problems: list[Problem] = []
    for item in intake.items():
        if isinstance(item, Record):
            records.append(item)
        else:
            problems.append(item)
    records.sort(key=lambda record: record.source_line or 0)
    problems = group_notes(problems)
    problems.sort(key=lambda problem: problem.line or 0)
    return ReadReport(
        source.name, intake.format.name, str(intake.encoding), tuple(records), tuple(problems), intake.starts
    )


class Reading:
    """One file being read: its format and encoding, and counts beside the reading.

    `starts`: places where a record begins; `lines`: lines gone through; `position`: bytes of the file gone through.
    """

    def __init__(self, source: _Source) -> None:
        self._source = source
        self.name = source.name
        self.starts = self.lines = self.position = 0
        sample = b""
        try:
            for chunk in source.chunks():
                sample = chunk
                break
        except _Truncated as error:
            raise Unreadable(f"the compressed file is damaged: {error}.", where=source.name) from error
        if not sample.strip():
            raise Unreadable("the file is empty.", where=source.name, hint="Export the references again.")
        refuse_binary(sample, source.name)
        self._cut: str | None = None
        self.encoding: Encoding = detect_encoding(cut_byte_lines(self._whole()), sample)
        self.position = 0  # the encoding was looked for in the whole file; nothing is read of it yet
        head = [line for line, _ in zip(decode_lines([sample], self.encoding, []), range(5000), strict=False)]
        self.format: Format = detect_format(head, source.name)

    def _whole(self) -> Iterator[bytes]:
        try:
            yield from self._source.chunks(self._move, STEP)
        except _Truncated as error:
            self._cut = f"the compressed file breaks off: {error}; what came before was read"

    def _move(self, position: int) -> None:
        self.position = position

    def items(self) -> Iterator[Record | Problem]:
        """Records and problems, then what counting found."""
        told: list[Problem] = []
        answered = 0
        lost = False
        lines = self._count(decode_lines(self._whole(), self.encoding, told))
        reads_bytes = self.format.read_chunks
        found = reads_bytes(self._whole()) if reads_bytes else self.format.read(lines)
        for item in found:
            if isinstance(item, Record):
                answered += 1
            else:
                answered += self._starts_in(item.text or "")
                lost = lost or item.severity is Severity.ERROR
            yield item
        yield from told
        if self._cut:
            yield Problem(self._cut, severity=Severity.ERROR)
        if self.starts > answered:
            reason = (
                f"{self.starts} records begin in the file but {answered} were read or kept as text: "
                f"{self.starts - answered} may be lost"
            )
            yield Problem(reason, severity=Severity.ERROR)
        self.starts = max(self.starts, answered)
        if not answered and not lost:
            yield Problem(f"no record was found in this {self.format.label} file", severity=Severity.ERROR)

    def _count(self, lines: Iterable[str]) -> Iterator[str]:
        starts = self.format.starts
        for line in lines:
            self.lines += 1
            if starts(line):
                self.starts += 1
            yield line

    def _starts_in(self, text: str) -> int:
        return sum(1 for line in text.split("\n") if self.format.starts(line))


def group_notes(problems: list[Problem]) -> list[Problem]:
    """Notes that a file repeats all along, as one problem each that names the lines."""
    kept = [problem for problem in problems if problem.reason not in _GROUPED]
    for reason in _GROUPED:
        same = [problem for problem in problems if problem.reason == reason]
        numbers = [number for problem in same for number in _lines_of(problem)]
        if len(numbers) < 2:
            kept += same
            continue
        shown = ", ".join(str(number) for number in numbers[:20])
        more = f" and {len(numbers) - 20} more" if len(numbers) > 20 else ""
        text = "\n".join(problem.text for problem in same if problem.text) or None
        kept.append(replace(same[0], reason=f"{reason} (lines {shown}{more})", text=text, entry=None))
    return kept


def _lines_of(problem: Problem) -> list[int]:
    lines = (problem.text or "-").split("\n")
    return [(problem.line or 1) + i for i, line in enumerate(lines) if re.search(r"\S", line)]


__all__ = [
    "FORMATS",
    "ReadReport",
    "Reading",
    "group_notes",
    "iterate_path",
    "open_path",
    "read_bytes",
    "read_folder",
    "read_path",
]
