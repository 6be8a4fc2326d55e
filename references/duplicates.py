"""Find references that stand for one work, or for works that belong together; nothing is merged unasked.

Answers are for pairs. They are never chained: that A is likely B, and B likely C, does not make A and C the
same (taking such chains lowered F1 on the Cora benchmark from .868 to .833).
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
import numpy.typing as npt
from rapidfuzz import fuzz, process

from references.distance import Distance, default_weights, measure_profiles
from references.matching import Blocks, CandidatePairs, KeyIndex, blocks_of, find_candidates, pair_by_keys
from references.merging import Merged, merge
from references.profiles import Profile, build_profile, build_profiles
from references.record import Record
from references.relations import Answer, Judgement, Thresholds, judge

__all__ = [
    "Answer",
    "Comparison",
    "DuplicateReport",
    "KnownRecords",
    "Merged",
    "Pair",
    "compare_pair",
    "compare_with",
    "find_duplicates",
    "merge",
]

_CHUNK = 50_000
_LEAST_LIKENESS = 80.0  # titles less alike than this, in percent, cost too much for any answer but different


@dataclass(frozen=True, slots=True)
class Pair:
    """Two records that stand for one work, or belong together.

    `relation` is that of one of them to the other (`preprint-of`, ...), only where `answer` is related.
    """

    a_key: str
    b_key: str
    answer: Answer
    relation: str | None
    distance: Distance
    reason: str = ""


@dataclass(frozen=True, slots=True)
class DuplicateReport:
    """What was found among `records` records: pairs, nearest first."""

    pairs: tuple[Pair, ...]
    records: int
    compared: int

    def with_answer(self, answer: Answer) -> tuple[Pair, ...]:
        """The pairs that have this answer."""
        return tuple(pair for pair in self.pairs if pair.answer is answer)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The best known match of one incoming record; without a match `known_key` is None and all is different.

    `related`: other known records that belong to the incoming one, with their relation.
    """

    incoming_key: str
    known_key: str | None
    answer: Answer
    relation: str | None
    distance: Distance | None
    reason: str = ""
    related: tuple[tuple[str, str], ...] = ()


def compare_pair(a: Record, b: Record, thresholds: Thresholds | None = None) -> Pair:
    """The answer for two records, with the explained distance."""
    one, other = build_profile(a), build_profile(b)
    distance = measure_profiles(one, other)
    return _pair(one, other, distance, judge(one, other, distance, thresholds or Thresholds.packaged()))


def find_duplicates(records: Iterable[Record], thresholds: Thresholds | None = None) -> DuplicateReport:
    """All pairs among the records that are the same, likely the same, or related."""
    profiles = build_profiles(records)
    return _report(profiles, find_candidates(profiles), thresholds)


def find_duplicates_by_blocks(
    keys: Sequence[str],
    blocks: Blocks,
    recall: Callable[[Sequence[str]], Iterable[Record]],
    thresholds: Thresholds | None = None,
) -> DuplicateReport:
    """The same for records of which the keys were kept elsewhere: only those worth comparing are recalled."""
    found = pair_by_keys(blocks.keys, blocks.narrow)
    used = np.union1d(found.first, found.second)
    recalled = {record.key: build_profile(record) for record in recall([keys[at] for at in used.tolist()])}
    profiles = [recalled[keys[at]] for at in used.tolist()]
    places = [np.searchsorted(used, side).astype(np.int32) for side in (found.first, found.second)]
    report = _report(profiles, CandidatePairs(places[0], places[1]), thresholds)
    return DuplicateReport(report.pairs, len(keys), report.compared)


def _report(
    profiles: Sequence[Profile], candidates: CandidatePairs, thresholds: Thresholds | None
) -> DuplicateReport:
    limits = thresholds or Thresholds.packaged()
    pairs = []
    for first, second in _promising(profiles, candidates):
        a, b = profiles[first], profiles[second]
        distance = measure_profiles(a, b)
        judgement = judge(a, b, distance, limits)
        if judgement.answer is not Answer.DIFFERENT:
            pairs.append(_pair(a, b, distance, judgement))
    pairs.sort(key=lambda pair: (_RANK[pair.answer], pair.distance.total, pair.a_key, pair.b_key))
    return DuplicateReport(tuple(pairs), len(profiles), len(candidates))


_RANK = {Answer.SAME: 0, Answer.LIKELY_SAME: 1, Answer.RELATED: 2, Answer.DIFFERENT: 3}


def _pair(a: Profile, b: Profile, distance: Distance, judgement: Judgement) -> Pair:
    return Pair(a.key, b.key, judgement.answer, judgement.relation, distance, judgement.reason)


def _promising(profiles: Sequence[Profile], candidates: CandidatePairs) -> Iterable[tuple[int, int]]:
    """Candidate pairs whose titles are alike at a glance, or that something stronger than a title joins."""
    titles = np.array([profile.title for profile in profiles], dtype=object)
    for start in range(0, len(candidates), _CHUNK):
        first = candidates.first[start : start + _CHUNK]
        second = candidates.second[start : start + _CHUNK]
        likeness = np.maximum(*(_likeness(titles[first], titles[second], scorer) for scorer in _SCORERS))
        for one, other, score in zip(first.tolist(), second.tolist(), likeness.tolist(), strict=True):
            a, b = profiles[one], profiles[other]
            if (score >= _LEAST_LIKENESS and not _have_other_authors(a, b)) or _is_joined(a, b):
                yield one, other


_SCORERS = (fuzz.ratio, fuzz.token_sort_ratio)


def _likeness(one: npt.NDArray[np.object_], other: npt.NDArray[np.object_], scorer: Any) -> npt.NDArray[Any]:
    """Element-wise likeness of two columns of titles in percent."""
    found: npt.NDArray[Any] = process.cpdist(one, other, scorer=scorer, workers=-1)
    return found


def _have_other_authors(a: Profile, b: Profile) -> bool:
    """Whether no surname of one is even nearly a surname of the other, which rules out one work (not a reply)."""
    if a.marker != b.marker or not a.surnames or not b.surnames or not set(a.surnames).isdisjoint(b.surnames):
        return False
    starts = {name[:3] for name in a.surnames}
    if not starts.isdisjoint(name[:3] for name in b.surnames):
        return False
    ends = {name[-3:] for name in a.surnames}
    return ends.isdisjoint(name[-3:] for name in b.surnames) and not any(
        " " in name for name in a.surnames + b.surnames
    )


def _is_joined(a: Profile, b: Profile) -> bool:
    """Whether an identifier, a second wording, a contained title or the place in the journal joins two
    records.
    """
    if (a.doi and a.doi == b.doi) or (a.pmid and a.pmid == b.pmid) or (a.pmcid and a.pmcid == b.pmcid):
        return True
    if len(a.titles) > 1 or len(b.titles) > 1 or (a.registrations and a.registrations == b.registrations):
        return True
    if a.title and b.title and (a.title in b.title or b.title in a.title):
        return True
    return bool(a.pages and a.pages == b.pages and a.volume and a.volume == b.volume)


class KnownRecords:
    """Records already kept, made ready for comparing with many incoming ones.

    `recall` gives known records by their keys: then only keys are held here, and memory stays small however many
    records are known.
    """

    def __init__(
        self,
        records: Iterable[Record] = (),
        thresholds: Thresholds | None = None,
        recall: Callable[[Sequence[str]], Iterable[Record]] | None = None,
    ) -> None:
        self._thresholds = thresholds or Thresholds.packaged()
        self._recall = recall
        self._index = KeyIndex()
        self._keys: list[str] = []
        self._profiles: list[Profile] = []
        self.add_all(records)

    def add(self, record: Record) -> None:
        """Keep one more record, so that a later incoming one is compared with it too."""
        self.add_all([record])

    def add_all(self, records: Iterable[Record]) -> None:
        """Keep more records, in steps of bounded size."""
        stream = iter(records)
        while part := [build_profile(record) for record in islice(stream, _CHUNK)]:
            numbers = range(len(self._keys), len(self._keys) + len(part))
            self._keys += [profile.key for profile in part]
            self._index.add(blocks_of(part), numbers)
            if self._recall is None:
                self._profiles += part

    def add_blocks(self, keys: Sequence[str], blocks: Blocks) -> None:
        """Keep records whose blocking keys were kept elsewhere (`matching.write_blocks`)."""
        if self._recall is None:
            raise ValueError("records known by their keys alone need a way to recall them")
        self._index.add(blocks, range(len(self._keys), len(self._keys) + len(keys)))
        self._keys += keys

    def compare(self, incoming: Record) -> Comparison:
        """The best known match of one record: the surest answer, then the nearest."""
        return self.compare_all([incoming])[0]

    def compare_all(self, incoming: Sequence[Record]) -> tuple[Comparison, ...]:
        """For each incoming record its best known match. Incoming ones are not compared with each other."""
        profiles = build_profiles(incoming)
        found = self._judge(profiles, self._index.find(profiles))
        return tuple(_compare_to(profile, found.get(place, [])) for place, profile in enumerate(profiles))

    def find_pairs(self, incoming: Sequence[Record]) -> dict[int, list[tuple[str | int, Pair]]]:
        """By place of an incoming record what it may be: known records by key, earlier incoming ones by place.

        The surest answer comes first, then the nearest; pairs that are different are left out.
        """
        profiles = build_profiles(incoming)
        found: dict[int, list[tuple[str | int, Pair]]] = {}
        for place, known in self._judge(profiles, self._index.find(profiles)).items():
            found[place] = [(profile.key, _pair(profiles[place], profile, d, j)) for profile, d, j in known]
        for first, second in _promising(profiles, find_candidates(profiles)):
            a, b = profiles[first], profiles[second]
            distance = measure_profiles(b, a)
            judgement = judge(b, a, distance, self._thresholds)
            found.setdefault(second, []).append((first, _pair(b, a, distance, judgement)))
        return {place: kept for place, pairs in found.items() if (kept := _sort_pairs(pairs))}

    def _judge(
        self, profiles: Sequence[Profile], candidates: Sequence[tuple[int, int]]
    ) -> dict[int, list[tuple[Profile, Distance, Judgement]]]:
        numbers = list(dict.fromkeys(number for _, number in candidates))
        known = self._profiles_of(numbers)
        place_of = {number: len(profiles) + at for at, number in enumerate(numbers)}
        both = [*profiles, *known]
        pairs = CandidatePairs(
            np.array([place for place, _ in candidates], dtype=np.int32),
            np.array([place_of[number] for _, number in candidates], dtype=np.int32),
        )
        found: dict[int, list[tuple[Profile, Distance, Judgement]]] = {}
        for place, other in _promising(both, pairs):
            distance = measure_profiles(both[place], both[other], default_weights())
            judgement = judge(both[place], both[other], distance, self._thresholds)
            found.setdefault(place, []).append((both[other], distance, judgement))
        return found

    def _profiles_of(self, numbers: Sequence[int]) -> list[Profile]:
        if self._recall is None:
            return [self._profiles[number] for number in numbers]
        keys = [self._keys[number] for number in numbers]
        recalled = {record.key: build_profile(record) for record in self._recall(list(dict.fromkeys(keys)))}
        return [recalled[key] for key in keys]


def _sort_pairs(pairs: list[tuple[str | int, Pair]]) -> list[tuple[str | int, Pair]]:
    kept = [item for item in pairs if item[1].answer is not Answer.DIFFERENT]
    return sorted(kept, key=lambda item: (_RANK[item[1].answer], item[1].distance.total, item[1].b_key))


def _compare_to(profile: Profile, known: list[tuple[Profile, Distance, Judgement]]) -> Comparison:
    if not known:
        return Comparison(profile.key, None, Answer.DIFFERENT, None, None)
    best, distance, judgement = min(known, key=lambda one: (_RANK[one[2].answer], one[1].total))
    related = sorted(
        (other.key, found.relation)
        for other, _, found in known
        if other is not best and found.answer is Answer.RELATED and found.relation
    )
    return Comparison(
        profile.key,
        best.key,
        judgement.answer,
        judgement.relation,
        distance,
        judgement.reason,
        tuple(related),
    )


def compare_with(
    records_known: Iterable[Record], incoming: Iterable[Record], thresholds: Thresholds | None = None
) -> tuple[Comparison, ...]:
    """For each incoming record its best known match, in order. Incoming records are not compared with each
    other: use `find_duplicates` for that, or `KnownRecords.add` while importing.
    """
    return KnownRecords(records_known, thresholds).compare_all(tuple(incoming))
