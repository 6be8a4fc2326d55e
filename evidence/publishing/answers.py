"""An answer to a comment: two or three sentences with what was measured, in whom, how large, what is against."""

from dataclasses import dataclass

from evidence.appraisal.verdict import VerdictKind
from evidence.errors import BadInput
from evidence.publishing.boxes import tell_people
from evidence.publishing.briefs import Brief, contradicting, name_contradicting, tell_contradiction
from evidence.publishing.document import Document, paragraph
from evidence.publishing.mark import mark_words
from evidence.publishing.templating import clean_text


@dataclass(frozen=True, slots=True)
class Answer:
    """The text, how long it may be, and what was left out to make it fit."""

    text: str
    limit: int
    left_out: tuple[str, ...]


def write_answer(brief: Brief, limit: int, link: str = "") -> Answer:
    """The fullest answer within `limit` characters. BadInput where not even the shortest fits.

    What the evidence says and how sure one may be always stay; left out first are the names of the studies against,
    then the state of the catalogue, then the people, last the figures.
    """
    for against, state, people, figures in (
        (True, True, True, True),
        (False, True, True, True),
        (False, False, True, True),
        (False, False, False, True),
        (False, False, False, False),
    ):
        text = _compose(brief, link, against=against, state=state, people=people, figures=figures)
        if len(text) <= limit:
            parts = (
                ("the studies against by name", against),
                ("the state of the catalogue", state),
                ("who was studied", people),
                ("the figures", figures),
            )
            return Answer(text, limit, tuple(name for name, kept in parts if not kept))
    raise BadInput(
        f"A limit of {limit} holds no honest answer.",
        hint=f"The shortest has {len(text)}: use --limit {len(text)}.",
    )


def _compose(brief: Brief, link: str, *, against: bool, state: bool, people: bool, figures: bool) -> str:
    found = brief.verdict.kind is not VerdictKind.NOTHING_FOUND
    confidence = brief.confidence
    measured = []
    if figures and found:
        measured.append(brief.verdict.sentence.rstrip("."))
    if people and found and tell_people(brief):
        measured.append(f"measured in {tell_people(brief)}")
    sure = f"Confidence: {mark_words(confidence.level, confidence.low, confidence.high)}"
    parts = [
        ("[Partly invented data]" if brief.made_up else "[Invented data]") if brief.invented else "",
        brief.wordings.short,
        f"{'; '.join(measured)}." if measured else "",
        f"{sure}; against: {_against(brief, named=against)}" if found else "",
        f"Catalogue {brief.made.catalogue_hash}, {brief.made.date}." if state else "",
        link,
    ]
    return clean_text(" ".join(part for part in parts if part))


def _against(brief: Brief, *, named: bool) -> str:
    number = len(contradicting(brief))
    if named and (brief.against or not number):
        told = tell_contradiction(brief)
        return told[:1].lower() + told[1:]
    if not number:
        return "no study found."
    counted = f"{number} of {len(brief.studies)} {'study' if len(brief.studies) == 1 else 'studies'}"
    return f"{counted} ({name_contradicting(brief)})." if named else f"{counted}."


def answer_document(brief: Brief, answer: Answer) -> Document:
    """The answer as a document, for formats that are not plain text."""
    return Document(
        title=brief.statement,
        kicker="Answer",
        blocks=(paragraph(answer.text),),
        made=brief.made,
        invented=brief.invented,
        made_up=brief.made_up,
    )
