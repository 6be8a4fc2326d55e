"""Say which reference a garbled mention means: a match, candidates to ask about, or none.

A mention is taken apart (year, surnames, journal, sample size, kind of work, part, topic words); each
part adds
or takes points with a reason. A wrong attachment is worse than a question: a match needs enough points, a
lead,
and no contradiction. Weights: data/mentions.yaml.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from references.folding import STOPWORDS, fold
from references.mention_index import MentionIndex, RecordFacts, Subject, build_index
from references.mention_names import Names, find_names
from references.mention_reading import Mention, read_mention
from references.mention_scoring import Candidate, Clues, score_subject
from references.record import Record
from references.rules import load_rules
from references.topics import topic_terms
from references.venues import abbreviates

__all__ = [
    "Candidate",
    "MentionAnswer",
    "Outcome",
    "RecordFacts",
    "build_index",
    "match_in_index",
    "match_mention",
]


class Outcome(StrEnum):
    """What can be said of a mention."""

    MATCH = "match"
    AMBIGUOUS = "ambiguous"  # ask: `candidates` are the ones it may be
    NONE = "none"


@dataclass(frozen=True, slots=True)
class MentionAnswer:
    """The answer for one mention.

    `candidates`: best first; for a match the first is meant and the others come after it; for none they
    are the
    nearest, to show why not. `related`: keys of notices, replies, preprints of the match. `warnings`: for
    example
    that the match is retracted. `reason`: one sentence.
    """

    outcome: Outcome
    candidates: tuple[Candidate, ...]
    reason: str
    related: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def key(self) -> str | None:
        """The key of the record meant; None unless it is a match."""
        return self.candidates[0].key if self.outcome is Outcome.MATCH else None


def match_mention(
    text: str, records: Iterable[Record], facts: Mapping[str, RecordFacts] | None = None
) -> MentionAnswer:
    """Which of the records a mention means. For many mentions build the index once: `match_in_index`."""
    return match_in_index(text, build_index(records, facts))


def match_in_index(text: str, index: MentionIndex) -> MentionAnswer:
    """Which of the indexed records a mention means."""
    mention = read_mention(text)
    journals, journal_tokens, journal_known = _find_journals(mention, index)
    names = find_names(mention, index, mention.used | journal_tokens)
    clues = _gather_clues(mention, index, names, journals, journal_tokens, journal_known)
    scored = [score_subject(index.subjects[number], clues, index) for number in _shortlist(clues, index)]
    scored.sort(key=lambda candidate: (-candidate.score, candidate.key))
    return _decide(mention, clues, tuple(scored[:12]), index)


def _gather_clues(
    mention: Mention,
    index: MentionIndex,
    names: Names,
    journals: frozenset[int],
    journal_tokens: frozenset[int],
    journal_known: bool,
) -> Clues:
    spent = mention.used | journal_tokens | {at for n in names.found for at in range(n.start, n.end)}
    left = " ".join(
        word for at, token in enumerate(mention.tokens) if at not in spent for word in token.words
    )
    terms = tuple(dict.fromkeys(term for term in topic_terms(left) if not _is_unknown_name(term, names)))
    return Clues(mention, names, journals if journal_known else None, terms)


def _is_unknown_name(term: str, names: Names) -> bool:
    return any(term in fold(word) or fold(word) in term for word in names.unknown)


def _shortlist(clues: Clues, index: MentionIndex) -> list[int]:
    """Records that share a surname, a journal with a year, or the rarer topic words."""
    found: set[int] = set()
    for named in clues.names.found:
        for spelling in named.spellings:
            found |= index.by_surname.get(spelling, set())
    for term in sorted(clues.terms, key=index.weigh_term, reverse=True)[:8]:
        if len(index.by_term.get(term, ())) <= 2_000:
            found |= index.by_term.get(term, set())
    if clues.mention.sample_sizes and len(found) < 2_000:
        sizes = set(clues.mention.sample_sizes)
        found |= {i for i, subject in enumerate(index.subjects) if sizes & set(subject.sample_sizes)}
    return sorted(found)


def _find_journals(mention: Mention, index: MentionIndex) -> tuple[frozenset[int], frozenset[int], bool]:
    """(records of the journal named, its tokens, whether a journal is named at all)."""
    tokens = mention.tokens
    for length in range(min(8, len(tokens)), 0, -1):
        for start in range(len(tokens) - length + 1):
            stretch = tokens[start : start + length]
            words = [word for token in stretch for word in token.words]
            phrase = " ".join(words)
            spot = frozenset(range(start, start + length))
            if spot & mention.used:
                continue
            initials = length == 1 and len(words) == 1
            if phrase in index.by_journal and _reads_as_journal(stretch, phrase, index, initials):
                return frozenset(index.by_journal[phrase]), spot, True
            if phrase in _other_journals() and (not initials or stretch[0].raw.isupper() or len(phrase) > 6):
                return frozenset(), spot, True
            if length > 1 and (short := _by_abbreviation(words, index)):
                return short, spot, True
    return _by_described_journal(mention, index)


def _reads_as_journal(stretch: Any, phrase: str, index: MentionIndex, initials: bool) -> bool:
    """One-word names are taken only in capitals, or when long and no topic word."""
    if not initials:
        return phrase not in index.by_term
    raw = stretch[0].raw
    return (raw.isupper() and len(raw) > 1) or (len(phrase) >= 4 and phrase not in index.by_surname)


def _other_journals() -> frozenset[str]:
    """Journals that are known by name, so that naming one speaks against records of another."""
    aliases: dict[str, list[str]] = load_rules("mentions")["journal_aliases"]
    return frozenset(fold(name) for title, names in aliases.items() for name in (title, *names))


def _by_abbreviation(words: list[str], index: MentionIndex) -> frozenset[int]:
    """Records whose journal the words abbreviate, word for word: `j sports sci`."""
    content = [word for word in words if word not in STOPWORDS]
    if len(content) < 2 or len(content) != len(words):
        return frozenset()
    found: set[int] = set()
    for name, numbers in index.by_journal.items():
        parts = [part for part in name.split() if part not in STOPWORDS]
        if len(parts) == len(content) and all(abbreviates(w, p) for w, p in zip(content, parts, strict=True)):
            found |= numbers
    return frozenset(found)


def _by_described_journal(
    mention: Mention, index: MentionIndex
) -> tuple[frozenset[int], frozenset[int], bool]:
    """`the strength journal`: the words before `journal`, back to an article, are all in the journal's
    name.
    """
    tokens = mention.tokens
    for at, token in enumerate(tokens):
        if token.words != ("journal",) or at == 0:
            continue
        start = at
        while start > 0 and tokens[start - 1].words[0] not in STOPWORDS and at - start < 3:
            start -= 1
        words = {word for earlier in tokens[start:at] for word in earlier.words}
        found = {
            number
            for name, numbers in index.by_journal.items()
            if words and words <= set(name.split())
            for number in numbers
        }
        if found:
            return frozenset(found), frozenset(range(start, at + 1)), True
    return frozenset(), frozenset(), False


def _decide(
    mention: Mention, clues: Clues, scored: tuple[Candidate, ...], index: MentionIndex
) -> MentionAnswer:
    limits: dict[str, float] = load_rules("mentions")["decision"]
    if mention.general and not clues.names.found:
        return MentionAnswer(Outcome.NONE, (), "The literature is meant, not one work.")
    if mention.quoting and clues.names.found:
        return MentionAnswer(Outcome.NONE, scored[:3], "A person is quoted; no work is named.")
    if mention.practice and not clues.names.found and clues.journals is None:
        return MentionAnswer(Outcome.NONE, scored[:3], "It tells what somebody does; no work is named.")
    if not scored or scored[0].score < limits["ask"] or not _has_ground(clues, scored[0], limits):
        return MentionAnswer(Outcome.NONE, scored[:3], _why_none(clues))
    best = scored[0]
    near = tuple(one for one in scored if best.score - one.score < limits["ask_within"])
    related = _find_related(best, index)
    rivals = [one for one in near[1:] if one.key not in related]
    if best.contradictions:
        return MentionAnswer(Outcome.AMBIGUOUS, near, f"Not sure: {best.contradictions[0]}.")
    if best.score < limits["accept"]:
        return MentionAnswer(Outcome.AMBIGUOUS, near, "Too little is said to be sure.")
    if rivals and best.score - rivals[0].score < limits["margin"]:
        kept = tuple(one for one in near if one.key not in related or one.key == best.key)
        return MentionAnswer(Outcome.AMBIGUOUS, kept, f"{len(kept)} works fit equally well.")
    subject = next(subject for subject in index.subjects if subject.key == best.key)
    return MentionAnswer(
        Outcome.MATCH, scored[:4], "; ".join(best.reasons), related, _warn(subject, mention.years)
    )


def _warn(subject: Subject, years: tuple[int, ...]) -> tuple[str, ...]:
    """What to look at before the match is used: its state, and a year that is not quite the one named."""
    warnings = [f"{subject.key} is marked as {subject.state}"] if subject.state else []
    if years and subject.year is not None and subject.year not in years:
        named = " or ".join(map(str, years))
        warnings.append(f"{subject.key} is of {subject.year}; the mention says {named}")
    return tuple(warnings)


def _has_ground(clues: Clues, best: Candidate, limits: dict[str, float]) -> bool:
    """Without a surname, topic words or a sample size must carry the match."""
    if best.named:
        return True
    return best.topic_share >= limits["topic_share"] and (
        best.topic_words >= 2 or bool(clues.mention.sample_sizes) or bool(clues.mention.years)
    )


def _why_none(clues: Clues) -> str:
    if clues.names.unknown:
        return f"No record has an author {', '.join(clues.names.unknown)}."
    if clues.names.found:
        return "The name is known, but year, journal or topic fit no record of that author."
    return "Nothing in the mention fits a record well enough."


def _find_related(best: Candidate, index: MentionIndex) -> tuple[str, ...]:
    """Other records of the same title by one of the same authors: notices, replies, preprints, abstracts."""
    subject = next(subject for subject in index.subjects if subject.key == best.key)
    numbers = {n for spellings in subject.surnames for n in index.by_surname.get(spellings[0], ())}
    return tuple(
        other.key
        for number in sorted(numbers)
        if (other := index.subjects[number]).key != subject.key and _is_companion(subject, other)
    )


def _is_companion(one: Subject, other: Subject) -> bool:
    secondary: list[str] = load_rules("mentions")["secondary_kinds"]
    return one.title == other.title and (one.kind in secondary or other.kind in secondary)
