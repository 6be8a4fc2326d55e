"""What the figure behind ± or in the bracket is: said by the cell, the column, the row or the notes; never
assumed.
"""

from __future__ import annotations

import re
from dataclasses import replace

from evidence.reading.cells import Shape, Token
from evidence.reading.labels import read_phrase
from evidence.reading.legend import Notes
from evidence.reading.places import Column, Place
from evidence.reading.table import ReadCell, add_doubt
from evidence.vocabulary.terms import Spread


def set_spread(cell: ReadCell, token: Token, column: Column, place: Place, notes: Notes) -> ReadCell:
    """What ± or the bracket is: the cell itself, the column, the row, then the notes; never assumed."""
    if (
        (cell.spread is None and cell.low is None)
        or token.shape is Shape.NUMBER
        or token.shape is Shape.WORDED
    ):
        return cell
    wide = token.low is not None
    allowed = {Spread.CI, Spread.IQR, Spread.RANGE} if wide else {Spread.SD, Spread.SE, Spread.IQR, Spread.CI}
    named = read_phrase(token.named).spread if token.named else None
    options: set[Spread] = set()
    for source in (named, column.spread, place.spread):
        if source in allowed:
            options = {source}
            break
    else:
        for joint in (token.joint, ""):
            options = notes.spreads.get(joint, set()) & allowed
            if options:
                break
        if not options and not wide:
            stated = set().union(*notes.spreads.values()) & allowed if notes.spreads else set()
            options = stated if len(stated) == 1 and len(notes.spreads) == 1 else set()
            if options and token.joint not in notes.spreads and "" not in notes.spreads:
                return replace(cell, spread_kind=Spread.NOT_STATED)
    if len(options) > 1 and not wide:
        options -= {Spread.CI}
    if token.shape is Shape.PAIR and token.second is not None and wide:
        return _set_both(cell, token, column, notes)
    if len(options) == 1:
        spread = next(iter(options))
        level = column.level or notes.level or _level(token.named) if spread is Spread.CI else None
        return replace(cell, spread_kind=spread, level=level)
    cell = replace(cell, spread_kind=Spread.NOT_STATED)
    if len(options) > 1:
        names = sorted(o.value for o in options)
        cell = add_doubt(
            cell,
            "the notes name more than one kind of spread",
            names,
            tuple((("spread_kind", Spread(n)),) for n in names),
        )
    return cell


def _set_both(cell: ReadCell, token: Token, column: Column, notes: Notes) -> ReadCell:
    """ "12.3 ± 2.1 (10.1–15.2)": the ± figure is kept as the spread, the ends as an interval."""
    options = notes.spreads.get(token.joint, set()) & {Spread.SD, Spread.SE}
    options = {column.spread} if not options and column.spread in (Spread.SD, Spread.SE) else options
    spread = next(iter(options)) if len(options) == 1 else Spread.NOT_STATED
    named = (
        {s}
        if (s := read_phrase(token.named).spread)
        else notes.spreads.get("(", set()) | notes.spreads.get("[", set())
    )
    ends = named & {Spread.CI, Spread.RANGE, Spread.IQR}
    if len(ends) == 1:
        kind = next(iter(ends))
        level = (_level(token.named) or column.level or notes.level) if kind is Spread.CI else None
        return replace(cell, spread_kind=spread, interval_kind=kind, level=level)
    cell = replace(cell, spread_kind=spread)
    kinds = (Spread.CI, Spread.RANGE)
    effects = tuple((("interval_kind", kind),) for kind in kinds)
    return add_doubt(
        cell,
        "a spread and two ends in one cell",
        ("ends of a confidence interval", "ends of the range"),
        effects,
    )


def _level(named: str) -> float | None:
    found = re.match(r"(\d\d(?:\.\d)?)%", named)
    return float(found[1]) if found else None
