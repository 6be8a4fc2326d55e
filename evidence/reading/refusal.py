"""Pastes that are not a table of results, and why."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evidence.reading.body import Body
from evidence.reading.cells import Shape
from evidence.reading.lost_signs import find_pairs

_PLAN_WORDS = (
    r"\bsets?\b", r"\brep(?:s|etitions)?\b", r"\brest\b", r"\btempo\b", r"\bload\b|%\s?1RM|\bintensity\b|\bRPE\b"
                                                                        r"|\bRIR\b",
    r"\bexercises?\b", r"\bday \d|\bsession\b|\bweek\b", r"\bvolume\b", r"\bframes?\b|\bfrequency\b",
)  # fmt: skip


MAX_COLUMNS = 60
MAX_LINE = 12_000
MAX_LINES = 3_000


def refuse_size(lines: Sequence[str]) -> str | None:
    """Why the paste is too large in one direction to be a table, if it is."""
    if any(len(line) > MAX_LINE for line in lines) and not any("<t" in line for line in lines):
        return f"One line has more than {MAX_LINE} characters: it does not look like a table."
    if len(lines) > MAX_LINES:
        return f"The paste has more than {MAX_LINES} lines. Paste one table at a time."
    return None


def refuse(lines: Sequence[str], body: Body | None) -> str | None:
    """Why the paste is refused, in words; None when it may be read."""
    if not any(line.strip() for line in lines):
        return "Nothing was pasted."
    if body is not None and body.width > MAX_COLUMNS:
        return f"This has more than {MAX_COLUMNS} columns: it does not look like one table out of a paper."
    if is_programme(lines, body):
        return (
            "This looks like a training programme (sets, repetitions, rest), not a table of results; "
            "nothing was read as a result."
        )
    if body is not None and (why := analysis_of(lines, body)):
        return why
    if pairs := find_pairs(lines):
        return (
            f"Two figures stand in one cell ({pairs[0]}), and nothing says what the second is. If a sign was lost, "
            'write what the paper prints between them (±), or "Values are mean ± SD." above the table.'
        )
    if body is None or not body.rows:
        return "No row with figures was found: this does not look like a table."
    return None


_EDGE = r"(?:^|$|[\t|,; ])"
_COEFFICIENT = r"(?:B|β|b|Beta|Coefficient|Estimate)"
_OF_VARIANCE = re.compile(rf"{_EDGE}(?:df|d\.f\.|DF)(?={_EDGE}).*{_EDGE}(?:F|MS|SS|SSQ)(?={_EDGE})")
_OF_REGRESSION = re.compile(rf"{_EDGE}{_COEFFICIENT}(?={_EDGE}).*{_EDGE}(?:SE|t|β|R2|R²)(?={_EDGE})")
_PERCENTILE = re.compile(r"(?<!\w)(?:P\d{1,2}|\d{1,2}(?:st|nd|rd|th))(?!\w)")


def analysis_of(lines: Sequence[str], body: Body) -> str | None:
    """Why a table of bare figures is none of results: an analysis of variance, a regression, norms by percentile."""
    shapes = {t.shape for row in body.rows for t in row.tokens if t is not None}
    if shapes & {Shape.PAIR, Shape.INTERVAL}:
        return None
    text = "\n".join(lines)
    if any(_OF_VARIANCE.search(line) for line in lines):
        return (
            "This is an analysis of variance (df, F), not a table of results; nothing was read as a result."
        )
    if re.search(r"\bregression|\bpredictors?\b", text, re.IGNORECASE) and any(
        _OF_REGRESSION.search(x) for x in lines
    ):
        return "This is a regression (coefficients), not a table of results; nothing was read as a result."
    if re.search(r"\bpercentiles?\b", text, re.IGNORECASE) and any(
        len(_PERCENTILE.findall(x)) >= 3 for x in lines
    ):
        return "These are norms by percentile, not results of groups; nothing was read as a result."
    return None


def is_programme(lines: Sequence[str], body: Body | None) -> bool:
    """Sets and repetitions in the header (or "3 x 10" in the cells), and no figure with a spread."""
    text = "\n".join(lines)
    if body is not None:
        shapes = [t.shape for row in body.rows for t in row.tokens if t is not None]
        if sum(s in (Shape.PAIR, Shape.INTERVAL, Shape.P) for s in shapes) > 0.15 * max(1, len(shapes)):
            return False
    if "±" in text:
        return False
    named = sum(bool(re.search(pattern, text, re.IGNORECASE)) for pattern in _PLAN_WORDS)
    both = bool(re.search(_PLAN_WORDS[0], text, re.IGNORECASE)) and bool(
        re.search(_PLAN_WORDS[1], text, re.IGNORECASE)
    )
    doses = len(re.findall(r"\b\d{1,2}\s?[x×]\s?\d{1,3}(?:\s?[-–]\s?\d{1,3})?\b", text, re.IGNORECASE))
    return (both and named >= 3) or doses >= 3
