"""The rule tables beside the code (`data/*.yaml`), each read once."""

from functools import cache
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
