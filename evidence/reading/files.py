"""Opening what people bring: text in any usual encoding, and YAML read so that nothing in it changes meaning.

Every file that is not what it says is refused with a sentence, the place and what to do; nothing is guessed
in silence.
"""

import stat
from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput

LIMIT_BYTES = 100_000_000

_SIGNATURES = (
    (b"%PDF", "a PDF", "Copy the table or text out of it, or save it as text."),
    (b"PK\x03\x04", "a zip container (a workbook or a word-processor file)", "Save it as CSV or plain text."),
    (b"\xd0\xcf\x11\xe0", "an old office file", "Save it as CSV, XLSX or plain text."),
    (b"\x89PNG", "a picture", "Type or copy the figures out of it."),
    (b"\xff\xd8\xff", "a picture", "Type or copy the figures out of it."),
    (b"GIF8", "a picture", "Type or copy the figures out of it."),
    (b"\x1f\x8b", "a compressed file", "Unpack it first."),
    (b"SQLite format 3\x00", "a database", "If it is a catalogue, name it with --catalogue."),
    (b"\x7fELF", "a program", "Check the file name."),
)
# What western tables and prose hold outside ASCII. Text that decodes to these alone in Windows-1252 is
# Windows-1252: a statistical guess on a short table is worth less.
_USUAL = set("±µ²³°·×–—‘’“”•…†‡§éèêëáàâäãåæçñóòôöõøœúùûüíìîïýßÉÈÁÀÄÅÖØÜÑÇÆ½¼¾«»¹ªº™®©€£¿¡\xa0")


@dataclass(frozen=True, slots=True)
class InputFile:
    """A text file as read. `newline` is the line end it used; `guessed`: the encoding was not certain."""

    name: str
    text: str
    encoding: str
    newline: str
    guessed: bool = False


def open_input(path: Path | str, *, limit_bytes: int = LIMIT_BYTES) -> InputFile:
    """The text of a file, with line ends as "\\n".

    BadInput where it is missing, a folder, empty, over `limit_bytes`, not readable, not text, or in no
    known encoding.
    """
    data = open_bytes(path, limit_bytes=limit_bytes)
    return decode_input(data, str(path))


def open_bytes(path: Path | str, *, limit_bytes: int = LIMIT_BYTES) -> bytes:
    """The bytes of a regular file that is neither empty nor over `limit_bytes`; BadInput otherwise."""
    name, file = str(path), Path(path)
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            raise BadInput("this is a folder, not a file.", where=name, hint="Name a file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise BadInput("this is no ordinary file.", where=name, hint="Save the content to a file first.")
        if status.st_size > limit_bytes:
            raise _too_large(status.st_size, limit_bytes, name)
        with file.open("rb") as stream:
            data = stream.read(limit_bytes + 1)
    except FileNotFoundError:
        raise BadInput("there is no such file.", where=name, hint=_nearby(file)) from None
    except PermissionError:
        raise BadInput(
            "this file may not be read by you.", where=name, hint="Check its permissions."
        ) from None
    except (OSError, ValueError) as problem:  # ValueError: a NUL inside the name
        raise BadInput(f"this file cannot be read ({problem}).", where=name) from None
    require_content(data, limit_bytes, name)
    return data


def require_content(data: bytes, limit_bytes: int, name: str) -> None:
    """BadInput for bytes that are empty or over `limit_bytes`."""
    if len(data) > limit_bytes:
        raise _too_large(len(data), limit_bytes, name)
    if not data.strip():
        raise BadInput("this file is empty.", where=name, hint="Check that it was saved.")


def decode_input(data: bytes, name: str) -> InputFile:
    """Bytes as text. BadInput for binary content and for text in no known encoding."""
    for signature, what, hint in _SIGNATURES:
        if data.startswith(signature):
            raise BadInput(f"this is {what}, not text.", where=name, hint=hint)
    text, encoding, guessed = _decode(data, name)
    strange = next((i for i, c in enumerate(text) if c == "\0"), None)
    if strange is not None:
        line = text.count("\n", 0, strange) + 1
        raise BadInput(
            "this is not text.", where=f"{name}, line {line}", hint="Save it as CSV or plain text."
        )
    newline = "\r\n" if "\r\n" in text else "\r" if "\r" in text and "\n" not in text else "\n"
    return InputFile(name, text.replace("\r\n", "\n").replace("\r", "\n"), encoding, newline, guessed)


def _decode(data: bytes, name: str) -> tuple[str, str, bool]:
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            try:
                return data.decode(encoding), encoding, False
            except UnicodeDecodeError as problem:
                raise _damaged(data, problem, name) from None
    try:
        return data.decode("utf-8"), "utf-8", False
    except UnicodeDecodeError as problem:
        failure = problem
    if b"\0" in data[:4096]:
        raise BadInput("this is not text.", where=name, hint="Save it as CSV or plain text.")
    try:
        text = data.decode("cp1252")
        if {c for c in text if ord(c) > 127} <= _USUAL:
            return text, "cp1252", True
    except UnicodeDecodeError:
        pass
    from charset_normalizer import from_bytes

    best = from_bytes(data[:200_000]).best()
    if best is not None:
        try:
            return data.decode(best.encoding), best.encoding, True
        except UnicodeDecodeError:
            pass
    raise _damaged(data, failure, name)


def _damaged(data: bytes, problem: UnicodeDecodeError, name: str) -> BadInput:
    line = data.count(b"\n", 0, problem.start) + 1
    return BadInput(
        "the text is in an unknown or damaged encoding.",
        where=f"{name}, line {line}",
        hint="Save it again as UTF-8.",
    )


def _too_large(size: int, limit: int, name: str) -> BadInput:
    return BadInput(
        f"this file holds {size / 1e6:.0f} MB; at most {limit / 1e6:.0f} MB are read.",
        where=name,
        hint="Split it, or check that it is the right file.",
    )


def _nearby(file: Path) -> str:
    from difflib import get_close_matches

    try:
        names = [entry.name for entry in file.parent.iterdir()]
    except OSError:
        return "Check the folder and the name."
    near = get_close_matches(file.name, names[:2000], n=2, cutoff=0.6)
    return f"Nearest here: {', '.join(near)}." if near else "Check the folder and the name."
