"""The rule tables beside the code (`data/*.yaml`), each read once."""

from functools import cache
from hashlib import blake2b
from importlib.resources import files
from typing import Any

import yaml

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@cache
def load_rules(name: str) -> dict[str, Any]:
    """One packaged rule table, for example `load_rules("duplicates")`. Callers must not change what they
    get.
    """
    text = files("references").joinpath("data", f"{name}.yaml").read_text(encoding="utf-8")
    rules: dict[str, Any] = yaml.load(text, Loader=_Loader)  # a safe loader
    return rules


@cache
def state_of_library() -> str:
    """A digest of this library's code and tables: what was worked out by it holds as long as this stays the same."""
    digest = blake2b(digest_size=8)
    for folder in (files("references"), files("references").joinpath("data")):
        for file in sorted(folder.iterdir(), key=lambda file: file.name):
            if file.name.endswith((".py", ".yaml")):
                digest.update(file.read_bytes())
    return digest.hexdigest()
