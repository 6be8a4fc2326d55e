"""Answers on a study's risk of bias as a file that people fill in: written with its prompts, read back."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evidence.appraisal.bias_tools import Prompt
from evidence.errors import BadInput
from evidence.workflows.judge.judging import Choice, Questionnaire

PARTS = ("study", "tool", "answers", "choices")


@dataclass(frozen=True, slots=True)
class AnswerFile:
    """What a file of answers holds. `study` and `tool` are empty where it does not say."""

    study: str
    tool: str
    answers: Mapping[str, str]
    choices: tuple[Choice, ...]


def write_answer_file(asked: Questionnaire) -> str:
    """The prompts as YAML to be filled in, with what this person answered before."""
    tool = asked.tool
    lines = [
        f"# Risk of bias of {asked.study}: {asked.label}",
        f"# {tool.name} ({asked.why}). {tool.source}.",
        "# Fill in what you can; leave the rest empty. Then: "
        f"steelyard study judge {asked.study} --answers THIS-FILE",
        f"study: {asked.study}",
        f"tool: {tool.id}",
        "answers:",
    ]
    before: Prompt | None = None
    for prompt in asked.prompts:
        if before is None or prompt.domain != before.domain:
            lines.append(f"  # --- {prompt.domain}")
        lines += [f"  # {line}" for line in tell_prompt(prompt, before)]
        before = prompt
        answer = asked.answers.get(prompt.key, "")
        lines.append(f"  {prompt.key}: {quoted(answer)}".rstrip())
    lines.append("choices:  # only where you judge otherwise than proposed")
    for choice in asked.choices:
        lines.append(
            f"  {choice.domain}: {{judgement: {choice.judgement}, because: {quoted(choice.reason)}}}"
        )
    if not asked.choices:
        lines.append('  # measurement: {judgement: high, because: "..."}')
    return "\n".join(lines) + "\n"


def tell_prompt(prompt: Prompt, before: Prompt | None = None) -> list[str]:
    """A prompt with the answers it takes, where they are not those of the prompt before."""
    options = ", ".join(f"{code} {meaning}" if meaning else code for code, meaning in prompt.options)
    told = [] if before is not None and before.options == prompt.options else [f"[{options}]"]
    return [prompt.ask, *([prompt.hint] if prompt.hint else []), *told]


def quoted(text: str) -> str:
    """Text as YAML takes it for text."""
    import json

    return json.dumps(text, ensure_ascii=False) if text else ""


def read_answer_file(path: Path) -> AnswerFile:
    """Read a file of answers. Raises BadInput, with the line, for a part or value that is none."""
    from evidence.reading.files import open_input
    from evidence.reading.plain_yaml import load_yaml, written

    document = load_yaml(open_input(path).text, str(path))
    data = document.data
    if not isinstance(data, dict):
        raise BadInput("holds no answers.", where=str(path), hint="Make one with --template.")
    for name in data:
        if name not in PARTS:
            raise BadInput(
                f'"{name}" is no part of a file of answers.',
                where=document.where((name,)),
                hint=f"Parts: {', '.join(PARTS)}.",
            )
    answers: dict[str, str] = {}
    for key, value in mapping(data.get("answers"), document.where(("answers",))).items():
        if value is None:
            continue
        if isinstance(value, (dict, list)):
            raise BadInput(f"{key} is not one answer.", where=document.where(("answers", key)))
        answers[str(key)] = {"true": "yes", "false": "no"}.get(written(value), written(value))
    choices = []
    for domain, entry in mapping(data.get("choices"), document.where(("choices",))).items():
        where = document.where(("choices", domain))
        entry = mapping(entry, where)
        if set(entry) - {"judgement", "because"} or not entry.get("judgement"):
            raise BadInput(
                f"the choice for {domain} is not complete.",
                where=where,
                hint='Write it as {judgement: high, because: "..."}.',
            )
        choices.append(Choice(str(domain), written(entry["judgement"]), str(entry.get("because") or "")))
    return AnswerFile(str(data.get("study") or ""), str(data.get("tool") or ""), answers, tuple(choices))


def mapping(value: Any, where: str) -> dict[Any, Any]:
    """A set of named entries, empty where nothing stands. Raises BadInput for anything else."""
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise BadInput("should be named entries, one per line.", where=where)
    return value
