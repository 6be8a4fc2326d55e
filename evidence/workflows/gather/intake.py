"""Taking records into a session step by step: memory stays small however large the file and the catalogue are."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import list_unread, settings, stored_records
from evidence.catalogue.recording import ChangingSession, add_rows
from evidence.catalogue.tables import Reference, UnreadEntry
from evidence.catalogue.worked_out import store_all
from evidence.workflows.gather.apart import pairs_apart
from evidence.workflows.gather.gathering import (
    GatherReport,
    Match,
    Progress,
    Tell,
    as_record,
    column_values,
    free_key,
    place_of,
    suggest_key,
    update_row,
)
from evidence.workflows.gather.indexing import blocks_kind, read_known_keys
from evidence.workflows.gather.joining import OTHER_KEYS, join
from evidence.workflows.gather.noticing import NoticesMet
from references.duplicates import Answer, KnownRecords, Pair
from references.errors import Problem, Severity
from references.reading import Reading, group_notes
from references.record import Record

STEP = 1000  # records that are held at a time
Found = tuple[str | int, Pair]  # a stored reference by its key, or an earlier incoming record by its place


@dataclass(slots=True)
class Tally:
    """What became of the records of one file so far."""

    read: int = 0
    added: list[str] = field(default_factory=list)
    known: list[Match] = field(default_factory=list)
    likely: list[Match] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


class Intake:
    """The references of a catalogue, and what becomes of records that come to them.

    Held of each stored reference: its key and its blocking keys. Everything else is read again where it is needed.
    """

    def __init__(self, session: ChangingSession, catalogue: Catalogue) -> None:
        self.session = session
        self.catalogue = catalogue
        store_all(session, blocks_kind())
        stored = read_known_keys(session)
        self.homes = stored.homes  # every key that a reference has or came in under
        self.taken = set(stored.keys)
        self.known = KnownRecords(recall=self.recall)
        self.known.add_blocks(stored.keys, stored.blocks)
        self.apart = pairs_apart(settings(session))
        self.notices = NoticesMet(session, catalogue.now())

    def enter(self, record: Record) -> Record:
        """Remember the keys of a reference that is stored now."""
        self.taken.add(record.key)
        self.homes[record.key] = record.key
        for other in record.extra.get(OTHER_KEYS, []):
            self.homes.setdefault(other, record.key)
        return record

    def recall(self, keys: Sequence[str]) -> Iterator[Record]:
        """Stored references by their keys."""
        return (as_record(row) for row in stored_records(self.session, keys))

    def take_in(self, source: str, reading: Reading, size: int, tell: Tell) -> GatherReport:
        """Store the records of a file that are not here yet."""
        tally = Tally()
        records = self.sift(reading, tally)
        tell(Progress(0, size, 0))
        while step := list(islice(records, STEP)):
            self.take_step(step, source, tally)
            self.session.flush()
            self.session.expunge_all()  # what was read for this step
            tell(Progress(min(reading.position, size), size, tally.read))
        problems = sorted(group_notes(tally.problems), key=lambda problem: problem.line or 0)
        kept_as_text = keep_unread(self.session, problems, source, self.catalogue)
        told = self.notices.apply(source)
        tell(Progress(size, size, tally.read))
        return GatherReport(
            source,
            reading.format.name,
            str(reading.encoding),
            tally.read,
            reading.lines,
            tuple(tally.added),
            tuple(tally.known),
            tuple(tally.likely),
            tuple(problems),
            kept_as_text,
            told,
        )

    def sift(self, reading: Reading, tally: Tally) -> Iterator[Record]:
        """The records that can be stored; problems, and records that cannot, go to the tally."""
        for item in reading.items():
            if isinstance(item, Problem):
                tally.problems.append(item)
                continue
            trouble = find_trouble(item)
            key = "".join(c for c in item.key if c.isprintable()).strip()
            if trouble is None:
                tally.read += 1
                self.notices.meet(item)
                yield item if key == item.key else replace(item, key=key)
                continue
            text = item.raw or item.title or item.key
            tally.problems.append(
                Problem(line=item.source_line, entry=key, reason=trouble, text=text, severity=Severity.ERROR)
            )

    def take_step(self, step: Sequence[Record], source: str, tally: Tally) -> None:
        """Store what is new of some records, and add to known ones what these know more."""
        texts = self.find_texts(step)
        new = [place for place in range(len(step)) if place not in texts]
        found = self.known.find_pairs([step[place] for place in new])
        pairs = {new[at]: [(new[o] if isinstance(o, int) else o, p) for o, p in f] for at, f in found.items()}
        fresh: dict[str, Record] = {}  # to be stored at the end of this step
        changed: dict[str, Record] = {}
        kept: dict[int, str | None] = {}  # keys under which records were stored; None: joined to another
        for place, record in enumerate(step):
            if home := texts.get(place):
                tally.known.append(Match(record.key, home, str(Answer.SAME), "one text"))
                kept[place] = None
                continue
            match = self.choose(record, pairs.get(place, ()), kept)
            is_same = match is not None and match.answer == Answer.SAME
            if match and is_same and self.join_known(match.known, record, fresh, changed):
                tally.known.append(match)
                kept[place] = None
                continue
            key = free_key(record.key or suggest_key(record), self.taken)
            fresh[key] = self.enter(replace(record, key=key))
            kept[place] = key
            tally.added.append(key)
            if match is not None:
                tally.likely.append(replace(match, incoming=key))
        self.store(fresh, changed, source)

    def find_texts(self, step: Sequence[Record]) -> dict[int, str]:
        """By place the key of the stored reference that holds just this text under this key."""
        homes = {place: home for place, record in enumerate(step) if (home := self.homes.get(record.key))}
        stored = {row.key: row.raw or "" for row in stored_records(self.session, list(set(homes.values())))}
        return {
            place: home
            for place, home in homes.items()
            if (raw := step[place].raw)
            and raw in stored.get(home, "")
            and frozenset((step[place].key, home)) not in self.apart
        }

    def choose(self, record: Record, found: Sequence[Found], kept: dict[int, str | None]) -> Match | None:
        """The surest and nearest of the references that an incoming record may be; those set apart are none."""
        for other, pair in found:  # they come with the surest and nearest first
            key = kept[other] if isinstance(other, int) else other
            if key is None or frozenset((record.key, key)) in self.apart:
                continue
            what = f"{pair.answer} ({pair.relation})" if pair.relation else str(pair.answer)
            return Match(record.key, key, what, pair.reason or "close in every part")
        return None

    def join_known(
        self, key: str, record: Record, fresh: dict[str, Record], changed: dict[str, Record]
    ) -> bool:
        """Add to a known record what an incoming one knows more; False where they may not be joined."""
        known = fresh.get(key) or changed.get(key) or next(iter(self.recall([key])))
        joined = join(known, record)
        if joined is None:
            return False
        self.homes.setdefault(record.key, key)
        if joined is not known:
            (fresh if key in fresh else changed)[key] = joined
        return True

    def store(self, fresh: dict[str, Record], changed: dict[str, Record], source: str) -> None:
        """Write new references and changed ones."""
        for row in stored_records(self.session, list(changed)):
            update_row(row, changed[row.key])
        self.session.flush()
        at = self.catalogue.now()
        rows = [
            column_values(record) | {"source": place_of(record, source), "added_at": at}
            for record in fresh.values()
        ]
        add_rows(self.session, Reference, rows)
        self.known.add_all([*fresh.values(), *changed.values()])


def find_trouble(record: Record) -> str | None:
    """Why a record cannot be stored; None when it can."""
    if record.year is not None and not -9999 <= record.year <= 9999:
        return f"the year {record.year} cannot be right"
    text = json.dumps(record.to_csl(), ensure_ascii=False, default=str) + (record.raw or "")
    if "\\u0000" in text or "\x00" in text:
        return "it holds a NUL character"
    try:
        text.encode()
    except UnicodeEncodeError:
        return "it holds half a character"
    return None


def keep_unread(
    session: ChangingSession, problems: Iterable[Problem], source: str, catalogue: Catalogue
) -> int:
    """Keep the text of entries that could not be read, each once."""
    here = {(row.source, row.digest) for row in list_unread(session)}
    count = 0
    for problem in problems:
        if problem.severity != "error" or not problem.text:
            continue
        count += 1
        digest = hashlib.sha256(problem.text.encode("utf-8", "surrogatepass")).hexdigest()
        if (source, digest) in here:
            continue
        here.add((source, digest))
        text = problem.text.replace("\x00", "\N{SYMBOL FOR NULL}")
        session.add(
            UnreadEntry(
                source=source,
                line=problem.line,
                reason=problem.reason,
                text=text,
                digest=digest,
                added_at=catalogue.now(),
            )
        )
    return count
