"""What a sentence was read as: each part with the words it came from, how sure the reading is, and what is asked."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from evidence.vocabulary.names import Candidate, Lookup

State = Literal["read", "unsure", "asked"]


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a claim. `value`: an id of the vocabulary, a word or figures; None: to be answered.

    `text` are the words it was read from ("" where it was taken for granted or is missing); `how` says why it was read
    so, or what is asked; `candidates` are the answers that come near.
    """

    name: str
    value: object
    text: str = ""
    state: State = "read"
    how: str = ""
    candidates: tuple[Candidate, ...] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """A claim as it would be stated. Nothing is stored until a person says so.

    `kind` is an id of the kinds of claim. `unread` are words that no part accounts for and that may matter.
    """

    text: str
    kind: str
    parts: tuple[Part, ...]
    unread: tuple[str, ...] = ()

    def part(self, name: str) -> Part | None:
        """A part by name; None where the sentence has none and none is asked."""
        return next((part for part in self.parts if part.name == name), None)

    def value(self, name: str) -> object:
        """What a part was read as; None where it is missing or asked."""
        part = self.part(name)
        return None if part is None else part.value

    @property
    def asked(self) -> tuple[Part, ...]:
        """Parts that a person has to answer before the claim can be stored."""
        return tuple(part for part in self.parts if part.state == "asked")

    @property
    def unsure(self) -> tuple[Part, ...]:
        """Parts that were read one way and may be meant another."""
        return tuple(part for part in self.parts if part.state == "unsure")

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts)


def part_of(name: str, text: str, found: Lookup) -> Part:
    """A part from a look-up: read, unsure where the name is a broad one, asked where it is not one thing."""
    if found.outcome == "match":
        state: State = "unsure" if found.broad else "read"
        how = f'"{text}" is a broad name, read as the usual one' if found.broad else found.reason
        how += f"; not used: {', '.join(found.unused)}" if found.unused else ""
        return Part(name, found.match, text, state, how, found.candidates)
    if found.outcome == "ambiguous":
        return Part(name, None, text, "asked", f'"{text}" may mean more than one thing.', found.candidates)
    return Part(name, None, text, "asked", f'"{text}" is not known.', found.candidates)
