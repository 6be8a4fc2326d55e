"""Claims from a file: a YAML list whose entries are named as the options of `steelyard claim state`."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Claim
from evidence.errors import Ambiguous, BadInput, SteelyardError
from evidence.reading.files import open_input
from evidence.reading.plain_yaml import Document, load_yaml, written
from evidence.reading.study_schema import DECIMAL_COMMA
from evidence.workflows.claims.claiming import (
    KnownClaim,
    Stated,
    Statement,
    foresee_claim,
    state_claim,
    usual_direction,
)
from evidence.workflows.claims.terms import Terms
from evidence.workflows.gather.gathering import Progress, Tell, say_nothing
from evidence.workflows.opening import vocabulary_of

TEXTS = {
    "exercise": "exercise", "over": "comparator", "region": "region", "outcome": "outcome", "says": "direction",
    "kind": "kind", "key": "key", "status": "training_status", "sex": "sex", "health": "health",
    "leaning_on": "surrogate", "scale": "scale", "note": "note", "falsifier": "falsifier",
}  # fmt: skip
LISTS = {"detail": "exercise_details", "over_detail": "comparator_details"}
TERM_TEXTS = {
    "weeks": "weeks", "percent": "percent", "graded": "detail", "band": "band", "band_source": "source",
    "other": "other", "text": "text",
}  # fmt: skip
TERM_NUMBERS = {"size": "size", "step": "step", "level": "level", "to_level": "to"}
# An option, the value behind it, and what sets that apart from what follows.
OPTION = re.compile(r"""--([a-z][a-z-]*)(?: ("[^"]*"|[^\s,.;:()-][^\s,.;:()]*)(: | (?=--))?)?""")
JOINING = ("and", "or", "out", "too", "would")  # words that may follow an option and are no value of it
ENTRIES = (*TEXTS, *LISTS, "margin", *TERM_TEXTS, *TERM_NUMBERS, "among")


@dataclass(frozen=True, slots=True)
class Loaded:
    """What came of a file of claims. `known`: those that were here already; `refused`: why, with the line."""

    stated: tuple[Stated, ...]
    known: tuple[str, ...]
    refused: tuple[str, ...]


def load_claims(catalogue: Catalogue, paths: Sequence[Path], who: str) -> tuple[Loaded, ...]:
    """State every claim of each file; one that cannot be is told and keeps back no other.

    Raises BadInput where a file as a whole cannot be read: then nothing of any is stored.
    """
    documents = [read_list(path) for path in paths]
    return tuple(load_list(catalogue, document, who) for document in documents)


def load_list(catalogue: Catalogue, document: Document, who: str, tell: Tell = say_nothing) -> Loaded:
    """State every claim of a list. The vocabulary is read once for all of them."""
    vocabulary = vocabulary_of(catalogue)
    return take_list(document, lambda statement: state_claim(catalogue, statement, who, vocabulary), tell)


def foresee_list(catalogue: Catalogue, document: Document, tell: Tell = say_nothing) -> Loaded:
    """What stating every claim of a list would come to; nothing is stored."""
    vocabulary = vocabulary_of(catalogue)
    earlier: list[Claim] = []
    return take_list(
        document, lambda statement: foresee_claim(catalogue, statement, vocabulary, earlier), tell
    )


def take_list(document: Document, take: Callable[[Statement], Stated], tell: Tell) -> Loaded:
    """What comes of every claim of a list; `take` states one."""
    stated: list[Stated] = []
    known: list[str] = []
    refused: list[str] = []
    for number, item in enumerate(document.data):
        where = place_of(document, number)
        try:
            stated.append(take(read_statement(item, where)))
        except KnownClaim as here:
            known.append(here.key)
        except SteelyardError as problem:
            refused.append(tell_refused(problem, where))
        tell(Progress(number + 1, len(document.data), number + 1))
    return Loaded(tuple(stated), tuple(known), tuple(refused))


def place_of(document: Document, number: int) -> str:
    """Where a claim stands: file, line and its number in the list."""
    return f"{document.where((number,))} (claim {number + 1})"


def tell_refused(problem: SteelyardError, where: str) -> str:
    """Why a claim was not stored, with its place, in the words of the file, and what it could have meant."""
    told = in_file_words(f"{problem}" if problem.where == where else f"{where}: {problem}")
    meant = problem.candidates if isinstance(problem, Ambiguous) else ()
    return f"{told} There are: {'; '.join(meant)}." if meant else told


def in_file_words(text: str) -> str:
    """What an error says, with the parts of a file where it names options: `--to-level 60` is `to_level: 60`."""
    return OPTION.sub(as_part, text)


def as_part(found: re.Match[str]) -> str:
    """An option, with the value behind it where it has one, as a file has it."""
    part, value = found[1].replace("-", "_"), found[2]
    if value is None:
        return part
    return (
        f"{part} {value}{found[3] or ''}"
        if value in JOINING
        else f"{part}: {value}{', ' if found[3] else ''}"
    )


def statements_from_file(path: Path) -> tuple[Statement, ...]:
    """The statements of a file. Raises BadInput, with the line, for the first that is none."""
    document = read_list(path)
    return tuple(read_statement(item, place_of(document, i)) for i, item in enumerate(document.data))


def read_text(path: Path) -> str:
    """The text of a file, as it is shown again to be mended. Raises BadInput where it is no text."""
    return open_input(path).text


def read_list(path: Path, name: str | None = None) -> Document:
    """The YAML list that a file of claims is. `name`: what its places call it, else its path.

    Raises BadInput where it is none.
    """
    document = load_yaml(read_text(path), name or str(path))
    if not isinstance(document.data, list) or not document.data:
        raise BadInput(
            "holds no list of claims.",
            where=document.name,
            hint="Begin each with a dash: - {exercise: back squat, over: leg press, outcome: growth}",
        )
    return document


def read_statement(item: Any, where: str) -> Statement:
    """One statement from a mapping. Raises BadInput for entries there are none of, and values of another sort."""
    if not isinstance(item, Mapping):
        raise BadInput(
            "is not a claim with named parts.", where=where, hint="Write exercise: back squat, ..."
        )
    unknown = [str(name) for name in item if name not in ENTRIES]
    if unknown:
        raise BadInput(
            f"has parts that no claim has: {', '.join(unknown)}.",
            where=where,
            hint=DECIMAL_COMMA if all(map(str.isdecimal, unknown)) else f"There are: {', '.join(ENTRIES)}.",
        )
    given = {name: value for name, value in item.items() if value is not None}
    missing = [] if "kind" in given else [n for n in ("exercise", "over", "outcome") if n not in given]
    if missing:
        raise BadInput(f"lacks: {', '.join(missing)}.", where=where)
    parts: dict[str, Any] = {TEXTS[n]: as_text(n, v, where) for n, v in given.items() if n in TEXTS}
    parts |= {LISTS[n]: as_list(n, v, where) for n, v in given.items() if n in LISTS}
    if "margin" in given:
        parts["margin"] = as_number("margin", given["margin"], where)
    terms: dict[str, Any] = {TERM_TEXTS[n]: as_text(n, v, where) for n, v in given.items() if n in TERM_TEXTS}
    terms |= {TERM_NUMBERS[n]: as_number(n, v, where) for n, v in given.items() if n in TERM_NUMBERS}
    if "among" in given:
        terms["field"] = as_list("among", given["among"], where)
    parts.setdefault("direction", usual_direction(parts.get("kind")))
    return Statement(**parts, terms=Terms(**terms))


def as_text(name: str, value: Any, where: str) -> str:
    """A word or number as it was written."""
    if isinstance(value, Mapping | list):
        raise BadInput(f"{name} is one text, not a list.", where=where)
    return written(value)


def as_number(name: str, value: Any, where: str) -> float:
    """A number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(f'{name} is a number, not "{value}".', where=where)
    return float(value)


def as_list(name: str, value: Any, where: str) -> tuple[str, ...]:
    """One text or several."""
    return tuple(as_text(name, each, where) for each in (value if isinstance(value, list) else [value]))
