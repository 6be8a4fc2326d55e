"""References as the list of sources under a document."""

from collections.abc import Iterable, Sequence

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Reference
from evidence.publishing.sources import Reference as Source
from evidence.workflows.gather.gathering import as_record
from references.citing import format_bibliography


def list_sources(studies: Iterable[StudyRows]) -> list[Source]:
    """The references of the studies, formatted, each once."""
    rows: dict[str, Reference] = {r.key: r for rows in studies for r in rows.references}
    return format_sources([rows[key] for key in sorted(rows)])


def format_sources(rows: Sequence[Reference]) -> list[Source]:
    """References as entries of a list, with notices in front and addresses behind."""
    records = [as_record(row) for row in rows]
    texts = format_bibliography(records, style="plain") if records else ()
    return [
        Source(row.key, text, f"https://doi.org/{row.doi}" if row.doi else "", row.notice or "")
        for row, text in zip(rows, texts, strict=True)
    ]
