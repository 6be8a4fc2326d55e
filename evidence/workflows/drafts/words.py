"""The word lists of `words.yaml`, read once."""

from functools import cache
from importlib.resources import files
from typing import Any


@cache
def load_words() -> dict[str, Any]:
    """Every list by its name."""
    import yaml

    text = files("evidence.workflows.drafts").joinpath("words.yaml").read_text("utf-8")
    return dict(yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader)))


@cache
def word_set(name: str) -> frozenset[str]:
    """One list as a set."""
    return frozenset(load_words()[name])
