"""A study draft as the text of a study file that reads back equal."""

from dataclasses import fields
from datetime import date
from enum import Enum
from typing import Any

from evidence.reading.plain_yaml import resolve_word
from evidence.reading.study_draft import BiasDraft, ResultDraft, StudyDraft

# The plain fields of a study, in the order in which they are written.
_HEAD = (
    "key", "title", "invented", "year", "references", "source", "design", "pairing", "randomised", "weeks",
    "sample", "funding", "note",
)  # fmt: skip


def write_study_file(draft: StudyDraft) -> str:
    """The text of a study file for `draft`; `read_study_text` of it gives an equal draft.

    Results are written one by one, each complete; entries that hold their default are left out.
    """
    document: dict[str, Any] = {"steelyard": "study/1"}
    for name in _HEAD:
        if name == "references":
            document[name] = [_plain(link) for link in draft.references]
        elif name in ("pairing", "randomised"):
            document[name] = str(getattr(draft, name))
        else:
            document[name] = _scalar(getattr(draft, name))
    document["people"] = [_plain(group) for group in draft.people]
    document["conditions"] = [{**_plain(c), "exercise": c.exercise} for c in draft.conditions]
    document["outcomes"] = [{**_plain(o), "better": o.better} for o in draft.outcomes]
    document["results"] = [_result(result) for result in draft.results]
    document["correlations"] = [
        {"a": c.result_a, "b": c.result_b, "r": c.r, "origin": c.origin, "locator": c.locator}
        for c in draft.correlations
    ]
    if draft.bias is not None:
        document["bias"] = _bias(draft.bias)
    kept = ("key", "title", "conditions", "outcomes")
    return _dump({k: v for k, v in document.items() if k in kept or v not in (None, [], {}, False, "")})


def _plain(entry: Any) -> dict[str, Any]:
    """The fields of a dataclass that differ from their defaults."""
    plain = {}
    for item in fields(entry):
        value = getattr(entry, item.name)
        empty = value is None or (isinstance(value, dict) and not value)
        if not empty and value != item.default:
            plain[item.name] = dict(value) if isinstance(value, dict) else _scalar(value)
    return plain


def _result(result: ResultDraft) -> dict[str, Any]:
    entry = _plain(result)
    entry["timepoint"] = result.timepoint.value
    entry["read_from"] = result.read_from.value
    entry["locator"] = result.locator
    low, high = entry.pop("low", None), entry.pop("high", None)
    if low is not None and high is not None:
        name = {"IQR": "iqr", "range": "range"}.get(result.spread_kind.value, "ci")
        entry[name] = [low, high]
    if "printed_unit" in entry:
        entry["unit"] = entry.pop("printed_unit")
    entry["spread_kind"] = result.spread_kind.value
    return entry


def _bias(bias: BiasDraft) -> dict[str, Any]:
    entry = _plain(bias) | {"overall": bias.overall}
    entry.pop("domains", None)
    if bias.domains:
        entry["domains"] = [_plain(domain) for domain in bias.domains]
    return entry


def _scalar(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value


def _dump(document: dict[str, Any]) -> str:
    import yaml

    class Dumper(yaml.SafeDumper):
        """Quotes whatever the reader of this package would not take for text."""

        def ignore_aliases(self, data: Any) -> bool:
            return True

    def represent(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
        quoted = not isinstance(resolve_word(text), str) or text != text.strip()
        quoted = quoted or not text.replace("\n", "").isprintable()  # written as escapes
        return dumper.represent_scalar("tag:yaml.org,2002:str", text, style='"' if quoted else None)

    Dumper.add_representer(str, represent)
    dumped: str = yaml.dump(document, Dumper=Dumper, sort_keys=False, allow_unicode=True, width=110)
    return dumped
