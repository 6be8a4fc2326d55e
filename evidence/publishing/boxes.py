"""What a document says of one claim in a few lines: the evidence box of an article, the entry of a handout."""

from collections.abc import Sequence

from evidence.publishing.briefs import Brief, tell_contradiction
from evidence.publishing.document import (
    Block,
    Box,
    Mark,
    Paragraph,
    Prose,
    aside,
    bullets,
    paragraph,
    prose,
    soft,
    strong,
)
from evidence.publishing.mark import mark_words
from evidence.publishing.programmes import join_words


def evidence_box(brief: Brief, made_up: Sequence[str] = ()) -> Box:
    """Statement, verdict, confidence, figures, people, the other view, and what was left out or is made up."""
    label, title = Paragraph(prose("The evidence on"), "label"), paragraph(strong(brief.statement))
    blocks: list[Block] = [label, title, *rating_lines(brief)]
    blocks.append(paragraph(soft("The other view: "), tell_contradiction(brief)))
    blocks += tell_made_up(brief, made_up)
    if brief.left_out:
        blocks.append(bullets(f"Left out: {item.label}. {item.reason}" for item in brief.left_out))
    return Box(tuple(blocks), "evidence")


def rating_lines(brief: Brief) -> list[Block]:
    """Verdict and confidence, the figures, and in whom they were measured."""
    lines: list[Block] = [paragraph(*_rating(brief)), paragraph(brief.verdict.sentence)]
    if people := tell_people(brief):
        lines.append(aside(f"Measured in: {people}."))
    return lines


def tell_made_up(brief: Brief, made_up: Sequence[str]) -> list[Block]:
    """Which studies behind a claim are invented, where not everything in a document is."""
    named = [study.label for study in brief.studies if study.label in made_up]
    return [paragraph(strong(f"Rests on invented data: {'; '.join(named)}."))] if named else []


def _rating(brief: Brief) -> Prose:
    said = (soft("Verdict: "), strong(brief.verdict.text), soft(". Confidence: "))
    if not brief.graded:
        return (*said, strong("not rated"))
    confidence = brief.confidence
    low, high = confidence.low, confidence.high
    return (*said, strong(mark_words(confidence.level, low, high)), Mark(confidence.level, low, high))


def tell_people(brief: Brief) -> str:
    """Who was studied, each group once."""
    return join_words(list(dict.fromkeys(study.people for study in brief.studies if study.people)))
