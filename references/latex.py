"""LaTeX markup to Unicode text with CSL's few tags, and back. Driven by tables, in one pass over the text.

Braces that only group or protect capitals are dropped; italics, bold, small caps, super- and subscripts are
kept as CSL tags. An unescaped `%` is a percent sign, as exports mean it, never a comment. Unknown commands
stay as text. The tables are in `data/latex.toml`.
"""

import re
import tomllib
from collections.abc import Callable
from importlib.resources import files

from references.text import squeeze

_TOKEN = re.compile(
    r"\\url\s*\{(?P<url>[^{}]*)\}"
    r"|\\href\s*\{(?P<href>[^{}]*)\}"
    r"|(?P<word>\\[A-Za-z]+\*?)(?P<gap>\s*)"
    r"|\\(?P<sign>.)"
    r"|(?P<special>[{}$~^_]|---?|``?|'')"
    r"|(?P<text>(?:(?!---?|'')[^\\{}$~^_`])+)",
    re.DOTALL,
)
_NEEDS_DECODING = re.compile(r"[\\{}$~`]|--|''")

_TABLES: dict[str, dict[str, str]] = tomllib.loads(
    files("references").joinpath("data/latex.toml").read_text(encoding="utf-8")
)
_ACCENTS, _SYMBOLS, _ESCAPES = _TABLES["accents"], _TABLES["symbols"], _TABLES["escapes"]
_WITH_ARGUMENT, _TO_GROUP_END = _TABLES["with_argument"], _TABLES["to_group_end"]
_TRANSPARENT, _QUOTING, _SPACES = (
    frozenset(_TABLES["words"][name]) for name in ("transparent", "quoting", "spaces")
)
_TAGS = {name: (f"<{tag}>", f"</{tag.split()[0]}>") for name, tag in _TABLES["tags"].items()}
_PLAIN_WHEN_RAISED = frozenset(("", "°", "′", "″", "∗", "*"))  # 40$^\circ$ is 40°


class _Frame:
    """An open group: what it holds so far, commands waiting for their argument, tags to close at its end."""

    __slots__ = ("closers", "is_math", "pieces", "waiting")

    def __init__(self, is_math: bool) -> None:
        self.pieces: list[str] = []
        self.waiting: list[Callable[[str], str]] = []
        self.closers: list[str] = []
        self.is_math = is_math

    def add(self, atom: str) -> None:
        while self.waiting:
            atom = self.waiting.pop()(atom)
        self.pieces.append(atom)

    def add_text(self, text: str) -> None:
        if self.waiting:
            text = text.lstrip()
            if not text:
                return
            self.add(text[0])
            text = text[1:]
        self.pieces.append(text)

    def close(self) -> str:
        while self.waiting:  # a command that never got its argument
            self.add("")
        return "".join([*self.pieces, *reversed(self.closers)])


def decode(text: str) -> str:
    """LaTeX text as Unicode (NFC) with CSL tags; white space is squeezed. Never raises."""
    if not _NEEDS_DECODING.search(text):
        return squeeze(text)
    stack = [_Frame(False)]
    math_ends = _find_math(text)
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup
        frame = stack[-1]
        if kind == "text":
            frame.add_text(match.group())
        elif kind == "special":
            _take_special(match, stack, math_ends)
        elif kind == "sign":
            _take_sign(match.group("sign"), frame)
        elif kind == "url":
            frame.add(match.group("url"))
        elif kind == "href":
            address = match.group("href")
            frame.waiting.append(lambda label, address=address: f"{label} ({address})")  # type: ignore[misc]
        else:
            takes_group = text[match.end() : match.end() + 1] == "{"
            _take_word(match.group("word")[1:], match.group("gap"), takes_group, frame)
    while len(stack) > 1:  # braces that were never closed
        inner = stack.pop().close()
        stack[-1].add(inner)
    return squeeze(stack[0].close())


def _find_math(text: str) -> dict[int, bool]:
    """Positions of the dollar signs that open (True) or close (False) math; others are currency."""
    signs = [match.start() for match in re.finditer(r"(?<!\\)\$", text)]
    found: dict[int, bool] = {}
    index = 0
    while index + 1 < len(signs):
        start, end = signs[index], signs[index + 1]
        content = text[start + 1 : end]
        if end == start + 1:  # $$
            index += 1
        elif (
            re.search(r"[\\^_{]", content)
            or re.fullmatch(r"\s*[\d.,]+\s*", content)
            or (
                not re.match(r"\s*\d", content)
                and not re.search(r"[^\W\d_]{2}", content)
                and len(content) < 40
            )
        ):
            found[start], found[end] = True, False
            index += 2
        else:
            index += 1
    return found


def _take_special(match: re.Match[str], stack: list[_Frame], math_ends: dict[int, bool]) -> None:
    token, frame = match.group(), stack[-1]
    if token == "{":
        stack.append(_Frame(frame.is_math))
    elif token == "}":
        if len(stack) > 1:
            inner = stack.pop().close()
            stack[-1].add(inner)
    elif token == "$":
        opens = math_ends.get(match.start())
        if opens is None:
            frame.add("$")
        else:
            frame.is_math = opens
    elif token in "^_":
        if frame.is_math:
            _wait_for_tag("sup" if token == "^" else "sub", frame)
        else:
            frame.add(token)
    elif frame.is_math:
        frame.add_text({"~": " "}.get(token, token))
    else:
        frame.add_text(
            {"~": "\u00a0", "--": "–", "---": "—", "``": "“", "''": "”", "`": "‘"}.get(token, token)
        )


def _take_sign(sign: str, frame: _Frame) -> None:
    spaces = _TABLES["signs"].get(sign)
    if spaces is not None:
        frame.pieces.append(spaces)
    elif sign in _ACCENTS and not (frame.is_math and sign in "=."):
        frame.waiting.append(lambda atom: _put_accent(sign, atom))
    elif sign in "([)]":  # math by \( \) or \[ \]
        frame.is_math = sign in "(["
    else:
        frame.add(sign)


def _take_word(word: str, gap: str, takes_group: bool, frame: _Frame) -> None:
    name = word.rstrip("*")
    if name in _ACCENTS:
        frame.waiting.append(lambda atom: _put_accent(name, atom))
    elif name in _SYMBOLS:
        frame.add(_SYMBOLS[name])
    elif name in _WITH_ARGUMENT:
        _wait_for_tag(_WITH_ARGUMENT[name], frame)
    elif name in _TO_GROUP_END:
        opener, closer = _TAGS[_TO_GROUP_END[name]]
        frame.pieces.append(opener)
        frame.closers.append(closer)
    elif name in _QUOTING:
        frame.waiting.append(lambda atom: f"“{atom}”")
    elif name in _SPACES:
        frame.pieces.append(" ")
    elif name not in _TRANSPARENT:
        if takes_group:
            frame.waiting.append(lambda atom: f"\\{word}{{{atom}}}")
        else:
            frame.add(f"\\{word}{gap}")


def _wait_for_tag(tag: str, frame: _Frame) -> None:
    opener, closer = _TAGS[tag]
    frame.waiting.append(lambda atom: atom if atom in _PLAIN_WHEN_RAISED else f"{opener}{atom}{closer}")


def _put_accent(name: str, atom: str) -> str:
    base = atom.lstrip()
    if not base:
        return _TABLES["standalone"].get(name, "")
    first = {"ı": "i", "ȷ": "j"}.get(base[0], base[0]) if name not in "ckdb" else base[0]
    return first + _ACCENTS[name] + base[1:]


_ESCAPED = re.compile(
    "|".join(re.escape(item) for item in sorted(_ESCAPES, key=len, reverse=True)) + "|-(?=-)|'(?=')"
)


def encode(text: str) -> str:
    """Text with CSL tags as LaTeX that `decode` reads back to the same text; letters stay as they are."""
    return _ESCAPED.sub(lambda match: _ESCAPES.get(match.group(), match.group() + "{}"), text)
