"""Full-text search of references, ranked, on either engine; the index is kept by triggers (migration 0003).

Words come folded to the basic Latin alphabet and hold letters and digits only, so that nothing in them is an
operator of either engine.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Select,
    String,
    and_,
    cast,
    column,
    func,
    literal_column,
    or_,
    select,
    table,
)
from sqlmodel import Session, col

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.tables import ClaimLink, Condition, Reference, Result, Study, StudyReference

PARTS = ("names", "title", "container", "rest", "abstract")
# How much a hit in each part counts: common practice, no source. PostgreSQL keeps `rest` and `abstract` as one.
_SQLITE_WEIGHTS = (6.0, 5.0, 1.5, 3.0, 1.0)
_POSTGRESQL_WEIGHTS = "{0.2, 0.25, 0.85, 1.0}"  # of D, C, B, A
_LETTERS = {"names": "A", "title": "B", "container": "C", "rest": "D", "abstract": "D"}


@dataclass(frozen=True, slots=True)
class Term:
    """Words in a row, letters and digits only; `whole`: the last one is no beginning of a longer word."""

    words: tuple[str, ...]
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Clause:
    """At least one of the terms stands in the text; in one of `parts` where any are named."""

    any_of: tuple[Term, ...]
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Subject:
    """A region or an exercise: results (or conditions) of studies under these ids, or one of the names in the text."""

    ids: tuple[str, ...]
    names: Clause


@dataclass(frozen=True, slots=True)
class ReferenceSearch:
    """What is looked for: everything given must hold. `pieces`: stretches of title, name or journal as they stand."""

    clauses: tuple[Clause, ...] = ()
    pieces: tuple[str, ...] = ()
    year_from: int | None = None
    year_to: int | None = None
    regions: tuple[Subject, ...] = ()
    exercises: tuple[Subject, ...] = ()
    reading_state: str | None = None
    noticed: bool = False
    in_study: bool | None = None
    with_results: bool = False
    cited: bool = False  # linked to a claim, or the report of one of `cited_studies`
    cited_studies: tuple[str, ...] = ()


def search_references(
    session: Session, wanted: ReferenceSearch, *, limit: int | None = None, offset: int = 0
) -> tuple[list[Reference], int]:
    """References that fit, best first (by key where no word was given), a page of them; and how many fit."""
    text = _text_of(session)
    conditions = _conditions(session, wanted)
    rank: ColumnElement[Any] | None = None
    statement = select(Reference)
    counting = select(func.count()).select_from(Reference)
    if wanted.clauses:
        hits = text.matching(wanted.clauses).subquery("hit")
        statement = statement.join(hits, hits.c.id == col(Reference.id))
        counting = counting.join(hits, hits.c.id == col(Reference.id))
        rank = hits.c.rank
    total = session.execute(counting.where(*conditions)).scalar_one()
    order = [in_order(session, Reference.key)] if rank is None else [rank, in_order(session, Reference.key)]
    page = statement.where(*conditions).order_by(*order).offset(offset)
    rows = session.execute(page if limit is None else page.limit(limit)).scalars()
    return list(rows), int(total)


def _conditions(session: Session, wanted: ReferenceSearch) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    for piece in wanted.pieces:
        searched = (Reference.title, Reference.first_author, Reference.container)
        found.append(or_(*(func.lower(part).contains(piece, autoescape=True) for part in searched)))
    if wanted.year_from is not None:
        found.append(col(Reference.year) >= wanted.year_from)
    if wanted.year_to is not None:
        found.append(col(Reference.year) <= wanted.year_to)
    if wanted.reading_state is not None:
        found.append(col(Reference.reading_state) == wanted.reading_state)
    if wanted.noticed:
        found.append(col(Reference.notice).is_not(None))
    linked = select(col(StudyReference.id)).where(col(StudyReference.reference_id) == col(Reference.id))
    if wanted.in_study is not None:
        found.append(linked.exists() if wanted.in_study else ~linked.exists())
    results = linked.join(Result, col(Result.study_id) == col(StudyReference.study_id))
    if wanted.with_results:
        found.append(results.exists())
    if wanted.cited:
        claims = select(col(ClaimLink.id)).where(col(ClaimLink.reference_id) == col(Reference.id))
        counted = linked.join(Study, col(Study.id) == col(StudyReference.study_id))
        found.append(or_(claims.exists(), counted.where(col(Study.key).in_(wanted.cited_studies)).exists()))
    text = _text_of(session)
    for subject in wanted.regions:
        studied = results.where(col(Result.region).in_(subject.ids)).exists()
        found.append(or_(studied, text.holds(subject.names)))
    for subject in wanted.exercises:
        conditions = linked.join(Condition, col(Condition.study_id) == col(StudyReference.study_id))
        done = conditions.where(col(Condition.exercise).in_(subject.ids)).exists()
        found.append(or_(done, text.holds(subject.names)))
    return found


def _text_of(session: Session) -> "_Fts5 | _TsVector":
    return _TsVector() if session.get_bind().dialect.name == "postgresql" else _Fts5()


class _Fts5:
    """SQLite: https://www.sqlite.org/fts5.html#full_text_query_syntax"""

    def __init__(self) -> None:
        self.table = table("reference_text", column("rowid"))
        self.itself: ColumnElement[Any] = literal_column("reference_text")

    def matching(self, clauses: Sequence[Clause]) -> Select[Any]:
        weights: list[ColumnElement[float]] = [literal_column(str(weight)) for weight in _SQLITE_WEIGHTS]
        rank = func.bm25(self.itself, *weights)  # the lower the better
        query = " AND ".join(map(self._write, clauses))
        return select(self.table.c.rowid.label("id"), rank.label("rank")).where(
            self.itself.op("MATCH")(query)
        )

    def holds(self, clause: Clause) -> ColumnElement[bool]:
        hits = select(self.table.c.rowid).where(self.itself.op("MATCH")(self._write(clause)))
        return col(Reference.id).in_(hits)

    def _write(self, clause: Clause) -> str:
        terms = (f'"{" ".join(term.words)}"' + ("" if term.whole else " *") for term in clause.any_of)
        parts = f"{{{' '.join(clause.parts)}}} : " if clause.parts else ""
        return f"({parts}({' OR '.join(terms)}))"


class _TsVector:
    """PostgreSQL: https://www.postgresql.org/docs/current/datatype-textsearch.html"""

    def __init__(self) -> None:
        self.table = table("reference_text", column("reference_id"), column("words"))

    def matching(self, clauses: Sequence[Clause]) -> Select[Any]:
        query = self._query(" & ".join(map(self._write, clauses)))
        weights: ColumnElement[Any] = literal_column(f"'{_POSTGRESQL_WEIGHTS}'::float4[]")
        rank = -func.ts_rank(weights, self.table.c.words, query, 1)
        hits = select(self.table.c.reference_id.label("id"), rank.label("rank"))
        return hits.where(self.table.c.words.op("@@")(query))

    def holds(self, clause: Clause) -> ColumnElement[bool]:
        query = self._query(self._write(clause))
        hits = select(self.table.c.reference_id).where(and_(self.table.c.words.op("@@")(query)))
        return col(Reference.id).in_(hits)

    def _query(self, text: str) -> ColumnElement[Any]:
        return func.to_tsquery(literal_column("'simple'::regconfig"), cast(text, String))

    def _write(self, clause: Clause) -> str:
        letters = "".join(sorted({_LETTERS[part] for part in clause.parts}))
        terms = []
        for term in clause.any_of:
            endings = [f":{letters}" if letters else ""] * len(term.words)
            if not term.whole:
                endings[-1] = f":*{letters}"
            terms.append(
                " <-> ".join(f"'{word}'{end}" for word, end in zip(term.words, endings, strict=True))
            )
        return "(" + " | ".join(f"({term})" for term in terms) + ")"
