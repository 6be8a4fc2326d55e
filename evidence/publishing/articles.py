"""An article: the draft with its citations set, an evidence box for each claim, and the list of sources."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from evidence.publishing.boxes import evidence_box
from evidence.publishing.briefs import Brief
from evidence.publishing.document import (
    Block,
    Document,
    Heading,
    Items,
    Prose,
    Span,
    plain_text,
    section,
    sources,
    strong,
)
from evidence.publishing.marked_text import HOLD, RELEASE, Resolve, read_marked_text
from evidence.publishing.sources import Made, Reference

CITED, TIED = (
    "c",
    "t",
)  # what a place to be filled in holds: a citation, or the end of a sentence tied to a claim


@dataclass(frozen=True, slots=True)
class CitationText:
    """A citation as the style sets it, and the place of its first source in the list (0: none)."""

    text: str
    first: int = 0
    known: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Article:
    """A draft ready to be set. `text` is Markdown in which `hold` marks each citation and each tied sentence.

    `numbered`: the list of sources carries numbers, as the style cites by them. `behind`: studies of the evidence boxes
    that the text itself does not cite.
    """

    title: str
    text: str
    made: Made
    citations: Sequence[CitationText] = ()
    briefs: Mapping[str, Brief]
    references: Sequence[Reference] = ()
    behind: Sequence[Reference] = ()
    numbered: bool = False
    language: str = "en"
    author: str = ""
    invented: bool = False
    made_up: tuple[str, ...] = ()
    checked: str = ""


def hold(kind: str, name: str | int) -> str:
    """What stands in the text for a citation (by number) or the end of a tied sentence (by the claim's key)."""
    return f"{HOLD}{kind}{name}{RELEASE}"


def article_document(article: Article) -> Document:
    """The article as a document: each claim's box stands behind the block that first makes the claim."""
    ties: list[str] = []

    def resolve(piece: str) -> Prose:
        if piece.startswith(TIED):
            ties.append(piece[1:])
            return ()
        return _set_citation(article.citations[int(piece[1:])])

    blocks: list[Block] = []
    boxed: set[str] = set()
    for block, keys in _blocks_with_ties(article.text, resolve, ties):
        if not (isinstance(block, Heading) and block.level == 1 and plain_text(block.text) == article.title):
            blocks.append(block)
        for key in keys:
            if key in article.briefs and key not in boxed:
                boxed.add(key)
                blocks.append(evidence_box(article.briefs[key], article.made_up))
    return Document(
        title=article.title,
        kicker=f"Checked {article.checked}" if article.checked else "",
        blocks=(*blocks, *_source_lists(article)),
        made=article.made,
        author=article.author,
        language=article.language,
        invented=article.invented,
        made_up=article.made_up,
    )


def _blocks_with_ties(
    text: str, resolve: Resolve, ties: list[str]
) -> Iterator[tuple[Block, tuple[str, ...]]]:
    """Each block of the text with the claims whose sentences end in it, in their order."""
    for block in read_marked_text(text, resolve):
        yield block, tuple(ties)
        ties.clear()


def _set_citation(citation: CitationText) -> Prose:
    if not citation.known:
        return (strong(citation.text),)
    return (Span(citation.text, target=f"ref-{citation.first}" if citation.first else ""),)


def _source_lists(article: Article) -> list[Block]:
    lists: list[Block] = []
    if article.references:
        lists += list(sources(article.references))
        if not article.numbered:
            lists = [_unnumbered(b) if isinstance(b, Items) else b for b in lists]
    if article.behind:
        entries = sources(article.behind)[1]
        assert isinstance(entries, Items)
        lists += [section("Studies behind the evidence boxes"), Items(entries.items)]
    return lists


def _unnumbered(items: Items) -> Items:
    return Items(items.items, ordered=False, anchors=items.anchors)
