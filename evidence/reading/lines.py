"""Running lines: a row is a label and the run of cells at its end. Wrapped rows are joined, section lines
kept apart.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.reading.body import Body, Row, Slot
from evidence.reading.cells import FILLER, Run, Shape, Token, read_run
from evidence.reading.grid import Piece
from evidence.reading.headers import divide
from evidence.reading.labels import STUB, TIME_STUB, read_phrase, tidy_label
from evidence.reading.legend import is_caption, is_note
from evidence.reading.wrapped_labels import OPEN_END, glue, goes_on


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of the paste with what was found at its end."""

    piece: Piece
    run: Run

    @property
    def has_values(self) -> bool:
        return _is_data(self.run, self.piece.text)

    @property
    def text(self) -> str:
        return self.piece.text.replace(FILLER, "").strip()


def _is_data(run: Run, text: str) -> bool:
    """Whether a run of cells makes the line a row: two cells, or one that is more than a bare number."""
    real = [t for t in run.tokens if t.shape is not Shape.MISSING]
    rich = sum(t.shape in (Shape.PAIR, Shape.INTERVAL, Shape.WORDED) for t in real)
    if not real:
        return len(run.tokens) > 1 and bool(run.label) and not is_note(text)
    if is_caption(text) and rich < 2:
        return False
    return rich > 0 or len(run.tokens) >= 2


def body_from_lines(pieces: Sequence[Piece], decimal: str) -> Body | None:
    """Rows, header lines and notes of a table in running lines; None when no line is a row."""
    lines = [line for piece in pieces for line in _split_streams(piece, decimal)]
    data = _data_lines(lines)
    if not data:
        return None
    lines = _join_labels(_label_by_first(_number_times(lines, data), data), data)
    data = _data_lines(lines)
    first, last = data[0], data[-1]
    head = [line.text for line in lines[:first]]
    depth = _section_depth(lines, data)
    inside, unread = lines[first : last + 1], []
    for number in [i for i in range(first, last) if i not in data and holds_figures(lines[i].text)]:
        unread.append(lines[number].text)
        inside[number - first] = replace(
            lines[number], run=Run("", ()), piece=replace(lines[number].piece, text="")
        )
    rows = _join_rows(inside, set(data), first, head[len(head) - depth :] if depth else [])
    head = head[: len(head) - depth] if depth else head
    width = _choose_width(rows)
    rows = [_trim(row, width) for row in rows]
    rows, head = _part_heads_again(rows, head, width)
    rows, head = _take_header_from_label(rows, head, width)
    return Body(
        tuple(rows),
        width,
        header_lines=tuple(head),
        after=tuple(line.text for line in lines[last + 1 :]),
        unread=(*unread, *(line.text for line in lines[last + 1 :] if _is_unread(line))),
        fixed=False,
    )


_WHOLE_PAIR = r"\d\s?[(\[]\s?\d+\s?[)\]]"  # one alone may be a citation or a count
_FIGURES = re.compile(
    r"\d\s?±\s?\.?\d|\d\s?[(\[]\s?[-–−]?\d+[.,·]\d|\d[.,·]\d+\s+[-–−]?\d+[.,·]\d"
    rf"|{_WHOLE_PAIR}.*{_WHOLE_PAIR}"
)


def holds_figures(text: str) -> bool:
    """Whether a line that was not read as a row, nor is a note, holds figures all the same."""
    return bool(_FIGURES.search(text)) and not is_caption(text) and not is_note(text)


def _is_unread(line: _Line) -> bool:
    return (bool(line.run.tokens) and not is_note(line.text)) or holds_figures(line.text)


def _join_labels(lines: Sequence[_Line], data: Sequence[int]) -> list[_Line]:
    """Rows with the rest of their label, where it stands on the line below."""
    joined: list[_Line] = []
    rows = set(data)
    for number, line in enumerate(lines):
        above = joined[-1].run if joined and number - 1 in rows else None
        if above and number not in rows and goes_on(above.label, line.text):
            joined[-1] = replace(joined[-1], run=replace(above, label=glue(above.label, line.text)))
        else:
            joined.append(line)
    return joined


def _split_streams(piece: Piece, decimal: str) -> list[_Line]:
    """A line holding several runs of cells with words between them is several rows that lost their line
    ends.
    """
    line = piece.text
    pieces: list[_Line] = []
    start = 0
    place = 0
    words = list(re.finditer(r"\S+", line))
    if sum(ch.isdigit() for ch in line) < 8 or len(words) < 12:
        return [_Line(piece, read_run(line, decimal))]
    cuts: list[int] = []
    for number, word in enumerate(words[1:], 1):
        if not word.group()[0].isalpha() or word.start() <= place:
            continue
        end = words[number - 1].end()
        if sum(line.count(sign, start, end) for sign in "±([") < 2:  # no two cells with a spread
            place = word.start()
            continue
        run = read_run(line[start:end], decimal)
        rich = sum(t.shape in (Shape.PAIR, Shape.INTERVAL) for t in run.tokens)
        if rich >= 2 and run.label and not re.fullmatch(r"(?:NR|NS|ns|NT|NA|ND)", word.group()):
            cuts.append(word.start())
            start = word.start()
        place = word.start()
    if cuts and len(line[cuts[-1] :].split()) == 1:
        cuts.pop()  # one word at the end of a line is a cell that was not understood, and no row
    bounds = [0, *cuts, len(line)]
    for left, right in itertools.pairwise(bounds):
        text, raw = (
            line[left:right].rstrip(),
            piece.raw[left:right].rstrip() if len(piece.raw) >= right else line[left:right],
        )
        pieces.append(_Line(replace(piece, text=text, raw=raw, column=left + 1), read_run(text, decimal)))
    return pieces


def _data_lines(lines: Sequence[_Line]) -> list[int]:
    """The lines that are rows: not captions, notes under the table, or a header of bare numbers."""
    data = [i for i, line in enumerate(lines) if line.has_values]
    while data and _is_number_header(lines, data):
        data.pop(0)
    rich = [i for i in data if any(t.shape in (Shape.PAIR, Shape.INTERVAL) for t in lines[i].run.tokens)]
    if rich:
        typical = Counter(len(lines[i].run.tokens) for i in rich).most_common(1)[0][0]
        data = [i for i in data if i in rich or i < rich[-1] or len(lines[i].run.tokens) >= typical - 1]
        data = [
            i
            for i in data
            if i in rich or not (is_note(lines[i].text) and len(lines[i].run.tokens) < typical)
        ]
    inside = range(data[0], data[-1] + 2) if data else range(0)
    return sorted({*data, *(i for i in inside if i < len(lines) and _is_lone_figure(lines[i]))})


def _is_lone_figure(line: _Line) -> bool:
    """A label with one figure that cannot be part of a name ("Interaction 0.03"): a row that lost its other
    cells.
    """
    tokens = line.run.tokens
    if len(tokens) != 1 or not line.run.label or is_note(line.text):
        return False
    return tokens[0].shape is Shape.P or bool(tokens[0].value and tokens[0].value.decimals)


_NUMBERED = re.compile(
    r"(?:.*\s)?(?:week|wk|month|day|session|visit|year|trial|phase|block|mesocycle)", re.IGNORECASE
)


def _number_times(lines: list[_Line], data: Sequence[int]) -> list[_Line]:
    """ "Week 8 | 198.2 68.8": the whole number behind such a word is the end of the label."""
    numbered = list(lines)
    for i in data:
        label, tokens = lines[i].run.label, lines[i].run.tokens
        first = tokens[0] if tokens else None
        whole = first is not None and first.shape is Shape.NUMBER and first.value and not first.value.decimals
        if first and whole and not first.marks and len(tokens) > 1 and _NUMBERED.fullmatch(label):
            numbered[i] = replace(lines[i], run=Run(f"{label} {first.text}", tokens[1:]))
    return numbered


def _label_by_first(lines: list[_Line], data: Sequence[int]) -> list[_Line]:
    """Rows named by a number ("60% 1512 ± 210 ..."): without other labels the first bare number is the
    label.
    """
    bare = [i for i in data if not lines[i].run.label]
    counts = {len(lines[i].run.tokens) for i in bare}
    firsts = [lines[i].run.tokens[0] for i in bare]
    rest = [t for i in bare for t in lines[i].run.tokens[1:]]
    plain = all(t.shape is Shape.NUMBER and set(t.marks) <= {"°"} for t in firsts)
    rich = bool(rest) and all(t.shape is not Shape.NUMBER for t in rest)
    if len(bare) < 2 or len(bare) < 0.6 * len(data) or len(counts) != 1 or not plain or not rich:
        return lines
    moved = list(lines)
    for i in bare:
        run = lines[i].run
        moved[i] = replace(lines[i], run=Run(run.tokens[0].text, run.tokens[1:]))
    return moved


def _is_number_header(lines: Sequence[_Line], data: Sequence[int]) -> bool:
    """ "Week 0 12 24 0 12 24" over rows of mean ± SD."""
    tokens = lines[data[0]].run.tokens
    bare = all(t.shape is Shape.NUMBER and t.value and t.value.decimals == 0 and not t.marks for t in tokens)
    later = [t for i in data[1:] for t in lines[i].run.tokens]
    rich = sum(t.shape in (Shape.PAIR, Shape.INTERVAL) for t in later)
    label = lines[data[0]].run.label
    return bare and bool(later) and rich >= len(later) / 2 and (not label or bool(TIME_STUB.match(label)))


def _section_depth(lines: Sequence[_Line], data: Sequence[int]) -> int:
    """How many text lines stand over the rows of a section, judged from the sections inside the table."""
    gaps = [
        b - a - 1
        for a, b in itertools.pairwise(data)
        if b - a > 1 and (lines[b].run.label or not lines[a].run.label)
    ]
    labelless = [b - a - 1 for a, b in itertools.pairwise(data) if b - a > 1 and not lines[b].run.label]
    both = gaps or labelless
    if not both:
        return 0 if lines[data[0]].run.label else min(1, data[0])
    return min(Counter(both).most_common(1)[0][0], data[0])


def _join_rows(lines: Sequence[_Line], data: set[int], offset: int, opening: Sequence[str]) -> list[Row]:
    rows: list[Row] = []
    pending = list(opening)
    section = ""
    for number, line in enumerate(lines, offset):
        if number not in data:
            if line.text:
                pending.append(line.text)
            continue
        label = tidy_label(line.run.label)
        slots = tuple(_slot(line.piece, token) for token in line.run.tokens)
        if not label and not pending and rows:
            rows[-1] = replace(rows[-1], slots=rows[-1].slots + slots)
            continue
        joined = _join_texts(pending)
        if pending and not label:
            label, pending = joined, []
        elif pending and label and OPEN_END.search(joined) and read_phrase(label).n is None:
            label, pending = glue(joined, label), []
        elif pending:
            section, pending = joined, []
        trouble = "part of the row could not be read" if _FRAGMENT.search(label) else ""
        rows.append(Row((label,), slots, line.piece.line, section, trouble))
    return rows


def _part_heads_again(rows: list[Row], head: list[str], width: int) -> tuple[list[Row], list[str]]:
    """ "Women Pre Post" over the first rows and "Men Pre Post" over others: headings before one head."""
    opening = rows[0].section or (head[-1] if head else "")
    named = [replace(row, section=row.section or opening) for row in rows]
    sections = sorted({row.section for row in named})
    headed = bool(rows[0].section) and any(not is_caption(line) for line in head)
    if len(sections) < 2 or not opening or headed:
        return rows, head
    lowest = opening.split()
    same = min(_common_end(lowest, section.split()) for section in sections)
    if same < width or any(len(section.split()) <= same for section in sections):
        return rows, head
    parted = [replace(row, section=" ".join(row.section.split()[:-same])) for row in named]
    return parted, [*(head if rows[0].section else head[:-1]), " ".join(lowest[-same:])]


def _common_end(one: Sequence[str], other: Sequence[str]) -> int:
    same = 0
    while same < min(len(one), len(other)) and one[-1 - same] == other[-1 - same]:
        same += 1
    return same


_FRAGMENT = re.compile(r"\d\s?±|±\s?\d|\d\.\d+\s?[,(\[]\s?\d|\s\d+\.\d+$")  # a figure left in a label


def _join_texts(texts: Sequence[str]) -> str:
    """Text lines that belong together; a line that opens with a bracket or a small letter continues the one
    before.
    """
    joined = ""
    for text in texts:
        if not joined:
            joined = text
        elif re.match(r"[a-z(\[]", text):
            joined = glue(joined, text)
        else:
            joined = f"{joined} / {text}"
    return tidy_label(joined)


def _slot(piece: Piece, token: Token) -> Slot:
    exact = len(piece.raw) >= token.end and len(piece.text) == len(piece.raw)
    raw = piece.raw[token.start : token.end] if exact else token.text
    return Slot(replace(piece, text=token.text, raw=raw.strip(), column=piece.column + token.start), token)


def _choose_width(rows: Sequence[Row]) -> int:
    """The number of columns: the usual number of cells; of two that are as usual, the larger."""
    numbered = [row for row in rows if _ends_in_number(row)]
    plain = {len(row.slots) for row in rows if row not in numbered}
    counts = Counter(
        len(row.slots) - 1 if row in numbered and len(row.slots) - 1 in plain else len(row.slots)
        for row in rows
    )
    best = max(counts.values())
    return max(width for width, times in counts.items() if times >= 0.5 * best and (times > 1 or best == 1))


def _ends_in_number(row: Row) -> bool:
    """Whether the first cell may be the end of the label: "Week 8 | 67.2 ± 22.5", a whole number before richer ones."""
    if len(row.tokens) < 2:
        return False
    first, second = row.tokens[:2]
    whole = first is not None and first.shape is Shape.NUMBER and first.value and not first.value.decimals
    return bool(whole and first and not first.marks and second and second.shape is not Shape.NUMBER)


def _trim(row: Row, width: int) -> Row:
    """Whole numbers that the run took from the end of the label go back to it."""
    extra = len(row.slots) - width
    if extra <= 0:
        return row
    taken = row.slots[:extra]
    if all(
        s.token and s.token.shape is Shape.NUMBER and s.token.value and s.token.value.decimals == 0
        for s in taken
    ):
        label = tidy_label(" ".join([row.labels[-1], *(s.piece.text for s in taken)]))
        return replace(row, labels=(*row.labels[:-1], label), slots=row.slots[extra:])
    return replace(row, trouble="the row has more cells than there are columns")


def _take_header_from_label(rows: list[Row], head: list[str], width: int) -> tuple[list[Row], list[str]]:
    """When the whole table is one line, the header is glued to the first label; the labels that come again
    cut it off.
    """
    if head or len(rows) < 2 or len(rows[0].labels[0].split()) <= width + 1:
        return rows, head
    words = rows[0].labels[0].split()
    period = _label_period([row.labels[0] for row in rows])
    length = len(rows[period].labels[0].split()) if period is not None else 0
    if period is None or words[-1] != rows[period].labels[0].split()[-1]:
        return _cut_after_stub(rows, words, width)
    label, header = " ".join(words[-length:]), words[:-length]
    cut = next((i for i in range(len(header) - 1, 0, -1) if STUB.fullmatch(header[i])), None)
    if cut is None or len(header) - cut - 1 > 3 * width:
        cut = len(header) - width
    head = [" ".join(header[:cut]), " ".join(header[cut:])] if cut > 0 else [" ".join(header)]
    return [replace(rows[0], labels=(label,)), *rows[1:]], head


def _cut_after_stub(rows: list[Row], words: Sequence[str], width: int) -> tuple[list[Row], list[str]]:
    """ "... Exercise Pre Post Squat": the header opens with the name of the label column, the first label
    closes it.
    """
    start = next((i for i in range(len(words) - 1, 0, -1) if STUB.fullmatch(words[i])), None)
    if start is None:
        return rows, []
    ways = []
    for end in range(start + 1 + width, len(words)):
        for cost, _, _ in divide(" ".join(words[start:end]), [None] * width, keep=1):
            ways.append((cost, end))
    if not ways:
        return rows, []
    _, end = min(ways)
    head = [" ".join(words[:start]), " ".join(words[start:end])]
    return [replace(rows[0], labels=(" ".join(words[end:]),)), *rows[1:]], head


def _label_period(labels: Sequence[str]) -> int | None:
    """After how many rows the labels begin again, by their last words."""
    for period in range(1, len(labels)):
        if len(labels) % period:
            continue
        ends = [label.split()[-1] for label in labels]
        if all(ends[i] == ends[i % period] for i in range(len(labels))) and len(labels) > period:
            return period
    return None
