"""Asking about a study prompt by prompt: only what the judgement still needs, each answer tried before it is taken."""

from collections.abc import Collection, Mapping

from evidence.appraisal.bias_tools import judge, read_answer
from evidence.errors import BadInput
from evidence.workflows.judge.judging import Questionnaire


def next_prompt(asked: Questionnaire, known: Mapping[str, str], skipped: Collection[str]) -> str | None:
    """The key of the next prompt that the judgement still needs; None when none is left but those skipped."""
    if asked.tool.asks == "points":
        wanted = [p.key for p in asked.prompts if p.key not in known]
    else:
        needed = set(judge(asked.tool, known).missing)
        wanted = [p.key for p in asked.prompts if p.key in needed]
    return next((key for key in wanted if key not in skipped), None)


def take_answer(asked: Questionnaire, key: str, text: str) -> str:
    """An answer as it is kept. Raises BadInput for one that is none."""
    prompts = {p.key: p for p in asked.prompts}
    if key not in prompts:
        raise BadInput(f"{asked.tool.name} has no prompt {key!r}", hint=f"There are: {', '.join(prompts)}.")
    return read_answer(prompts[key], text)
