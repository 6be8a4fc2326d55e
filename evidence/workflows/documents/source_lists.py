"""The sources of a script: each with the moments it is told of and what it supports."""

import re
from collections.abc import Mapping, Sequence
from itertools import chain
from pathlib import Path
from types import MappingProxyType

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import stored_records
from evidence.catalogue.tables import Reference
from evidence.publishing.formats import Wanted
from evidence.publishing.source_lists import Fitted, ListedSource, SourceList, fit_list, source_list_document
from evidence.reading.drafts import Draft, Sentence, read_draft
from evidence.workflows.documents.articles import find_cited, weigh_ties
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.making import made_from, require_apart
from evidence.workflows.weigh.inventing import INVENTED, find_inventions
from evidence.workflows.weigh.weighing import Weighing
from references.citing import label_records, short_citation

HOW_TO_CITE = (
    'A source is named by its key, [@oak2021], by its DOI, or in words: "Oak and Elm (2021)". '
    "Keys: steelyard refs list"
)


def publish_sources(
    catalogue: Catalogue,
    file: Path,
    output: Path | None,
    who: str,
    wanted: Wanted,
    limit: int | None = None,
    link: str = "",
) -> Output:
    """List the sources of a draft; as text it fits `limit` characters, and the notes say what was cut."""
    require_apart(output, file)
    draft = read_draft(file)
    weighed, notes = weigh_ties(catalogue, draft, who)
    rows, unknown = find_cited(catalogue, draft)
    named, unclear = find_named(catalogue, draft)
    listed = list_used(catalogue, draft, weighed, rows, link, named)
    fitted = fit_list(listed, limit) if wanted.format in ("txt", "md") else Fitted("", ())
    notes += [*unknown, *unclear, *(f"Cut: {line}." for line in fitted.cut)]
    notes += [] if listed.sources else [HOW_TO_CITE]
    return hand_out(
        catalogue,
        source_list_document(listed),
        output,
        wanted,
        "source list",
        list(weighed.values()),
        who,
        notes,
        text=fitted.text,
        references=list({row.id: row for row in [*rows.values(), *chain(*named.values())]}.values()),
    )


def find_named(catalogue: Catalogue, draft: Draft) -> tuple[dict[int, list[Reference]], list[str]]:
    """The references that are named in words, as captions do it, by the start of their sentence; and what is unclear.

    Only what fits the author and the year of one reference counts; whatever is merely near is told.
    """
    from evidence.workflows.drafts.knowing import know_catalogue
    from evidence.workflows.drafts.tying import propose_ties

    mentions = [t for t in propose_ties(draft, know_catalogue(catalogue)) if t.kind == "citation"]
    unclear = [
        f'{draft.name}, {m.place}: "{m.text}" is not listed ({"; ".join(m.reasons)}); nearest: {m.target}.'
        for m in mentions
        if m.score < 1
    ]
    with catalogue.reading() as session:
        known = {row.key: row for row in stored_records(session, sorted({m.target for m in mentions}))}
    named: dict[int, list[Reference]] = {}
    for mention in (m for m in mentions if m.score == 1):
        end = mention.replacement.start
        sentence = max((s.start for s in draft.sentences if s.start < end), default=0)
        named.setdefault(sentence, []).append(known[mention.target])
    return named, unclear


def tell_found(weighing: Weighing) -> str:
    """What was found for a claim, which need not be what the claim says."""
    return f"{weighing.wordings.short.rstrip('.')} ({weighing.confidence.level} confidence)"


def list_used(
    catalogue: Catalogue,
    draft: Draft,
    weighed: dict[str, Weighing],
    rows: dict[str, Reference],
    link: str,
    named: Mapping[int, Sequence[Reference]] = MappingProxyType({}),
) -> SourceList:
    """Every source of a draft in the order in which it is first told of."""
    told: dict[str, tuple[list[str], list[str]]] = {}
    known: dict[str, Reference] = {}

    def tell(row: Reference, at: int, said: str) -> None:
        known[row.key] = row
        places, supports = told.setdefault(row.key, ([], []))
        for entry, into in ((stamp(draft, at), places), (said, supports)):
            if entry and entry not in into:
                into.append(entry)

    for sentence in draft.sentences:
        claims = [weighed[key] for key in sentence.claims if key in weighed]
        said = "; ".join(tell_found(w) for w in claims)
        said = said or with_names(sentence, draft.source, rows)
        for citation in sentence.citations:
            for cited in citation.keys:
                if cited.key in rows:
                    tell(rows[cited.key], sentence.start, said)
        for row in named.get(sentence.start, ()):
            tell(row, sentence.start, said)
        for weighing in claims:
            for study in weighing.studies:
                for row in study.rows.references[:1]:
                    tell(row, sentence.start, tell_found(weighing))
    labels = label_records([as_record(row) for row in known.values()])
    made = made_from(catalogue)
    inventions = find_inventions(
        (s for w in weighed.values() for s in w.studies), known.values(), whole=INVENTED in draft.source
    )
    return SourceList(
        title=draft.title,
        made=made,
        sources=tuple(
            ListedSource(
                key,
                tuple(places),
                labels[key],
                known[key].doi or "",
                tuple(said),
                inventions.notice_of(key, known[key].notice or ""),
            )
            for key, (places, said) in told.items()
        ),
        checked=made.date,
        link=link,
        invented=inventions.any,
        made_up=inventions.names,
    )


def with_names(sentence: Sentence, source: str, rows: Mapping[str, Reference]) -> str:
    """A sentence with the short form of each source whose key or DOI is a word of it ("As @key showed")."""
    text = sentence.text
    for citation in reversed(sentence.citations):
        at = citation.plain - sentence.plain_start
        names = [(c.key, short_citation(as_record(rows[c.key]))) for c in citation.keys if c.key in rows]
        if not names or source[citation.start] in "([":
            continue
        key, name = names[0]
        if citation.running and text.startswith(key, at):
            text = f"{text[:at]}{name}{text[at + len(key) :]}"
        elif citation.address and citation.setting == "here":
            before, after = text[:at].rstrip(), text[at:].lstrip()
            if not after and before.endswith(
                (".", "!", "?")
            ):  # "..., see DOI." keeps its stop behind the name
                before, after = before[:-1], before[-1]
            text = f"{before} {name} {after}".strip()
    return re.sub(r" (?=[.,;:!?])", "", text)


def stamp(draft: Draft, at: int) -> str:
    """The time stamp of a place as people write it under a video (1:05), where the draft has times; else its line."""
    place = draft.place(at)
    if place.cue is None:
        return f"line {place.line}"
    hours, minutes, seconds = place.cue.split(":")
    whole = f"{int(minutes):02d}:{int(float(seconds)):02d}"
    return f"{int(hours)}:{whole}" if int(hours) else whole
