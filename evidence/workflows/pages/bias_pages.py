"""Risk of bias of one study as a page shows it: prompts with one person's answers, proposals, and what all judged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.appraisal.bias import OVERALL, DomainJudgement
from evidence.appraisal.bias_tools import BiasTool, Judged, Prompt, list_tools, read_answer
from evidence.appraisal.origins import explain_origins, mark_origin
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key
from evidence.catalogue.queries.judgement import ratings_of_study
from evidence.workflows.judge.judgement_told import proposed_by
from evidence.workflows.judge.judging import Choice, Questionnaire, ask_about, preview
from evidence.workflows.relevance.bias_ratings import StudyRatings, by_tools, words_of


@dataclass(frozen=True, slots=True)
class DomainAsked:
    """One domain: its prompts, what they propose so far, and what the person chose over that (empty: nothing)."""

    id: str
    name: str
    prompts: tuple[Prompt, ...]
    judged: DomainJudgement | None
    chosen: str
    reason: str


@dataclass(frozen=True, slots=True)
class BiasPage:
    """A study's risk of bias. `raters`: what every person judged, tool by tool; `weighed`: what counts now."""

    asked: Questionnaire
    tools: tuple[BiasTool, ...]
    words: tuple[str, ...]
    answers: Mapping[str, str]
    domains: tuple[DomainAsked, ...]
    overall: DomainAsked | None
    judged: Judged
    raters: tuple[StudyRatings, ...]
    weighed: str
    not_settled: tuple[str, ...]

    def mark(self, domain: DomainJudgement) -> str:
        """The mark of the rule behind what holds; none of what a person chose."""
        return "" if domain.chosen is not None else mark_origin(domain.conf)

    @property
    def origins(self) -> tuple[str, ...]:
        """What the marks beside proposals mean."""
        return explain_origins(proposed_by(self.judged))


def show_bias(
    catalogue: Catalogue,
    study: str,
    who: str,
    tool: str | None = None,
    answers: Mapping[str, str] | None = None,
    choices: Sequence[Choice] | None = None,
) -> BiasPage:
    """The page of a study; `answers` and `choices`: as just given and not stored, in place of those stored.

    Raises NotFound, or BadInput for a tool, an answer or a choice that is none.
    """
    asked = ask_about(catalogue, study, who, tool)
    with catalogue.reading() as session:
        row = study_by_key(session, study)
        raters = by_tools(ratings_of_study(session, row))
    prompts = {p.key: p for p in asked.prompts}
    given = {k: read_answer(prompts[k], v) for k, v in (answers or {}).items() if k in prompts}
    given = dict(asked.answers) if answers is None else given
    chosen = asked.choices if choices is None else tuple(choices)
    judged = preview(asked.tool, given, chosen, who)
    bias = row.bias or {}
    return BiasPage(
        asked,
        list_tools(),
        words_of(asked.tool),
        given,
        domains_of(asked, judged, chosen),
        overall_of(chosen) if asked.tool.by_domain else None,
        judged,
        raters,
        str(bias.get("overall") or "not assessed"),
        tuple(bias.get("not_settled") or ()),
    )


def domains_of(asked: Questionnaire, judged: Judged, chosen: Sequence[Choice]) -> tuple[DomainAsked, ...]:
    """The prompts under their domains, in the order in which they are asked."""
    by_name = {d.name: d for d in judged.judgement.domains}
    grouped: dict[str, list[Prompt]] = {}
    for prompt in asked.prompts:
        grouped.setdefault(prompt.domain, []).append(prompt)
    found = []
    for name, prompts in grouped.items():
        known = by_name.get(name)
        mine = next((c for c in chosen if known and c.domain in (known.domain, known.name)), None)
        found.append(
            DomainAsked(
                known.domain if known else name,
                name,
                tuple(prompts),
                known,
                mine.judgement if mine else "",
                mine.reason if mine else "",
            )
        )
    return tuple(found)


def overall_of(chosen: Sequence[Choice]) -> DomainAsked:
    """What the person chose over what the domains come to."""
    mine = next((c for c in chosen if c.domain == OVERALL), None)
    return DomainAsked(
        OVERALL, OVERALL, (), None, mine.judgement if mine else "", mine.reason if mine else ""
    )
