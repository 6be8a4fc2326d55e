"""The published schema of study files, and its findings told in plain words with the line."""

import json
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from typing import Any

from evidence.reading.plain_yaml import Document, Path
from evidence.reading.study_draft import Problem

_TYPES = {
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a set of named entries",
    "null": "empty",
}


@lru_cache(maxsize=1)
def load_schema() -> Mapping[str, Any]:
    """The JSON Schema (draft 2020-12) of study files, version 1."""
    text = (files("evidence.reading") / "study_schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


DECIMAL_COMMA = "A decimal comma ends an entry between { and }: write 27.5, not 27,5."


def find_schema_problems(document: Document) -> Iterator[Problem]:
    """Everything in `document` that the schema does not allow, in file order."""
    from jsonschema import Draft202012Validator

    found: dict[tuple[int, str], Problem] = {}
    for error in Draft202012Validator(load_schema()).iter_errors(document.data):
        for path, message, hint in _tell(error):
            line = document.line(path) or 0
            found.setdefault((line, message), Problem(message, document.where(path), hint, path))
    yield from (problem for _, problem in sorted(found.items(), key=lambda item: item[0]))


def _tell(error: Any) -> Iterator[tuple[Path, str, str]]:
    """One error of the validator as places, messages and hints."""
    path: Path = tuple(error.absolute_path)
    name = _name(path)
    rule, value = error.validator, error.instance
    if rule == "additionalProperties":
        known = list(error.schema.get("properties", ()))
        for extra in (key for key in value if key not in known):
            near = get_close_matches(extra, known, n=1, cutoff=0.5)
            hint = f'Did you mean "{near[0]}"?' if near else f"Known here: {', '.join(known)}."
            if str(extra).isdecimal():
                hint = DECIMAL_COMMA
            yield (*path, extra), f'"{extra}" is not known in {name}', hint
    elif rule == "required":
        missing = [key for key in error.validator_value if key not in value]
        for key in missing:
            yield path, f'"{key}" is missing in {name}', "Add it."
    elif rule == "enum" and value is None:
        yield (
            path,
            f"{name} is empty",
            f"Use one of: {_listed(error.validator_value)}; or leave the entry out.",
        )
    elif rule == "enum":
        yield path, f'{name} is "{value}"', f"Use one of: {_listed(error.validator_value)}."
    elif rule == "const":
        yield path, f'{name} is "{value}"', f'This version reads "{error.validator_value}".'
    elif rule == "type":
        wanted = error.validator_value if isinstance(error.validator_value, list) else [error.validator_value]
        kinds = " or ".join(_TYPES[kind] for kind in wanted)
        if value is None:
            yield path, f"{name} is empty", f"Write {kinds}, or leave the entry out."
        else:
            yield path, f"{name} should be {kinds}", _hint_type(value, wanted)
    elif rule == "pattern":
        yield path, f'{name} is "{value}"', str(error.schema.get("description", "Check how it is written."))
    elif rule in ("minimum", "exclusiveMinimum", "maximum", "exclusiveMaximum"):
        word = {
            "minimum": "at least",
            "exclusiveMinimum": "more than",
            "maximum": "at most",
            "exclusiveMaximum": "less than",
        }[rule]
        yield path, f"{name} is {value}", f"It must be {word} {error.validator_value}."
    elif rule in ("minItems", "prefixItems", "items"):
        yield path, f"{name} does not have the right number of entries", "An interval has two: [low, high]."
    elif rule == "maxLength":
        yield path, f"{name} is too long", f"At most {error.validator_value} characters."
    elif rule in ("oneOf", "anyOf"):
        yield from _tell_choice(error, path, name)
    else:
        yield path, f"{name} is not as it should be ({error.message})", ""


def _listed(words: Iterable[object]) -> str:
    return ", ".join(map(str, words))


def _tell_choice(error: Any, path: Path, name: str) -> Iterator[tuple[Path, str, str]]:
    """Where several forms are allowed, the complaint about the form that was plainly meant."""
    meant = [e for e in error.context if e.validator != "type" or tuple(e.absolute_path) != path]
    if isinstance(error.instance, dict) and meant:
        for inner in meant:
            yield from _tell(inner)
    elif isinstance(error.instance, dict) and error.validator == "anyOf":
        yield path, f"{name} names nothing", "Give a key or a DOI."
    else:
        for inner in [e for e in meant if e.validator == "pattern"] or []:
            yield from _tell(inner)
        if not any(e.validator == "pattern" for e in meant):
            yield path, f"{name} is not as it should be", "Write a word, or named entries."


def _hint_type(value: object, wanted: list[str]) -> str:
    if "boolean" in wanted:
        return "Write true or false."
    if isinstance(value, str) and ("number" in wanted or "integer" in wanted):
        return f'"{value}" is text here; write the figure alone, with a decimal point.'
    return "Check the indentation and the dashes."


def _name(path: Path) -> str:
    """A place in words: ("results", 2, "sd") -> "results, entry 3, sd"."""
    if not path:
        return "the file"
    return ", ".join(f"entry {step + 1}" if isinstance(step, int) else str(step) for step in path)
