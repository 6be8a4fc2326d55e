"""Which claim a sentence is about: tied by its author, or matched by its words, regions and sources, with a score."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from heapq import nsmallest

from evidence.vocabulary.names import words_of
from evidence.vocabulary.terms import Direction
from evidence.workflows.drafts.knowledge import Knowledge, KnownClaim
from evidence.workflows.drafts.topics import Topic, same_words
from evidence.workflows.drafts.words import word_set

ENOUGH = 0.75  # at least, to be taken as the claim that is meant
OFFERED = 0.5  # at least, to be proposed for tying
COMMON = 300  # claims that share a word, at most, for it to find them alone
LIKELY = 25  # claims looked at closely for one sentence: those that share most words with it
GAP = 0.08  # to the next claim


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a claim as words: whole names, and single words that only this side has."""

    phrases: tuple[tuple[str, ...], ...]
    telling: frozenset[str]

    def find(self, words: tuple[str, ...], places: Mapping[str, int]) -> int | None:
        """Where the side is first named, counted in words; None: nowhere. `places`: first place of each word."""
        found = [places[word] for word in self.telling & places.keys()]
        for phrase in self.phrases:
            if phrase[0] in places and all(word in places for word in phrase):
                size = len(phrase)
                found += [i for i in range(len(words) - size + 1) if words[i : i + size] == phrase]
        return min(found, default=None)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A claim a sentence may be about. `score` from 0 to 1; `reasons` in words."""

    claim: KnownClaim
    score: float
    reasons: tuple[str, ...]
    first: int | None  # where the exercise side stands, in words
    second: int | None


@dataclass(frozen=True)
class ClaimWords:
    """The words of all claims, to find those a sentence shares words with."""

    knowledge: Knowledge

    @cached_property
    def sides(self) -> Mapping[str, tuple[Side, Side]]:
        """Both sides of each claim."""
        return {key: make_sides(claim) for key, claim in self.knowledge.claims.items()}

    @cached_property
    def index(self) -> Mapping[str, tuple[str, ...]]:
        """Word -> claims a side of which it helps to name."""
        found: dict[str, dict[str, None]] = {}
        for key, sides in self.sides.items():
            for side in sides:
                for word in {*side.telling, *(p[-1] for p in side.phrases)}:
                    found.setdefault(word, {})[key] = None
        return {word: tuple(keys) for word, keys in found.items()}

    @cached_property
    def index_sets(self) -> Mapping[tuple[str, ...], frozenset[str]]:
        """The same lists as sets."""
        return {held: frozenset(held) for held in self.index.values() if len(held) > COMMON}

    @cached_property
    def by_study(self) -> Mapping[str, tuple[str, ...]]:
        """Study -> claims it was weighed for."""
        found: dict[str, list[str]] = {}
        for key, claim in self.knowledge.claims.items():
            for study in claim.studies:
                found.setdefault(study, []).append(key)
        return {study: tuple(keys) for study, keys in found.items()}

    def candidates(self, topic: Topic, cited: Iterable[str], most: int = 5) -> list[Candidate]:
        """Claims that a sentence may be about, best first."""
        words = same_words(topic.words)
        studies = {s.key for key in cited for s in self.knowledge.studies_of(key)}
        keys: dict[str, int] = {}
        for study in studies:
            for key in self.by_study.get(study, ()):
                keys[key] = keys.get(key, 0) + 2
        # Rare words first: a word that very many claims hold adds to those found, and finds no more.
        for held in sorted((self.index[w] for w in set(words) if w in self.index), key=len):
            if len(held) <= COMMON or not keys:
                for key in held:
                    keys[key] = keys.get(key, 0) + 1
            else:
                for key in keys.keys() & self.index_sets[held]:
                    keys[key] += 1
        likely = nsmallest(LIKELY, keys, key=lambda k: (-keys[k], k))
        scored = [self.score(key, topic, words, studies) for key in likely]
        kept = sorted((c for c in scored if c.score > 0.2), key=lambda c: (-c.score, c.claim.key))
        return kept[:most]

    def score(self, key: str, topic: Topic, words: tuple[str, ...], studies: set[str]) -> Candidate:
        """How well one claim fits a sentence, with the reasons."""
        claim = self.knowledge.claims[key]
        one, other = self.sides[key]
        places = first_places(words)
        first, second = one.find(words, places), other.find(words, places)
        score, reasons = 0.0, []
        if first is not None:
            score += 0.3
            reasons.append("names the exercise")
        if second is not None:
            score += 0.25
            reasons.append("names what it is compared with")
        if studies & set(claim.studies):
            score += 0.25
            reasons.append("cites a study behind it")
        if claim.region and topic.regions:
            if self._bears(claim.region, topic.regions):
                score += 0.2
                reasons.append("names the region")
            else:
                score -= 0.35
        if topic.constructs:
            if claim.construct in topic.constructs:
                score += 0.2
                reasons.append("speaks of the outcome")
            else:
                score -= 0.25
        return Candidate(claim, round(max(min(score, 1.0), 0.0), 2), tuple(reasons), first, second)

    def _bears(self, region: str, said: frozenset[str]) -> bool:
        """Whether a claim's region is, holds or lies in one of those spoken of."""
        around = self.knowledge.finder.around
        return not around(region).isdisjoint(said) or any(region in around(r) for r in said)

    def match(self, topic: Topic, cited: Iterable[str]) -> Candidate | None:
        """The one claim that is meant, where that is clear."""
        found = self.candidates(topic, cited, most=2)
        if not found or found[0].score < ENOUGH:
            return None
        if len(found) > 1 and found[0].score - found[1].score < GAP:
            return None
        return found[0]


@lru_cache(maxsize=512)
def first_places(words: tuple[str, ...]) -> Mapping[str, int]:
    """Where each word of a sentence first stands."""
    places: dict[str, int] = {}
    for at, word in enumerate(words):
        places.setdefault(word, at)
    return places


def make_sides(claim: KnownClaim) -> tuple[Side, Side]:
    """The words by which each side of a claim is told."""
    one, mine = phrases_of(claim.names)
    other, theirs = phrases_of(claim.other_names)
    return Side(one, mine - theirs), Side(other, theirs - mine)


@lru_cache(maxsize=20_000)
def phrases_of(names: tuple[str, ...]) -> tuple[tuple[tuple[str, ...], ...], frozenset[str]]:
    """The names of one side as words, and the single words that could tell it apart."""
    words = [same_words(words_of(n)) for n in names]
    # A short name is one where it is written as an abbreviation ("RDL"); "row" or "run" would be found in any text.
    kept = (
        n
        for n, name in zip(words, names, strict=True)
        if n and (len(n) > 1 or len(n[0]) > 3 or name.isupper())
    )
    phrases = tuple(dict.fromkeys(kept))
    own = {w for n in words for w in n}
    return phrases, frozenset(w for w in own if (len(w) > 3 or w == "one") and w not in word_set("generic"))


def said_direction(candidate: Candidate, topic: Topic) -> Direction | None:
    """What a sentence says of the claim's exercise against its comparator; None where that is not plain."""
    words = same_words(topic.words)
    if word_set("turned") & set(words) or "t" in words:
        return None
    first, second = candidate.first, candidate.second
    if "than" in words:
        at = words.index("than")
        polarity = _polarity(words[:at])
        if polarity is None:
            return None
        before = [p is not None and p < at for p in (first, second)]
        after = [p is not None and p > at for p in (first, second)]
        if before[0] != before[1]:
            subject_first = before[0]
        elif before[0] and before[1]:
            return None
        elif after[0] != after[1]:
            subject_first = after[1]
        else:
            return None
        return _turn(polarity, subject_first)
    beat = next((i for i, w in enumerate(words) if w in word_set("beating")), None)
    if beat is not None and first is not None and second is not None and (first < beat) != (second < beat):
        return _turn(Direction.MORE, first < beat)
    if "most" in words and (first is None) != (second is None):
        return _turn(Direction.MORE, first is not None)
    return None


def _polarity(words: tuple[str, ...]) -> Direction | None:
    for word in reversed(words):
        if word in word_set("less"):
            return Direction.LESS
        if word in word_set("more"):
            return Direction.MORE
    return None


def _turn(direction: Direction, subject_is_exercise: bool) -> Direction:
    if subject_is_exercise:
        return direction
    return Direction.LESS if direction is Direction.MORE else Direction.MORE
