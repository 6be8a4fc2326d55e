"""Ties proposed for a draft: which claim a sentence may be about, and which reference a mention may mean."""

from dataclasses import dataclass
from pathlib import Path

from evidence.reading.drafts import Draft, Place
from evidence.workflows.drafts.binding import OFFERED
from evidence.workflows.drafts.findings import Replacement
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.mending import choose_numbers, without_overlap, write_copy
from evidence.workflows.drafts.readings import Reading, read_all


@dataclass(frozen=True, slots=True)
class Tying:
    """One proposal. `kind`: claim or citation. `score` from 0 to 1; `others`: what else it may be, with scores."""

    number: int
    kind: str
    place: Place
    text: str
    target: str
    told: str
    score: float
    reasons: tuple[str, ...]
    others: tuple[str, ...]
    replacement: Replacement


def propose_ties(draft: Draft, knowledge: Knowledge) -> tuple[Tying, ...]:
    """Every tie that can be proposed, in the order of the draft. Nothing is tied."""
    found: list[Tying] = []
    for reading in (r for r in read_all(draft, knowledge) if r.text):
        if not reading.not_held and not reading.tied_keys:
            found += propose_claim_tie(reading)
        found += propose_citations(reading)
    return tuple(
        Tying(i, t.kind, t.place, t.text, t.target, t.told, t.score, t.reasons, t.others, t.replacement)
        for i, t in enumerate(found, 1)
    )


def propose_claim_tie(reading: Reading) -> list[Tying]:
    """The claim that an untied sentence is most likely about."""
    if not (
        reading.cue("comparative")
        or reading.cue("sameness")
        or reading.cue("superlative")
        or reading.cited
        or reading.cue("left_open")
        or reading.cue("appeal")
    ):
        return []
    found = [c for c in reading.claim_words.candidates(reading.topic, reading.cited) if c.score >= OFFERED]
    if not found:
        return []
    best, draft, sentence = found[0], reading.draft, reading.sentence
    end = max([sentence.end, *(c.end for c in sentence.citations)])
    whole = draft.source[sentence.start : end]
    change = Replacement(sentence.start, end, f"[{whole}]{{claim={best.claim.key}}}")
    return [
        Tying(
            0, "claim", draft.place(sentence.start), sentence.text, best.claim.key, best.claim.statement, best.score,
            best.reasons, tuple(f"{c.claim.key} ({c.score:.2f})" for c in found[1:4]), change,
        )
    ]  # fmt: skip


def propose_citations(reading: Reading) -> list[Tying]:
    """A key for each source named in words that one reference fits, and for one that is nearly spelt so."""
    made = []
    draft, sentence = reading.draft, reading.sentence
    block = draft.blocks[sentence.block]
    keyed = {k.key for c in sentence.citations for k in c.keys}
    for mention in reading.mentions:
        if mention.key in keyed or (mention.key is None and not mention.near):
            continue
        key = mention.key or mention.near[0]
        start, end = block.source_span(
            sentence.plain_start + mention.start, sentence.plain_start + mention.end
        )
        sure = mention.key is not None and not mention.wrong
        score = 1.0 if sure else 0.6 if mention.key else 0.4
        reasons = (
            ("fits the record by author and year",) if sure else (mention.wrong or "a name spelt nearly so",)
        )
        known = reading.knowledge.references[key]
        made.append(
            Tying(
                0, "citation", draft.place(start), mention.text, key, f"{known.short}: {known.title}", score, reasons,
                tuple(k for k in mention.near if k != key), Replacement(end, end, f" [@{key}]"),
            )
        )  # fmt: skip
    return made


def write_ties(draft: Draft, ties: tuple[Tying, ...], said: str, target: Path) -> tuple[int, ...]:
    """Write a copy with the chosen ties in it; returns their numbers. A tie holds the citations inside it."""
    chosen = set(choose_numbers(said, [t.number for t in ties]))
    citations = [t for t in ties if t.number in chosen and t.kind == "citation"]
    changes: list[tuple[int, Replacement]] = []
    inside: set[int] = set()
    for tie in (t for t in ties if t.number in chosen and t.kind == "claim"):
        change = tie.replacement
        within = [c for c in citations if change.start < c.replacement.start <= change.end]
        inside |= {c.number for c in within}
        body = draft.source[change.start : change.end]
        for one in sorted(within, key=lambda c: -c.replacement.start):
            at = one.replacement.start - change.start
            body = body[:at] + one.replacement.text + body[at:]
        changes.append((tie.number, Replacement(change.start, change.end, f"[{body}]{{claim={tie.target}}}")))
    changes += [(c.number, c.replacement) for c in citations if c.number not in inside]
    kept = without_overlap(changes)
    write_copy(draft, [r for _, r in kept], target)
    return tuple(sorted({n for n, _ in kept} | inside))
