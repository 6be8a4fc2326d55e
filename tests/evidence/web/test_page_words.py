"""No page names an option or a command of the terminal: errors are told in the words of the page."""

import ast
import re
from pathlib import Path

import pytest

from evidence.errors import BadInput
from evidence.web.page_words import in_page_words
from references.errors import ReferencesError

ROOT = Path(__file__).parents[3]
ROOMS = ("evidence/workflows", "evidence/catalogue", "evidence/reading", "evidence/appraisal")
# What no page reaches: the calculator and making, opening or moving whole catalogues are for the terminal alone.
ELSEWHERE = {
    "calculator", "demonstrating.py", "location.py", "opening.py", "faults.py", "exchange", "files.py", "keeping.py",
    "rating_told.py", "judgement_told.py", "handouts.py", "citing.py", "reference_files.py", "answer_files.py",
}  # fmt: skip
TERMINAL = re.compile(r"(?<![\w-])--[a-z]|steelyard [a-z]|`(refs|study|claim|results) ")
RAISING = {"BadInput", "NotFound", "Ambiguous", "CatalogueProblem", "CatalogueDamaged", "NumberProblem"}


def as_text(node):
    """A text of the code, with NAME for what is put into it; None for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(v.value if isinstance(v, ast.Constant) else "NAME" for v in node.values)
    if isinstance(node, ast.IfExp):
        return as_text(node.body) if TERMINAL.search(as_text(node.body) or "") else as_text(node.orelse)
    return None


def told_by(path):
    """Texts with which a module raises an error, message and hint."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in RAISING:
            given = [
                as_text(arg) for arg in (*node.args, *(k.value for k in node.keywords if k.arg != "where"))
            ]
            yield from (text for text in given if text and TERMINAL.search(text))


PATHS = [p for room in ROOMS for p in sorted((ROOT / room).rglob("*.py")) if not ELSEWHERE & set(p.parts)]
TOLD = sorted({text for path in PATHS for text in told_by(path)})


def test_there_are_such_errors():
    assert len(TOLD) > 40


@pytest.mark.parametrize("text", TOLD)
def test_an_error_that_names_the_terminal_is_told_in_words_of_the_page(text):
    told = in_page_words(BadInput("something is wrong.", hint=text))
    assert not TERMINAL.search(told) and "`" not in told, told
    assert re.match(r"something is wrong\. \S", told), told


def test_an_error_that_names_no_option_is_told_as_it_is():
    assert in_page_words(ReferencesError("12 - 5 -- odd", hint="See `x`.")) == "12 - 5 -- odd. See `x`."


def test_a_field_stands_for_an_option_that_no_phrase_names():
    assert in_page_words(BadInput("is no number", where="--margin")) == "the margin: is no number"


@pytest.mark.parametrize(
    ("place", "sent", "said"),
    [
        ("/claims/seated-curl-activation/rate", {"domain": "bias", "level": "-1"}, "“Because”"),
        ("/claims/seated-curl-activation/link", {"reference": "plate2017", "stance": "supports", "kind": "study"},
         "“What it says”"),
        ("/claims/seated-curl-activation/remove", {}, "“Because”"),
    ],
)  # fmt: skip
def test_a_page_shows_them_so(visitor, place, sent, said):
    answer = visitor.post(place, data=sent)
    assert answer.status_code == 422 and said in answer.text and "--" not in answer.text.split("<main")[1]
