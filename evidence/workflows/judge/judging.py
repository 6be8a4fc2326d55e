"""Risk of bias of a study: prompts for its design, a person's answers, what they propose, the person's choice.

For the terminal and the page alike: `ask_about` gives the prompts, `preview` judges without storing, `judge_study`
stores, and what is weighed of the study follows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal.bias import OVERALL, BiasJudgement, choose_judgement
from evidence.appraisal.bias_tools import (
    BiasTool,
    Judged,
    Prompt,
    find_tool,
    judge,
    list_questions,
    read_answer,
    tool_for,
)
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, study_by_key, study_rows
from evidence.catalogue.queries.judgement import ratings_of_study
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Rating, Study
from evidence.errors import BadInput
from evidence.workflows.relevance.bias_ratings import (
    STUDY_FILE,
    answers_of,
    by_tools,
    latest,
    rows_for,
    weighed_bias,
    words_of,
)
from evidence.workflows.relevance.contributions import name_study

AS_PROPOSED = "proposed"


@dataclass(frozen=True, slots=True)
class Choice:
    """A person's judgement of a domain (name or id) or of `overall`, with the reason; `proposed` takes one back."""

    domain: str
    judgement: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Questionnaire:
    """What is to be answered of a study. `answers`: what this person answered before."""

    study: str
    label: str
    title: str
    tool: BiasTool
    why: str
    prompts: tuple[Prompt, ...]
    answers: Mapping[str, str]
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class StudyJudged:
    """What became of a judgement. `before` and `now`: what is weighed of the study. `stored`: anything was new."""

    study: str
    label: str
    judged: Judged
    before: str
    now: str
    stored: bool
    not_settled: tuple[str, ...]


def ask_about(catalogue: Catalogue, study: str, who: str, tool: str | None = None) -> Questionnaire:
    """The prompts for a study's design, or of the tool named. Raises NotFound, or BadInput for an unknown tool."""
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, study))
        ratings = ratings_of_study(session, rows.study)
    chosen, why = choose_tool(rows, ratings, who, tool)
    own = latest(ratings, chosen.id, who)
    return Questionnaire(
        study,
        name_study(rows),
        rows.study.title,
        chosen,
        why,
        list_questions(chosen),
        answers_of(own),
        earlier_choices(own),
    )


def choose_tool(
    rows: StudyRows, ratings: Sequence[Rating], who: str, wanted: str | None
) -> tuple[BiasTool, str]:
    """The tool asked for, else the one this person used last, else the one for the design; and why."""
    if wanted:
        return find_tool(wanted), "asked for"
    for read in by_tools(ratings):
        if who in read.people and read.tool.by_domain:
            return read.tool, "used before"
    study = rows.study
    acute = bool(rows.outcomes) and all(o.construct_id == "activation" for o in rows.outcomes)
    tool = tool_for(pairing=study.pairing, randomised=study.randomised, acute=acute)
    parts = ["same people in both conditions" if study.pairing == "within" else "groups compared"]
    parts.append(
        {"yes": "randomised", "no": "not randomised"}.get(study.randomised, "randomising not stated")
    )
    if acute:
        parts.append("muscle activation only")
    return tool, ", ".join(parts)


def earlier_choices(own: Mapping[str, Rating]) -> tuple[Choice, ...]:
    """What the person chose over proposals before."""
    return tuple(Choice(r.domain, r.value, r.reason) for r in own.values() if r.answers.get("chosen"))


def preview(
    tool: BiasTool, answers: Mapping[str, str], choices: Sequence[Choice] = (), who: str = ""
) -> Judged:
    """A judgement from answers and choices; nothing is stored. Raises BadInput for one that is none."""
    judged = judge(tool, answers)
    whole = judged.judgement
    for choice in choices:
        domain = find_domain(whole, choice.domain)
        word = choice.judgement.strip().casefold().replace("_", " ")
        if word == AS_PROPOSED:
            continue
        if word == proposal_of(whole, domain) and not choice.reason.strip():
            continue  # nothing is chosen over the proposal
        whole = choose_judgement(whole, domain, word, choice.reason, who)
    return replace(judged, judgement=whole)


def proposal_of(whole: BiasJudgement, domain: str) -> str | None:
    """What the rules propose of a domain, or of the whole."""
    if domain == OVERALL:
        return whole.proposed
    return next(d.proposed for d in whole.domains if d.domain == domain)


def find_domain(whole: BiasJudgement, text: str) -> str:
    """A domain by its id, the start of its id, or its name. Raises BadInput naming those there are."""
    if text.strip().casefold() == OVERALL:
        return OVERALL
    for d in whole.domains:
        if fits(d.domain, d.name, text):
            return d.domain
    names = ", ".join((*(d.name for d in whole.domains), OVERALL))
    raise BadInput(f"no domain is called {text!r}", hint=f"There are: {names}.")


def judge_study(
    catalogue: Catalogue,
    study: str,
    who: str,
    answers: Mapping[str, str],
    choices: Sequence[Choice] = (),
    tool: str | None = None,
) -> StudyJudged:
    """Store what a person judged; answers and choices are laid over the earlier ones of the same person.

    What is weighed of the study follows from all people's judgements (`bias_ratings.weighed_bias`). The same judgement
    twice stores nothing. Raises NotFound, or BadInput for an answer or choice that is none.
    """
    asked = ask_about(catalogue, study, who, tool)
    prompts = {p.key: p for p in asked.prompts}
    unknown = [key for key in answers if key not in prompts]
    if unknown:
        raise BadInput(
            f"{asked.tool.name} has no prompt {unknown[0]!r}", hint=f"There are: {', '.join(prompts)}."
        )
    given = {key: read_answer(prompts[key], text) for key, text in answers.items()}
    whole = {key: {**asked.answers, **given}[key] for key in prompts if key in {**asked.answers, **given}}
    chosen = merge_choices(preview(asked.tool, whole).judgement, asked.choices, choices)
    judged = preview(asked.tool, whole, chosen, who)
    if not whole and not chosen:
        raise BadInput(
            "nothing was answered", hint=f"See the prompts: steelyard study judge {study} --template."
        )
    with catalogue.changing(who, f"study judge {study}") as session:
        row = study_by_key(session, study)
        before = str((row.bias or {}).get("overall") or "not assessed")
        stored = add_rows_that_are_new(session, row, judged, whole, who, catalogue)
        weigh_again(session, row)
        now = str((row.bias or {}).get("overall") or "not assessed")
        open_ones = tuple((row.bias or {}).get("not_settled") or ())
    return StudyJudged(study, asked.label, judged, before, now, stored, open_ones)


def merge_choices(
    whole: BiasJudgement, former: Sequence[Choice], new: Sequence[Choice]
) -> tuple[Choice, ...]:
    """Earlier choices with the new ones laid over them, one per domain."""
    merged = {
        find_domain(whole, c.domain): c
        for c in former
        if c.domain == OVERALL or c.domain in domains_of(whole)
    }
    merged |= {find_domain(whole, c.domain): c for c in new}
    return tuple(c for c in merged.values() if c.judgement.strip().casefold() != AS_PROPOSED)


def domains_of(whole: BiasJudgement) -> set[str]:
    """The ids of a judgement's domains."""
    return {d.domain for d in whole.domains}


def add_rows_that_are_new(
    session: ChangingSession,
    study: Study,
    judged: Judged,
    answers: Mapping[str, str],
    who: str,
    catalogue: Catalogue,
) -> bool:
    """Add a row for each domain that now says something else; whether any was added."""
    assert study.id is not None
    ratings = ratings_of_study(session, study)
    keep_study_file(session, study, ratings, catalogue)
    own = latest(ratings, judged.tool.id, who)
    added = False
    for row in rows_for(judged, answers):
        former = own.get(row["domain"])
        same = former is not None and (former.value, former.answers, former.reason) == (
            row["value"],
            row["answers"],
            row["reason"],
        )
        if not same:
            session.add(Rating(study_id=study.id, tool=judged.tool.id, person=who, at=catalogue.now(), **row))
            added = True
    session.flush()
    return added


def keep_study_file(
    session: ChangingSession, study: Study, ratings: Sequence[Rating], catalogue: Catalogue
) -> None:
    """What a study file said of its bias is kept as a rating of its own before people's judgements take its place."""
    bias: dict[str, Any] = study.bias or {}
    if ratings or not bias.get("overall") or bias["overall"] == "not assessed":
        return
    session.add(
        Rating(
            study_id=study.id,
            tool=str(bias.get("tool") or "not named"),
            domain=OVERALL,
            value=str(bias["overall"]),
            answers={"document": bias},
            reason=str(bias.get("note") or ""),
            person=STUDY_FILE,
            at=catalogue.now(),
        )
    )


def weigh_again(session: ChangingSession, study: Study) -> None:
    """Make what is weighed of a study from all that people judged of it."""
    ratings = ratings_of_study(session, study)
    if not ratings:
        return
    bias = weighed_bias(ratings, study.bias or {})
    if bias != study.bias:
        study.bias = bias
    session.flush()


def settle_study(
    catalogue: Catalogue, study: str, domain: str, judgement: str, reason: str, who: str
) -> StudyJudged:
    """Settle a disagreement on a domain (or `overall`) between people; their own judgements stay as they are.

    Raises BadInput without a reason, or where nobody disagrees.
    """
    if not reason.strip():
        raise BadInput("settling needs a reason", hint='--because "..."; it is shown with the study.')
    with catalogue.changing(who, f"study settle {study}") as session:
        rows = study_rows(session, study_by_key(session, study))
        row = rows.study
        read = next((t for t in by_tools(ratings_of_study(session, row)) if t.tool.by_domain), None)
        if read is None:
            raise BadInput(f"Nobody has judged {study} yet.", hint=f"steelyard study judge {study}")
        found = [
            j
            for j in (*read.domains, *([read.overall] if read.overall else []))
            if fits(j.domain, j.name, domain)
        ]
        if not found:
            names = ", ".join(j.name for j in read.domains)
            raise BadInput(f"no domain is called {domain!r}", hint=f"There are: {names}.")
        item, word = found[0], judgement.strip().casefold().replace("_", " ")
        if word not in words_of(read.tool):
            raise BadInput(
                f"{judgement!r} is no judgement", hint=f"Use one of: {', '.join(words_of(read.tool))}."
            )
        if not item.disagree:
            raise BadInput(
                f"Nobody disagrees on {item.name} of {study}.",
                hint="To judge it otherwise yourself: steelyard study judge.",
            )
        before = str((row.bias or {}).get("overall") or "not assessed")
        settles = {o.person: o.value for o in item.given}
        session.add(
            Rating(
                study_id=row.id,
                tool=read.tool.id,
                domain=item.domain,
                value=word,
                answers={"name": item.name, "settles": settles},
                reason=reason.strip(),
                person=who,
                at=catalogue.now(),
            )
        )
        session.flush()
        weigh_again(session, row)
        now = str((row.bias or {}).get("overall") or "not assessed")
        open_ones = tuple((row.bias or {}).get("not_settled") or ())
    whole = Judged(read.tool, BiasJudgement(read.tool.id, ()))
    return StudyJudged(study, name_study(rows), whole, before, now, True, open_ones)


def fits(domain: str, name: str, text: str) -> bool:
    """Whether a person's word names this domain."""
    wanted = " ".join(text.strip().casefold().replace("_", " ").split())
    return wanted in (name.casefold(), domain.casefold().replace("_", " "), domain.split("_")[0].casefold())
