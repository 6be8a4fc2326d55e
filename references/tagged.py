"""What tagged formats (RIS, MEDLINE) share: lines of `TAG - value`, gathered into one record's worth of pairs."""

from collections.abc import Iterator
from dataclasses import dataclass, field


@dataclass(slots=True)
class TaggedEntry:
    """One record as written: its tags with their values and lines, in order, and the source text."""

    line: int
    pairs: list[tuple[str, str, int]] = field(default_factory=list)
    source: list[str] = field(default_factory=list)
    in_small_letters: bool = False

    def add(self, tag: str, value: str, line: int) -> None:
        self.pairs.append((tag, value, line))

    def extend_last(self, text: str, separator: str = " ") -> None:
        """A line without a tag belongs to the value before it."""
        tag, value, line = self.pairs[-1]
        self.pairs[-1] = (tag, f"{value}{separator}{text}" if value else text, line)

    def values(self, *tags: str) -> Iterator[str]:
        return (value for tag, value, _ in self.pairs if tag in tags)

    def first(self, *tags: str) -> str | None:
        return next((value for value in self.values(*tags) if value), None)

    @property
    def text(self) -> str:
        return "".join(self.source).strip("\n")


def carry(extra: dict[str, object], tag: str, value: str) -> None:
    """Keep a value under its own tag: text once, a list from the second on."""
    known = extra.get(tag)
    if known is None:
        extra[tag] = value
    elif isinstance(known, list):
        known.append(value)
    else:
        extra[tag] = [known, value]
