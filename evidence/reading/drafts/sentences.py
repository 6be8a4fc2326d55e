"""Running text cut into sentences, each with its place in the source, its citations and its ties."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from evidence.reading.drafts.model import Acceptance, Block, Citation, Sentence

# What may stand before a full stop inside a sentence. Common practice, no source.
_SHORT = frozenset((
    "al", "approx", "ca", "cf", "dr", "e.g", "eg", "etc", "ex", "fig", "figs", "i.e", "ie", "incl", "jr", "max", "min",
    "mr", "mrs", "ms", "no", "nos", "p", "pp", "prof", "resp", "sec", "sr", "st", "tab", "vol", "vs",
))  # fmt: skip
_END = re.compile(r"""[.!?…]+["'”’)\]»*_]*(?=\s|$)|\n\s*\n|(?<=[。！？])""")
_PARENTHESIS_ONLY = re.compile(r"\s*\([^()]*\)\.?\s*$")
LONGEST = 1_500  # characters of a sentence: a longer run without a stop is cut at a space; common practice, no source
NO_WORD = re.compile(r"\S{100,}")  # longer than any word or address that a check could know


def cut(text: str) -> list[tuple[int, int]]:
    """Start and end of each sentence in a text, without the white space around it."""
    spans: list[tuple[int, int]] = []
    start = 0
    for found in _END.finditer(text):
        if not _ends_here(text, found):
            continue
        _add(spans, text, start, found.end())
        start = found.end()
    _add(spans, text, start, len(text))
    return [piece for span in spans for piece in _pieces(text, *span)]


def _pieces(text: str, start: int, end: int) -> Iterable[tuple[int, int]]:
    """A sentence, or the parts of one that is longer than any (captions without a stop, a word of 100,000 letters)."""
    while end - start > LONGEST:
        space = text.rfind(" ", start + LONGEST // 2, start + LONGEST)
        stop = space if space >= 0 else start + LONGEST
        yield start, stop
        start = stop + (space >= 0)
    if end > start:
        yield start, end


def without_endless_words(text: str) -> str:
    """A text in which what is too long for a word is dots, of the same length: places hold, and checks stay linear."""
    return NO_WORD.sub(lambda found: "·" * len(found.group()), text) if len(text) >= 100 else text


def _add(spans: list[tuple[int, int]], text: str, start: int, end: int) -> None:
    while start < end and text[start].isspace():
        start += 1
    while end > start and text[end - 1].isspace():
        end -= 1
    if start == end:
        return
    # "Seated: plus 2.7. (Heronsgill 2023.)": a bracket behind the full stop belongs to what stands before it.
    if spans and len(text[start:end]) < 200 and _PARENTHESIS_ONLY.fullmatch(text[start:end]):
        spans[-1] = (spans[-1][0], end)
        return
    spans.append((start, end))


def _ends_here(text: str, found: re.Match[str]) -> bool:
    if not found.group().startswith("."):
        return True
    before = text[max(found.start() - 12, 0) : found.start()]
    word = re.search(r"[\w.]+$", before)
    last = word.group().lower().strip(".") if word else ""
    following = text[found.end() : found.end() + 40].lstrip()
    if last in _SHORT and following:
        return last == "etc" and following[:1].isupper()
    if len(last) == 1 and last.isalpha() and following[:1].isupper() and word and word.group()[0].isupper():
        return False  # an initial
    return not following[:1].islower()


def read_sentences(blocks: Sequence[Block]) -> Iterable[Sentence]:
    """The sentences of all blocks, in order."""
    before: list[Acceptance] = []  # acceptances on a line of their own, waiting for the text behind them
    for number, block in enumerate(blocks):
        spans = cut(block.text)
        if not spans:
            before += [a for a in block.accepted if a.own_line]
            if block.citations:  # a list of sources holds no words, but each of them is looked up
                yield _sources_alone(block, number)
            continue
        made = [
            Sentence(without_endless_words(block.text[a:b]), number, a, b, *block.source_span(a, b))
            for a, b in spans
        ]
        made = _attach(block, made)
        if before:
            made[0] = replace(made[0], accepted=(*before, *made[0].accepted))
            before = []
        yield from made


def _sources_alone(block: Block, number: int) -> Sentence:
    """A block of nothing but citations: a sentence without words."""
    first, last = block.citations[0].start, block.citations[-1].end
    return Sentence("", number, 0, 0, first, last, block.citations)


def _attach(block: Block, sentences: list[Sentence]) -> list[Sentence]:
    ends = [s.plain_end for s in sentences]
    citations: dict[int, list[Citation]] = {}
    for citation in block.citations:
        citations.setdefault(_holder(ends, citation.plain), []).append(citation)
    claims: dict[int, dict[str, None]] = {}
    for tie in block.ties:
        for i in _between(sentences, tie.plain_start, tie.plain_end):
            claims.setdefault(i, {})[tie.claim] = None
    accepted: dict[int, list[Acceptance]] = {}
    for one in block.accepted:
        if one.plain_end > one.plain_start:
            held: Iterable[int] = _between(sentences, one.plain_start, one.plain_end)
        elif one.own_line:
            held = [min(_next(sentences, one.plain_start), len(sentences) - 1)]
        else:
            held = [_holder(ends, one.plain_start)]
        for i in held:
            accepted.setdefault(i, []).append(one)
    return [
        replace(
            s,
            citations=tuple(citations.get(i, ())),
            claims=tuple(claims.get(i, ())),
            accepted=tuple(accepted.get(i, ())),
        )
        for i, s in enumerate(sentences)
    ]


def _holder(ends: list[int], plain: int) -> int:
    """The sentence that a mark belongs to: one behind a full stop belongs to what it follows."""
    from bisect import bisect_left

    at = bisect_left(ends, plain)
    if at < len(ends) and at > 0 and plain <= ends[at - 1] + 1:
        return at - 1
    return min(at, len(ends) - 1)


def _next(sentences: list[Sentence], plain: int) -> int:
    from bisect import bisect_left

    return bisect_left(sentences, plain, key=lambda s: s.plain_start)


def _between(sentences: list[Sentence], start: int, end: int) -> Iterable[int]:
    at = max(_next(sentences, start) - 1, 0)
    while at < len(sentences) and sentences[at].plain_start < end:
        if sentences[at].plain_end > start:
            yield at
        at += 1
