"""The values of BibTeX fields: braces, quotation marks, numbers, macros, and `#` that joins them."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from references.bibtex_split import RawField

MONTH_MACROS = dict(
    zip(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"),
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"),
        strict=True,
    )
)
_MARK = re.compile(r'\\.|[{}"]', re.DOTALL)
_BARE = re.compile(r"[^\s\"#{},]+")
_NEXT_FIELD = re.compile(r"\s*([A-Za-z][\w-]*)\s*=\s*(?=\S)")


@dataclass(frozen=True, slots=True)
class Value:
    """A field's text, LaTeX not yet decoded; `complaint` says what was mended."""

    name: str
    text: str
    line: int
    complaint: str | None = None


def resolve(field: RawField, macros: Mapping[str, str]) -> Iterator[Value]:
    """The value of one field, and the fields that a missing comma hid behind it."""
    name, rest, line = field.name, field.value, field.line
    while True:
        text, leftover, complaint = evaluate(rest, macros)
        following = _NEXT_FIELD.match(leftover)
        if following is None:
            if leftover.strip():
                text, complaint = rest.strip(), complaint or f"field {name}: unexpected text after the value"
            yield Value(name, text, line, complaint)
            return
        yield Value(name, text, line, f"missing comma after field {name}")
        line += rest[: len(rest) - len(leftover) + following.end()].count("\n")
        name, rest = following.group(1).lower(), leftover[following.end() :]


def evaluate(expression: str, macros: Mapping[str, str]) -> tuple[str, str, str | None]:
    """The text of a value expression, what follows it, and a complaint."""
    pieces: list[str] = []
    complaint = None
    position = 0
    while True:
        position = _skip_space(expression, position)
        if position >= len(expression):
            break
        piece, position, note = _read_piece(expression, position, macros)
        pieces.append(piece)
        complaint = complaint or note
        position = _skip_space(expression, position)
        if position >= len(expression) or expression[position] != "#":
            break
        position += 1
    return "".join(pieces), expression[position:], complaint


def _skip_space(text: str, position: int) -> int:
    while position < len(text) and text[position].isspace():
        position += 1
    return position


def _read_piece(text: str, position: int, macros: Mapping[str, str]) -> tuple[str, int, str | None]:
    opener = text[position]
    if opener in '{"':
        end = _find_end(text, position)
        return (
            (text[position + 1 : end], end + 1, None)
            if end >= 0
            else (text[position:], len(text), "value not closed")
        )
    bare = _BARE.match(text, position)
    if bare is None:
        return text[position], position + 1, "unexpected sign in the value"
    word = bare.group()
    if word.isdecimal():
        return word, bare.end(), None
    known = macros.get(word.lower())
    if known is not None:
        return known, bare.end(), None
    if _NEXT_FIELD.match(text, bare.end()):
        return word, bare.end(), f"undefined macro {word}: kept as text"
    rest = text[position:]
    if re.search(r"[{}\"#]", rest) is None:  # a value that nobody put in braces
        quiet = re.fullmatch(r"[\d\s./:–-]+", rest)
        return rest.strip(), len(text), None if quiet else f"undefined macro {rest.strip()}: kept as text"
    return word, bare.end(), f"undefined macro {word}: kept as text"


def _find_end(text: str, start: int) -> int:
    """Where the brace or quotation mark at `start` closes; -1 where it does not."""
    quoted = text[start] == '"'
    depth = 0
    for match in _MARK.finditer(text, start + 1):
        mark = match.group()
        if mark == "{":
            depth += 1
        elif mark == "}":
            if depth == 0 and not quoted:
                return match.start()
            depth = max(depth - 1, 0)
        elif mark == '"' and quoted and depth == 0:
            return match.start()
    return -1
