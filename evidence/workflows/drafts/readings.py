"""A sentence read for checking: what it does (asserts, asks, tells to do), speaks of, cites, and how strongly."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from evidence.appraisal.draft_cues import Cue, draft_strength, find_cue, find_safety_cue
from evidence.reading.drafts import Draft, Sentence
from evidence.reading.drafts.addresses import without_addresses
from evidence.vocabulary.terms import Direction
from evidence.workflows.drafts.binding import Candidate, ClaimWords, said_direction
from evidence.workflows.drafts.dois import with_keys
from evidence.workflows.drafts.knowledge import Knowledge, KnownClaim, KnownStudy
from evidence.workflows.drafts.numbers import Number, find_numbers
from evidence.workflows.drafts.prose_mentions import ProseMention, find_prose_mentions
from evidence.workflows.drafts.topics import Topic, TopicFinder


@dataclass(frozen=True)
class Reading:
    """One sentence with everything the checks ask of it. Parts are worked out when first asked."""

    draft: Draft
    sentence: Sentence
    number: int
    knowledge: Knowledge
    finder: TopicFinder
    claim_words: ClaimWords
    tied_keys: tuple[str, ...]
    near_text: str  # of the same cue or bracketed passage: where a caution counts
    after: Sentence | None = None  # the next sentence of the same block
    before: Sentence | None = None  # the one before it there
    register: str = "short"  # of the wordings that are proposed: short, plain, full

    @cached_property
    def text(self) -> str:
        """The sentence without markup; addresses in it are dots, as their digits and words are none of its own."""
        return without_addresses(self.sentence.text)

    def cue(self, family: str) -> Cue | None:
        """The first phrase of a family of draft words."""
        if family not in self._cues:
            self._cues[family] = find_cue(family, self.text)
        return self._cues[family]

    @cached_property
    def _cues(self) -> dict[str, Cue | None]:
        """Families that were looked for already."""
        return {}

    def safety(self, family: str) -> Cue | None:
        """The first phrase of a family of safety words."""
        return find_safety_cue(family, self.text)

    @cached_property
    def mentions(self) -> tuple[ProseMention, ...]:
        """Sources named in words."""
        return find_prose_mentions(self.text, self.knowledge)

    @cached_property
    def cited(self) -> tuple[str, ...]:
        """Keys of stored references that the sentence cites or names."""
        keys = [k.key for c in self.sentence.citations for k in c.keys]
        keys += [m.key for m in self.mentions if m.key]
        return tuple(k for k in dict.fromkeys(keys) if k in self.knowledge.references)

    @cached_property
    def passage_studies(self) -> tuple[KnownStudy, ...]:
        """The studies cited here; where there are none, those of the sentence behind ("... 47. (Tollerton 2019.)")."""
        if self.cited or self.after is None:
            return self.cited_studies
        found = {s.key: s for key in self.cited_next for s in self.knowledge.studies_of(key)}
        return tuple(found.values())

    @cached_property
    def cited_next(self) -> tuple[str, ...]:
        """Keys that the next sentence of the same block cites or names."""
        if self.after is None:
            return ()
        keys = [k.key for c in self.after.citations for k in c.keys]
        return (*keys, *(m.key for m in find_prose_mentions(self.after.text, self.knowledge) if m.key))

    @cached_property
    def points_to_source(self) -> bool:
        """Whether any source is named at all, known or not."""
        return bool(self.sentence.citations or self.mentions)

    @cached_property
    def cited_studies(self) -> tuple[KnownStudy, ...]:
        """The studies that the cited references report."""
        found = {s.key: s for key in self.cited for s in self.knowledge.studies_of(key)}
        return tuple(found.values())

    @cached_property
    def topic(self) -> Topic:
        """Exercises, regions and outcomes spoken of."""
        return self.finder.find(self.text)

    @cached_property
    def numbers(self) -> tuple[Number, ...]:
        """The numbers told."""
        return find_numbers(self.text)

    @cached_property
    def strength(self) -> str:
        """very_uncertain, may, probably, plain or boosted."""
        return draft_strength(self.text)

    @cached_property
    def left_open(self) -> bool:
        """Whether it says that the answer is open."""
        return self.cue("left_open") is not None

    @cached_property
    def asks(self) -> bool:
        """Whether it is a question."""
        return self.cue("question") is not None

    @cached_property
    def prescribes(self) -> bool:
        """Whether it is a prescription of sets, loads, rests."""
        return self.cue("prescription") is not None

    @cached_property
    def tells_to_do(self) -> bool:
        """Whether it is an instruction."""
        return self.cue("instruction") is not None

    @cached_property
    def not_held(self) -> bool:
        """A question, a wish, a view of others, or a refusal to judge: nothing the writer asserts."""
        return self.asks or any(self.cue(f) for f in ("told_by_others", "refusal", "wish", "disowned"))

    @cached_property
    def asserts(self) -> bool:
        """Whether the writer states something of the world."""
        if self.not_held:
            return False
        sourced = bool(self.points_to_source or self.tied_keys)
        if (self.tells_to_do or self.cue("own_view")) and not sourced and not self.cue("appeal"):
            return self.cue("superlative") is not None and not self.tells_to_do and not self.cue("own_view")
        return not (self.prescribes and not sourced)

    @cached_property
    def reports(self) -> bool:
        """A past-tense report of what named studies found, which is no general claim."""
        return bool(
            self.cue("past_report")
            and not self.cue("settled")
            and (self.points_to_source or self.tied_keys)
            and not self.generalises
        )

    @cached_property
    def generalises(self) -> bool:
        """Whether a present-tense verb says what holds in general."""
        verb, past = self.cue("effect_verb"), self.cue("past_report")
        if verb is None or self._tells_of_a_study(verb):
            return False
        if past is None or verb.start < past.start or self.strength in ("may", "probably"):
            return True
        return self.strength != "plain" and self.cue("comparative") is not None

    def _tells_of_a_study(self, verb: Cue) -> bool:
        """ "Hollowmere (2017) gives 28.0 per cent": the present tense of one who reads a paper out."""
        named = any(m.start < verb.start for m in self.mentions)
        return bool(named and self.numbers and self.strength == "plain" and not self.cue("comparative"))

    @cached_property
    def matched(self) -> Candidate | None:
        """The claim that untied words clearly mean."""
        return self.claim_words.match(self.topic, self.cited)

    @cached_property
    def candidates(self) -> Mapping[str, Candidate]:
        """Each bound claim with where its sides stand."""
        from evidence.workflows.drafts.topics import same_words

        words = same_words(self.topic.words)
        studies = {s.key for s in self.cited_studies}
        return {c.key: self.claim_words.score(c.key, self.topic, words, studies) for c in self.claims}

    @cached_property
    def claims(self) -> tuple[KnownClaim, ...]:
        """The claims the sentence is about: those tied to it, else the one that is clearly meant."""
        tied = tuple(self.knowledge.claims[k] for k in self.tied_keys if k in self.knowledge.claims)
        if tied or self.matched is None:
            return tied
        key = self.matched.claim.key
        return (self.knowledge.claims[key],)

    @cached_property
    def is_tied(self) -> bool:
        """Whether the author tied it."""
        return any(k in self.knowledge.claims for k in self.tied_keys)

    def direction(self, claim: KnownClaim) -> Direction | None:
        """What the sentence says of a claim's exercise against its comparator."""
        if self.cue("sameness"):
            return Direction.SAME
        return said_direction(self.candidates[claim.key], self.topic)

    @cached_property
    def studies(self) -> tuple[KnownStudy, ...]:
        """The studies it leans on: those cited, else those behind its claims."""
        if self.cited_studies:
            return self.cited_studies
        found = {
            s: self.knowledge.studies[s]
            for c in self.claims
            for s in c.studies
            if s in self.knowledge.studies
        }
        return tuple(found.values())


def read_all(
    draft: Draft,
    knowledge: Knowledge,
    ties: Mapping[int, Iterable[str]] | None = None,
    register: str = "short",
) -> list[Reading]:
    """Every sentence of a draft, read. `ties`: further ties, by the number of the sentence."""
    draft = with_keys(draft, knowledge)
    finder, words = knowledge.finder, ClaimWords(knowledge)
    extra = ties or {}
    near = nearby_texts(draft)
    readings = [
        Reading(
            draft,
            s,
            i,
            knowledge,
            finder,
            words,
            tuple(dict.fromkeys([*s.claims, *extra.get(i, ())])),
            near[i],
            following(draft, i),
            preceding(draft, i),
            register,
        )
        for i, s in enumerate(draft.sentences)
    ]
    cited = (key for reading in readings for key in reading.cited)
    knowledge.studies.prefetch(s for key in cited for s in knowledge.references[key].studies)
    knowledge.studies.prefetch(s for reading in readings for c in reading.claims for s in c.studies)
    return readings


def following(draft: Draft, number: int) -> Sentence | None:
    """The next sentence of the same block."""
    later = draft.sentences[number + 1 : number + 2]
    return later[0] if later and later[0].block == draft.sentences[number].block else None


def preceding(draft: Draft, number: int) -> Sentence | None:
    """The sentence before, of the same block."""
    if number == 0 or draft.sentences[number - 1].block != draft.sentences[number].block:
        return None
    return draft.sentences[number - 1]


def nearby_texts(draft: Draft) -> list[str]:
    """For each sentence the text in which a caution counts: itself, and in captions the rest of its block."""
    return [
        draft.blocks[s.block].text if draft.blocks[s.block].kind == "cues" and len(draft.blocks[s.block].text) < 400
        else s.text
        for s in draft.sentences
    ]  # fmt: skip
