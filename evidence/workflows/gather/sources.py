"""References as the list of sources under a document."""

from collections.abc import Iterable, Sequence

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Reference
from evidence.publishing.sources import Reference as Source
from evidence.workflows.gather.gathering import as_record
from references.citing import format_bibliography, sort_records


def list_sources(studies: Iterable[StudyRows]) -> list[Source]:
    """The references of the studies, formatted, each once."""
    return format_sources([row for rows in studies for row in rows.references])


def format_sources(rows: Sequence[Reference]) -> list[Source]:
    """References as entries of a list in its own order (names, then dates), with notices in front and addresses behind.

    A row listed twice is one entry. Text, address and notice of an entry are those of one and the same reference.
    """
    by_key = {row.key: row for row in rows}
    records = sort_records(as_record(row) for row in by_key.values())
    texts = format_bibliography(records, style="plain") if records else ()
    entries = zip((by_key[record.key] for record in records), texts, strict=True)
    return [
        Source(row.key, text, f"https://doi.org/{row.doi}" if row.doi else "", row.notice or "")
        for row, text in entries
    ]
