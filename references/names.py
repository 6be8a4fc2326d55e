"""Names of people and bodies, and the ways in which bibliographic files write them.

Particles ("van der") stay with the family name (CSL's non-dropping particle), as the indexes of this trade
print them; a particle written after the given name ("Beethoven, Ludwig van") is a dropping one.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, Self


@dataclass(frozen=True, slots=True)
class Name:
    """A person (family, given, particles, suffix) or, with `literal`, a body or an undivided name."""

    family: str | None = None
    given: str | None = None
    dropping_particle: str | None = None
    non_dropping_particle: str | None = None
    suffix: str | None = None
    literal: str | None = None
    comma_suffix: bool = False
    static_ordering: bool = False
    extra: tuple[tuple[str, Any], ...] = field(default=(), hash=False)

    @property
    def sort_family(self) -> str:
        """The family name with the particle that stays with it, or the literal name, or what there is."""
        parts = [self.non_dropping_particle, self.family]
        return " ".join(part for part in parts if part) or self.literal or self.given or ""

    def to_csl(self) -> dict[str, Any]:
        """The name as CSL-JSON, empty parts left out."""
        result: dict[str, Any] = {}
        for attribute in _NAME_PARTS:
            value = getattr(self, attribute)
            if value:
                result[attribute.replace("_", "-")] = value
        return result | dict(self.extra)

    @classmethod
    def from_csl(cls, data: Mapping[str, Any] | str) -> Self:
        """A name from CSL-JSON; a bare string is taken as a literal; unknown keys are carried in `extra`."""
        if not isinstance(data, Mapping):
            return cls(literal=str(data))
        known: dict[str, Any] = {}
        extra: list[tuple[str, Any]] = []
        for key, value in data.items():
            attribute = key.replace("-", "_")
            if attribute in ("comma_suffix", "static_ordering"):
                known[attribute] = bool(value)
            elif attribute in _NAME_PARTS and isinstance(value, str | int):
                known[attribute] = str(value) or None
            else:
                extra.append((key, value))
        return cls(**known, extra=tuple(extra))


_NAME_PARTS = (
    *("family", "given", "dropping_particle", "non_dropping_particle", "suffix", "literal"),
    *("comma_suffix", "static_ordering"),
)

_SUFFIX = re.compile(r"^(?:(?:jr|sr|jnr|snr|junior|senior|2nd|3rd|4th)\.?|I{2,3}|IV|VI{1,3})$", re.IGNORECASE)
_PLAIN_SUFFIX = re.compile(r"^(?:jr|sr|jnr|snr|junior|senior)\.?$", re.IGNORECASE)  # never initials
_INITIALS = re.compile(r"^(?:[^\W\d_]\.?[-\s]?){1,4}$|^[A-Z]{1,4}$")
_BODY_WORDS = frozenset(
    {
        *("association", "authority", "board", "center", "centre", "coalition", "college"),
        *("collaboration", "collaborative", "collaborators", "commission", "committee", "company"),
        *("conference", "consortium", "cooperative", "council", "department", "foundation", "group"),
        *("initiative", "institute", "institutes", "investigators", "laboratory", "league"),
        *("ministry", "network", "office", "organisation", "organization", "partnership", "press"),
        *("programme", "project", "panel", "registry", "service", "society", "taskforce", "team"),
        *("trialists", "trust", "union", "university"),
    }
)
_EAST_ASIAN = re.compile(r"^[\u1100-\u11ff\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af\uf900-\ufaff\s·・]+$")


def is_suffix(text: str) -> bool:
    """Whether a word is a generational suffix and nothing else: Jr, Sr (IV and VI may be initials)."""
    return _PLAIN_SUFFIX.match(text) is not None


def is_body(text: str) -> bool:
    """Whether a name without a comma reads as an organisation: by its last word or that before "of"."""
    words = re.findall(r"[^\W\d_]+", text.lower())
    if len(words) < 2:
        return False
    heads = {words[-1]} | {word for word, after in pairwise(words) if after in ("of", "for", "on")}
    return bool(heads & _BODY_WORDS)


def read_inverted(text: str) -> Name:
    """A name as databases write it: `Family, Given, Suffix`; without a comma a body or an undivided name."""
    parts = [part.strip() for part in text.split(",")]
    parts = [part for part in parts if part]
    if not parts:
        return Name(literal=text.strip() or None)
    if len(parts) == 1:
        return Name(literal=parts[0])
    if len(parts) == 2:
        return replace(read_direct(parts[0]), suffix=parts[1]) if is_suffix(parts[1]) else read_parts(*parts)
    if len(parts) == 3:
        if _SUFFIX.match(parts[2]):
            return read_parts(parts[0], parts[1], parts[2])
        if _SUFFIX.match(parts[1]):
            return read_parts(parts[0], parts[2], parts[1])
    return Name(literal=text.strip())


def read_parts(family: str, given: str, suffix: str | None = None) -> Name:
    """A name whose family and given parts are known: particles and a suffix in either are set apart."""
    if suffix is None:
        words = family.split()
        if len(words) > 1 and _SUFFIX.match(words[-1]) and not _is_particle(words[0]):
            family, suffix = " ".join(words[:-1]), words[-1]
    particle, family = _split_particle(family)
    given_words = given.split()
    dropping: list[str] = []
    while len(given_words) > 1 and _is_particle(given_words[-1]):
        dropping.insert(0, given_words.pop())
    return Name(
        family=family or None,
        given=" ".join(given_words) or None,
        dropping_particle=" ".join(dropping) or None,
        non_dropping_particle=particle or None,
        suffix=suffix or None,
    )


def read_indexed(text: str) -> Name:
    """A name as indexes print it, `Family AB` or `Family AB Jr`; anything else is left undivided."""
    words = text.split()
    suffix = words.pop() if len(words) > 2 and _SUFFIX.match(words[-1]) else None
    if len(words) > 1 and re.fullmatch(r"[^\W\d_a-z]{1,4}", words[-1]):
        return read_parts(" ".join(words[:-1]), words[-1], suffix)
    return Name(literal=text.strip() or None)


def read_direct(text: str) -> Name:
    """A name in reading order: `Given von Family Jr`. East Asian names begin with the family."""
    if _EAST_ASIAN.match(text):
        family, _, given = text.strip().partition(" ")
        return (
            Name(family=family, given=given.strip() or None, static_ordering=True)
            if given
            else Name(literal=family)
        )
    words = text.split()
    if len(words) == 1:
        return Name(family=words[0])
    suffix = words.pop() if len(words) > 2 and _SUFFIX.match(words[-1]) else None
    start = next((i for i, word in enumerate(words[1:-1], 1) if _is_particle(word)), None)
    if _is_particle(words[0]):
        start = 0
    if start is None:
        start = len(words) - 1
    return read_parts(" ".join(words[start:]), " ".join(words[:start]), suffix)


def _split_particle(family: str) -> tuple[str, str]:
    """Leading lower-case words of a family name, and the rest; never all of it."""
    words = family.split()
    count = 0
    while count < len(words) - 1 and _is_particle(words[count]):
        count += 1
    return " ".join(words[:count]), " ".join(words[count:])


def _is_particle(word: str) -> bool:
    letters = [letter for letter in word if letter.isalpha()]
    return bool(letters) and letters[0].islower() and not word[0].isdigit()


def split_comma_list(text: str) -> tuple[Name, ...] | None:
    """Persons out of a list that has commas where `and` should be; None where it reads as one name.

    Two shapes: `Vik, O., Dahl, E.` (family and initials in turn) and `Vik Ola, Dahl Eva M`.
    """
    parts = [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    if ";" in text:
        return tuple(
            read_inverted(part) if "," in part else _read_listed(part, False)
            for part in text.split(";")
            if part.strip()
        )
    if len(parts) < 3:
        return None
    if len(parts) % 2 == 0 and all(_INITIALS.match(part) for part in parts[1::2]) and len(parts) >= 4:
        return tuple(read_parts(family, given) for family, given in zip(parts[::2], parts[1::2], strict=True))
    if all(len(part.split()) >= 2 for part in parts):
        last = [part.split()[-1] for part in parts]
        inverted = any(_INITIALS.match(word) and word == word.upper() for word in last)  # Vik, Berg are names
        return tuple(_read_listed(part, inverted) for part in parts)
    return None


def _read_listed(text: str, inverted: bool) -> Name:
    indexed = read_indexed(text)
    if indexed.family:
        return indexed
    if inverted and not is_body(text):
        family, _, given = text.partition(" ")
        return read_parts(family, given)
    return Name(literal=text) if is_body(text) else read_direct(text)


def write_inverted(name: Name) -> str:
    """`Family, Given, Suffix` with particles where readers find them again."""
    if not name.family:
        return name.literal or name.given or ""
    family = " ".join(part for part in (name.non_dropping_particle, name.family) if part)
    given = " ".join(part for part in (name.given, name.dropping_particle) if part)
    return ", ".join(part for part in (family, given, name.suffix) if part)
