"""Suggestions and ties written into a copy of a draft; the draft itself is never changed."""

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput
from evidence.reading.drafts import Draft
from evidence.workflows.drafts.findings import Finding, Replacement


@dataclass(frozen=True, slots=True)
class Mended:
    """A copy that was written. `left`: numbers that hold no wording to write, or stand where another was written."""

    path: Path
    written: tuple[int, ...]
    left: tuple[int, ...]


def choose_numbers(said: str, numbers: Sequence[int]) -> list[int]:
    """The numbers that "1,3-5" or "all" means. Raises BadInput for one that does not exist."""
    if said.strip().lower() == "all":
        return list(numbers)
    wanted: list[int] = []
    for part in said.replace(" ", "").split(","):
        first, dash, last = part.partition("-")
        if not first.isdigit() or (dash and not last.isdigit()):
            raise BadInput(f'"{said}" names no findings', hint="Write numbers as in 1,3-5, or all.")
        low, high = int(first), int(last or first)
        if high < low:
            raise BadInput(f'"{part}" runs backwards', hint=f"Write {high}-{low}.")
        if high > max(numbers, default=0):
            raise BadInput(f"there is no number {high}", hint=f"There are 1 to {max(numbers, default=0)}.")
        wanted += range(low, high + 1)
    strange = [n for n in wanted if n not in set(numbers)]
    if strange:
        raise BadInput(f"there is no number {strange[0]}", hint=f"There are 1 to {max(numbers, default=0)}.")
    return list(dict.fromkeys(wanted))


def mend(draft: Draft, findings: Iterable[Finding], said: str, target: Path) -> Mended:
    """Write a copy of a draft with the chosen findings' wordings in it."""
    listed = {f.number: f for f in findings}
    chosen = choose_numbers(said, sorted(listed))
    changes = [(n, r) for n in chosen if (r := listed[n].replacement) is not None and not listed[n].accepted]
    kept = without_overlap(changes)
    write_copy(draft, [r for _, r in kept], target)
    written = tuple(n for n, _ in kept)
    return Mended(target, written, tuple(n for n in chosen if n not in written))


def without_overlap(changes: Iterable[tuple[int, Replacement]]) -> list[tuple[int, Replacement]]:
    """Replacements that do not touch each other: of two in one place the smaller, then the first."""
    kept: list[tuple[int, Replacement]] = []
    for number, one in sorted(changes, key=lambda c: (c[1].end - c[1].start, c[0])):
        if all(one.end <= other.start or other.end <= one.start for _, other in kept):
            kept.append((number, one))
    return sorted(kept)


def write_copy(draft: Draft, changes: Iterable[Replacement], target: Path) -> None:
    """The draft with replacements, as a new file. Raises BadInput where that would be the draft itself."""
    source = Path(draft.name)
    if source.exists() and target.exists() and os.path.samefile(source, target):
        raise BadInput(
            "is the draft itself.", where=str(target), hint="Name another file: it is never changed."
        )
    if draft.format == "docx":
        write_word_copy(source, draft, list(changes), target)
        return
    text = apply_changes(draft.source, changes)
    target.write_text(text, encoding="utf-8", newline="\n")


def apply_changes(text: str, changes: Iterable[Replacement]) -> str:
    """A text with replacements made, from the end on so that offsets hold."""
    for one in sorted(changes, key=lambda c: -c.start):
        text = text[: one.start] + one.text + text[one.end :]
    return text


def write_word_copy(source: Path, draft: Draft, changes: list[Replacement], target: Path) -> None:
    """A DOCX copy: a changed stretch takes the look of the text it begins in; all else stays as it is."""
    from evidence.reading.drafts.word_files import open_word, text_nodes, walk_word

    document = open_word(source.read_bytes(), str(source))
    start = 0
    for (paragraph, _), line in zip(walk_word(document), draft.source.split("\n"), strict=True):
        inside = [c for c in changes if start <= c.start and c.end <= start + len(line)]
        for change in sorted(inside, key=lambda c: -c.start):
            replace_in_nodes(text_nodes(paragraph), change.start - start, change.end - start, change.text)
        start += len(line) + 1
    document.save(str(target))


def replace_in_nodes(nodes: Sequence[object], start: int, end: int, text: str) -> None:
    """Replace a stretch that may run over several text elements of a paragraph."""
    at = 0
    for node in nodes:
        held = node.text or ""  # type: ignore[attr-defined]
        first, last = max(start - at, 0), min(end - at, len(held))
        inserted = start == end and first == last == start - at and bool(text)
        if first < last or inserted:
            node.text = held[:first] + text + held[last:]  # type: ignore[attr-defined]
            text = ""
        at += len(held)
