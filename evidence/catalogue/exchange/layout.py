"""The files of an exported catalogue: their names, and how flat tables lie in them."""

import hashlib
import re
from dataclasses import dataclass

FORMAT = "steelyard catalogue"
FORMAT_VERSION = 1
MANIFEST = "manifest.yaml"
CHANGES = "history/changes.jsonl"
ROWS = "history/rows.jsonl"
NO_YEAR = "none-known"
# Names that no file may have on some systems.
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_SAFE = re.compile(r"[a-z0-9][a-z0-9_-]*(\.[a-z0-9_-]+)*")


@dataclass(frozen=True, slots=True)
class Shelf:
    """A list of rows of a flat table within a file."""

    file: str
    title: str
    table: str


SHELVES = (
    Shelf("settings.yaml", "settings", "setting"),
    Shelf("vocabulary.yaml", "exercises", "own_exercise"),
    Shelf("vocabulary.yaml", "aliases", "own_alias"),
    Shelf("unread.yaml", "entries", "unread_entry"),
    Shelf("uses.yaml", "uses", "use"),
    Shelf("writing.yaml", "drafts", "draft"),
    Shelf("writing.yaml", "programmes", "programme"),
)


def file_name(key: str) -> str:
    """A file name for a key that is told apart from others on every system, also where case is not."""
    if _SAFE.fullmatch(key) and len(key) <= 100 and not _RESERVED.fullmatch(key):
        return f"{key}.yaml"
    readable = re.sub(r"[^a-z0-9]+", "-", key.lower()).strip("-")[:60] or "key"
    return f"{readable}--{hashlib.sha256(key.encode()).hexdigest()[:12]}.yaml"
