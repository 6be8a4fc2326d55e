"""Where a rule is from, told to a reader: a mark beside what it gave, and once below what the mark means."""

from collections.abc import Iterable

NAMES = {"memory": "from memory", "project": "Steelyard's own"}
MARKS = {"verified": "", "memory": "*", "project": "†"}
MEANINGS = {
    "memory": "The rule behind it was written from memory of its source and has not been held against it yet: "
    "where much hangs on it, look it up.",
    "project": "The rule behind it is Steelyard's own: nothing published sets it.",
}


def name_origin(conf: str) -> str:
    """How far a source was read, as people are told it beside the source."""
    return NAMES.get(conf, conf)


def mark_origin(conf: str) -> str:
    """The mark of a rule: none of one that was read in its source."""
    return MARKS[conf]


def explain_origins(confs: Iterable[str]) -> tuple[str, ...]:
    """What each mark that occurs means, as a sentence for the foot of a page."""
    met = set(confs)
    return tuple(f"{MARKS[conf]} {said}" for conf, said in MEANINGS.items() if conf in met)
