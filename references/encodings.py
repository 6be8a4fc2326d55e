"""The text of a file whose encoding nobody wrote down, line by line.

Order: byte order mark; zero bytes of UTF-16; UTF-8; where only some lines are not UTF-8, those lines alone as
Windows-1252; else an East Asian double-byte encoding where every byte pair fits one; else Windows-1252. Line
ends of every kind become `\\n`.
"""

import codecs
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from references.errors import Problem, Unreadable

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_HIGH = re.compile(rb"[\x80-\xff]+")
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f]")
_KINDS_OF_BINARY = (
    *((b"%PDF", "a PDF document"), (b"PK\x03\x04", "a ZIP, DOCX or XLSX file"), (b"\x89PNG", "a picture")),
    *((b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"), (b"SQLite format 3", "a database")),
    *((b"{\\rtf", "a word processor's RTF file"), (b"\xd0\xcf\x11\xe0", "an old Office document")),
)
SAMPLE = 1 << 20


@dataclass(frozen=True, slots=True)
class Encoding:
    """How a file is read: `name` for Python's codecs; `is_mixed` where lines may be Windows-1252."""

    name: str
    is_mixed: bool = False

    def __str__(self) -> str:
        return f"{self.name} with lines in cp1252" if self.is_mixed else self.name


def refuse_binary(sample: bytes, name: str) -> None:
    """Raise Unreadable where the first bytes are no text."""
    for start, kind in _KINDS_OF_BINARY:
        if sample.startswith(start):
            raise Unreadable(f"this is {kind}, not bibliographic text.", where=name, hint=_HINT)
    if _detect_wide(sample) is None and len(_CONTROL.findall(sample)) > max(2, len(sample) // 200):
        raise Unreadable("this is a binary file, not bibliographic text.", where=name, hint=_HINT)


_HINT = "Export the references as BibTeX, RIS, MEDLINE, PubMed XML or CSL-JSON."


def _detect_wide(sample: bytes) -> str | None:
    for mark, name in _MARKS:
        if sample.startswith(mark):
            return name
    head = sample[:4000]
    if len(head) >= 8:
        even, odd = head[0::2].count(0), head[1::2].count(0)
        if odd > len(head) * 0.35 and even == 0:
            return "utf-16-le"
        if even > len(head) * 0.35 and odd == 0:
            return "utf-16-be"
    return None


def detect_encoding(lines: Iterable[bytes], sample: bytes) -> Encoding:
    """The encoding of the whole file. `lines` are its byte lines, read where the sample is no help."""
    wide = _detect_wide(sample)
    if wide is not None:
        return Encoding(wide)
    good = bad = 0
    doubtful: list[bytes] = []
    for line in lines:
        if line.isascii():
            continue
        try:
            line.decode("utf-8")
            good += 1
        except UnicodeDecodeError:
            bad += 1
            if len(doubtful) < 500:
                doubtful.append(line)
    if not bad:
        return Encoding("utf-8")
    if good >= bad:
        return Encoding("utf-8", is_mixed=True)
    return Encoding(_detect_legacy(doubtful))


def _detect_legacy(lines: list[bytes]) -> str:
    """Windows-1252, unless the high bytes come in pairs that an East Asian encoding knows."""
    runs = [run for line in lines for run in _HIGH.findall(line)]
    in_pairs = sum(len(run) >= 4 and len(run) % 2 == 0 for run in runs)
    if in_pairs * 2 <= len(runs):
        return "cp1252"
    whole = b"\n".join(lines)
    for name in ("gb18030", "shift_jis", "euc_kr", "big5"):
        try:
            text = whole.decode(name)
        except UnicodeDecodeError:
            continue
        if sum(
            "\u3040" <= letter <= "\u9fff" or "\uac00" <= letter <= "\ud7af" for letter in text
        ) * 2 >= len(runs):
            return name
    return "cp1252"


def decode_lines(chunks: Iterable[bytes], encoding: Encoding, problems: list[Problem]) -> Iterator[str]:
    """The lines of a file with `\\n` at their ends; lines that had to be guessed are told in `problems`."""
    if encoding.is_mixed:
        yield from _decode_mixed(chunks, problems)
        return
    errors = "replace" if encoding.name != "cp1252" else "references-cp1252"
    decoder = codecs.getincrementaldecoder(encoding.name)(errors)
    waiting: list[str] = []
    replaced = False
    for chunk in chunks:
        text = decoder.decode(chunk)
        replaced = replaced or "\ufffd" in text
        waiting.append(text)
        if "\n" in text or "\r" in text:
            *lines, unread = _cut_lines("".join(waiting))
            waiting = [unread]
            yield from lines
    text = decoder.decode(b"", final=True)
    replaced = replaced or "\ufffd" in text
    if replaced and encoding.name != "utf-8":
        reason = f"some bytes are not {encoding.name}: they are shown as �"
        problems.append(Problem(reason))
    yield from (line for line in _cut_lines("".join([*waiting, text]), at_end=True) if line)


def _cut_lines(text: str, *, at_end: bool = False) -> list[str]:
    """Lines of the text; the last is not yet whole (a final `\\r` may be half of `\\r\\n`)."""
    held = "\r" if text.endswith("\r") and not at_end else ""
    text = (text[:-1] if held else text).replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    return [*(line + "\n" for line in lines[:-1]), lines[-1] + held]


def _decode_mixed(chunks: Iterable[bytes], problems: list[Problem]) -> Iterator[str]:
    for number, line in enumerate(cut_byte_lines(chunks), 1):
        try:
            text = line.decode("utf-8-sig" if number == 1 else "utf-8")
        except UnicodeDecodeError:
            text = line.decode("cp1252", "references-cp1252")
            if len(problems) < 50:
                problems.append(
                    Problem(
                        "this line is not UTF-8: read as Windows-1252", line=number, text=text.strip()[:300]
                    )
                )
        yield from (piece for piece in _cut_lines(text, at_end=True) if piece)


def cut_byte_lines(chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Byte lines with their ends, `\\n`, `\\r\\n` or `\\r`."""
    waiting: list[bytes] = []
    for chunk in chunks:
        waiting.append(chunk)
        if b"\n" not in chunk and b"\r" not in chunk:
            continue
        lines = b"".join(waiting).splitlines(keepends=True)
        waiting = [lines.pop()] if lines else []
        yield from lines
    yield from b"".join(waiting).splitlines(keepends=True)


def _read_undefined(error: UnicodeError) -> tuple[str, int]:
    """The five bytes that Windows-1252 leaves open are Latin-1 control characters; keep them as such."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("references-cp1252", _read_undefined)
