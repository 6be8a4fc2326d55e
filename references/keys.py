"""Citation keys: each given out once; made from name and year where a file gives none."""

import re

from references.dates import PartialDate
from references.names import Name


def invent_key(names: tuple[Name, ...], issued: PartialDate | None) -> str:
    """`lehman2004` from the first name and the year; `untitled` where there is no name."""
    family = re.sub(r"\W+", "", names[0].sort_family) if names else ""
    year = str(issued.year) if issued is not None and issued.year is not None else ""
    return (family or "untitled").lower() + year


class KeyChooser:
    """Keys given out so far in one file."""

    def __init__(self) -> None:
        self._taken: dict[str, int] = {}

    def choose(self, wanted: str) -> tuple[str, str | None]:
        """The key as wanted, or with a number behind it and a complaint where it is taken."""
        key, number = wanted, self._taken.get(wanted, 0)
        while key in self._taken:
            number += 1
            key = f"{wanted}_{number}"
        self._taken[wanted] = max(number, 1)
        self._taken.setdefault(key, 1)
        return key, None if key == wanted else f"key used twice: {wanted} is read as {key}"
