"""The list of sources for under a video: plain text, with time stamps, that fits a number of characters."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.errors import BadInput
from evidence.publishing.document import Document, cell, prose, soft, table
from evidence.publishing.sources import Made, tell_invented
from evidence.publishing.templating import clean_text

SHORT = 60  # characters that "supports" is cut to before it is left out


@dataclass(frozen=True, slots=True)
class ListedSource:
    """One source: when it is told of (time stamps or places), short reference, DOI, what it supports, and a notice."""

    key: str
    at: tuple[str, ...]
    short: str
    doi: str = ""
    supports: tuple[str, ...] = ()
    notice: str = ""


@dataclass(frozen=True, slots=True)
class SourceList:
    """All sources of a script. `checked`: the day of the catalogue's state; `link`: where the full list stands."""

    title: str
    made: Made
    sources: tuple[ListedSource, ...]
    checked: str
    link: str = ""
    invented: bool = False
    made_up: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fitted:
    """The text, and what was cut to make it fit, a line each."""

    text: str
    cut: tuple[str, ...]


def fit_list(listed: SourceList, limit: int | None = None) -> Fitted:
    """The list as text of at most `limit` characters; what was cut is told, in the text too where sources are missing.

    Cut in this order: long statements, all statements, all but the first time stamp, sources from the end.
    BadInput where not even one source fits.
    """
    whole = _write(listed, listed.sources)
    if limit is None or len(whole) <= limit:
        return Fitted(whole, ())
    cut: list[str] = []
    sources = listed.sources
    for say, change in (
        (f"what sources support was cut to {SHORT} characters", _shorten),
        ("what each source supports", _without_support),
        ("all but the first place of each source", _first_place),
    ):
        changed = tuple(change(s) for s in sources)
        if changed == sources:
            continue
        sources, cut = changed, [*[c for c in cut if "characters" not in c], say]
        if len(text := _write(listed, sources)) <= limit:
            return Fitted(text, tuple(cut))
    for kept in range(len(sources) - 1, 0, -1):
        text = _write(listed, sources[:kept], left_out=len(sources) - kept)
        if len(text) <= limit:
            names = "; ".join(s.short for s in sources[kept:])
            return Fitted(text, (*cut, f"{len(sources) - kept} of {len(sources)} sources: {names}"))
    least = len(_write(listed, sources[:1], left_out=len(sources) - 1))
    raise BadInput(
        f"A limit of {limit} holds not even one source.",
        hint=f"The shortest list has {least}: use --limit {least}.",
    )


def source_list_document(listed: SourceList) -> Document:
    """The list as a document with one table."""
    rows = [
        (
            ", ".join(s.at),
            cell(prose(f"{s.notice}. " if s.notice else "", s.short), prose(soft(s.doi and f"doi:{s.doi}"))),
            cell(*s.supports),
        )
        for s in listed.sources
    ]
    blocks = (table("Sources", ("At", "Source", "What it supports"), rows, shares=(1.6, 3.4, 5)),)
    return Document(
        title=f"Sources: {listed.title}",
        kicker=f"Last checked {listed.checked}",
        blocks=blocks,
        made=listed.made,
        invented=listed.invented,
        made_up=listed.made_up,
    )


def _shorten(source: ListedSource) -> ListedSource:
    cut = (text if len(text) <= SHORT else f"{text[: SHORT - 1].rstrip()}…" for text in source.supports[:1])
    return replace(source, supports=tuple(cut))


def _without_support(source: ListedSource) -> ListedSource:
    return replace(source, supports=())


def _first_place(source: ListedSource) -> ListedSource:
    return replace(source, at=source.at[:1])


def _write(listed: SourceList, sources: Sequence[ListedSource], left_out: int = 0) -> str:
    lines = [tell_invented(True, listed.made_up)] if listed.invented else []
    lines.append("SOURCES" if sources else "No source is cited.")
    for source in sources:
        doi = f", doi.org/{source.doi}" if source.doi else ""
        notice = f" [{source.notice.upper()}]" if source.notice else ""
        lines.append(f"{', '.join(source.at)} {source.short}{doi}{notice}".strip())
        lines += [f"  supports: {text}" for text in source.supports]
    if left_out:
        where = f" All of them: {listed.link}" if listed.link else ""
        lines.append(
            f"{left_out} more {'source' if left_out == 1 else 'sources'} left out for length.{where}"
        )
    elif listed.link:
        lines.append(f"More: {listed.link}")
    lines.append(f"Checked {listed.checked}, catalogue {listed.made.catalogue_hash}.")
    return clean_text("\n".join(lines)) + "\n"
