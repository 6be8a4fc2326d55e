"""Sources named in running text ("Gullfoot and Ewebank (2016)", "Ashgill's trial"), resolved among the references."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from evidence.workflows.drafts.knowledge import Knowledge, KnownReference
from evidence.workflows.drafts.words import word_set
from references.folding import fold

_NAME = r"[A-ZÀ-ÖØ-Þ][\w’'-]*[\w]"
_OTHERS = (
    r"(?:and|with) (?:(?:his|her|their|a|some|two|three|several) )?"
    r"(?:colleagues?|co-workers?|co-authors?|others|team)"
)
_JOINED = rf"{_NAME}(?:,\s+{_NAME})*(?:,?\s+(?:and|&|y|und)\s+{_NAME}|\s+et al\b\.?|\s+{_OTHERS})?"
_DATED = re.compile(
    rf"(?<![\w’'-])(?P<names>{_JOINED})(?P<own>['’]s)?(?:\s+(?:again|too|also|later|themselves))?,?\s*[(\[]?\s*(?P<year>(?:19|20)\d\d)(?P<letter>[a-z])?\b[)\]]?"
)
_OWNED = re.compile(
    rf"(?<![\w’'-])(?P<names>{_JOINED})['’]s?\s+(?P<between>(?:[\w-]+\s+){{0,4}}?)(?:from|of|in|\(|)\s*(?P<year>(?:19|20)\d\d)(?P<letter>[a-z])?\b"
)
_BY = re.compile(
    r"(?:(?P<year>(?:19|20)\d\d) )?(?:[\w-]+ ){0,2}?(?:paper|study|trial|review|article|thesis)s?,? (?:by|from) "
    rf"(?P<names>{_JOINED})(?![\w’'])(?P<letter>)"
)
_SHOWED_IN = re.compile(
    rf"(?<![\w’'-])(?P<names>{_JOINED}) (?:found|showed|reported|saw|ran|published|tested|measured|compared|wrote)"
    r"(?: (?:back|up|already))? in (?P<year>(?:19|20)\d\d)(?P<letter>[a-z])?\b"
)
_NAMED_PAPER = re.compile(
    rf"(?<![\w’'-])(?P<names>{_NAME}(?:,? (?:and|&) {_NAME}| et al\.?))(?:['’]s?)? (?:\w+ )??"
    r"(?P<letter>)(?:paper|study|trial|article|review|experiment|preprint)\b(?!s)"
)
_TWO_SHOWED = re.compile(
    rf"(?<![\w’'-])(?P<names>{_NAME}(?:,? (?:and|&) {_NAME}| et al\.?)) (?P<letter>)"
    r"(?:(?:also|once|later|first) )?"
    r"(?:showed|found|reported|saw|tested|measured|compared|counted|trained|followed|gave|had|put)\b"
)
_PAPER_SAID = re.compile(r" (?:paper|study|trial|article|review|experiment|preprint)\b")
_IN_YEAR = re.compile(r"^(?:back )?in ((?:19|20)\d\d),?\s", re.IGNORECASE)
_YEAR = re.compile(r"(?:19|20)\d\d")
_AUTHOR_TOLD = re.compile(r" (?:by|from) ")
_CAPITAL = re.compile(rf"(?<![\w’'-]){_NAME}")


@dataclass(frozen=True, slots=True)
class ProseMention:
    """A source named in prose. `key` None: none fits. `wrong`: what differs from the record, in words."""

    text: str
    start: int
    end: int
    key: str | None
    near: tuple[str, ...] = ()
    wrong: str = ""
    several: bool = False


def find_prose_mentions(text: str, knowledge: Knowledge) -> tuple[ProseMention, ...]:
    """Every source that a sentence names in words."""
    found: list[ProseMention] = []
    taken: list[tuple[int, int]] = []
    # What a pattern cannot do without is looked for first: most sentences name no source.
    dated = (_DATED, _OWNED, _SHOWED_IN) if _YEAR.search(text) else ()
    named = (_NAMED_PAPER,) if _PAPER_SAID.search(text) else ()
    by = (_BY,) if _AUTHOR_TOLD.search(text) else ()
    for pattern in (*dated, *named, *by, _TWO_SHOWED):
        for match in pattern.finditer(text):
            if any(a < match.end() and match.start() < b for a, b in taken):
                continue
            if (
                pattern is _TWO_SHOWED
                and fold(re.split(r"\W", match["names"])[0]) not in knowledge.first_surnames
            ):
                continue  # "Squats and Presses showed"
            mention = read_dated(match, text, knowledge)
            if mention is not None:
                found.append(mention)
                taken.append((mention.start, mention.end))
    year = _IN_YEAR.match(text)
    for match in _CAPITAL.finditer(text):
        word = match.group()
        word = word[:-2] if word.endswith(("'s", "’s")) else word
        if any(a < match.end() and match.start() < b for a, b in taken):
            continue
        if len(word) < 5 or fold(word) not in knowledge.first_surnames:
            continue
        found.append(read_bare(word, match, int(year[1]) if year else None, text, knowledge))
    return tuple(sorted(found, key=lambda m: m.start))


def read_dated(match: re.Match[str], text: str, knowledge: Knowledge) -> ProseMention | None:
    """A mention with a year; None where the words before the year are no names."""
    raw = re.sub(rf"\s+(?:et al\.?|{_OTHERS})$", "", match["names"])
    alone = raw == match["names"]
    listed = [re.sub(r"['’]s$", "", n) for n in re.split(r",\s+|,?\s+(?:and|&|y|und)\s+", raw) if n]
    while listed and (fold(listed[0]) in word_set("not_names") or (listed[0].isupper() and len(listed) > 1)):
        listed.pop(0)
    names = [fold(n) for n in listed if fold(n)]
    if not names or word_set("not_names") & set(names):
        return None
    start, end = text.find(listed[0], match.start()), match.end()
    if text[end - 1] in ")]" and not re.search(r"[(\[]", text[start:end]):
        end -= 1  # the bracket around it is not part of it
    said = text[start:end]
    year, letter = int(match.groupdict().get("year") or 0), match["letter"] or ""
    between = match.groupdict().get("between") or ""
    known = [n for n in names if n in knowledge.by_surname]
    if not known and match.re is _OWNED and not _PAPER_SAID.search(f" {between}"):
        return None  # "Cohen's kappa (1960)" is a method
    if not known:
        if (
            len(names) == 1
            and match.re is not _BY
            and not re.search(r"[(,]|\bet al\b|['’]s", match.group())
            and not _looks_like_source(text, match)
        ):
            return None
        return ProseMention(said, start, end, None, tuple(nearest(names, knowledge)))
    fitting = unique(r for n in known[:1] for r in knowledge.by_surname[n])
    same_year = [r for r in fitting if r.year == year or not year]
    if letter and len(same_year) > 1:
        same_year = [r for r in same_year if r.key.endswith(letter)] or same_year
    pool = same_year or fitting
    both = [r for r in pool if all(has_author(r, n) for n in names)]
    best = (both or pool)[0]
    if len(both or pool) > 1 and same_year:
        return ProseMention(said, start, end, None, tuple(r.key for r in pool), several=True)
    wrong = tell_wrong(best, names, year, between, bool(same_year), bool(both))
    if not alone and len(best.authors) == 1:
        wrong = "; ".join(filter(None, [wrong, f"the record lists {best.authors[0].family} alone"]))
    return ProseMention(said, start, end, best.key, (best.key,), wrong)


def read_bare(
    word: str, match: re.Match[str], year: int | None, text: str, knowledge: Knowledge
) -> ProseMention:
    """A surname of a first author with no year beside it."""
    held = [
        r
        for r in knowledge.by_surname[fold(word)]
        if r.authors and fold(r.authors[0].family or "") == fold(word)
    ]
    if year is not None:
        held = [r for r in held if r.year == year] or held
    if len(held) != 1:
        return ProseMention(word, match.start(), match.end(), None, tuple(r.key for r in held), several=True)
    wrong = f"the record says {held[0].year}, the text {year}" if year and held[0].year != year else ""
    return ProseMention(word, match.start(), match.end(), held[0].key, (held[0].key,), wrong)


def tell_wrong(
    record: KnownReference, names: list[str], year: int, between: str, same_year: bool, all_named: bool
) -> str:
    """What the text says otherwise than the record."""
    wrong = []
    if not same_year:
        wrong.append(f"the record says {record.year}, the text {year}")
    if not all_named:
        strange = [n for n in names if not has_author(record, n)]
        listed = " and ".join(a.family or a.literal or "" for a in record.authors)
        wrong.append(f"the record lists {listed}, not {' or '.join(s.title() for s in strange)}")
    if "solo" in between.lower() and len(record.authors) > 1:
        wrong.append(f"the record lists {len(record.authors)} authors")
    return "; ".join(wrong)


def has_author(record: KnownReference, folded: str) -> bool:
    """Whether a surname, folded, is among the authors."""
    return any(fold(a.family or a.literal or "") == folded for a in record.authors)


def nearest(names: list[str], knowledge: Knowledge) -> list[str]:
    """Keys of references by an author whose name is spelt nearly so."""
    from rapidfuzz import fuzz, process

    found = process.extract(names[0], list(knowledge.by_surname), scorer=fuzz.ratio, limit=3, score_cutoff=75)
    return [r.key for surname, _, _ in found for r in knowledge.by_surname[surname]][:3]


def unique(references: Iterable[KnownReference]) -> list[KnownReference]:
    """Each reference once, in order."""
    return list({r.key: r for r in references}.values())


def _looks_like_source(text: str, match: re.Match[str]) -> bool:
    """Whether "Penruddock 2014" stands in brackets or in a list of such."""
    before = text[: match.start()].rstrip()
    return before.endswith(("(", ";", "[", ","))
