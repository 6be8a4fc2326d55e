"""A draft from a file or a text: which format it is, front matter, blocks, sentences."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from evidence.errors import BadInput
from evidence.reading.drafts.captions import read_captions
from evidence.reading.drafts.inline import Inline
from evidence.reading.drafts.markdown import read_markdown
from evidence.reading.drafts.model import Block, Cue, Draft
from evidence.reading.drafts.sentences import read_sentences
from evidence.reading.drafts.word_files import read_word
from evidence.reading.files import decode_input, open_bytes, require_content
from evidence.reading.plain_yaml import written

FORMATS = ("markdown", "webvtt", "srt", "docx", "text")
ENDINGS = {
    ".md": "markdown",
    ".markdown": "markdown",
    ".vtt": "webvtt",
    ".srt": "srt",
    ".docx": "docx",
    ".txt": "text",
    ".text": "text",
}
REGISTERS = ("short", "plain", "full")  # of the wordings that are proposed
# What authors call the list of their sources. Common practice, no source.
SOURCES = ("sources", "references", "literature", "bibliography", "further reading", "studies")
LIMIT_BYTES = 20_000_000


def read_draft(path: Path | str, format: str | None = None) -> Draft:
    """Read a draft from a file. Raises BadInput where it cannot be read; odd things in it become `notes`.

    `format`: one of `FORMATS`; left out, the file's ending says it.
    """
    if format is not None and format not in FORMATS:
        raise BadInput(f"{format!r} is no format of drafts", hint=f"There are: {', '.join(FORMATS)}.")
    known = format is not None or Path(path).suffix.lower() in ENDINGS
    # What is no file, or no text, is told as what it is before its ending is.
    data = open_bytes(path, limit_bytes=LIMIT_BYTES)
    chosen = format or (choose_format(Path(path)) if known else "")
    if chosen == "docx":
        return read_docx(data, str(path))
    if not known:
        decode_input(data, str(path))
        choose_format(Path(path))
    return read_draft_text(decode_input(data, str(path)).text, chosen, str(path))


def read_draft_bytes(data: bytes, format: str | None = None, name: str = "draft") -> Draft:
    """Read a draft that came without a file, so that no ending says what it is: Markdown, or one of `FORMATS`.

    Raises BadInput for what is empty, too large, no text, or a DOCX, of which a copy could not be written.
    """
    if not data.strip():
        raise BadInput("no text came in.", where=name, hint="Paste or pipe a draft, or name its file.")
    require_content(data, LIMIT_BYTES, name)
    if format == "docx" or data.startswith(b"PK\x03\x04"):
        raise BadInput(
            "a DOCX draft is read from a file only.", where=name, hint="Save it, and name the file."
        )
    return read_draft_text(decode_input(data, name).text, format or "markdown", name)


def choose_format(path: Path) -> str:
    """The format that a file's ending says. Raises BadInput for one that is no draft."""
    found = ENDINGS.get(path.suffix.lower())
    if found is None:
        raise BadInput(
            f'ends in "{path.suffix}", which is no format of drafts.',
            where=str(path),
            hint=f"Name a file that ends in {', '.join(ENDINGS)}, or say --format.",
        )
    return found


def read_draft_text(text: str, format: str, name: str = "draft") -> Draft:
    """Read a draft from a text in one of `FORMATS` (docx: its paragraphs, one per line)."""
    if format not in FORMATS:
        raise BadInput(f"{format!r} is no format of drafts", hint=f"There are: {', '.join(FORMATS)}.")
    source = text.replace("\r\n", "\n").replace("\r", "\n").removeprefix("\ufeff")
    settings: Mapping[str, Any] = {}
    cues: tuple[Cue, ...] = ()
    notes: list[str] = []
    start = 0
    if format in ("markdown", "text"):
        settings, start, problem = read_front_matter(source)
        notes += problem
    if format == "markdown":
        blocks = list(read_markdown(source, start))
    elif format in ("webvtt", "srt"):
        found = read_captions(source)
        blocks, cues, notes = found.blocks, tuple(found.cues), notes + found.notes
        if not cues:
            raise BadInput(
                "holds no caption with a time that can be read.",
                where=name,
                hint="A cue has a line such as 00:01.000 --> 00:04.000.",
            )
        cues = tuple(sorted(cues, key=lambda c: c.source_start))
    elif format == "docx":
        blocks = _read_paragraphs(source, ("paragraph",) * (source.count("\n") + 1))
    else:
        blocks = _read_plain(source, start)
    blocks = list(keep_listed(blocks))
    sentences = tuple(read_sentences(blocks))
    return Draft(name, format, source, tuple(blocks), sentences, settings, cues, tuple(notes))


def read_docx(data: bytes, name: str) -> Draft:
    """Read a draft from the bytes of a DOCX file. Places are paragraph:character."""
    found = read_word(data, name)
    blocks = list(keep_listed(_read_paragraphs(found.text, found.kinds)))
    sentences = tuple(read_sentences(blocks))
    return Draft(name, "docx", found.text, tuple(blocks), sentences, {}, (), found.notes)


def keep_listed(blocks: Iterable[Block]) -> Iterator[Block]:
    """Blocks in which the addresses of a list of sources that the author made stay as they were typed."""
    listed = False
    for block in blocks:
        if block.kind == "heading":
            listed = block.text.strip(" :").lower() in SOURCES
        elif listed:
            kept = (replace(c, setting="nowhere") if c.address else c for c in block.citations)
            block = replace(block, citations=tuple(kept))
        yield block


def _read_paragraphs(source: str, kinds: tuple[str, ...]) -> list[Block]:
    blocks = []
    at = 0
    for line, kind in zip(source.split("\n"), kinds, strict=True):
        if line.strip():
            out = Inline(kind, markdown=False)
            out.scan(line, at)
            blocks.append(out.finish())
        at += len(line) + 1
    return blocks


def _read_plain(source: str, start: int) -> list[Block]:
    """Paragraphs between empty lines."""
    blocks = []
    for found in re.finditer(r"[^\n]*\S[^\n]*(?:\n[^\n]*\S[^\n]*)*", source[start:]):
        out = Inline("paragraph", markdown=False)
        out.scan(found.group(), start + found.start())
        blocks.append(out.finish())
    return blocks


def read_front_matter(source: str) -> tuple[Mapping[str, Any], int, list[str]]:
    """The settings between two lines of dashes at the top, where the text begins, and what was wrong."""
    if not source.startswith("---\n"):
        return {}, 0, []
    end = re.compile(r"^(?:---|\.\.\.)[ \t]*$", re.MULTILINE).search(source, 4, 20_000)
    if end is None:
        return {}, 0, []
    from evidence.reading.plain_yaml import load_yaml

    start = min(end.end() + 1, len(source))
    if not source[4 : end.start()].strip():
        return {}, start, []
    try:
        data = load_yaml(source[4 : end.start()], "front matter").data
    except BadInput as problem:
        return {}, start, [f"the front matter cannot be read: {problem}"]
    if not isinstance(data, Mapping):
        return {}, start, ["the front matter holds no named settings"]
    settings = {str(k): v for k, v in data.items()}
    return settings, start, list(odd_settings(settings))


def odd_settings(settings: Mapping[str, Any]) -> Iterator[str]:
    """What stands in the front matter and is no value that its name can have. The value is kept and not used."""
    for name in ("audience", "title"):
        said = settings.get(name)
        if name == "title" and isinstance(said, int | float):
            continue  # "title: 2026" is a title
        if said is not None and (not isinstance(said, str) or not said.strip()):
            hint = (
                'as in "audience: women over 60"' if name == "audience" else 'as in "title: Stronger calves"'
            )
            yield f'"{name}: {written(said)}" in the front matter was left out: it should be words, {hint}'
    register = settings.get("register")
    if register is not None and register not in REGISTERS:
        yield (
            f'"register: {written(register)}" in the front matter was left out: it should be '
            f"{', '.join(REGISTERS[:-1])} or {REGISTERS[-1]}"
        )
    checked = settings.get("checked")
    if checked is not None and not re.fullmatch(r"\d{4}-\d\d-\d\d.*", written(checked)):
        yield (
            f'"checked: {written(checked)}" in the front matter was left out: it should be a day, '
            "as in 2026-04-01"
        )
