"""What of a document is invented: all of it, or the studies named, which are then marked wherever they are told."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Reference as Row
from evidence.publishing.briefs import StudyEntry
from evidence.publishing.sources import Reference
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.relevance.contributions import StudyEvidence, name_study
from references.citing import label_records

INVENTED = "[Invented]"


@dataclass(frozen=True, slots=True)
class Inventions:
    """`any`: whether anything is invented. `names`: of what is, where other things stand beside it; else everything is.

    `keys`: of the references behind it.
    """

    any: bool = False
    names: tuple[str, ...] = ()
    keys: frozenset[str] = frozenset()

    def mark(self, label: str) -> str:
        """The name of a study, marked where it is invented and others are not."""
        return f"{label} (invented)" if label in self.names else label

    def mark_all(self, labels: str) -> str:
        """Names parted by semicolons, each marked."""
        return "; ".join(self.mark(label) for label in labels.split("; ")) if self.names else labels

    def mark_entry(self, entry: StudyEntry) -> StudyEntry:
        """A study of a brief, with the notice where it is invented and others are not."""
        if entry.label not in self.names:
            return entry
        return replace(entry, notices=("invented", *entry.notices))

    def mark_sources(self, listed: Iterable[Reference]) -> tuple[Reference, ...]:
        """Entries of a list of sources, marked where their title does not say it already."""
        return tuple(
            r if INVENTED in r.text else replace(r, notice=self.notice_of(r.key, r.notice)) for r in listed
        )

    def notice_of(self, key: str, notice: str) -> str:
        """The notice of a source, with that it is invented where others are not."""
        return "; ".join(filter(None, ("invented", notice))) if self.names and key in self.keys else notice


def find_inventions(
    studies: Iterable[StudyEvidence], cited: Iterable[Row] = (), *, whole: bool = False
) -> Inventions:
    """What is invented of the studies behind a document and the sources it cites. `whole`: it says so of itself."""
    return find_inventions_in((study.rows for study in studies), cited, whole=whole)


def find_inventions_in(
    studies: Iterable[StudyRows], cited: Iterable[Row] = (), *, whole: bool = False
) -> Inventions:
    """The same of studies as they are stored."""
    by_key = {rows.study.key: rows for rows in studies}
    made_up = [rows for rows in by_key.values() if rows.study.invented]
    behind = {row.key for rows in by_key.values() for row in rows.references}
    rows: Sequence[Row] = [row for row in cited if row.key not in behind]
    marked = [row for row in rows if INVENTED in (row.title or "")]
    labels = label_records([as_record(row) for row in marked])
    names = (*(name_study(rows) for rows in made_up), *(labels[row.key] for row in marked))
    keys = {row.key for rows in made_up for row in rows.references} | {row.key for row in marked}
    others = len(made_up) < len(by_key) or len(marked) < len(rows)
    partly = tuple(dict.fromkeys(names)) if others and not whole else ()
    return Inventions(whole or bool(names), partly, frozenset(keys))
