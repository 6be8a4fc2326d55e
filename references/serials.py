"""Fields that hold several ISBN or ISSN with remarks: `1715-5312 (Print) 1715-5312`."""

import re

from references.identifiers import normalise_isbn, normalise_issn

_ISSN = re.compile(r"(?<![\dXx])\d{4}\s*[-–]?\s*\d{3}[\dXx](?![\dXx])")
_ISBN = re.compile(r"(?<![\dXx])(?:97[89][-\s–]?)?\d(?:[-\s–]?\d){8}[-\s–]?[\dXx](?![\dXx])")


def normalise_numbers(kind: str, text: str) -> tuple[str, str | None]:
    """Every different number in the field in its normal form, joined by commas; and a complaint.

    A number whose check digit is wrong is kept as it stands. `kind` is "isbn" or "issn".
    """
    pattern, normalise = (_ISSN, normalise_issn) if kind == "issn" else (_ISBN, normalise_isbn)
    found: list[str] = []
    complaint = None
    candidates = [match.group() for match in pattern.finditer(text)]
    for candidate in candidates:
        number = normalise(candidate)
        if number is None:
            complaint = f"{kind.upper()} {candidate} has a wrong check digit"
            number = candidate
        if number not in found:
            found.append(number)
    if not found:
        return text, f"not an {kind.upper()}: {text[:60]}"
    return ", ".join(found), complaint
