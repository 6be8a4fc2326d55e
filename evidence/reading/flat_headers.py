"""Headers that say two things in one line, taken apart as if they stood in two: "Pre mean | Pre SD | Post mean | Post
SD", "Heavy before | Heavy after | Light before | Light after".
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from evidence.reading.cells import Shape
from evidence.reading.labels import TIME, tidy_label

Parts = tuple[str, ...]

_STATISTIC = r"means?|average|M|medians?|SDs?|S\.D\.|SE|SEM|S\.E\.M?\.?|\d\d\s?%\s?CI|CI|IQR|n|N|lower|upper"
_BEHIND = re.compile(rf"(?P<name>.*[^\W_].*?)[\s,:/–-]*[\s,:/(\[–-]\s*(?P<statistic>{_STATISTIC})[)\]]?")
_BEFORE = re.compile(rf"(?P<statistic>{_STATISTIC})(?:\s+of)?[\s,:/–-]+(?P<name>.*[^\W_].*)")
_SPREAD = re.compile(r"SDs?|S\.D\.|SEM?|S\.E\.M?\.?|\d\d\s?%\s?CI|CI|IQR|upper")


def part_flat(columns: Sequence[Parts], shapes: Sequence[Shape | None]) -> tuple[Parts, ...]:
    """The header texts of each column, statistics and times apart from the names they stand with."""
    return _part_times(_part_statistics(columns, shapes))


def _part_times(columns: Sequence[Parts]) -> tuple[Parts, ...]:
    """Names with a time each, where several names stand with several times."""
    found = [_find_time(parts) for parts in columns]
    times: dict[tuple[Parts, str], set[str]] = {}
    for parts, cut in zip(columns, found, strict=True):
        if cut:
            times.setdefault((parts[: cut[0]], cut[1].casefold()), set()).add(cut[2].casefold())
    crossed = {key for key, own in times.items() if len(own) > 1}
    if len(crossed) < 2:
        return tuple(columns)
    return tuple(
        (*parts[: cut[0]], *cut[1:], *parts[cut[0] + 1 :])
        if cut and (parts[: cut[0]], cut[1].casefold()) in crossed
        else parts
        for parts, cut in zip(columns, found, strict=True)
    )


def is_crossed(headers: Sequence[str], shapes: Sequence[Shape | None]) -> bool:
    """Whether the headers over figures with a spread are names and times, each name with the same several times."""
    times: dict[str, list[str]] = {}
    for text, shape in zip(headers, shapes, strict=True):
        cut = _cut_time(text)
        if cut:
            times.setdefault(cut[0].casefold(), []).append(cut[1].casefold())
        elif shape in (Shape.PAIR, Shape.INTERVAL, None):
            return False
    own = list(times.values())
    return (
        len(own) > 1 and len(own[0]) > 1 and len(set(own[0])) == len(own[0]) and all(t == own[0] for t in own)
    )


def _find_time(parts: Parts) -> tuple[int, str, str] | None:
    """Which of the texts over a column holds a name and a time, and both."""
    return next(((at, *cut) for at, text in enumerate(parts) if (cut := _cut_time(text))), None)


def _cut_time(text: str) -> tuple[str, str] | None:
    """The name and the time in a header text, whichever stands first."""
    words = text.split()
    for size in (1, 2):
        behind, before = " ".join(words[-size:]).strip("(),;:"), " ".join(words[:size]).strip("(),;:")
        if len(words) > size and TIME.fullmatch(behind):
            return tidy_label(" ".join(words[:-size])).rstrip(",;:–- "), behind
        if len(words) > size and TIME.fullmatch(before):
            return tidy_label(" ".join(words[size:])).lstrip(",;:–- "), before
    return None


def _part_statistics(columns: Sequence[Parts], shapes: Sequence[Shape | None]) -> tuple[Parts, ...]:
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
