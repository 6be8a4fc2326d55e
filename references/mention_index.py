"""What a mention can be held against: each record's surnames, topic terms, journal names, kind and sample
sizes.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from references.folding import STOPWORDS, fold
from references.profiles import Profile, build_profile, split_name
from references.record import Record
from references.rules import load_rules
from references.sounds import sound_key
from references.topics import terms_of


@dataclass(frozen=True, slots=True)
class RecordFacts:
    """What is known of a record beside its bibliographic fields; every part may be left out.

    `sample_sizes`: people studied. `topics`: names of regions, exercises, outcomes. `kind`: emg, trial,
    review,
    cohort, guideline, letter, notice, abstract or preprint. `state`: a state to warn of, such as "retracted".
    """

    sample_sizes: tuple[int, ...] = ()
    topics: tuple[str, ...] = ()
    kind: str | None = None
    state: str | None = None


@dataclass(frozen=True, slots=True)
class Subject:
    """One record as mentions see it. `surnames` are folded, each with its spellings without particle or
    second
    barrel; `about` are the terms of the title and topics, `terms` also those of abstract and keywords."""

    key: str
    surnames: tuple[tuple[str, ...], ...]
    year: int | None
    journal: str
    journal_names: frozenset[str]
    title: str
    about: frozenset[str]
    terms: frozenset[str]
    part: int | None
    kind: str
    sample_sizes: tuple[int, ...]
    state: str | None


_SIZES = re.compile(
    r"\b[nN]\s*=\s*(\d{1,6})\b|\b(\d{1,5}) (?:\w+[- ]){0,2}(?:women|men|participants|adults|athletes)\b"
)


def read_subject(record: Record) -> Subject:
    """A record as mentions see it, by what its bibliographic fields say."""
    profile = build_profile(record)
    names = record.author or record.editor
    about = terms_of([record.title])
    text = " ".join(part for part in (record.abstract, record.note) if part)
    found = tuple(int(one or other) for one, other in _SIZES.findall(text)) if text else ()
    return Subject(
        key=record.key,
        surnames=tuple(_spellings(split_name(name)[0], name.family, name.suffix) for name in names),
        year=record.year,
        journal=profile.venue,
        journal_names=_journal_names(record),
        title=profile.title,
        about=about,
        terms=about | terms_of([record.abstract, record.keyword]),
        part=profile.part,
        kind=_kind_of(profile),
        sample_sizes=found,
        state=None,
    )


def add_facts(subject: Subject, facts: RecordFacts) -> Subject:
    """A subject with what is known of the record beside its fields."""
    topics = terms_of(list(facts.topics))
    return replace(
        subject,
        about=subject.about | topics,
        terms=subject.terms | topics,
        kind=facts.kind or subject.kind,
        sample_sizes=facts.sample_sizes or subject.sample_sizes,
        state=facts.state,
    )


def write_subject(subject: Subject) -> list[Any]:
    """A subject, without facts, as JSON can hold it."""
    return [
        subject.key,
        subject.surnames,
        subject.year,
        subject.journal,
        sorted(subject.journal_names),
        subject.title,
        sorted(subject.about),
        sorted(subject.terms - subject.about),
        subject.part,
        subject.kind,
        subject.sample_sizes,
    ]


def subject_from(kept: Sequence[Any]) -> Subject:
    """The subject that was written so."""
    key, surnames, year, journal, names, title, about, more, part, kind, sizes = kept
    of_title = frozenset(about)
    return Subject(
        key,
        tuple(map(tuple, surnames)),
        year,
        journal,
        frozenset(names),
        title,
        of_title,
        of_title.union(more),
        part,
        kind,
        tuple(sizes),
        None,
    )


def _spellings(whole: str, family: str | None, suffix: str | None) -> tuple[str, ...]:
    """The folded surname in full, without its particle, and with its spoken suffix."""
    bare = fold(family) if family else whole
    spellings = [whole, bare]
    if suffix:
        spellings += [f"{whole} {ending}" for ending in ("the third", "the second", "junior", fold(suffix))]
    return tuple(dict.fromkeys(spelling for spelling in spellings if spelling))


def _journal_names(record: Record) -> frozenset[str]:
    """Every folded name under which the journal may be cited: full, short, initials, nicknames."""
    full = fold(record.container_title)
    names = {full, fold(record.container_title_short)}
    words = full.split()
    content = [word for word in words if word not in STOPWORDS]
    for counted in (words, content):
        if len(counted) > 1:
            names.add("".join(word[0] for word in counted))
    for title, aliases in load_rules("mentions")["journal_aliases"].items():
        if fold(title) in names:
            names.update(fold(alias) for alias in aliases)
    return frozenset(name for name in names if name)


_KIND_WORDS = (
    ("review", re.compile(r"\b(?:review|meta analys[ei]s|metaanalysis)\b")),
    (
        "guideline",
        re.compile(r"\b(?:guidelines?|consensus|position stand|position statement|recommendations)\b"),
    ),
    ("cohort", re.compile(r"\b(?:cohort|prospective|epidemiolog\w+)\b")),
    ("emg", re.compile(r"\b(?:emg|electromyograph\w+|activation|muscle activity|excitation)\b")),
    ("trial", re.compile(r"\b(?:trial|randomi[sz]ed|weeks of)\b")),
)
_MARKED_KINDS = {
    "reply-to": "letter",
    "retraction-of": "notice",
    "concern-of": "notice",
    "erratum-of": "notice",
}


def _kind_of(profile: Profile) -> str:
    if profile.marker in _MARKED_KINDS:
        return _MARKED_KINDS[profile.marker]
    if profile.form in ("abstract", "preprint"):
        return profile.form
    return next((kind for kind, words in _KIND_WORDS if words.search(profile.title)), "other")


@dataclass(slots=True)
class MentionIndex:
    """Subjects with what finds them: surnames by spelling and sound, topic terms, journal names."""

    subjects: tuple[Subject, ...]
    by_surname: dict[str, set[int]] = field(default_factory=dict)
    spellings_by_sound: dict[str, set[str]] = field(default_factory=dict)
    by_term: dict[str, set[int]] = field(default_factory=dict)
    by_journal: dict[str, set[int]] = field(default_factory=dict)
    rarity: dict[str, float] = field(default_factory=dict)
    title_terms: frozenset[str] = frozenset()

    def weigh_term(self, term: str) -> float:
        """How much a topic term tells: rare terms more; a term that no record has counts as a fairly rare
        one.
        """
        return self.rarity.get(term, 0.6)


def build_index(records: Iterable[Record], facts: Mapping[str, RecordFacts] | None = None) -> MentionIndex:
    """Index records for matching mentions; `facts` by record key."""
    return index_subjects(map(read_subject, records), facts)


def index_subjects(
    subjects: Iterable[Subject], facts: Mapping[str, RecordFacts] | None = None
) -> MentionIndex:
    """The same for records that were read before; `facts` by record key."""
    known = facts or {}
    index = MentionIndex(tuple(add_facts(s, known[s.key]) if s.key in known else s for s in subjects))
    for number, subject in enumerate(index.subjects):
        for spellings in subject.surnames:
            for spelling in spellings:
                joined = spelling.replace(" ", "")
                index.by_surname.setdefault(spelling, set()).add(number)
                index.spellings_by_sound.setdefault(sound_key(joined)[:2], set()).add(spelling)
        for term in subject.terms:
            index.by_term.setdefault(term, set()).add(number)
        for name in subject.journal_names:
            index.by_journal.setdefault(name, set()).add(number)
    _weigh_terms(index)
    return index


def _weigh_terms(index: MentionIndex) -> None:
    counts: Counter[str] = Counter(term for subject in index.subjects for term in subject.terms)
    total = max(2, len(index.subjects))
    index.rarity = {term: 0.15 + math.log(total / count) / math.log(total) for term, count in counts.items()}
    index.title_terms = frozenset(counts)


def nearby_spellings(index: MentionIndex, heard: str) -> Sequence[str]:
    """Surname spellings whose sound begins as what was heard does."""
    return sorted(index.spellings_by_sound.get(sound_key(heard)[:2], ()))
