"""Wordings that would do, from what the claim's verdict and confidence allow; the author's citations are kept."""

from evidence.workflows.drafts.findings import Draught, Suggestion
from evidence.workflows.drafts.knowledge import KnownClaim
from evidence.workflows.drafts.readings import Reading

REGISTERS = ("short", "plain", "full")


def suggest(claim: KnownClaim) -> tuple[Suggestion, ...]:
    """The claim in short, plain and full, as it was last weighed."""
    return tuple(Suggestion(r, t) for r, t in zip(REGISTERS, claim.wordings, strict=False))


def about_claim(
    reading: Reading,
    kind: str,
    what: str,
    why: str,
    mark: tuple[int, int] | None = None,
    *,
    references: tuple[str, ...] = (),
) -> Draught:
    """A finding with the claim that the sentence is about, where it is about one, and the wordings that would do."""
    claim = reading.claims[0] if reading.claims else None
    return Draught(
        kind,
        what,
        why,
        mark,
        suggestions=suggest(claim) if claim else (),
        claim=claim.key if claim else None,
        references=references,
    )


def rewrite(reading: Reading, claim: KnownClaim) -> str | None:
    """The whole sentence in the short wording, with the marks of its citations and its tie kept."""
    if not claim.wordings or not reading.is_tied:
        return None  # a claim that was only matched by words may be another than the one meant
    source = reading.draft.source[reading.sentence.start : reading.sentence.end]
    marks = marks_of(reading)
    named = [m.text for m in reading.mentions if m.key and m.text in source]
    place = REGISTERS.index(reading.register) if reading.register in REGISTERS else 0
    said = claim.wordings[min(place, len(claim.wordings) - 1)].rstrip(".")
    tail = f" {' '.join(marks)}" if marks else ""
    if not marks and named:
        tail = f" ({'; '.join(n.strip('()') for n in named)})"
    return f"{said}{tail}."


def marks_of(reading: Reading) -> list[str]:
    """The citations that stand inside a sentence, as they were typed, each in brackets of its own."""
    sentence, marks = reading.sentence, []
    for citation in sentence.citations:
        if sentence.start <= citation.start and citation.end <= sentence.end:
            typed = reading.draft.source[citation.start : citation.end]
            if typed[0] in "([":
                marks.append(typed)
            else:
                marks.append(f"({typed})" if citation.address else f"[{typed}]")
    return marks
