"""BibTeX name lists: split at `and` outside braces, then each name into its parts, LaTeX decoded last."""

import re
from dataclasses import replace

from references.latex import decode, encode
from references.names import (
    Name,
    is_body,
    is_suffix,
    read_direct,
    read_indexed,
    read_parts,
    split_comma_list,
    write_inverted,
)

_AND = re.compile(r"\s+and\s+", re.IGNORECASE)
_MARK = re.compile(r"\\.|[{},]|\s+and(?=\s)", re.IGNORECASE | re.DOTALL)
_PART = re.compile(
    r"^\s*(family|given|prefix|suffix|useprefix|literal|ordering)(?:-i)?\s*=\s*(.*)$", re.DOTALL
)
_WHOLE = re.compile(r"^\{(?:[^{}]|\{(?:[^{}]|\{[^{}]*\})*\})*\}$", re.DOTALL)


def read_names(text: str) -> tuple[tuple[Name, ...], str | None]:
    """The names in a field, and a complaint where the list is not written as BibTeX asks."""
    raw_names = [raw for raw in _split(text, "and") if raw.strip()]
    if len(raw_names) == 1 and not _WHOLE.match(raw_names[0].strip()):
        without_and = split_comma_list(decode(raw_names[0])) if _is_list(raw_names[0]) else None
        if without_and is not None:
            return without_and, 'authors not separated by "and"; split by pattern'
    return tuple(_read_name(raw.strip()) for raw in raw_names), None


def _is_list(raw: str) -> bool:
    return "=" not in raw and (len(_split(raw, ",")) > 2 or ";" in raw)


def _split(text: str, separator: str) -> list[str]:
    """Split at `and` or at commas, outside braces only."""
    pieces, start, depth = [], 0, 0
    for match in _MARK.finditer(text):
        mark = match.group()
        if mark == "{":
            depth += 1
        elif mark == "}":
            depth = max(depth - 1, 0)
        elif depth == 0 and (mark == "," if separator == "," else mark.strip().lower() == "and"):
            pieces.append(text[start : match.start()])
            start = match.end()
    return [*pieces, text[start:]]


def _read_name(raw: str) -> Name:
    if raw.lower() == "others":
        return Name(literal="others")
    if _WHOLE.match(raw):
        return Name(literal=decode(raw))
    raw_parts = _split(raw, ",")
    if _PART.match(raw_parts[0]) and all(_PART.match(part) for part in raw_parts):
        return _read_extended(raw_parts)
    parts = [decode(part) for part in raw_parts]
    parts = [part for part in parts if part]
    if not parts:
        return Name(literal=decode(raw) or raw)
    if len(parts) == 1:
        return (
            Name(literal=parts[0]) if is_body(parts[0]) and "{" not in raw else _read_unbroken(raw, parts[0])
        )
    if len(parts) == 2:
        if is_suffix(parts[1]):
            return replace(read_direct(parts[0]), suffix=parts[1])
        return _keep_braced_family(raw_parts[0], read_parts(parts[0], parts[1]), parts[1])
    if len(parts) == 3:
        if is_suffix(parts[2]) and not is_suffix(parts[1]):
            return read_parts(parts[0], parts[1], parts[2])
        return read_parts(parts[0], parts[2], parts[1])
    return Name(literal=", ".join(parts))


def _keep_braced_family(raw_family: str, name: Name, given: str) -> Name:
    """`{de la Cruz}, Ana`: braces keep the words of a family name together."""
    if _WHOLE.match(raw_family.strip()) and " " in decode(raw_family):
        return Name(family=decode(raw_family), given=given)
    return name


def _read_unbroken(raw: str, text: str) -> Name:
    """`Given Family` without a comma; the last braced group is the family name whole."""
    match = re.match(r"^(.*\S)\s+(\{[^{}\\]*\s[^{}]*\})$", raw, re.DOTALL)
    if match:
        return Name(family=decode(match.group(2)), given=decode(match.group(1)))
    if _is_indexed(text):  # `Lehman GJ`, as indexes print it
        return read_indexed(text)
    return read_direct(text)


def _is_indexed(text: str) -> bool:
    *family, initials = text.split()
    return (
        bool(family)
        and re.fullmatch(r"[A-Z]{1,3}", initials) is not None
        and not any(map(str.isupper, family))
    )


def _read_extended(raw_parts: list[str]) -> Name:
    """biblatex's extended form: `family=Berg, given=Jan, prefix=van den, useprefix=true`."""
    found: dict[str, str] = {}
    for part in raw_parts:
        match = _PART.match(part)
        if match and "-i" not in part.split("=")[0]:
            found[match.group(1)] = decode(match.group(2))
    prefix = found.get("prefix")
    name = Name(
        family=found.get("family"),
        given=found.get("given"),
        suffix=found.get("suffix"),
        literal=found.get("literal"),
        static_ordering=found.get("ordering") == "static",
    )
    if prefix and found.get("useprefix") == "both" and "|" in prefix:
        dropping, kept = prefix.split("|", 1)
        return replace(name, dropping_particle=dropping or None, non_dropping_particle=kept or None)
    if prefix and found.get("useprefix") == "false":
        return replace(name, dropping_particle=prefix)
    return replace(name, non_dropping_particle=prefix) if prefix else name


def write_names(names: tuple[Name, ...]) -> str:
    """The names as a BibTeX list that `read_names` reads back to the same names."""
    return " and ".join(_write_name(name) for name in names)


def _write_name(name: Name) -> str:
    if name == Name(literal="others"):
        return "others"
    if name.literal and not name.family:
        return f"{{{encode(name.literal)}}}"
    plain = encode(write_inverted(name))
    if _AND.search(f" {plain} ") is None and read_names(plain)[0] == (replace(name, extra=()),):
        return plain
    prefix, use = name.non_dropping_particle, None
    if name.dropping_particle:
        prefix, use = name.dropping_particle, "false"
        if name.non_dropping_particle:
            prefix, use = f"{name.dropping_particle}|{name.non_dropping_particle}", "both"
    parts = {"family": name.family, "given": name.given, "prefix": prefix, "suffix": name.suffix}
    parts |= {
        "literal": name.literal,
        "useprefix": use,
        "ordering": "static" if name.static_ordering else None,
    }
    return ", ".join(f"{part}={{{encode(value)}}}" for part, value in parts.items() if value)
