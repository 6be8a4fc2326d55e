"""A correction note: one thing that was published, what it said, what holds now, and what to do about it."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePath

from evidence.publishing.sources import name_invented


@dataclass(frozen=True, slots=True)
class Correction:
    """One statement to be corrected. `told` and `now` are sentences; figures as people read them."""

    key: str
    about: str  # "claim", "reference", "ranking"
    statement: str
    told: str
    told_figures: str
    told_confidence: str
    now: str
    now_figures: str
    now_confidence: str
    moves: tuple[str, ...]
    why: tuple[str, ...]
    do: str
    invented: bool = False

    @property
    def before(self) -> str:
        """What stands before that which was told: a source was cited, all else was said."""
        return "It cited" if self.about == "reference" else "It said"


@dataclass(frozen=True, slots=True)
class CorrectionNote:
    """All corrections to one thing that was published."""

    kind: str
    name: str
    place: str
    format: str
    published: datetime
    at: datetime
    corrections: tuple[Correction, ...]
    invented: bool = False

    @property
    def made_up(self) -> tuple[str, ...]:
        """The keys of what rests on invented data, where not everything does."""
        found = tuple(item.key for item in self.corrections if item.invented)
        return found if len(found) < len(self.corrections) else ()

    @property
    def title(self) -> str:
        """The heading of the note: of a file its name alone; where it stands is said below."""
        return f"Correction: {self.kind} {PurePath(self.name).name or self.name}"

    @property
    def where(self) -> str:
        """Where what was published stands, if the heading does not say it already."""
        return self.place if self.place and not self.title.endswith(f" {self.place}") else ""


def note_markdown(note: CorrectionNote) -> str:
    """The note as Markdown; what came from files or people is escaped, so that it is shown as text."""
    from evidence.publishing.markdown import escape as plain

    lines = [f"# {plain(note.title)}", ""]
    if note.invented:
        lines += [f"**{plain(name_invented(note.made_up))}**", ""]
    where = f" ({plain(note.where)})" if note.where else ""
    lines += [f"Published {note.published:%Y-%m-%d}{where}. Checked {note.at:%Y-%m-%d}.", ""]
    for item in note.corrections:
        lines += [f"## {plain(item.statement)}", ""]
        lines += ["- Rests on invented data."] if item.invented and note.made_up else []
        lines += [f"- {item.before}: {plain(item.told)}{figures(item.told_figures, item.told_confidence)}"]
        lines += [f"- Now: {plain(item.now)}{figures(item.now_figures, item.now_confidence)}"]
        lines += [f"- Why: {plain(reason)}" for reason in item.why]
        lines += [f"- To do: {plain(item.do)}", ""]
    return "\n".join(lines).rstrip() + "\n"


def figures(shown: str, confidence: str) -> str:
    """Figures and confidence in brackets; nothing where there are none."""
    parts = [part for part in (shown, f"confidence: {confidence}" if confidence else "") if part]
    return f" ({'; '.join(parts)})" if parts else ""
