"""Finding references by words: a question in plain words, filters, ranked answers with the place of the words."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    Clause,
    ReferenceSearch,
    Subject,
    Term,
    latest_appraisals,
    search_references,
)
from evidence.catalogue.tables import Appraisal, Reference
from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.gather.reference_lists import READING_STATES, read_years, state_of
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from references.citing import short_citation
from references.folding import search_words
from references.text import plain
from references.topics import same_topic

STATES = (*READING_STATES, "results-entered", "cited-by-claim", "noticed", "in-study", "no-study")
NAMES, JOURNAL, ABOUT = ("names",), ("container",), ("title", "rest", "abstract")
AROUND = 160  # characters of a snippet
MOST_WORDS = 40  # of one question; what comes after says nothing more
_PIECE = re.compile(r'"([^"]*)"|“([^”]*)”|([^\s"“”]+)')
_SPACED = re.compile(r"[^\W_](?:\S*[^\W_])?")  # marks round a word are none of it
_IDEOGRAPH = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\U00020000-\U0002ffff]")


@dataclass(frozen=True, slots=True)
class Snippet:
    """A stretch of title or abstract; `hits`: start and end of each word of the question in it."""

    text: str
    hits: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class FoundReference:
    """One answer, best first. `where`: title, abstract, or "" where the words stand in another field."""

    key: str
    short: str
    title: str
    state: str
    where: str
    snippet: Snippet | None


@dataclass(frozen=True, slots=True)
class FoundPage:
    """Some of the answers: `start` counts from 1, `total` are all that fit. `filters`: how they were understood."""

    found: tuple[FoundReference, ...]
    start: int
    total: int
    filters: tuple[str, ...]


def find_references(
    catalogue: Catalogue,
    query: str = "",
    *,
    author: str | None = None,
    year: str | None = None,
    journal: str | None = None,
    topic: str | None = None,
    region: str | None = None,
    exercise: str | None = None,
    state: str | None = None,
    most: int | None = 25,
    start: int = 1,
) -> FoundPage:
    """References in which every word of the query stands, as the beginning of a word; "in quotes" as a phrase.

    Searched: all authors and editors, title, journal, keywords, identifiers, note, abstract. Accents and case do not
    matter. Any text may be given: there are no operators. Without a query, all that pass the filters, by key.

    `author`, `journal`: words of one; `year`: "2017", "2015-2020", "2015-" or "-1990"; `topic`: words of title,
    keywords or abstract, or other words for the same; `region`, `exercise`: studied in a study that is entered, or
    named in title, keywords or abstract; `state`: one of STATES. Raises BadInput, Ambiguous, NotFound for a filter
    that means nothing.
    """
    if state is not None and state not in STATES:
        raise BadInput(f"{state!r} is no state", hint=f"There are: {', '.join(STATES)}.")
    first, last = read_years(year)
    terms, pieces = read_query(query)
    if query.strip() and not terms and not pieces:
        return FoundPage((), start, 0, ())
    clauses = [Clause((term,)) for term in terms]
    clauses += [Clause((term,), NAMES) for term in read_filter_words(author, "author")]
    clauses += [Clause((term,), JOURNAL) for term in read_filter_words(journal, "journal")]
    clauses += list(read_topic(topic))
    vocabulary = vocabulary_of(catalogue) if region or exercise else None
    regions = tuple(name_region(vocabulary, region)) if vocabulary and region else ()
    exercises = tuple(name_exercise(vocabulary, exercise)) if vocabulary and exercise else ()
    wanted = ReferenceSearch(
        clauses=tuple(clauses),
        pieces=pieces,
        year_from=first,
        year_to=last,
        regions=regions,
        exercises=exercises,
        reading_state=READING_STATES.get(state or ""),
        noticed=state == "noticed",
        in_study={"in-study": True, "no-study": False}.get(state or ""),
        with_results=state == "results-entered",
        cited=state == "cited-by-claim",
    )
    with catalogue.reading() as session:
        if wanted.cited:
            counted = counted_studies(latest_appraisals(session).values())
            wanted = replace(wanted, cited_studies=tuple(counted))
        rows, total = search_references(session, wanted, limit=most, offset=start - 1)
    understood = [f"{kind}: {', '.join(s.ids[:1])}" for kind, s in _named(regions, exercises)]
    return FoundPage(tuple(as_found(row, terms, pieces) for row in rows), start, total, tuple(understood))


def counted_studies(appraisals: Iterable[Appraisal]) -> set[str]:
    """Keys of the studies that weighings counted."""
    return {study["study"] for appraisal in appraisals for study in appraisal.body.get("studies", ())}


def _named(regions: Iterable[Subject], exercises: Iterable[Subject]) -> Iterator[tuple[str, Subject]]:
    yield from (("region", subject) for subject in regions)
    yield from (("exercise", subject) for subject in exercises)


def read_query(text: str) -> tuple[tuple[Term, ...], tuple[str, ...]]:
    """Terms of a question, and stretches of scripts without spaces, which are looked for as they stand."""
    terms: list[Term] = []
    pieces: list[str] = []
    for quoted, curly, bare in _PIECE.findall(text.replace("\x00", " ")):
        given = quoted or curly or bare
        if _IDEOGRAPH.search(given):
            pieces.append(given.casefold())
        elif words := search_words(given):
            terms.append(Term(tuple(words[:MOST_WORDS]), whole=not bare))
    return tuple(terms[:MOST_WORDS]), tuple(pieces[:MOST_WORDS])


def read_filter_words(text: str | None, what: str) -> tuple[Term, ...]:
    """The words of a filter, each as the beginning of a word. Raises BadInput where it has none."""
    if text is None:
        return ()
    words = search_words(text)
    if not words:
        raise BadInput(f"{text!r} names no {what}", hint="Give a word or the beginning of one.")
    return tuple(Term((word,)) for word in words[:MOST_WORDS])


def read_topic(text: str | None) -> Iterator[Clause]:
    """For each topic that is named: its words, or other words for the same topic."""
    if text is None:
        return
    read_filter_words(text, "topic")
    for names in same_topic(text):
        terms = (Term(tuple(words)) for name in names if (words := search_words(name)))
        yield Clause(tuple(terms), ABOUT)


def name_region(vocabulary: Vocabulary, text: str) -> Iterator[Subject]:
    """The region that is named, with the regions inside it and all their names."""
    wanted = require_match(vocabulary.find_region(text), "region")
    ids = (wanted, *vocabulary.descendants(wanted))
    region = vocabulary.regions[wanted]
    yield Subject(ids, write_names((text, region.name, region.latin, *region.names)))


def name_exercise(vocabulary: Vocabulary, text: str) -> Iterator[Subject]:
    """The exercise that is named, with its variants and all its names."""
    wanted = require_match(vocabulary.find_exercise(text), "exercise")
    exercise = vocabulary.exercises[wanted]
    ids = (wanted, *vocabulary.exercise_descendants(wanted))
    yield Subject(ids, write_names((text, exercise.name, *exercise.names)))


def write_names(names: Iterable[str]) -> Clause:
    """Any of the names, in title, keywords or abstract."""
    words = dict.fromkeys(tuple(search_words(name)) for name in names)
    return Clause(tuple(Term(name) for name in words if name), ABOUT)


def as_found(row: Reference, terms: Sequence[Term], pieces: Sequence[str]) -> FoundReference:
    """A reference as an answer, with the stretch of title or abstract that holds most of the words."""
    record = as_record(row)
    best: tuple[int, str, Snippet] | None = None
    for where, text in (("title", plain(record.title)), ("abstract", plain(record.abstract))):
        told = cut_snippet(text, terms, pieces)
        if told is not None and (best is None or told[0] > best[0]):
            best = (told[0], where, told[1])
    return FoundReference(
        row.key,
        short_citation(record),
        row.title,
        state_of(row),
        best[1] if best else "",
        best[2] if best else None,
    )


def cut_snippet(text: str, terms: Sequence[Term], pieces: Sequence[str]) -> tuple[int, Snippet] | None:
    """The stretch of a text with the most different terms, and how many of them it has; None where there is none."""
    marks: list[tuple[int, int, int]] = []  # start, end, which term
    words = [(found.start(), found.end(), search_words(found.group())) for found in _SPACED.finditer(text)]
    flat = [(start, end, word) for start, end, folded in words for word in folded]
    for number, term in enumerate(terms):
        length = len(term.words)
        for at in range(len(flat) - length + 1):
            if _stands(term, [word for _, _, word in flat[at : at + length]]):
                marks.append((flat[at][0], flat[at + length - 1][1], number))
    lower = text.casefold()
    for number, piece in enumerate(pieces, len(terms)):
        if (at := lower.find(piece)) >= 0 and len(lower) == len(text):
            marks.append((at, at + len(piece), number))
    if not marks:
        return None
    marks.sort()
    window = (
        max(
            (
                [mark for mark in marks[first:] if mark[1] - marks[first][0] <= AROUND]
                for first in range(len(marks))
            ),
            key=lambda held: (len({number for _, _, number in held}), -held[0][0] if held else 0),
        )
        or marks[:1]
    )
    start, end = _widen(text, window[0][0], window[-1][1])
    hits = tuple(dict.fromkeys((max(s, start) - start, min(e, end) - start) for s, e, _ in window))
    before, after = ("… " if start else ""), (" …" if end < len(text) else "")
    shifted = tuple((s + len(before), e + len(before)) for s, e in hits)
    return len({number for _, _, number in window}), Snippet(before + text[start:end] + after, shifted)


def _stands(term: Term, words: list[str]) -> bool:
    *fixed, last = term.words
    ends = words[-1] == last if term.whole else words[-1].startswith(last)
    return ends and words[:-1] == fixed


def _widen(text: str, start: int, end: int) -> tuple[int, int]:
    """A stretch grown to about AROUND characters, at the borders of words."""
    spare = max(0, AROUND - (end - start)) // 2
    left, right = max(0, start - spare), min(len(text), end + spare)
    if left:
        left = min(start, text.find(" ", left) + 1 or start)
    if right < len(text):
        right = max(end, text.rfind(" ", 0, right))
    return left, right
