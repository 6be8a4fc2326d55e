"""Where a catalogue is kept: a file of this machine or a database of a PostgreSQL server."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from evidence.errors import BadInput

VARIABLE = "STEELYARD_CATALOGUE"
_SCHEME = re.compile(r"^(?P<scheme>[A-Za-z][A-Za-z0-9+.-]+)://(?P<rest>.*)$", re.DOTALL)
_POSTGRES = {"postgresql", "postgres", "postgresql+psycopg"}


@dataclass(frozen=True, slots=True)
class Location:
    """A place for a catalogue. Exactly one of `path` (SQLite) and `url` (PostgreSQL) is set."""

    path: Path | None = None
    url: str | None = None
    origin: str = "given"  # "--catalogue", STEELYARD_CATALOGUE, "default"

    @property
    def is_file(self) -> bool:
        return self.path is not None

    def __str__(self) -> str:
        """The place as it may be shown: without a password."""
        if self.path is not None:
            return str(self.path)
        shown = re.sub(r"(//[^/@:]*):[^/@]*@", r"\1:***@", self.url or "")
        return re.sub(r"(password=)[^&]*", r"\1***", shown)


def locate_catalogue(option: str | None, environment: Mapping[str, str]) -> Location:
    """Choose the catalogue: the option, else STEELYARD_CATALOGUE, else the user's data folder.

    Raises `BadInput` for a URL of any other kind of database.
    """
    if option is not None and not option.strip():
        raise BadInput(
            "no place is named.",
            where="--catalogue",
            hint="Name a file, or leave the option out for your own.",
        )
    if option:
        return read_location(option, "--catalogue")
    if environment.get(VARIABLE):
        return read_location(environment[VARIABLE], VARIABLE)
    from platformdirs import user_data_path

    return Location(path=user_data_path("steelyard", appauthor=False) / "catalogue.sqlite", origin="default")


def read_location(text: str, origin: str = "given") -> Location:
    """Read a file name (`~` allowed), a sqlite:/// URL or a postgresql:// URL."""
    if "\x00" in text:
        raise BadInput("the name of the catalogue holds a NUL character", where=origin)
    match = _SCHEME.match(text)
    if match is None:
        if text.strip().startswith(":"):
            raise BadInput(f"a catalogue is kept in a file, not in {text.strip()!r}", where=origin)
        return Location(path=Path(text).expanduser().absolute(), origin=origin)
    scheme, rest = match["scheme"].lower(), match["rest"]
    if scheme in _POSTGRES:
        return Location(url=f"postgresql+psycopg://{rest}", origin=origin)
    if scheme == "sqlite" and rest.startswith("/") and len(rest) > 1:
        return Location(path=Path(rest[1:]).expanduser().absolute(), origin=origin)
    raise BadInput(
        f"a catalogue cannot be kept at a {scheme}:// address",
        where=origin,
        hint="Give a file name, or postgresql://user@host/database.",
    )
