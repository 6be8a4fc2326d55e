"""A check from start to end: the file read, the catalogue asked, the result stored if wanted; and again on save."""

import time
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import last_state
from evidence.errors import SteelyardError
from evidence.reading.drafts import Draft, read_draft, read_draft_bytes
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.storing import last_check, record_check, with_last_check
from evidence.workflows.drafts.tying import Tying, propose_ties

TYPED = "standard input"  # what a draft is called that came without a file
LOOK_EVERY = 0.05  # seconds between two looks at the files that are watched


@dataclass
class Checker:
    """Checks drafts against one catalogue, which is read again only after it changed."""

    catalogue: Catalogue
    audience: str | None = None
    format: str | None = None
    register: str | None = None  # left out: what each draft says of itself
    _knowledge: Knowledge | None = None
    _state: Hashable = None

    def knowledge(self) -> Knowledge:
        """What the catalogue knows now."""
        with self.catalogue.reading() as session:
            state = last_state(session)
        if self._knowledge is None or state != self._state:
            self._knowledge, self._state = know_catalogue(self.catalogue), state
        return self._knowledge

    def read(self, source: Path | bytes) -> Draft:
        """A draft from a file, or as it was typed or piped in. Raises BadInput where it cannot be read."""
        if isinstance(source, bytes):
            return read_draft_bytes(source, self.format, TYPED)
        return read_draft(source, self.format)

    def check(self, source: Path | bytes) -> Checked:
        """Check one draft. Raises BadInput where it cannot be read."""
        draft = self.read(source)
        draft = with_last_check(draft, last_check(self.catalogue, draft))
        return check_draft(draft, self.knowledge(), self.audience, register=self.register)

    def propose(self, source: Path | bytes) -> tuple[Draft, tuple[Tying, ...]]:
        """A draft and the ties proposed for it. Raises BadInput where it cannot be read."""
        draft = self.read(source)
        return draft, propose_ties(draft, self.knowledge())

    def record(self, checked: Checked, who: str) -> str:
        """Store that a draft was checked, with the state of the catalogue."""
        return record_check(self.catalogue, checked, who)


def watch(
    checker: Checker,
    paths: Sequence[Path],
    tell: Callable[[Path, Checked | SteelyardError], None],
    going_on: Callable[[], bool] = lambda: True,
) -> None:
    """Check each file now and whenever it is saved, until `going_on` says no. Each result is told as it comes."""
    seen: dict[Path, tuple[int, int] | None] = {}
    while going_on():
        for path in paths:
            state = look(path)
            if path in seen and seen[path] == state:
                continue
            seen[path] = state
            try:
                tell(path, checker.check(path))
            except SteelyardError as problem:
                tell(path, problem)
        time.sleep(LOOK_EVERY)


def look(path: Path) -> tuple[int, int] | None:
    """When a file was last written, and its size; None while an editor has it away."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size
