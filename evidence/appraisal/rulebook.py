"""Rule data: loading the packaged files and finding the first rule that fits a set of facts.

A rule is a mapping with `id`, `when` (fact -> test; all must hold; absent: always), `propose`, `text`,
`src`, `conf` (verified: read in the source; memory: recalled; project: a convention of this project). A
test is a plain value (equality; None means the fact is not known) or a mapping of comparisons: `lt`,
`le`, `gt`, `ge`, `in`, `known`. A comparison with an unknown fact does not hold.
"""

import csv
import operator
import re
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

from evidence.appraisal.origins import name_origin
from evidence.errors import BadInput

Fact = bool | int | float | str | None
Facts = Mapping[str, Fact]
Rule = Mapping[str, Any]

COMPARISONS: dict[str, Callable[[Any, Any], bool]] = {
    "lt": operator.lt,
    "le": operator.le,
    "gt": operator.gt,
    "ge": operator.ge,
    "in": lambda fact, options: fact in options,
}


@cache
def load_rules(name: str) -> Mapping[str, Any]:
    """The packaged rule file `rules/<name>.yaml`. Raises BadInput naming the files there are."""
    import yaml

    folder = resources.files("evidence.appraisal").joinpath("rules")
    file = folder.joinpath(f"{name}.yaml")
    if not name.replace("_", "").isalnum() or not file.is_file():
        names = sorted(f.name.removesuffix(".yaml") for f in folder.iterdir() if f.name.endswith(".yaml"))
        raise BadInput(f"there is no rule file {name!r}", hint=f"There are: {', '.join(names)}.")
    # The loader written in C reads the same, in a tenth of the time.
    loaded = yaml.load(file.read_text("utf-8"), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    if not isinstance(loaded, dict):
        raise BadInput(f"rule file {name!r} holds no mapping")
    return loaded


@cache
def load_sources() -> Mapping[str, Mapping[str, str]]:
    """Source key -> its row (citation, read_as, status) of `rules/sources.csv`."""
    file = resources.files("evidence.appraisal").joinpath("rules", "sources.csv")
    rows = csv.DictReader(line for line in file.read_text("utf-8").splitlines() if not line.startswith("#"))
    return {row["key"]: row for row in rows}


def cite_source(key: str) -> str:
    """A source key as people read it, with how far it was read."""
    row = load_sources().get(key)
    return f"{row['citation']} ({name_origin(row['status'])})" if row else key


def holds(test: Any, fact: Fact) -> bool:
    """Whether one fact passes one test."""
    if not isinstance(test, Mapping):
        return fact == test and isinstance(fact, bool) == isinstance(test, bool)
    for name, bound in test.items():
        if name == "known":
            if (fact is not None) != bound:
                return False
        elif fact is None or not COMPARISONS[name](fact, bound):
            return False
    return True


def find_rule(rules: Sequence[Rule], facts: Facts) -> Rule:
    """The first rule whose tests all hold. Raises BadInput when none fits or a rule names an unknown fact."""
    for rule in rules:
        when = rule.get("when", {})
        missing = [name for name in when if name not in facts]
        if missing:
            raise BadInput(f"rule {rule.get('id')} asks for {missing[0]!r}, which is not among the facts")
        if all(holds(test, facts[name]) for name, test in when.items()):
            return rule
    raise BadInput("no rule fits", hint="A list of rules ends with one that has no conditions.")


def fill_text(template: str, facts: Facts) -> str:
    """A rule's reason with the facts in it; an unknown fact reads `not known`."""
    return re.sub(r"(?<=\d)%", " %", template.format_map(_Shown(facts)))


class _Shown(dict[str, Any]):
    """Facts for `format_map`: an unknown one takes any format and reads `not known`."""

    def __init__(self, facts: Facts) -> None:
        super().__init__({name: _UNKNOWN if fact is None else fact for name, fact in facts.items()})


class _Unknown:
    def __format__(self, spec: str) -> str:
        return "not known"


_UNKNOWN = _Unknown()
