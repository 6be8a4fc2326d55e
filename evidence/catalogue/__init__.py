"""The only room with SQL: tables, engines, queries, history, migrations, backup and exchange of a catalogue.

Names are loaded when they are first asked for: SQLModel is slow to import, and `--help` needs none of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from evidence.catalogue.engine import Catalogue, Session
    from evidence.catalogue.location import Location, locate_catalogue
    from evidence.catalogue.opening import create_catalogue, open_catalogue

__all__ = ["Catalogue", "Location", "Session", "create_catalogue", "locate_catalogue", "open_catalogue"]

_HOMES = {
    "Catalogue": "engine",
    "Location": "location",
    "Session": "engine",
    "create_catalogue": "opening",
    "locate_catalogue": "location",
    "open_catalogue": "opening",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
