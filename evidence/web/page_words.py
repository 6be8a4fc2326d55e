"""Errors in the words of the page: where they name an option or a command of the terminal, what the page has for it."""

import re
from functools import cache
from importlib.resources import files

import yaml

from evidence.errors import SteelyardError
from evidence.publishing.templating import tell
from evidence.workflows.gather.typed_references import ReferencesError

_OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")


@cache
def _words() -> tuple[tuple[tuple[re.Pattern[str], str], ...], dict[str, str]]:
    read = yaml.safe_load((files("evidence.web") / "page_words.yaml").read_text("utf-8"))
    return tuple((re.compile(pattern), said) for pattern, said in read["phrases"]), read["options"]


def in_page_words(problem: SteelyardError | ReferencesError) -> str:
    """What an error says, without options and commands of the terminal (the list is page_words.yaml)."""
    return text_in_page_words(str(problem))


def text_in_page_words(text: str) -> str:
    """The same of an error that is a text already."""
    phrases, options = _words()
    if "--" not in text and "`" not in text and "steelyard" not in text:
        return text
    for pattern, said in phrases:
        text = pattern.sub(said, text)
    return _OPTION.sub(lambda found: options.get(found[0], found[0]), text)


def tell_on_page(value: object) -> object:
    """What a template shows of a value: an error in the words of the page, all else as every document tells it."""
    return tell(in_page_words(value) if isinstance(value, SteelyardError | ReferencesError) else value)
