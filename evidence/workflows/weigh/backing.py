"""Claims that rest on no results: reasons (mechanism, principle), which sources back, and opinions from practice.

A reason is no effect: however many sources speak for it, it is shown as very low and called backing. An opinion is
called one and is not rated at all.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from evidence.appraisal.body import Body
from evidence.appraisal.confidence import Confidence, rate
from evidence.appraisal.kinds import find_kind
from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording import Wordings
from evidence.appraisal.wording_kinds import word_backing, word_practice
from evidence.catalogue.tables import ClaimLink, Reference
from evidence.publishing.panels import Panel
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.linked_sources import RETRACTED
from evidence.workflows.weigh.one_sided import Found, finish_weighing
from evidence.workflows.weigh.weighed import Inputs, Weighing
from references.citing import short_citation
from references.record import Record

METRIC = "smd"  # nothing is computed on it


def weigh_backing(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """Which sources speak for a reason and which against; retracted ones do not count and are told."""
    claim = inputs.claim
    counting = [(link, ref) for link, ref in inputs.links if ref.notice not in RETRACTED]
    body, verdict = Body(construct=claim.construct_id, metric=METRIC), judge_backing(claim.kind, counting)
    confidence = ungraded(body, "a reason is backing, not evidence of an effect: it is never above very low")
    words = word_backing(
        verdict, claim.statement, count_sources(sum(x.stance == "supports" for x, _ in counting))
    )
    notes = ["For evidence of an effect, state what it predicts as a comparison and weigh that."]
    return finish_unmeasured(inputs, vocabulary, body, verdict, confidence, words, notes)


def weigh_practice(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """An opinion from practice, told as one; sources linked to it are shown and change nothing."""
    claim = inputs.claim
    body = Body(construct=claim.construct_id, metric=METRIC)
    verdict = replace(
        judge(body),
        kind=VerdictKind.OPINION,
        text=find_kind("practice").name_verdict("opinion"),
        sentence=f"The opinion of {claim.added_by}: it is not evidence and is not rated as evidence.",
    )
    confidence = ungraded(body, "an opinion is not graded as evidence")
    words = word_practice(claim.statement)
    return finish_unmeasured(inputs, vocabulary, body, verdict, confidence, words)


def finish_unmeasured(
    inputs: Inputs,
    vocabulary: Vocabulary,
    body: Body,
    verdict: Verdict,
    confidence: Confidence,
    words: Wordings,
    notes: Sequence[str] = (),
) -> Weighing:
    """The weighing of a claim that no figures bear on: linked sources alone are shown."""
    weighing = finish_weighing(
        inputs,
        vocabulary,
        Found(inputs.claim.construct_id, (), (), ()),
        (),
        body,
        None,
        METRIC,
        verdict,
        confidence,
        words,
        notes=notes,
        panels=[panel_of(inputs)] if inputs.links else [],
        changes=tell_change(inputs),
    )
    return replace(weighing, sources=sources_of(inputs))


def sources_of(inputs: Inputs) -> tuple[Reference, ...]:
    """The references linked to the claim, each once."""
    return tuple({ref.key: ref for _, ref in inputs.links}.values())


def judge_backing(kind: str, links: list[tuple[ClaimLink, Reference]]) -> Verdict:
    """Backed, disputed, or both: by what the sources say, never by how many they are."""
    stances = Counter(link.stance for link, _ in links)
    for_, against = stances["supports"] + stances["mixed"], stances["against"] + stances["mixed"]
    if for_ and against:
        found = VerdictKind.MIXED_BACKING
    elif for_:
        found = VerdictKind.BACKED
    elif against:
        found = VerdictKind.DISPUTED
    else:
        found = VerdictKind.NOTHING_FOUND
    empty = judge(Body(construct="", metric=METRIC))
    named = {
        "supports": "for",
        "against": "against",
        "mixed": "for and against",
        "background": "for background only",
    }
    told = ", ".join(f"{count_sources(stances[s])} {text}" for s, text in named.items() if stances[s])
    sentence = f"Linked: {told}." if told else "No source is linked to this reason."
    return replace(empty, kind=found, text=find_kind(kind).name_verdict(str(found)), sentence=sentence)


def ungraded(body: Body, why: str) -> Confidence:
    """The lowest level, with no domain judged."""
    empty = rate(body)
    return replace(
        empty, level=Level.VERY_LOW, low=Level.VERY_LOW, high=Level.VERY_LOW, start_reason=why, domains=()
    )


def tell_change(inputs: Inputs) -> tuple[str, ...]:
    """What the person who states it would give it up for."""
    claim = inputs.claim
    if claim.falsifier:
        return (f"In the words of {claim.added_by}, it would be given up if: {claim.falsifier}",)
    return ()


def panel_of(inputs: Inputs) -> Panel:
    """Every source with its stance, where it says so, and what it says."""
    rows = []
    for link, ref in inputs.links:
        label = short_citation(Record.from_csl(ref.csl))
        notice = f" ({ref.notice})" if ref.notice else ""
        rows.append((f"{label}{notice}", link.stance, link.kind, link.locator, link.said))
    return Panel(
        "Sources",
        "Linked by a person, not weighed.",
        ("source", "stance", "kind", "where", "says"),
        tuple(rows),
    )


def count_sources(number: int) -> str:
    """`1 source`, `2 sources`."""
    return "1 source" if number == 1 else f"{number} sources"
