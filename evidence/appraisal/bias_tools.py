"""The ways of judging risk of bias: which one a design starts with, their prompts, and one call that judges by any.

Data: `rules/bias_tools.yaml` and the prompt files that it names. Scales (TESTEX, PEDro, MINORS) give points, which
measure reporting as much as bias: at most they propose an overall word, which counts only when a person chooses it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal import scales
from evidence.appraisal.bias import BiasJudgement, judge_bias, judge_nonrandomised, list_prompts
from evidence.appraisal.rulebook import load_rules
from evidence.errors import BadInput

SCORES = {"PEDro": scales.score_pedro, "TESTEX": scales.score_testex, "MINORS": scales.score_minors}


@dataclass(frozen=True, slots=True)
class BiasTool:
    """One way of judging. `asks`: answers, items, judgements or points; `conf`: verified, memory or project."""

    id: str
    name: str
    weighed_as: str
    asks: str
    source: str
    conf: str
    scale: str = ""

    @property
    def by_domain(self) -> bool:
        """Whether it judges domains, and so decides what is weighed; a scale does not."""
        return self.asks != "points"


@dataclass(frozen=True, slots=True)
class Prompt:
    """One thing to answer: `options` are the answers allowed with their meaning; `basis`: where it comes from."""

    key: str
    domain: str
    ask: str
    options: tuple[tuple[str, str], ...]
    hint: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """A judgement with the points of a scale, where the tool is one, and what those propose of the whole."""

    tool: BiasTool
    judgement: BiasJudgement
    points: scales.ScaleTotal | None = None
    from_points: str | None = None

    @property
    def overall(self) -> str:
        """What is weighed of this judgement alone."""
        return self.judgement.overall

    @property
    def missing(self) -> tuple[str, ...]:
        """Prompts that are still to be answered before every domain is judged."""
        return tuple(dict.fromkeys(key for d in self.judgement.domains for key in d.missing))


def list_tools() -> tuple[BiasTool, ...]:
    """Every tool that is offered."""
    rows = load_rules("bias_tools")["tools"].items()
    return tuple(BiasTool(id=name, **row) for name, row in rows)


def find_tool(name: str) -> BiasTool:
    """A tool by its id. Raises BadInput naming those there are."""
    tools = {tool.id: tool for tool in list_tools()}
    if name.casefold() not in tools:
        raise BadInput(f"no way of judging is called {name!r}", hint=f"There are: {', '.join(tools)}.")
    return tools[name.casefold()]


def tool_for(*, pairing: str, randomised: str, acute: bool) -> BiasTool:
    """The tool that a design starts with: `pairing` within or between, `randomised` yes, no or not stated."""
    facts: dict[str, Any] = {"pairing": pairing, "randomised": randomised, "acute": acute}
    for row in load_rules("bias_tools")["starts_with"]:
        if all(facts[name] == wanted for name, wanted in row.items() if name != "tool"):
            return find_tool(row["tool"])
    raise BadInput("no way of judging fits this design")


def list_questions(tool: BiasTool) -> tuple[Prompt, ...]:
    """The prompts of a tool, in the order in which they are asked."""
    if tool.asks == "points":
        return tuple(
            Prompt(str(number), tool.scale, label, tuple((str(p), "") for p in range(most + 1)))
            for number, label, most in scales.list_points(tool.scale)
        )
    if tool.asks == "judgements":
        book = load_rules("robins_prompts")
        return tuple(
            Prompt(key, row["name"], row["ask"], tuple((word, "") for word in book["words"]), row["hint"])
            for key, row in book.items()
            if key != "words"
        )
    meanings = load_rules("bias_tools")["answers"] if tool.asks == "answers" else {}
    bases = load_rules("emg_within_subject_checks")["items"] if tool.asks == "items" else {}
    return tuple(
        Prompt(
            key,
            domain,
            ask,
            tuple((option, str(meanings.get(option, ""))) for option in options),
            basis=bases[key]["basis"] if bases else "",
        )
        for key, domain, ask, options in list_prompts(tool.id)
    )


def read_answer(prompt: Prompt, text: str) -> str:
    """An answer as it is kept, from its code or its meaning in any case. Raises BadInput for another."""
    wanted = " ".join(text.strip().casefold().replace("_", " ").split())
    for option, meaning in prompt.options:
        if wanted and wanted in (option.casefold(), meaning.casefold()):
            return option
    allowed = ", ".join(f"{option} ({meaning})" if meaning else option for option, meaning in prompt.options)
    raise BadInput(f"{text.strip()!r} does not answer {prompt.key}", hint=f"Use one of: {allowed}.")


def judge(tool: BiasTool, answers: Mapping[str, str]) -> Judged:
    """Judge by any tool from answers that `read_answer` gave. Raises BadInput for an unknown prompt or answer."""
    prompts = {prompt.key: prompt for prompt in list_questions(tool)}
    for key in answers:
        if key not in prompts:
            raise BadInput(f"{tool.name} has no prompt {key!r}", hint=f"There are: {', '.join(prompts)}.")
    kept = {key: read_answer(prompts[key], text) for key, text in answers.items()}
    if tool.asks == "judgements":
        return Judged(tool, judge_nonrandomised(kept))
    if tool.asks == "points":
        return _judge_points(tool, kept, prompts)
    return Judged(tool, judge_bias(tool.id, kept))


def _judge_points(tool: BiasTool, answers: Mapping[str, str], prompts: Mapping[str, Prompt]) -> Judged:
    """A total once every item has points (MINORS also with its first eight alone)."""
    whole = BiasJudgement(tool.id, (), load_rules("scales")["mapping_to_study_level"]["principle"])
    given = [int(answers[key]) for key in prompts if key in answers]
    complete = len(given) == len(prompts) or (
        tool.scale == "MINORS" and set(answers) == {str(n) for n in range(1, 9)}
    )
    if not complete:
        left = ", ".join(key for key in prompts if key not in answers)
        return Judged(tool, replace(whole, note=f"No total yet: items {left} have no points."))
    total = SCORES[tool.scale](given)
    proposed = scales.propose_from_pedro(given) if tool.scale == "PEDro" else None
    return Judged(tool, replace(whole, note=total.note), total, proposed)
