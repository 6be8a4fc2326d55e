"""Headers that say column and statistic in one line, "Pre mean | Pre SD | Post mean | Post SD", taken apart as if
they stood in two.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from evidence.reading.cells import Shape
from evidence.reading.labels import tidy_label

Parts = tuple[str, ...]

_STATISTIC = r"means?|average|M|medians?|SDs?|S\.D\.|SE|SEM|S\.E\.M?\.?|\d\d\s?%\s?CI|CI|IQR|n|N|lower|upper"
_BEHIND = re.compile(rf"(?P<name>.*[^\W_].*?)[\s,:/–-]*[\s,:/(\[–-]\s*(?P<statistic>{_STATISTIC})[)\]]?")
_BEFORE = re.compile(rf"(?P<statistic>{_STATISTIC})(?:\s+of)?[\s,:/–-]+(?P<name>.*[^\W_].*)")
_SPREAD = re.compile(r"SDs?|S\.D\.|SEM?|S\.E\.M?\.?|\d\d\s?%\s?CI|CI|IQR|upper")


def part_flat(columns: Sequence[Parts], shapes: Sequence[Shape | None]) -> tuple[Parts, ...]:
    """The header texts of each column; a name that several neighbours share with a statistic each stands over them.

    Only where a spread has a column of bare figures for itself.
    """
    cut = [_cut(parts) for parts in columns]
    names = Counter(
        (parts[:-1], found[0].casefold()) for parts, found in zip(columns, cut, strict=True) if found
    )
    whole = {(parts[:-1], parts[-1].casefold()) for parts in columns if parts}
    parted = []
    for parts, found, shape in zip(columns, cut, shapes, strict=True):
        key = (parts[:-1], found[0].casefold()) if found else None
        fits = shape in (Shape.NUMBER, Shape.RANGE, None)
        if (
            found
            and key is not None
            and fits
            and (names[key] > 1 or (key in whole and _SPREAD.fullmatch(found[1])))
        ):
            parted.append((*parts[:-1], *found))
        else:
            parted.append(parts)
    return tuple(parted)


def _cut(parts: Parts) -> tuple[str, str] | None:
    """The name and the statistic of the lowest header text."""
    if not parts:
        return None
    found = _BEHIND.fullmatch(parts[-1]) or _BEFORE.fullmatch(parts[-1])
    return (tidy_label(found["name"]), found["statistic"]) if found else None
