"""Points of one record for one mention, each with its reason."""

from dataclasses import dataclass
from functools import cache

from references.folding import fold
from references.mention_index import MentionIndex, Subject
from references.mention_names import NamedAuthor, Names
from references.mention_reading import Mention
from references.rules import load_rules
from references.topics import term_of


@dataclass(frozen=True, slots=True)
class Clues:
    """All that a mention says. `journals`: indices of records in the journal named; None if none is named."""

    mention: Mention
    names: Names
    journals: frozenset[int] | None
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A record that a mention may mean: points, reasons for and against, and what speaks against a match
    outright.

    `topic_share`: weighted share of the mention's topic words that the record has. `named`: an author is
    named.
    """

    key: str
    score: float
    reasons: tuple[str, ...]
    contradictions: tuple[str, ...]
    topic_share: float
    topic_words: int
    named: bool


class _Points:
    __slots__ = ("contradictions", "reasons", "total", "weights")

    def __init__(self) -> None:
        self.weights: dict[str, float] = load_rules("mentions")["weights"]
        self.total = 0.0
        self.reasons: list[str] = []
        self.contradictions: list[str] = []

    def add(self, weight: str, reason: str, *, times: float = 1.0, contradicts: bool = False) -> None:
        points = self.weights[weight] * times
        self.total += points
        self.reasons.append(f"{reason} ({points:+.1f})")
        if contradicts:
            self.contradictions.append(reason)


def score_subject(subject: Subject, clues: Clues, index: MentionIndex) -> Candidate:
    """Hold one record against all that the mention says."""
    points = _Points()
    named = _score_authors(subject, clues, points)
    _score_year(subject, clues.mention, points)
    _score_details(subject, clues, points, index)
    share, count = _score_topic(subject, clues, points, index)
    return Candidate(
        *(subject.key, round(points.total, 3), tuple(points.reasons), tuple(points.contradictions)),
        *(share, count, named),
    )


def _score_authors(subject: Subject, clues: Clues, points: _Points) -> bool:
    positions: list[int] = []
    for named in clues.names.found:
        position, fit = _position_of(named, subject)
        if position is None:
            points.add("missing_author", f"{named.heard} is not among its authors", contradicts=True)
            continue
        how = "" if fit >= 0.99 else f", heard as {named.heard}"
        if not positions:
            weight = "first_author" if position == 0 else "other_author"
            points.add(weight, f"{subject.surnames[position][0]} is author {position + 1}{how}", times=fit)
        else:
            points.add("second_name", f"{subject.surnames[position][0]} is an author too{how}", times=fit)
            if position == positions[-1] + 1:
                points.add("order", "named in this order")
        positions.append(position)
    for word in clues.names.unknown:
        points.add("unknown_author", f"no record has an author {word}", contradicts=True)
    if clues.mention.et_al and len(subject.surnames) == 1 and positions:
        points.add("lone_author", "others are spoken of, but it has one author")
    return bool(positions)


def _position_of(named: NamedAuthor, subject: Subject) -> tuple[int | None, float]:
    """The first of the record's authors that the stretch may be, and how well it fits."""
    best: tuple[int | None, float] = (None, 0.0)
    for position, spellings in enumerate(subject.surnames):
        fit = max((named.spellings.get(spelling, 0.0) for spelling in spellings), default=0.0)
        if fit > best[1]:
            best = (position, fit)
    return best


def _score_year(subject: Subject, mention: Mention, points: _Points) -> None:
    if not mention.years or subject.year is None:
        return
    gap = min(abs(subject.year - year) for year in mention.years)
    if gap == 0:
        points.add("year", f"year {subject.year}")
    elif gap == 1:
        points.add("year_near_hedged" if mention.hedged else "year_near", f"year {subject.year}, one off")
    else:
        points.add(
            "year_far" if gap < 5 else "year_wrong",
            f"year {subject.year} is not the one named",
            contradicts=True,
        )


def _score_details(subject: Subject, clues: Clues, points: _Points, index: MentionIndex) -> None:
    mention = clues.mention
    if clues.journals is not None:
        if any(index.subjects[number].key == subject.key for number in clues.journals):
            points.add("journal", f"journal {subject.journal}")
        else:
            points.add(
                "other_journal", f"in {subject.journal or 'no journal'}, not the one named", contradicts=True
            )
    if mention.sample_sizes and subject.sample_sizes:
        if set(mention.sample_sizes) & set(subject.sample_sizes):
            points.add("sample_size", f"{subject.sample_sizes[0]} people")
        else:
            points.add("other_sample_size", f"{subject.sample_sizes[0]} people", contradicts=True)
    if mention.part is not None and subject.part is not None:
        same = mention.part == subject.part
        points.add("part" if same else "other_part", f"part {subject.part}", contradicts=not same)
    _score_kind(subject, mention, points)


def _score_kind(subject: Subject, mention: Mention, points: _Points) -> None:
    rules = load_rules("mentions")
    secondary: list[str] = rules["secondary_kinds"]
    if subject.kind in mention.denied:
        points.add("other_kind", f"it is a {subject.kind}, which is not meant", contradicts=True)
    elif subject.kind in mention.kinds:
        points.add("kind", f"it is a {subject.kind}")
    elif subject.kind in secondary:
        points.add("secondary", f"it is a {subject.kind}, which is not asked for")
    elif mention.kinds:
        compatible = rules["compatible_kinds"]
        if not any(subject.kind in compatible.get(kind, ()) for kind in mention.kinds):
            points.add("other_kind", f"it is a {subject.kind}, not a {mention.kinds[0]}")


def _score_topic(subject: Subject, clues: Clues, points: _Points, index: MentionIndex) -> tuple[float, int]:
    if not clues.terms:
        return 0.0, 0
    weights = {term: index.weigh_term(term) for term in clues.terms}
    matched = [term for term in clues.terms if term in subject.terms]
    total = sum(weights.values())
    share = sum(weights[term] for term in matched) / total
    strength = min(1.0, total / 1.2)  # one common word alone says little, for or against
    if matched:
        points.add("topic", f"topic: {', '.join(matched)}", times=share * strength)
    if share < 1.0:
        missing = ", ".join(term for term in clues.terms if term not in subject.terms)
        limit = load_rules("mentions")["decision"]["contradicted_below"]
        contradicts = share < limit and total >= 0.5
        points.add(
            "topic_missing", f"not about {missing}", times=(1 - share) * strength, contradicts=contradicts
        )
    opposed = find_opposed(clues.terms, subject)
    if opposed:
        points.contradictions.append(f"about {opposed[1]}, not {opposed[0]}")
    own = sum(index.weigh_term(term) for term in subject.about) or 1.0
    fit = sum(index.weigh_term(term) for term in matched if term in subject.about) / own
    points.add("fit", f"{fit:.0%} of its title is named", times=fit)
    return share, len(matched)


def find_opposed(terms: tuple[str, ...], subject: Subject) -> tuple[str, str] | None:
    """(term named, term of the record instead): two that cannot both be what one work is about."""
    for group in _opposed_groups():
        named = [term for term in terms if term in group]
        if named and not any(term in subject.terms for term in named):
            instead = sorted(group & subject.about)
            if instead:
                return named[0], instead[0]
    return None


@cache
def _opposed_groups() -> tuple[frozenset[str], ...]:
    lines: list[list[str]] = load_rules("mentions")["opposed"]
    return tuple(frozenset(term_of(fold(word)) for word in line) for line in lines)
