"""Checks on sources: none, unknown, not bearing, wrongly told, under a notice, read as abstract, counted twice."""

import re
from collections.abc import Iterator

from evidence.appraisal.draft_cues import notice_words
from evidence.catalogue.queries.finding import nearest_keys
from evidence.workflows.drafts.findings import Draught, Severity, mark_of
from evidence.workflows.drafts.knowledge import KnownReference, KnownStudy
from evidence.workflows.drafts.people import has_both
from evidence.workflows.drafts.readings import Reading
from references.identifiers import normalise_doi

NOTICE_STATES = {
    "retracted": ("retracted", Severity.ERROR),
    "withdrawn or removed": ("retracted", Severity.ERROR),
    "partially retracted": ("retracted", Severity.ERROR),
    "concern": ("concern", Severity.ERROR),
    "expression of concern": ("concern", Severity.ERROR),
    "corrected": ("corrected", Severity.WARNING),
}
MUSCLE_OUTCOMES = {"activation", "hypertrophy"}


def check_sources(reading: Reading) -> Iterator[Draught]:
    """Every finding on the sources of one sentence."""
    yield from check_no_source(reading)
    yield from check_unknown(reading)
    yield from check_details(reading)
    yield from check_bearing(reading)
    yield from check_notices(reading)
    yield from check_abstract(reading)
    yield from check_counted_twice(reading)


def check_no_source(reading: Reading) -> Iterator[Draught]:
    """A checkable sentence, or an appeal to studies, that names no source."""
    if reading.points_to_source or reading.tied_keys or reading.not_held:
        return
    appeal = reading.cue("appeal")
    if appeal:
        yield _no_source(reading, "studies are appealed to, and none is named", mark_of(appeal))
        return
    if reading.safety("through_pain") and ";" in reading.text and not reading.safety("warns"):
        yield _no_source(reading, "advice on loads rests on a reason for which no source is named", None)
        return
    if not reading.asserts or reading.cue("own_view") or reading.left_open:
        return
    topic = reading.topic
    specific = bool(topic.exercises or reading.matched)
    comparative = reading.cue("comparative")
    effect = [n for n in reading.numbers if n.kind in ("percent", "per_hundred")]
    over = comparative is not None and len(set(topic.exercises)) >= 2
    if effect and ((specific and topic.constructs) or (over and topic.regions)):
        span = (effect[0].start, effect[0].end)
        yield _no_source(reading, "a figure is told, and no source is named", span)
    elif comparative and reading.cue("effect_verb") and (reading.matched or compares_exercises(reading)):
        yield _no_source(
            reading,
            "a comparison is made that studies can decide, and no source is named",
            mark_of(comparative),
        )


def compares_exercises(reading: Reading) -> bool:
    """Whether two exercises are set against each other on a region and an outcome, claim or none."""
    topic = reading.topic
    return len(set(topic.exercises)) >= 2 and bool(topic.regions and topic.constructs)


def _no_source(reading: Reading, why: str, mark: tuple[int, int] | None) -> Draught:
    found = reading.claim_words.candidates(reading.topic, ())
    likely = [c for c in found if c.score >= 0.5]
    figures = tuple(f"nearest claim: {c.claim.key} ({c.score:.2f}): {c.claim.statement}" for c in likely[:2])
    from evidence.workflows.drafts.suggesting import suggest

    said = suggest(likely[0].claim) if likely else ()
    return Draught("no-source", "No source is named.", why, mark, figures=figures, suggestions=said)


def check_unknown(reading: Reading) -> Iterator[Draught]:
    """Keys and mentions that fit no reference, and ties to claims there are none of."""
    known = reading.knowledge.references
    for citation in reading.sentence.citations:
        for cited in citation.keys:
            if cited.key in known:
                continue
            if doi := normalise_doi(cited.key):
                yield Draught(
                    "unknown-citation",
                    f"The catalogue holds no reference with the DOI {doi}.",
                    "nothing in it can be held against this source",
                    source=(citation.start, citation.end),
                    figures=(f"to add it: steelyard refs look-up {doi}",),
                )
                continue
            near = nearest_keys(cited.key, list(known))
            yield Draught(
                "unknown-citation",
                f'No reference has the key "{cited.key}".',
                "the catalogue holds no such reference",
                source=(citation.start, citation.end),
                figures=tuple(f"near: {k} ({known[k].short})" for k in near),
                swap=None,
            )
    for mention in reading.mentions:
        if mention.key is not None:
            continue
        if mention.several and " " not in mention.text:
            continue  # a bare surname of several works names a person, not a source
        why = "it fits several references" if mention.several else "no reference has such an author and year"
        yield Draught(
            "unknown-citation",
            f'"{mention.text}" is not known.',
            why,
            (mention.start, mention.end),
            figures=tuple(f"near: {k} ({known[k].short})" for k in mention.near[:4]),
            # "The Harbour and Street experiment": two capitalised words with no year need not be surnames.
            severity=None if mention.near or any(c.isdigit() for c in mention.text) else Severity.WARNING,
        )
    for key in reading.tied_keys:
        if key not in reading.knowledge.claims:
            near = nearest_keys(key, list(reading.knowledge.claims))
            yield Draught(
                "unknown-citation",
                f'No claim is called "{key}".',
                "the sentence is tied to a claim that the catalogue does not hold",
                figures=tuple(f"near: {k}" for k in near),
            )


def check_details(reading: Reading) -> Iterator[Draught]:
    """Author, year or journal told otherwise than the record has them."""
    for mention in reading.mentions:
        if mention.wrong and mention.key:
            record = reading.knowledge.references[mention.key]
            yield Draught(
                "wrong-source-details",
                f'"{mention.text}" differs from the record.',
                mention.wrong,
                (mention.start, mention.end),
                figures=(f"record: {record.short}, {record.journal}",),
                references=(record.key,),
                swap=_as_written(mention.text, record),
            )
    journals = reading.knowledge.journals
    cited = [reading.knowledge.references[k] for k in reading.cited]
    if not cited:
        return
    for journal in journals:
        at = reading.text.find(journal)
        if at >= 0 and not any(r.journal == journal for r in cited):
            yield Draught(
                "wrong-source-details",
                f"{cited[0].short} was not in {journal}.",
                f"the record says {cited[0].journal}",
                (at, at + len(journal)),
                references=(cited[0].key,),
                swap=cited[0].journal,
            )


def _as_written(said: str, record: KnownReference) -> str:
    """The mention as the record has it: where only the year is wrong, only the year is changed."""
    from references.folding import fold

    first = record.authors[0].family if record.authors else None
    if first and fold(said).startswith(fold(first)) and not re.search(r"(?: and | & |, )[A-Z]", said):
        return re.sub(r"\b(?:19|20)\d\d[a-z]?\b", str(record.year), said)
    families = [a.family or a.literal or "" for a in record.authors]
    names = (
        families[0]
        if len(families) == 1
        else f"{families[0]} and {families[1]}"
        if len(families) == 2
        else f"{families[0]} et al."
    )
    closing = f"({record.year})" if "(" in said else str(record.year)
    return f"{names} {closing}"


def check_bearing(reading: Reading) -> Iterator[Draught]:
    """A cited study that measured another exercise, region or outcome than the sentence tells."""
    if reading.cue("negated_bearing") or reading.cue("says_nothing_of") or reading.not_held:
        return
    topic = reading.topic
    for key in reading.cited:
        studies = reading.knowledge.studies_of(key)
        contrasts = [c for s in studies for c in s.contrasts]
        if not contrasts:
            continue
        why = why_not_bearing(reading, studies)
        if why is None:
            continue
        held = sorted({f"{c.construct} of {c.region or 'no region'}" for c in contrasts})
        yield Draught(
            "source-does-not-bear",
            f"{reading.knowledge.references[key].short} does not bear on this.",
            why,
            source=citation_place(reading, key),
            figures=(f"it measured: {', '.join(held)}",),
            references=(key,),
            claim=next((c.key for c in reading.claims), None),
        )
    del topic


def why_not_bearing(reading: Reading, studies: tuple[KnownStudy, ...]) -> str | None:
    """In what studies differ from what a sentence tells; None where they bear on it or it cannot be said."""
    vocabulary = reading.knowledge.vocabulary
    topic = reading.topic
    contrasts = [c for s in studies for c in s.contrasts]
    regions = topic.regions
    measured = {c.construct for c in contrasts}
    said = set(topic.constructs)
    muscle = [c for c in contrasts if c.construct in MUSCLE_OUTCOMES]
    if regions and muscle and len(muscle) == len(contrasts):
        precise = {r for r in regions if not any(o != r and r in reading.finder.around(o) for o in regions)}
        if not any(reading.finder.bears_on(c.region, precise) for c in muscle):
            names = ", ".join(sorted(vocabulary.regions[r].name for r in precise if r in vocabulary.regions))
            return f"no contrast on {names}"
    if said and not said & measured:
        if "activation" in measured and said & {"hypertrophy", "strength"}:
            return None  # activation told as growth is a finding of its own
        if reading.generalises or reading.cue("comparative"):
            return f"it did not measure {' or '.join(sorted(said))}"
    if len(topic.exercises) >= 2 and reading.cue("comparative"):
        done = {i for c in contrasts for i in (c.exercise, c.comparator) if i}
        if done and not any(reading.finder.related(d, ids) for ids in topic.exercises for d in done):
            return "it compared other exercises"
    if reading.is_tied and topic.exercises and reading.cue("comparative") and not reading.left_open:
        behind = {s for c in reading.claims for s in c.studies}
        pairs = [c for c in reading.claims if c.exercise and c.comparator]
        if len(pairs) == len(reading.claims) and not any(
            s.key in behind or has_both(s, c, reading) for s in studies for c in pairs
        ):
            return "it did not compare the two exercises of the claim"
    return None


def citation_place(reading: Reading, key: str) -> tuple[int, int] | None:
    """Where a reference is cited, in the source."""
    for citation in reading.sentence.citations:
        if any(c.key == key for c in citation.keys):
            return citation.start, citation.end
    block = reading.draft.blocks[reading.sentence.block]
    for mention in reading.mentions:
        if mention.key == key:
            offset = reading.sentence.plain_start
            return block.source_span(offset + mention.start, offset + mention.end)
    return None


def check_notices(reading: Reading) -> Iterator[Draught]:
    """Cited sources that are retracted, under concern, corrected, or superseded preprints."""
    keys = list(reading.cited)
    if not keys and reading.claims:
        behind = [
            r for c in reading.claims for s in c.studies for r in reading.knowledge.studies[s].references
        ]
        if behind and all(
            reading.knowledge.references[k].notice for k in behind if k in reading.knowledge.references
        ):
            keys = [k for k in behind if k in reading.knowledge.references]
    for key in keys:
        record = reading.knowledge.references[key]
        state, severity = NOTICE_STATES.get(record.notice or "", (None, Severity.WARNING))
        if state and not notice_words(state).search(reading.text):
            yield Draught(
                "notice",
                f"{record.short} is marked as {record.notice}.",
                why_noticed(state, record),
                source=citation_place(reading, key),
                references=(key,),
                severity=Severity.NOTE if state == "corrected" and record.mended else severity,
            )
        elif record.later_version and not (
            notice_words("preprint").search(reading.text) and record.later_version in reading.cited
        ):
            later = reading.knowledge.references.get(record.later_version)
            yield Draught(
                "notice",
                f"{record.short} is a preprint with a later version.",
                f"cite {later.short if later else record.later_version} ({record.later_version})",
                source=citation_place(reading, key),
                references=(key, record.later_version),
                severity=Severity.WARNING,
            )


def why_noticed(state: str, record: KnownReference) -> str:
    """What a notice means for a sentence."""
    if state != "corrected":
        return "what it found cannot be told as if nothing had happened"
    if record.mended:
        return "the figures were taken after the correction"
    return "check that the figures are those of the correction"


def check_abstract(reading: Reading) -> Iterator[Draught]:
    """Figures taken from a source that nobody has marked as read in full."""
    told = [n for n in reading.numbers if n.kind in ("percent", "unit", "per_hundred", "effect")]
    if not told or reading.cue("abstract_said") or reading.asks:
        return
    keys = list(reading.cited) or [
        r for c in reading.claims for s in c.studies for r in reading.knowledge.studies[s].references
    ]
    for key in keys:
        record = reading.knowledge.references.get(key)
        if record is not None and record.studies and not record.read_in_full:
            yield Draught(
                "abstract-only",
                f"Nobody has marked {record.short} as read in full.",
                "the figures stand on its abstract",
                (told[0].start, told[0].end),
                references=(key,),
            )


def check_counted_twice(reading: Reading) -> Iterator[Draught]:
    """Papers of one sample told as several studies."""
    counting = reading.cue("counting")
    if counting is None or reading.cue("counted_once"):
        return
    samples: dict[str, list[str]] = {}
    for key in reading.cited:
        for study in reading.knowledge.studies_of(key):
            samples.setdefault(study.sample or study.key, []).append(key)
    for sample, keys in samples.items():
        distinct = list(dict.fromkeys(keys))
        if len(distinct) > 1:
            names = " and ".join(reading.knowledge.references[k].short for k in distinct)
            yield Draught(
                "counted-twice",
                f"{names} report the same people.",
                f'"{counting.text}" counts one sample more than once',
                mark_of(counting),
                figures=(f"sample: {sample}",),
                references=tuple(distinct),
            )
