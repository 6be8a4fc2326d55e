"""A handout for a course: claims by topic with their figures, a reading list, and questions with answers."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from evidence.appraisal.confidence import format_levels
from evidence.appraisal.verdict import VerdictKind
from evidence.publishing.boxes import rating_lines, tell_made_up, tell_people
from evidence.publishing.brief_pages import DOMAIN_NAMES
from evidence.publishing.briefs import Brief, tell_contradiction, tell_effect
from evidence.publishing.document import (
    Block,
    Cell,
    Document,
    Heading,
    Items,
    Mark,
    Notice,
    PageBreak,
    Paragraph,
    Table,
    cell,
    paragraph,
    prose,
    section,
    soft,
    sources,
    table,
)
from evidence.publishing.mark import mark_words
from evidence.publishing.sources import Made, Reference


@dataclass(frozen=True, slots=True)
class Topic:
    """Claims that belong together: a region, or an outcome without one."""

    title: str
    briefs: tuple[Brief, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handout:
    """A whole handout. `cautions`: those that its claims call up."""

    title: str
    made: Made
    topics: tuple[Topic, ...]
    references: tuple[Reference, ...]
    cautions: tuple[str, ...] = ()
    author: str = ""
    questions: bool = True
    invented: bool = False
    made_up: tuple[str, ...] = ()

    @property
    def briefs(self) -> tuple[Brief, ...]:
        """Every claim in order."""
        return tuple(brief for topic in self.topics for brief in topic.briefs)


@dataclass(frozen=True, slots=True)
class Question:
    """A question with its answer."""

    ask: str
    answer: str


def handout_document(handout: Handout) -> Document:
    """The handout as a document: overview, topics, reading list, then questions, and answers apart."""
    blocks: list[Block] = [*(Notice(prose(text)) for text in handout.cautions), _overview(handout)]
    for topic in handout.topics:
        blocks.append(section(topic.title))
        for brief in topic.briefs:
            blocks += _entry(brief, handout.made_up)
    blocks += [section("Reading list"), *sources(handout.references)[1:]]
    if handout.questions:
        asked = list_questions(handout.briefs)
        blocks += [PageBreak(), section("Questions"), _numbered(q.ask for q in asked)]
        blocks += [section("Answers"), _numbered(q.answer for q in asked)]
    return Document(
        title=handout.title,
        kicker="Handout",
        blocks=tuple(blocks),
        made=handout.made,
        author=handout.author,
        invented=handout.invented,
        made_up=handout.made_up,
    )


def _overview(handout: Handout) -> Table:
    rows = [
        (
            cell(brief.statement),
            cell(brief.verdict.text),
            cell(f"{brief.verdict.k} / {brief.verdict.people}"),
            _confidence(brief),
        )
        for brief in handout.briefs
    ]
    head = ("Claim", "Verdict", "Studies / people", "Confidence")
    return table("Claims of this handout", head, rows, shares=(4.2, 2.8, 1.2, 1.9))


def _confidence(brief: Brief) -> Cell:
    confidence = brief.confidence
    words = mark_words(confidence.level, confidence.low, confidence.high)
    return cell(words, (Mark(confidence.level, confidence.low, confidence.high),))


def _entry(brief: Brief, made_up: Sequence[str]) -> list[Block]:
    blocks: list[Block] = [
        Heading(prose(brief.statement), 3),
        *rating_lines(brief),
        *tell_made_up(brief, made_up),
    ]
    if brief.studies:
        rows = [
            (
                study.label,
                str(study.n),
                cell(prose(study.people), prose(soft(study.design))),
                cell(*(prose(f"{p.condition}: {p.figure} ", soft(f"({p.locator})")) for p in study.printed)),
                tell_effect(brief, study),
            )
            for study in brief.studies
        ]
        head = ("Study", "n", "People and design", "As printed", "Effect (95 % interval)")
        blocks.append(
            table(f"Studies: {brief.key}", head, rows, numeric=(1,), shares=(2, 0.8, 2.5, 3.4, 2.1))
        )
    blocks.append(paragraph(soft("Against: "), tell_contradiction(brief)))
    return blocks


def list_questions(briefs: Sequence[Brief]) -> list[Question]:
    """Two questions on each claim, and those of method that the claims give cause for."""
    asked = [question for brief in briefs for question in _questions_on(brief)]
    causes = {"always", *(cause for brief in briefs for cause in _causes(brief))}
    return [*asked, *(Question(row["ask"], row["answer"]) for row in _teaching() if row["when"] in causes)]


def _questions_on(brief: Brief) -> Iterable[Question]:
    confidence = brief.confidence
    people = f" It was measured in {tell_people(brief)}." if tell_people(brief) else ""
    yield Question(
        f"“{brief.statement}.” Does the evidence bear this out, in whom, and how large is the difference?",
        f"{_capital(brief.verdict.text)}. {brief.verdict.sentence}{people} {brief.wordings.short}",
    )
    down = [d for d in confidence.domains if format_levels(d.counted) not in ("0", "+1", "+2")]
    reasons = " ".join(f"{DOMAIN_NAMES.get(d.domain, d.domain)}: {d.reason}" for d in down)
    words = mark_words(confidence.level, confidence.low, confidence.high)
    against = tell_contradiction(brief)
    yield Question(
        "How far can that answer be trusted, and what speaks against it?",
        f"Confidence is {words}. {reasons or 'No domain was rated down.'} Against: {against}",
    )


def _causes(brief: Brief) -> Iterable[str]:
    if brief.verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE:
        yield "no_clear_difference"
    if any("surrogate" in d.flags for d in brief.confidence.domains):
        yield "surrogate"
    if brief.verdict.metric.shown_as == "percent":
        yield "relative_percent"


@cache
def _teaching() -> list[dict[str, str]]:
    import yaml

    text = (files("evidence.publishing") / "teaching.yaml").read_text("utf-8")
    rows: list[dict[str, str]] = yaml.safe_load(text)
    return rows


def _numbered(lines: Iterable[str]) -> Items:
    return Items(tuple((Paragraph(prose(line)),) for line in lines), ordered=True)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
