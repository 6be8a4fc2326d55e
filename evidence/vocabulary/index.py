"""Which entry a text means: exact names first, then names with words left over or misspelt.

The thresholds are conventions of this project, set so that a text that could mean two things is asked about.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import log

from evidence.vocabulary.model import SharedName, WordLists
from evidence.vocabulary.names import Candidate, Lookup, expand_words, is_abbreviation, key_of, words_of

MATCH_SCORE = 80.0  # at least, to count as a match
MATCH_GAP = 6.0  # at least, to the next entry
NEAR_SCORE = 55.0  # at least, to be offered when asked
ALIKE_RATIO = 72.0  # at least, for a whole name to be offered as spelt nearly so
WORD_RATIO = 84.0  # at least, for two words to be one misspelt
LONGEST_NAME = 200  # characters; more is a sentence, not a name
RECENT_TEXTS = 2048
DETAIL_WEIGHT = 0.25  # what a word counts that only says how an exercise is done

# (entry id, words left over) -> the first word that speaks against the entry, or None
Objection = Callable[[str, Sequence[str]], str | None]


@dataclass(frozen=True, slots=True)
class Name:
    """One name of one entry. `rank`: 0 the id, 1 the standard name, 2 an everyday name."""

    text: str
    id: str
    rank: int


class NameIndex:
    """Finds entries by name. Fixed once built; the answers to recent texts are remembered."""

    def __init__(
        self,
        names: Iterable[Name],
        titles: dict[str, str],
        words: WordLists,
        *,
        shared: Iterable[SharedName] = (),
        own: Iterable[tuple[str, str]] = (),
        details: frozenset[str] = frozenset(),
        objection: Objection,
        kind: str = "entry",
    ) -> None:
        self._titles = titles
        self._expand = words.expand
        self._details = details
        self._object = objection
        self._kind = kind
        self._shared = {key_of(name.text): name for name in shared}
        self._own = {key_of(text): target for text, target in own}
        self._exact: dict[str, list[Name]] = defaultdict(list)
        self._names: list[tuple[Name, tuple[str, ...]]] = []
        for name in names:
            tokens = expand_words(words_of(name.text), self._expand)
            short = is_abbreviation(
                name.text
            )  # "KBS" is no kettlebell: an abbreviation stands for itself alone
            for key in {key_of(name.text)} if short else {key_of(name.text), "".join(tokens)}:
                self._exact[key].append(name)
            if not is_abbreviation(name.text) and tokens:
                self._names.append((name, tokens))
        self._recent: dict[str, Lookup] = {}
        self._weights = self._weigh()
        self._heads = self._count_heads()

    def _weigh(self) -> dict[str, float]:
        """Rare words say more than common ones (inverse document frequency over entries)."""
        holders: dict[str, set[str]] = defaultdict(set)
        for name, tokens in self._names:
            for token in tokens:
                holders[token].add(name.id)
        total = max(len(self._titles), 1)
        return {
            token: (1 + log(total / len(ids))) * (DETAIL_WEIGHT if token in self._details else 1)
            for token, ids in holders.items()
        }

    def _count_heads(self) -> dict[tuple[str, ...], set[str]]:
        """For each ending of a longer name, the entries whose names end so: "squat" ends many."""
        heads: dict[tuple[str, ...], set[str]] = defaultdict(set)
        for name, tokens in self._names:
            for start in range(1, len(tokens)):
                heads[tokens[start:]].add(name.id)
        return heads

    def find(self, text: str) -> Lookup:
        """The entry that `text` names. Never raises; an unsure text gives candidates."""
        if text not in self._recent:
            if len(self._recent) >= RECENT_TEXTS:
                self._recent.clear()
            self._recent[text] = self._find(text)
        return self._recent[text]

    def _find(self, text: str) -> Lookup:
        if len(text) > LONGEST_NAME:
            return Lookup(text, "none")
        tokens = expand_words(words_of(text), self._expand)
        if not tokens:
            return Lookup(text, "none")
        key = key_of(text)
        if key in self._own:
            target = self._own[key]
            return Lookup(text, "match", target, (self._candidate(target, 100, "your own name for it"),))
        if key in self._shared:
            return self._ask_shared(text, self._shared[key])
        exact = self._find_exact(text, (key, "".join(tokens)))
        return exact or self._find_bare(text) or self._find_near(text, tokens)

    def _find_bare(self, text: str) -> Lookup | None:
        """An exact name, often an abbreviation, with detail words around it: "VL (50 %)", "BSS each side"."""
        words = words_of(text)
        core = [word for word in words if word not in self._details]
        if not core or len(core) == len(words):
            return None
        found = self._find_exact(" ".join(core), ("".join(core),))
        if found is None or found.match is None:
            return None
        left = tuple(word for word in words if word in self._details)
        if self._object(found.match, left) is not None:
            return None
        return replace(found, text=text, unused=left)

    def _candidate(self, entry: str, score: float, reason: str) -> Candidate:
        return Candidate(entry, self._titles[entry], round(score, 1), reason)

    def _ask_shared(self, text: str, shared: SharedName) -> Lookup:
        holders = dict.fromkeys((*shared.ids, *(n.id for n in self._exact.get(key_of(text), ()))))
        reason = f'"{text.strip()}" is used for more than one thing'
        found = tuple(self._candidate(i, 90, reason) for i in holders if i in self._titles)
        return Lookup(text, "ambiguous", None, found, other=shared.other)

    def _find_exact(self, text: str, keys: tuple[str, ...]) -> Lookup | None:
        for key in keys:
            held = self._exact.get(key, ())
            if not held:
                continue
            rank = min(name.rank for name in held)
            ids = tuple(dict.fromkeys(name.id for name in held if name.rank == rank))
            if len(ids) > 1:
                reason = f'"{text.strip()}" is a name of more than one {self._kind}'
                return Lookup(text, "ambiguous", None, tuple(self._candidate(i, 95, reason) for i in ids))
            reason = ("its id", "its standard name", f'a known name of it ("{held[0].text}")')[rank]
            return Lookup(
                text,
                "match",
                ids[0],
                (self._candidate(ids[0], 100, reason),),
                broad=rank == 2 and (is_abbreviation(text) or self._is_broad(text, ids[0])),
            )
        return None

    def _is_broad(self, text: str, entry: str) -> bool:
        """Whether the text is the general word of which several other entries are kinds."""
        return len(self._heads.get(expand_words(words_of(text), self._expand), set()) - {entry}) >= 2

    def _find_near(self, text: str, tokens: tuple[str, ...]) -> Lookup:
        best: dict[str, tuple[float, Name, tuple[str, ...], tuple[str, ...], bool]] = {}
        for name, theirs in self._names:
            score, left, missing, misspelt = self._compare(name.id, tokens, theirs)
            if score > best.get(name.id, (0.0,))[0]:
                best[name.id] = (score, name, left, missing, misspelt)
        ranked = sorted(best.items(), key=lambda item: (-item[1][0], item[0]))
        near = [(i, fit) for i, fit in ranked if fit[0] >= NEAR_SCORE][:5]
        if not near:
            alike = self._find_alike(text)
            known = {c.id for c in alike}
            far = [self._candidate(i, f[0], f'like "{f[1].text}"') for i, f in ranked[:3] if i not in known]
            return Lookup(text, "none", None, (*alike, *far)[:5])
        fits = [(i, fit) for i, fit in near if self._speaks_against(i, fit[2], fit[3]) is None]
        if fits and fits[0][1][0] >= MATCH_SCORE:
            entry, (score, name, left, _missing, misspelt) = fits[0]
            rivals = [fit[0] for i, fit in fits[1:]] + [f[0] for i, f in near if f[0] > score and not f[3]]
            if all(score - rival >= MATCH_GAP for rival in rivals):
                how = f'close to "{name.text}"' if misspelt else f'"{name.text}" with details'
                found = (self._candidate(entry, score, how),)
                broad = self._is_broad(name.text, entry)
                return Lookup(text, "match", entry, found, unused=left, broad=broad)
        offered = []
        for entry, (score, name, left, missing, _misspelt) in near:
            against = self._speaks_against(entry, left, missing)
            why = f'like "{name.text}"' + (f', but "{against}" is not accounted for' if against else "")
            offered.append(self._candidate(entry, score, why))
        return Lookup(text, "ambiguous", None, tuple(offered))

    def _find_alike(self, text: str) -> tuple[Candidate, ...]:
        """The entries with a name spelt nearly so, best first: "legpres", "calfraise", "hamstrigns"."""
        from rapidfuzz import fuzz, process

        spelt = process.extract(
            key_of(text), list(self._exact), scorer=fuzz.ratio, score_cutoff=ALIKE_RATIO, limit=12
        )
        best: dict[str, tuple[float, str]] = {}
        for key, ratio, _ in spelt:
            for name in self._exact[key]:
                best.setdefault(name.id, (ratio, name.text))
        # Below what may be taken for a match, whatever the letters say: a person chooses.
        return tuple(
            self._candidate(i, ratio / 2, f'spelt like "{name}"')
            for i, (ratio, name) in list(best.items())[:3]
        )

    def _speaks_against(self, entry: str, left: Sequence[str], missing: Sequence[str]) -> str | None:
        absent = next((word for word in missing if word not in self._details), None)
        return absent or self._object(entry, left)

    def _compare(
        self, entry: str, mine: tuple[str, ...], theirs: tuple[str, ...]
    ) -> tuple[float, tuple[str, ...], tuple[str, ...], bool]:
        """Score (0-100) of a text against a name; the text's words left over; the name's words missing."""
        from rapidfuzz import fuzz

        left = list(mine)
        shared, missing, misspelt = 0.0, [], False
        for word in theirs:
            weight = self._weights.get(word, 1.0)
            if word in left:
                left.remove(word)
                shared += weight
                continue
            near = max(left, key=lambda other: fuzz.ratio(word, other), default="") if len(word) > 3 else ""
            ratio = fuzz.ratio(word, near) if len(near) > 3 else 0.0
            if ratio >= WORD_RATIO and near not in self._weights:
                left.remove(near)
                shared += weight * ratio / 100
                misspelt = True
            else:
                missing.append(word)
        if not shared:
            return 0.0, tuple(left), tuple(missing), False
        all_theirs = sum(self._weights.get(word, 1.0) for word in theirs)
        rest = sum(self._weight_left(entry, word) for word in left)
        return 200 * shared / (shared + rest + all_theirs), tuple(left), tuple(missing), misspelt

    def _weight_left(self, entry: str, word: str) -> float:
        if self._object(entry, (word,)) is None:
            return DETAIL_WEIGHT
        return self._weights.get(word, 1 + log(max(len(self._titles), 1)) / 2)
