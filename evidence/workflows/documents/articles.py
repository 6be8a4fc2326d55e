"""A draft made ready to publish: citations set in a style, an evidence box for each claim it makes, its sources."""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import keys_by_doi, keys_of_references, stored_records
from evidence.catalogue.tables import Reference as Row
from evidence.errors import BadInput, NotFound
from evidence.publishing.articles import CITED, TIED, Article, CitationText, article_document, hold
from evidence.publishing.formats import Wanted
from evidence.publishing.marked_text import HOLD, RELEASE
from evidence.publishing.sources import Reference
from evidence.reading.drafts import Citation, CitedKey, Draft, read_draft
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.gather.sources import list_sources
from evidence.workflows.making import made_from, require_apart
from evidence.workflows.weigh.inventing import INVENTED, find_inventions
from evidence.workflows.weigh.weighing import Weighing, weigh_and_keep
from references.citing import format_bibliography, inline, label_records, name_authors, sort_records
from references.identifiers import normalise_doi
from references.record import Record
from references.text import plain

FIGURES = re.compile(r"\d+")  # of a place: words for it differ between styles ("p. 2", "p2")


@dataclass(frozen=True, slots=True)
class Cited:
    """The citations of a draft as a style sets them, and the list of sources in the style's order.

    `notes`: places in a source that the style does not print.
    """

    citations: tuple[CitationText, ...]
    references: tuple[Reference, ...]
    numbered: bool
    notes: tuple[str, ...] = ()


def publish_article(
    catalogue: Catalogue, file: Path, output: Path | None, who: str, wanted: Wanted, style: str = "plain"
) -> Output:
    """Set a draft as an article. The notes name sources and claims that the catalogue does not hold, and notices.

    Raises StyleProblem where a style cannot be applied.
    """
    require_apart(output, file)
    require_style(style)
    draft = read_draft(file)
    weighed, notes = weigh_ties(catalogue, draft, who)
    rows, unknown = find_cited(catalogue, draft)
    notes += [f"{draft.name}: {note}" for note in draft.notes]
    notes += unknown
    if not weighed and not rows:
        notes.append(
            f"{draft.name}: nothing in it is tied to a claim or cites a source by its key or DOI, so nothing was held "
            f"against the catalogue. `steelyard draft tie {file}` proposes ties."
        )
    cited = set_citations(list(citations_of(draft)), rows, style)
    notes += cited.notes
    notes += [f"{row.key} is marked as {row.notice}." for row in rows.values() if row.notice]
    named = {r.key for r in cited.references}
    behind = [
        s for s in list_sources(s.rows for w in weighed.values() for s in w.studies) if s.key not in named
    ]
    made = made_from(catalogue)
    inventions = find_inventions(
        (s for w in weighed.values() for s in w.studies), rows.values(), whole=INVENTED in draft.source
    )
    article = Article(
        title=draft.title,
        text=mark_places(draft, cited.citations),
        made=made,
        citations=cited.citations,
        briefs={key: make_brief(catalogue, w, made) for key, w in weighed.items()},
        references=inventions.mark_sources(cited.references),
        behind=inventions.mark_sources(behind),
        numbered=cited.numbered,
        language=str(draft.settings.get("lang") or "en")[:8],
        author=str(draft.settings.get("author") or ""),
        invented=inventions.any,
        made_up=inventions.names,
        checked=f"against the catalogue as of {made.date}" if weighed or rows else "",
    )
    document = article_document(article)
    sources = list({row.id: row for row in rows.values()}.values())
    return hand_out(
        catalogue,
        document,
        output,
        wanted,
        "article",
        list(weighed.values()),
        who,
        notes,
        references=sources,
    )


def citations_of(draft: Draft) -> Sequence[Citation]:
    """The citations of a draft in the order of the text."""
    return sorted((c for block in draft.blocks for c in block.citations), key=lambda c: c.start)


def weigh_ties(catalogue: Catalogue, draft: Draft, who: str) -> tuple[dict[str, Weighing], list[str]]:
    """The claims that a draft is tied to, weighed; and what to say of those that the catalogue does not hold."""
    weighed: dict[str, Weighing] = {}
    notes = []
    for tie in sorted((t for block in draft.blocks for t in block.ties), key=lambda t: t.start):
        if tie.claim in weighed:
            continue
        try:
            weighed[tie.claim] = weigh_and_keep(catalogue, tie.claim, who)
        except NotFound as problem:
            notes.append(f"{draft.name}, {draft.place(tie.start)}: {problem}")
    return weighed, notes


def find_cited(catalogue: Catalogue, draft: Draft) -> tuple[dict[str, Row], list[str]]:
    """The references that a draft cites, as it names them, and what to say of those the catalogue does not hold."""
    citations = citations_of(draft)
    rows = find_sources(catalogue, {cited.key for citation in citations for cited in citation.keys})
    notes = [
        f"{draft.name}, {draft.place(citation.start)}: {tell_missing(cited.key)}"
        for citation in citations
        for cited in citation.keys
        if cited.key not in rows
    ]
    return rows, notes


def find_sources(catalogue: Catalogue, keys: Collection[str]) -> dict[str, Row]:
    """The references with these keys or DOIs, by what was typed; capitals do not matter."""
    if not keys:
        return {}
    wanted = {key.casefold() for key in keys}
    with catalogue.reading() as session:
        stored = {key.casefold(): key for key in keys_of_references(session) if key.casefold() in wanted}
        typed = {key: doi for key in keys if key.casefold() not in stored and (doi := normalise_doi(key))}
        by_doi = keys_by_doi(session, typed.values())
        named = {key: stored[key.casefold()] for key in keys if key.casefold() in stored}
        named |= {key: by_doi[doi] for key, doi in typed.items() if doi in by_doi}
        rows = {row.key: row for row in stored_records(session, sorted(set(named.values())))}
    return {key: rows[name] for key, name in named.items()}


def tell_missing(key: str) -> str:
    """That the catalogue holds no such source, typed as a key or as a DOI."""
    if doi := normalise_doi(key):
        return f"no source has the DOI {doi}. To add it: steelyard refs look-up {doi}"
    return f"no source has the key {key}."


def set_citations(citations: Sequence[Citation], rows: dict[str, Row], style: str) -> Cited:
    """Each citation as the style sets it, and the list of sources in the style's order.

    A key that no source has stays visible beside those that are known, with its place.
    """
    records = {key: as_record(row) for key, row in rows.items()}
    known = [[k for k in c.keys if k.key in records] for c in citations]
    texts, entries, order = _by_style(
        [[(records[k.key], k) for k in keys] for keys in known], list(records.values()), style
    )
    places = {record.key: place for place, record in enumerate(order, 1)}
    filled = iter(texts)
    set_: list[CitationText] = []
    unprinted: list[str] = []
    for citation, keys in zip(citations, known, strict=True):
        lost = tell_unknown([k for k in citation.keys if k.key not in records])
        if not keys:
            set_.append(CitationText(lost, known=False))
            continue
        text = next(filled)
        unprinted += [
            f'The style "{style}" prints no places: "{k.locator}" of {k.key} is not in the text.'
            for k in keys
            if not set(FIGURES.findall(k.locator)) <= set(FIGURES.findall(text))
        ]
        if citation.running:
            text = run_in(text, records[keys[0].key])
        set_.append(CitationText(f"{text} {lost}".rstrip(), places[records[keys[0].key].key]))
    by_key = {row.key: row for row in rows.values()}
    numbered = bool(set_) and all(re.search(r"[A-Za-z]{3}", text) is None for text in texts)
    references = tuple(
        Reference(
            r.key,
            text,
            f"https://doi.org/{doi}" if (doi := by_key[r.key].doi) else "",
            by_key[r.key].notice or "",
        )
        for r, text in zip(order, entries, strict=True)
    )
    return Cited(tuple(set_), references, numbered, tuple(dict.fromkeys(unprinted)))


def place_in_text(citation: Citation, told: CitationText) -> tuple[int, int] | None:
    """The stretch of the text that a citation takes, empty where it stands behind a link; None: all stays as typed.

    An address that leads to a source of which nothing is known still leads there.
    """
    if citation.setting == "nowhere" or (citation.address and not told.known):
        return None
    return citation.end if citation.setting == "behind" else citation.start, citation.end


def tell_unknown(keys: Sequence[CitedKey]) -> str:
    """Keys that no source has, with their places: `[source not in the catalogue: oak1999, p. 3]`. Empty for none."""
    if not keys:
        return ""
    named = "; ".join(f"{k.key}, {k.locator}" if k.locator else k.key for k in keys)
    return f"[source not in the catalogue: {named}]"


def run_in(text: str, record: Record) -> str:
    """A citation whose names are words of the sentence: `Lehman et al. (2004)`, or before a number `Lehman et al. (3)`.

    Bare keys are read as pandoc's Markdown reads them. A form that is not known is left as the style sets it.
    """
    dated = re.fullmatch(r"\((?P<names>.+?),? (?P<date>\d{4}[a-z]?|n\.d\.[a-z]?|in press)\)", text)
    if dated is not None:
        return f"{dated['names'].replace(' & ', ' and ')} ({dated['date']})"
    if re.search(r"[^\W\d_]", text) is None:
        return f"{name_authors(record).replace(' & ', ' and ')} {text}"
    return text


def require_style(style: str) -> None:
    """Refuse a style that is none before anything is set in it, cited or not. Raises StyleProblem."""
    if style != "plain":
        from references.csl import read_style

        read_style(style)


def _by_style(
    clusters: list[list[tuple[Record, CitedKey]]], records: list[Record], style: str
) -> tuple[list[str], list[str], list[Record]]:
    """The clusters that hold anything as text, the entries of the list, and the records in the order of the list."""
    held = [cluster for cluster in clusters if cluster]
    listed = list({r.key: r for r in records}.values())
    if style == "plain" or not held:
        labels = label_records(listed)
        order = sort_records(listed)
        texts = [
            inline(
                [r for r, _ in c],
                labels=labels,
                locators={r.key: k.locator for r, k in c},
                prefixes={r.key: k.prefix for r, k in c},
            )
            for c in held
        ]
        return texts, [plain(e) for e in format_bibliography(order, "plain")], order
    from references.csl import Cited as CslCited
    from references.csl import format_document, format_entries

    made = format_document(
        [[CslCited(r, k.locator or None, k.prefix or None) for r, k in c] for c in held], style
    )
    order = _order_of(made.bibliography, listed, [format_entries([r], style)[0] for r in listed])
    entries = [re.sub(r"^\s*[\[(]?\d{1,4}[\])]?[.\s]\s*", "", plain(e)) for e in made.bibliography]
    return [plain(t) for t in made.citations], entries, order


def _order_of(bibliography: Sequence[str], records: list[Record], alone: list[str]) -> list[Record]:
    """Which record each entry of a bibliography is of: by its title, which every style prints."""
    left = list(zip(records, alone, strict=True))
    order = []
    for entry in bibliography:
        letters = _letters(entry)
        best = max(left, key=lambda item: _shared(letters, item[0], _letters(item[1])))
        left.remove(best)
        order.append(best[0])
    return order


def _letters(text: str) -> str:
    return re.sub(r"[\W\d_]+", "", plain(text)).casefold()


def _shared(entry: str, record: Record, alone: str) -> tuple[bool, bool]:
    title = _letters(record.title or "")
    return (alone == entry, bool(title) and title in entry)


def mark_places(draft: Draft, set_: Sequence[CitationText]) -> str:
    """The source as Markdown in which each citation and the end of each tied sentence is a place to be filled in."""
    if draft.format not in ("markdown", "docx", "text"):
        raise BadInput(
            "captions are no article.",
            where=draft.name,
            hint="Use: steelyard publish sources, for the list under a video.",
        )
    edits: list[tuple[int, int, str]] = []
    for number, (citation, told) in enumerate(zip(citations_of(draft), set_, strict=True)):
        if (place := place_in_text(citation, told)) is not None:
            edits.append((*place, ("" if place[0] < place[1] else " ") + hold(CITED, number)))
    for tie in (t for block in draft.blocks for t in block.ties):
        close = draft.source.rfind("]", tie.start, draft.source.rfind("{", tie.start, tie.end))
        edits += [(tie.start, tie.start + 1, ""), (close, tie.end, hold(TIED, tie.claim))]
    text = draft.source.replace(HOLD, "\ufffd").replace(RELEASE, "\ufffd")
    for start, end, new in sorted(edits, key=lambda e: (-e[0], -e[1])):
        text = text[:start] + new + text[end:]
    front = re.match(r"---\n.*?\n(?:---|\.\.\.)\n", text, re.DOTALL) if draft.settings else None
    body = text[front.end() :] if front else text
    body = re.sub(r"(?<=\])\{[^}\n]{0,400}\}", "", body)  # attributes of other spans
    return body if draft.format == "markdown" else "\n\n".join(_as_typed(line) for line in body.split("\n"))


def _as_typed(line: str) -> str:
    """A line of plain text in which nothing is a mark of Markdown."""
    pieces = re.split(f"({HOLD}[^{RELEASE}]*{RELEASE})", line)
    return "".join(p if p.startswith(HOLD) else re.sub(r"([!-/:-@\[-`{-~])", r"\\\1", p) for p in pieces)
