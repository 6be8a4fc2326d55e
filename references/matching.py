"""Which records are worth comparing: blocking keys, in time that grows with the number of records.

A key is a hash of what two copies are likely to share (an identifier, the start or end of the title, its
longest words, first author with year, place in the journal). A key that too many records share says little:
it is narrowed by year and author, and left out if it is still too common.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
import numpy.typing as npt

from references.folding import words_of
from references.profiles import Profile

Keys = npt.NDArray[np.int64]
COMMONEST = 16  # records that may share one key before it is narrowed
COMMONEST_NARROWED = 250  # copies of one work that are still compared with one another
_KEY_COUNT = 10


def hash_for_good(parts: tuple[object, ...]) -> int:
    """A hash that is the same in every run of the program, which Python's own is not; slower."""
    return int.from_bytes(blake2b(repr(parts).encode(), digest_size=8).digest(), "little", signed=True)


def blocking_keys(profile: Profile, hashed: Callable[[tuple[object, ...]], int] = hash) -> tuple[int, ...]:
    """The record's keys, always the same number of them; 0 stands for a key it does not have."""

    def key(kind: str, *parts: object) -> int:
        return hashed((kind, *parts)) if all(parts) else 0

    title = profile.title
    surname = profile.surnames[0] if profile.surnames else ""
    last = profile.surnames[-1] if len(profile.surnames) > 1 else ""
    letters = title.replace(" ", "")
    words = sorted({word for word in words_of(title) if len(word) > 3}, key=lambda word: (-len(word), word))
    start = letters[:16]
    place = bool(profile.volume and profile.pages)
    return (
        key("doi", profile.doi),
        key("pmid", profile.pmid),
        key("registration", *profile.registrations[:1]) if profile.registrations else 0,
        key("start", start),
        key("end", letters[-16:] if len(letters) > 16 else ""),
        key("longest", words[0], words[1], profile.year) if len(words) > 1 else 0,
        key("longest", words[1], words[2], surname) if len(words) > 2 and surname else 0,
        key("author", surname, profile.year, title[:3]) if surname and profile.year else 0,
        key("last", last, profile.year, words[0]) if last and words else 0,
        key("place", profile.volume, profile.pages[0], surname or start[:4])
        if place and profile.pages
        else (key("other title", profile.titles[1][:16]) if len(profile.titles) > 1 else 0),
    )


def narrowing_key(profile: Profile, hashed: Callable[[tuple[object, ...]], int] = hash) -> int:
    """What narrows a key that many records share."""
    return hashed((profile.surnames[:1], profile.title[:40]))


@dataclass(frozen=True, slots=True)
class Blocks:
    """The keys of many records, a row each, and what narrows them; the same in every run, so that they can be kept."""

    keys: Keys
    narrow: Keys

    def __len__(self) -> int:
        return len(self.narrow)


def blocks_of(profiles: Sequence[Profile]) -> Blocks:
    """The keys of records, to be kept or looked up."""
    keys = [blocking_keys(profile, hash_for_good) for profile in profiles]
    narrow = [narrowing_key(profile, hash_for_good) for profile in profiles]
    return Blocks(np.array(keys, dtype=np.int64).reshape(-1, _KEY_COUNT), np.array(narrow, dtype=np.int64))


def write_blocks(blocks: Blocks) -> list[bytes]:
    """The keys of each record as bytes."""
    whole = np.column_stack([blocks.keys, blocks.narrow]).astype("<i8")
    return [row.tobytes() for row in whole]


def read_blocks(kept: Sequence[bytes]) -> Blocks:
    """The keys of records as `write_blocks` gave them."""
    whole = np.frombuffer(b"".join(kept), dtype="<i8").astype(np.int64).reshape(-1, _KEY_COUNT + 1)
    return Blocks(whole[:, :-1], whole[:, -1])


@dataclass(frozen=True, slots=True)
class CandidatePairs:
    """Index pairs worth comparing, each once, the lower index first, in order."""

    first: npt.NDArray[np.int32]
    second: npt.NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.first)

    def __iter__(self) -> Iterator[tuple[int, int]]:
        return zip(self.first.tolist(), self.second.tolist(), strict=True)


def _keys_of(profiles: Sequence[Profile]) -> tuple[Keys, Keys]:
    keys = np.array([blocking_keys(profile) for profile in profiles], dtype=np.int64).reshape(-1, _KEY_COUNT)
    return keys, np.array([narrowing_key(profile) for profile in profiles], dtype=np.int64)


def _narrow(keys: Keys, narrow: Keys) -> Keys:
    return keys * np.int64(1_000_003) ^ narrow


def find_candidates(profiles: Sequence[Profile]) -> CandidatePairs:
    """Pairs of records that share a key."""
    return pair_by_keys(*_keys_of(profiles))


def pair_by_keys(keys: Keys, narrow: Keys) -> CandidatePairs:
    """Pairs of rows that share a key."""
    codes = [_pairs_sharing(keys[:, column], narrow) for column in range(_KEY_COUNT)]
    merged = np.unique(np.concatenate(codes)) if codes else np.empty(0, dtype=np.int64)
    return CandidatePairs((merged >> 32).astype(np.int32), (merged & 0xFFFFFFFF).astype(np.int32))


def _pairs_sharing(keys: Keys, narrow: Keys) -> Keys:
    """Pairs with the same key, each as one number: lower index in the upper half."""
    common: list[Keys] = []
    codes = _pairs_in_runs(keys, np.flatnonzero(keys), COMMONEST, common)
    if common:
        rest = np.concatenate(common)
        narrowed = _narrow(keys[rest], narrow[rest])
        spread = np.zeros(len(keys), dtype=np.int64)
        spread[rest] = narrowed
        codes = np.concatenate([codes, _pairs_in_runs(spread, rest, COMMONEST_NARROWED, [])])
    return codes


def _pairs_in_runs(keys: Keys, members: npt.NDArray[np.intp], most: int, common: list[Keys]) -> Keys:
    """Pairs within runs of equal keys; members of runs that are too long go to `common`."""
    order = members[np.argsort(keys[members], kind="stable")]
    ordered = keys[order]
    starts = (
        np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(ordered) else np.empty(0, np.intp)
    )
    lengths = np.diff(np.r_[starts, len(ordered)])
    found: list[Keys] = [np.empty(0, dtype=np.int64)]
    for length in np.unique(lengths[lengths > 1]).tolist():
        rows = starts[lengths == length][:, None] + np.arange(length)
        block = order[rows]
        if length > most:
            common.append(block.ravel())
            continue
        left, right = np.triu_indices(length, 1)
        one, other = block[:, left].ravel(), block[:, right].ravel()
        lower, upper = np.minimum(one, other), np.maximum(one, other)
        found.append((lower.astype(np.int64) << 32) | upper.astype(np.int64))
    return np.concatenate(found)


class _SortedRuns:
    """Many (key, number) pairs in sorted runs of growing size, 12 bytes a pair: found by bisection, added in bulk."""

    def __init__(self) -> None:
        self._runs: list[tuple[Keys, npt.NDArray[np.int32]]] = []

    def add(self, keys: Keys, numbers: npt.NDArray[np.int32]) -> None:
        order = np.argsort(keys, kind="stable")
        self._runs.append((keys[order], numbers[order]))
        while len(self._runs) > 1 and len(self._runs[-2][0]) < 2 * len(self._runs[-1][0]):
            (one, its), (other, others) = self._runs[-2:]
            keys, numbers = np.concatenate([one, other]), np.concatenate([its, others])
            order = np.argsort(keys, kind="stable")
            self._runs[-2:] = [(keys[order], numbers[order])]

    def find(
        self, keys: Keys, most: int
    ) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.int32], npt.NDArray[np.bool_]]:
        """Places in `keys` with the numbers that have the same key, and which keys too many share to be given."""
        bounds = [
            (np.searchsorted(run, keys, "left"), np.searchsorted(run, keys, "right")) for run, _ in self._runs
        ]
        total = np.zeros(len(keys), dtype=np.intp)
        for left, right in bounds:
            total += right - left
        common = total > most
        places: list[npt.NDArray[np.intp]] = [np.empty(0, dtype=np.intp)]
        numbers: list[npt.NDArray[np.int32]] = [np.empty(0, dtype=np.int32)]
        for (left, right), (_, held) in zip(bounds, self._runs, strict=True):
            counts = np.where(common, 0, right - left)
            places.append(np.repeat(np.arange(len(keys)), counts))
            offsets = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
            numbers.append(held[np.repeat(left, counts) + offsets])
        return np.concatenate(places), np.concatenate(numbers), common


class KeyIndex:
    """Blocking keys of records that are known by their numbers: some 240 bytes a record, whatever it holds."""

    def __init__(self) -> None:
        self._plain = _SortedRuns()
        self._narrowed = _SortedRuns()

    def add(self, blocks: Blocks, numbers: Sequence[int]) -> None:
        """Enter records under their numbers."""
        owners = np.repeat(np.array(numbers, dtype=np.int32), _KEY_COUNT)
        flat, narrowed = blocks.keys.ravel(), _narrow(blocks.keys, blocks.narrow[:, None]).ravel()
        used = flat != 0
        self._plain.add(flat[used], owners[used])
        self._narrowed.add(narrowed[used], owners[used])

    def find(self, profiles: Sequence[Profile]) -> list[tuple[int, int]]:
        """(place in `profiles`, number of a known record) for all that share a key, each once, in order."""
        blocks = blocks_of(profiles)
        flat, narrowed = blocks.keys.ravel(), _narrow(blocks.keys, blocks.narrow[:, None]).ravel()
        owners = np.repeat(np.arange(len(profiles)), _KEY_COUNT)
        used = flat != 0
        flat, narrowed, owners = flat[used], narrowed[used], owners[used]
        places, numbers, common = self._plain.find(flat, COMMONEST)
        found = [(owners[places].astype(np.int64) << 32) | numbers.astype(np.int64)]
        if common.any():
            places, numbers, _ = self._narrowed.find(narrowed[common], COMMONEST_NARROWED)
            found.append((owners[common][places].astype(np.int64) << 32) | numbers.astype(np.int64))
        merged = np.unique(np.concatenate(found))
        return list(zip((merged >> 32).tolist(), (merged & 0xFFFFFFFF).tolist(), strict=True))
