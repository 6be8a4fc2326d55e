"""A BibTeX file cut into entries, each read alone, so that no bad entry takes its neighbours with it.

Lines that begin an entry bound the pieces; bibtexparser's splitter takes each piece apart. Every character
comes back: in an entry, a macro, or a problem that keeps the text.
"""

import logging
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from bibtexparser.model import Entry, ExplicitComment, ParsingFailedBlock, Preamble, String
from bibtexparser.splitter import Splitter

from references.errors import Problem, Severity

logging.getLogger("bibtexparser").addHandler(logging.NullHandler())  # it would print its warnings otherwise

_NOT_RECORDS = ("string", "preamble", "comment")
_START = re.compile(
    r"""[ \t]*@[ \t]*(?:
        (?:string|preamble|comment)\s*[{(]
      | [A-Za-z][\w-]*\s*\{\s*(?:[^\s,{}=][^,{}=\n]*)?[,}\n]          # @type{key,   @type{ ,   @type{key}
      | [A-Za-z][\w-]*\s*\{\s*$                                        # the key on the next line
      | [A-Za-z][\w-]*\s*\{\s*(?:\S+\s+)?[A-Za-z][\w-]*\s*=\s*[{"\w]   # key or its comma missing
      | (?:article|book|in\w+|misc|proceedings|\w*thesis|techreport|unpublished|manual|booklet|online)\s*\(
      | (?:article|book|in\w+|misc|proceedings|\w*thesis|techreport|unpublished|manual|booklet|online)\s*$
    )""",
    re.IGNORECASE | re.VERBOSE,
)
_INLINE_START = re.compile(r"(?<=[\s}])@[A-Za-z]\w*\s*\{[^\s,{}=]+,\s*[A-Za-z]\w*\s*=")
_HEAD = re.compile(r"\s*@[ \t]*([A-Za-z][\w-]*)(\s*)[{(]")
_KEY = re.compile(
    r"[ \t]*([^,{}=\n]*,[^,{}=\n]*[^\s,{}=])[ \t]*(?=,\s*[A-Za-z][\w-]*\s*=)"  # a comma in the key itself
    r"|\s*([^,{}=\n]*?)\s*(?=[,})]|$)",
    re.MULTILINE,
)
_NO_KEY = re.compile(r"\s*(?=[A-Za-z][\w-]*\s*=)")
_NO_KEY_COMMA = re.compile(r"\s*(\S+)(?=\s+[A-Za-z][\w-]*\s*=)")
_LOOKS_LIKE_FIELDS = re.compile(r"^\s*[,}]|[A-Za-z]\w*\s*=\s*[{\"\d]")
# Unicode noncharacters in the place of what the splitter would take wrongly: an @ that begins nothing, and a
# double backslash, behind which a brace counts.
_MASKS = (("@", "\ufdd0"), ("\\\\", "\ufdd1\ufdd2"))


@dataclass(frozen=True, slots=True)
class RawField:
    """One field as written: name in lower case, value expression, line in the file."""

    name: str
    value: str
    line: int


@dataclass(frozen=True, slots=True)
class RawEntry:
    """One entry as written. `type` is in lower case; `key` is empty where the file gives none."""

    type: str
    key: str
    fields: tuple[RawField, ...]
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Macro:
    """An `@string` definition, its value not yet resolved."""

    name: str
    value: str
    line: int
    text: str


Piece = RawEntry | Macro | Problem


def starts_entry(line: str) -> bool:
    """Whether a line begins a record (not a macro, preamble or comment)."""
    match = _START.match(line)
    return match is not None and not line.lstrip(" \t@").lower().startswith(_NOT_RECORDS)


def split_entries(lines: Iterable[str]) -> Iterator[Piece]:
    """The entries, macros and unreadable parts of a BibTeX file, in file order."""
    for first_line, text in _cut(lines):
        yield from _read_segment(text, first_line)


def _cut(lines: Iterable[str]) -> Iterator[tuple[int, str]]:
    """Runs of lines that each begin with the start of an entry (the first run may not)."""
    first_line, kept = 1, list[str]()
    for number, line in enumerate(lines, 1):
        if "@" in line and _START.match(line) and kept:
            yield first_line, "".join(kept)
            first_line, kept = number, []
        kept.append(line)
    if kept:
        yield first_line, "".join(kept)


def _read_segment(text: str, line: int) -> Iterator[Piece]:
    """Read one run of lines; entries that share a line are found again inside it."""
    while text.strip():
        head = _HEAD.match(text)
        if head is None:
            yield from _outside(text, line, after_entry=False)
            return
        piece, length = _read_one(text, head, line)
        if isinstance(piece, Problem) and piece.severity is Severity.ERROR:
            inline = _INLINE_START.search(text, head.end())
            if inline is not None and inline.start() < length:
                retried, length = _read_one(text[: inline.start()], head, line)
                piece = (
                    retried if isinstance(retried, RawEntry) else _keep(text[: inline.start()], line, piece)
                )
                length = length if isinstance(retried, RawEntry) else inline.start()
        if isinstance(piece, RawEntry) and re.match(r"\s*,", text[length:]):
            mended, taken = _read_one(text[: length - 1] + text[length:], head, line)
            if isinstance(mended, RawEntry) and len(mended.fields) > len(piece.fields):
                length = taken + 1
                piece = replace(mended, text=text[:length].strip())
                yield Problem(
                    "a closing brace too many inside the entry; it was read as if it were not there",
                    line=line,
                    entry=piece.key,
                )
        yield piece
        line += text[:length].count("\n")
        text = text[length:]
        if text.strip() and _HEAD.match(text) is None:
            inline = _INLINE_START.search(text)
            end = inline.start() if inline else len(text)
            yield from _outside(text[:end], line, after_entry=True)
            line += text[:end].count("\n")
            text = text[end:]


def _keep(text: str, line: int, problem: Problem) -> Problem:
    return Problem(
        problem.reason, line=line, entry=problem.entry, text=text.strip("\n"), severity=Severity.ERROR
    )


def _outside(text: str, line: int, *, after_entry: bool) -> Iterator[Problem]:
    """Text between entries: harmless as a rule, but not where an entry closed too early."""
    line += len(text[: len(text) - len(text.lstrip())].splitlines()) - (0 if text.lstrip() == text else 1)
    if after_entry and not text.strip().strip("},"):
        yield Problem("a closing brace too many after the entry", line=line, text=text.strip())
    elif after_entry and _LOOKS_LIKE_FIELDS.search(text):
        reason = "text after the end of the entry was not read: a closing brace too many?"
        yield Problem(reason, line=line, text=text.strip(), severity=Severity.ERROR)
    elif "@" in text and re.search(r"^[^%\n@]*@\s*[A-Za-z]\w*\s*[{(]", text, re.MULTILINE):
        yield Problem(
            "text that looks like an entry was not read",
            line=line,
            text=text.strip(),
            severity=Severity.ERROR,
        )
    elif text.strip():
        yield Problem("text outside records ignored", line=line, text=text.strip(), severity=Severity.NOTE)


def _read_one(text: str, head: re.Match[str], line: int) -> tuple[Piece, int]:
    """The entry at the head of `text`, and how many characters it takes."""
    kind = head.group(1).lower()
    masked, key, inserted = _prepare(text, head, kind)
    try:
        block = Splitter(masked).split().blocks[0]
    except Exception as error:
        # The splitter promises to keep every failure in a block; what it raises is a fault of its own.
        return Problem(
            f"unreadable entry: {error}", line=line, entry=key, text=text, severity=Severity.ERROR
        ), len(text)
    block = getattr(block, "ignore_error_block", None) or block
    line += len(text[: head.start(1)].splitlines()) - 1 if head.start(1) else 0
    if isinstance(block, ParsingFailedBlock):
        reason = _explain(str(getattr(block.error, "abort_reason", block.error)), kind)
        severity = Severity.NOTE if kind == "comment" else Severity.ERROR
        return Problem(reason, line=line, entry=key or None, text=text.strip("\n"), severity=severity), len(
            text
        )
    length = len(block.raw or "") - inserted + (len(masked) - len(masked.lstrip()))
    source = text[:length].strip()
    if isinstance(block, Entry):
        fields = tuple(
            RawField(item.key.lower(), _unmask(item.value), line + (item.start_line or 0))
            for item in block.fields
        )
        return RawEntry(kind, key, fields, line, source), length
    if isinstance(block, String):
        return Macro(block.key.lower(), _unmask(block.value), line, source), length
    if isinstance(block, Preamble | ExplicitComment):
        return Problem(f"{kind} kept as text", line=line, text=source, severity=Severity.NOTE), length
    return Problem(
        "unreadable entry", line=line, entry=key, text=text.strip("\n"), severity=Severity.ERROR
    ), len(text)


def _prepare(text: str, head: re.Match[str], kind: str) -> tuple[str, str, int]:
    """The text as the splitter can take it, the key, and how many characters were put in."""
    opened = text[: head.start(2)] + " " * (head.end(2) - head.start(2)) + text[head.end(2) : head.end()]
    body = text[head.end() :]
    if not any(mask[0] in body for _, mask in _MASKS):
        for sign, mask in _MASKS:
            body = body.replace(sign, mask)
    if kind in _NOT_RECORDS:
        return opened + body, "", 0
    missing = _NO_KEY.match(body)
    if missing is not None:
        return f"{opened},{body}", "", 1
    key = _KEY.match(body)
    found = _unmask(key.group(1) or key.group(2) or "") if key else ""
    if key is not None and key.end() < len(body) and body[key.end()] in ",})":
        return opened + re.sub(r"[^\s]", "k", body[: key.end()]) + body[key.end() :], found, 0
    without_comma = _NO_KEY_COMMA.match(body)
    if without_comma is not None and not re.search(r"[{}=,]", without_comma.group(1)):
        end = without_comma.end()
        return f"{opened}{'k' * end},{body[end:]}", _unmask(without_comma.group(1)), 1
    if key is not None and re.match(r"\s*,", body[key.end() :]):
        end = key.end()
        return opened + re.sub(r"[^\s]", "k", body[:end]) + body[end:], found, 0
    return opened + body, found, 0


def _unmask(text: str) -> str:
    for sign, mask in _MASKS:
        text = text.replace(mask, sign)
    return text


def _explain(reason: str, kind: str) -> str:
    if kind == "comment":
        return "comment kept as text"
    if "end of file" in reason or "block start" in reason:
        return "unterminated entry: a brace or quotation mark is not closed"
    match = re.search(r"Expected (?:a )?`=` after entry key(?: `([^`]*)`)?", reason)
    if match:
        name = f" {match.group(1)!r}" if match.group(1) else ""
        return f"a field{name} has no value (no = after it)"
    return f"unreadable entry: {reason.strip()}"
