"""Identifiers in their one normal form: DOI, PMID, PMCID, ISBN, ISSN.

Each `normalise_*` takes whatever stands in a file (a resolver link, a label, a trailing stop, percent
escapes) and returns the bare identifier, or None where the text holds none. Sources: ISO 26324 (DOI names
compare without case), ISO 2108 (ISBN) and ISO 3297 (ISSN) for the check digits.
"""

import html
import re
from urllib.parse import unquote

from references.errors import BadIdentifier

_DOI = re.compile(r"10\.\d{4,9}(?:\.\d+)*/\S+", re.IGNORECASE)
_DOI_PREFIX = re.compile(
    r"^(?:<|url:|\[)*\s*(?:(?:https?:)?//)?(?:(?:dx|www)\.)?(?:doi\.org/|doi\s*[:=]?\s*)*", re.IGNORECASE
)
_DOI_LABEL = re.compile(r"\s*\[(?:doi|pii|pmid)\]\s*$", re.IGNORECASE)
_QUERY = re.compile(r"[?&](?:amp;)?[A-Za-z_]\w*=.*$")
_PAIRS = {")": "(", "]": "[", ">": "<", "}": "{"}
_PMCID = re.compile(r"PMC\s*(\d{1,9})(?:\.\d+)?", re.IGNORECASE)


def normalise_doi(text: str | None) -> str | None:
    """The DOI in lower case without resolver, label, closing punctuation or percent escapes."""
    if not text:
        return None
    body = _DOI_LABEL.sub("", html.unescape(text.strip()))
    if "%2f" in body.lower() or "%3c" in body.lower() or "%28" in body:
        body = unquote(body)
    match = _DOI.search(_DOI_PREFIX.sub("", body, count=1)) or _DOI.search(body)
    if match is None:
        return None
    doi = _QUERY.sub("", _DOI_LABEL.sub("", match.group()))
    return drop_closing_marks(doi).lower() or None


def drop_closing_marks(doi: str) -> str:
    """Take off sentence marks and unmatched closing brackets: old DOIs hold `<` `>` `(` `)` of their own."""
    while doi:
        last = doi[-1]
        unmatched = last in _PAIRS and doi.count(last) > doi.count(_PAIRS[last])
        if not (unmatched or last in ".,;:'\"“”’"):
            break
        doi = doi[:-1]
    return doi


def find_doi(text: str) -> str | None:
    """The first DOI in running text, a link or a note."""
    match = _DOI.search(unquote(html.unescape(text)) if "%" in text else html.unescape(text))
    return normalise_doi(match.group()) if match else None


def normalise_pmid(text: str | int | None) -> str | None:
    """The PubMed number: 1 to 8 digits, no leading zero."""
    match = re.fullmatch(
        r"\s*(?:https?://\S*?(?:pubmed\.ncbi\.nlm\.nih\.gov|ncbi\.nlm\.nih\.gov/pubmed)/|"
        r"(?:pmid|pubmed(?:\s*id)?)\s*[:=-]?\s*)?0*([1-9]\d{0,7})(?:\.\d)?/?\.?\s*(?:\[pmid\])?\s*",
        str(text or ""),
        re.IGNORECASE,
    )
    return match.group(1) if match else None


def normalise_pmcid(text: str | int | None) -> str | None:
    """The PubMed Central number with its prefix, `PMC6801665`; bare digits are taken as one."""
    if text is None:
        return None
    match = _PMCID.search(str(text)) or re.fullmatch(r"\s*(\d{5,9})\s*", str(text))
    return f"PMC{int(match.group(1))}" if match else None


def normalise_isbn(text: str | None) -> str | None:
    """The ISBN as 13 digits (an ISBN-10 is converted); None where the check digit is wrong."""
    digits = re.sub(
        r"[^0-9Xx]", "", re.sub(r"^\s*(?:e-?)?ISBN(?:-1[03])?\s*:?", "", text or "", flags=re.I)
    ).upper()
    if len(digits) == 10 and re.fullmatch(r"\d{9}[\dX]", digits):
        weights = range(10, 0, -1)
        total = sum(w * (10 if d == "X" else int(d)) for w, d in zip(weights, digits, strict=True))
        return _isbn13("978" + digits[:9]) if total % 11 == 0 else None
    if re.fullmatch(r"97[89]\d{10}", digits) and _isbn13(digits[:12]) == digits:
        return digits
    return None


def _isbn13(first: str) -> str:
    total = sum((3 if i % 2 else 1) * int(digit) for i, digit in enumerate(first))
    return f"{first}{-total % 10}"


def normalise_issn(text: str | None) -> str | None:
    """The ISSN as `1234-567X`; None where the check digit is wrong."""
    match = re.search(r"(?<!\d)(\d{4})\s*[-–]?\s*(\d{3}[\dXx])(?![\dXx])", text or "")
    if match is None:
        return None
    digits = (match.group(1) + match.group(2)).upper()
    total = sum(w * (10 if d == "X" else int(d)) for w, d in zip(range(8, 0, -1), digits, strict=True))
    return f"{digits[:4]}-{digits[4:]}" if total % 11 == 0 else None


_CHECKS = {
    "DOI": (normalise_doi, "10.1000/xyz123"),
    "PMID": (normalise_pmid, "31975359"),
    "PMCID": (normalise_pmcid, "PMC6801665"),
    "ISBN": (normalise_isbn, "978-0-306-40615-7"),
    "ISSN": (normalise_issn, "0378-5955"),
}


def require(kind: str, text: str) -> str:
    """The normal form of an identifier that a person gave. Raises BadIdentifier with the form expected."""
    normalise, example = _CHECKS[kind]
    found = normalise(text)
    if found is None:
        raise BadIdentifier(f"{text!r} is not a valid {kind}.", hint=f"A {kind} looks like {example}.")
    return found
