"""The outer shape of a paste: HTML, pipes, tabs, LaTeX rows, columns kept apart by spaces, or plain lines of
text.

What comes out is a grid of pieces of text that know where they stand in the paste, or plain lines when
nothing divides them. No number is read here.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from html.parser import HTMLParser

from evidence.reading.cells import FILLER, THIN
from evidence.reading.legend import is_caption


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the paste: `text` after repair, `raw` as it stands, line and column from 1, rows and
    columns it covers.

    `copy` marks the further places of a piece that covers several.
    """

    text: str
    raw: str
    line: int
    column: int
    down: int = 1
    across: int = 1
    copy: bool = False


EMPTY = Piece("", "", 0, 0)
PAD = Piece("", "", -1, 0)  # where a divided row ended before the others
Grid = list[list[Piece]]
LONGEST_HEADING = 8  # words


@dataclass(frozen=True, slots=True)
class Layout:
    """A paste taken apart. `grid` is None for running lines. `positioned`: columns are known from the paste
    itself.
    """

    lines: tuple[Piece, ...]
    grid: Grid | None = None
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    positioned: bool = True


_RULE = re.compile(r"\\?(?:hline|toprule|midrule|bottomrule)")


def _is_rule(line: str) -> bool:
    """Whether a line only rules off: a LaTeX command, or at least five signs and blanks; however long it is."""
    bare = line.strip()
    signs = line.strip("\t").removeprefix("\\")
    return bool(_RULE.fullmatch(bare)) or (len(signs) >= 5 and not signs.strip("-=_+| :"))


def take_apart(lines: Sequence[str], raw_lines: Sequence[str], clean: Callable[[str], str]) -> Layout:
    """Find how the paste is divided. `lines` carry repairs already (same length as `raw_lines`); `clean`
    tidies a piece.
    """
    text = "\n".join(lines)
    if re.search(r"<t[rdh][\s>]", text, re.IGNORECASE):
        return _from_html(text, clean)
    pieces = tuple(
        Piece(clean(line), raw, number, len(line) - len(line.lstrip()) + 1)
        for number, (line, raw) in enumerate(zip(lines, raw_lines, strict=True), 1)
        if line.strip() and not _is_rule(line)
    )
    divided = [line for line in lines if re.search(r"\|\s*\S", line) and line.strip(" |-:")]
    ended = [line for line in lines if line.rstrip().endswith("|") and line.count("|") == 1]
    if len(divided) >= 2 and len(divided) > len(ended):
        return _divide(lines, raw_lines, r"\|", clean, pieces)
    if sum("\t" in line for line in lines) >= 2:
        return _divide(lines, raw_lines, r"\t", clean, pieces)
    if sum(bool(re.search(r"&.*\\\\", line)) for line in lines) >= 2:
        return _divide(lines, raw_lines, r"(?<!\\)&(?!\w+;)", clean, pieces)
    if ended and len(ended) >= len(pieces) / 2:
        pieces = tuple(replace(p, text=p.text.rstrip(" |"), raw=p.raw.rstrip(" |")) for p in pieces)
    spaced = _from_spaces(lines, raw_lines, clean)
    return spaced if spaced is not None else Layout(pieces)


# "204 ± 33$ 222 ± 36$": each dollar stands behind a figure, so it is a footnote mark and opens no formula
_DOLLAR_MARKS = re.compile(r"[^$]*(?:(?:[\d)\]*†‡§¶#]|(?<=[\d)\]] ))\$(?=[\s,|]|$)[^$]*)+|\s*\$[^$]*")


def clean_piece(text: str) -> str:
    """Tags, entities, LaTeX and emphasis out of a piece; superscripts stay as ^{...} so that marks are not
    glued.
    """
    if "<" in text and ">" in text:
        text = re.sub(r"<sup>\s*(.*?)\s*</sup>", r"^{\1}", text, flags=re.IGNORECASE)
        text = re.sub(r"<br\s*/?>", " ", text, flags=re.IGNORECASE)
        text = re.sub(
            r"</?(?:i|b|em|strong|sub|span|p|div|a|u|font|small|td|th|tr|tbody|thead|table)(?:\s[^<>]*)?>",
            "",
            text,
        )
    text = html.unescape(text)
    if "\\" in text or ("$" in text and not _DOLLAR_MARKS.fullmatch(text)):
        text = read_latex(text)
    text = re.sub(r"\\(?=[*_#|†‡§])", "", text)  # "\\*" of Markdown
    if text.lstrip().startswith(("**", "__")):
        text = re.sub(r"(\*\*|__)(\S(?:.*?\S)?)\1(?=[\s*†‡§#,;]|$)", r"\2", text)
    return "".join(unicodedata.normalize("NFKC", c) if "\u3371" <= c <= "\u33df" else c for c in text)


_LATEX = (
    (r"\\pm\b\s*", "± "), (r"\\times\b\s*", "× "), (r"\\leq?\b\s*", "≤ "), (r"\\geq?\b\s*", "≥ "), (r"\\%", "%"),
    (r"\\circ\b", "°"), (r"\\dagger\b", "†"), (r"\\ddagger\b", "‡"), (r"\\Delta\b\s*", "Δ"), (r"\\ast\b|\\star\b", "*"),
    (r"\\(?:text|mathrm|textbf|textit|mathbf|mbox)\s*\{([^{}]*)\}", r"\1"),
    (r"\\multi(?:column|row)\{[^{}]*\}\{[^{}]*\}\{([^{}]*)\}", r"\1"),
    (r"\\[,;:! ]", " "), (r"\\\\\s*$", ""), (r"\\(?:hline|toprule|midrule|bottomrule"
                                             r"|cline\{[^{}]*\})", ""), (r"~", " "),
)  # fmt: skip


def read_latex(text: str) -> str:
    """LaTeX as plain text; digits that were set apart ("3 0 . 4") are joined, inside $...$ only."""

    def join(found: re.Match[str]) -> str:
        inner = re.sub(r"\s+", " ", found[1]).strip()
        inner = re.sub(r"(?<=[\d.,])\s+(?=[\d.,])", "", inner)
        inner = re.sub(r"\b([A-Za-z]) (?=[A-Za-z]\b)", r"\1", inner)
        return re.sub(r"\^\s*\{?\s*([^{}\s]+)\s*\}?", r"^{\1}", inner)

    for pattern, plain in _LATEX:
        text = re.sub(pattern, plain, text)
    text = re.sub(r"\$\$?([^$]*)\$\$?", join, text)
    return re.sub(r"\s*\^\{", "^{", text).replace("{,}", ",")


def _divide(
    lines: Sequence[str],
    raw_lines: Sequence[str],
    mark: str,
    clean: Callable[[str], str],
    pieces: tuple[Piece, ...],
) -> Layout:
    """Rows of cells divided by one character; a short line without it, among rows, is a heading over those below."""
    grid: Grid = []
    before: list[str] = []
    after: list[str] = []
    last = max((i for i, line in enumerate(lines, 1) if re.search(mark, line)), default=0)
    for number, (line, raw) in enumerate(zip(lines, raw_lines, strict=True), 1):
        if not line.strip() or re.fullmatch(r"[\s|:\-=+]*-[\s|:\-=+]*", line):
            continue
        if not re.search(mark, line):
            if grid and number < last and len(line.split()) <= LONGEST_HEADING and not is_caption(line):
                heading = Piece(clean(line).strip(), raw.strip(), number, len(line) - len(line.lstrip()) + 1)
                grid.append([heading, *[EMPTY] * (len(grid[0]) - 1)])
            else:
                (after if grid else before).append(clean(line).strip())
            continue
        start = len(line) - len(line.lstrip()) if mark == r"\|" else 0
        start += 1 if mark == r"\|" and line.lstrip().startswith("|") else 0
        end = len(line.rstrip(" \r" if mark == r"\t" else None))
        end -= 1 if mark == r"\|" and line.rstrip().endswith("|") and end > start else 0
        row: list[Piece] = []
        for left, right in _spans(line, mark, start, end):
            row.append(Piece(clean(line[left:right]).strip(), raw[left:right].strip(), number, left + 1))
        grid.append(row)
    width = max((len(row) for row in grid), default=0)
    return Layout(pieces, [row + [PAD] * (width - len(row)) for row in grid], tuple(before), tuple(after))


def _spans(line: str, mark: str, start: int, end: int) -> list[tuple[int, int]]:
    cuts = [start] + [m.end() for m in re.finditer(mark, line[:end]) if m.start() >= start]
    ends = [m.start() for m in re.finditer(mark, line[:end]) if m.start() >= start] + [end]
    return list(zip(cuts, ends, strict=True))


_GAP = r"(?<![± ]) {2,}(?=[^\s±])"  # the spaces that stand for a longer spelling of ± part no columns


def _from_spaces(
    lines: Sequence[str], raw_lines: Sequence[str], clean: Callable[[str], str]
) -> Layout | None:
    """Columns kept apart by two spaces or more: cells are put into columns by where they stand."""
    gap = re.compile(rf"(?<=\S){_GAP}")
    cut = [(number, line) for number, line in enumerate(lines, 1) if line.strip()]
    parts = {
        number: _spans(line, _GAP, len(line) - len(line.lstrip()), len(line.rstrip())) for number, line in cut
    }
    wide = [n for n, line in cut if len(gap.findall(line)) >= 1 and re.search(r"\d", line)]
    spaced = [n for n, line in cut if gap.search(line)]
    if len(wide) < 2 or len(spaced) < 0.4 * len(cut):
        return None
    count = max(len(parts[n]) for n in wide)
    full = [n for n in wide if len(parts[n]) == count]
    if count < 3 or len(full) < 2:
        return None
    columns = [(min(parts[n][i][0] for n in full), max(parts[n][i][1] for n in full)) for i in range(count)]
    apart = all(columns[i][1] <= columns[i + 1][0] for i in range(count - 1))
    grid: Grid = []
    before: list[str] = []
    after: list[str] = []
    for number, line in cut:
        raw = raw_lines[number - 1]
        if len(parts[number]) < 2 and (len(line.split()) > 6 or not grid or number > wide[-1]):
            (after if grid and number > wide[-1] else before).append(clean(line).strip())
            continue
        row = [EMPTY] * count
        places = [_place(span, columns) if apart else None for span in parts[number]]
        if len(parts[number]) == count:
            places = list(range(count))
        elif None in places or len(set(places)) < len(places):
            return None
        for place, (left, right) in zip(places, parts[number], strict=True):
            row[place or 0] = Piece(
                clean(line[left:right]).strip(), raw[left:right].strip(), number, left + 1
            )
        grid.append(row)
    return Layout((), grid, tuple(before), tuple(after))


def _place(span: tuple[int, int], columns: Sequence[tuple[int, int]]) -> int | None:
    """The one column a piece overlaps."""
    found = [i for i, (left, right) in enumerate(columns) if span[0] < right and span[1] > left]
    return found[0] if len(found) == 1 else None


class _TableParser(HTMLParser):
    """Rows of (text, rowspan, colspan, line, column), and the text outside the rows."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[list[tuple[str, int, int, int, int]]] = []
        self.before: list[str] = []
        self.after: list[str] = []
        self._cell: list[str] | None = None
        self._spans = (1, 1, 0, 0)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self._close()
            self.rows.append([])
        elif tag in ("td", "th"):
            self._close()
            spans = dict(attrs)
            line, column = self.getpos()
            self._cell = []
            self._spans = (_count(spans.get("rowspan")), _count(spans.get("colspan")), line, column + 1)
        elif tag == "sup" and self._cell is not None:
            self._cell.append("^{")
        elif tag == "br" and self._cell is not None:
            self._cell.append(" ")

    def handle_endtag(self, tag: str) -> None:
        if tag == "sup" and self._cell is not None:
            self._cell.append("}")
        elif tag in ("td", "th", "tr", "table"):
            self._close()

    def handle_data(self, data: str) -> None:
        if self._cell is not None:
            self._cell.append(data)
        elif data.strip():
            (self.after if self.rows else self.before).append(data.strip())

    def _close(self) -> None:
        if self._cell is not None and self.rows:
            down, across, line, column = self._spans
            self.rows[-1].append(("".join(self._cell), down, across, line, column))
        self._cell = None


def _count(text: str | None) -> int:
    return max(1, min(200, int(text))) if text and text.strip().isdigit() else 1


def _from_html(text: str, clean: Callable[[str], str]) -> Layout:
    parser = _TableParser()
    parser.feed(text)
    parser.close()
    taken: dict[tuple[int, int], Piece] = {}
    rows = [row for row in parser.rows if row]
    for y, row in enumerate(rows):
        x = 0
        for content, down, across, line, column in row:
            while (y, x) in taken:
                x += 1
            down = min(down, len(rows) - y)
            plain = re.sub(r"[ \t\n]+", " ", content).strip(" " + THIN)
            piece = Piece(clean(plain), re.sub(r"\^\{(.*?)\}", r"\1", plain), line, column, down, across)
            for dy in range(down):
                for dx in range(across):
                    taken[y + dy, x + dx] = piece if dy == dx == 0 else replace(piece, copy=True)
            x += across
    width = max((x for _, x in taken), default=-1) + 1
    grid = [[taken.get((y, x), EMPTY) for x in range(width)] for y in range(len(rows))]
    after = (clean(re.sub(r"\s+", " ", " ".join(parser.after))),) if parser.after else ()
    return Layout((), grid, tuple(clean(t) for t in parser.before), after)


def is_blank(piece: Piece) -> bool:
    """Whether nothing is printed there."""
    return not piece.text.strip(" " + THIN + FILLER)
