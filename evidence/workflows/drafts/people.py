"""Who a draft speaks to, against who was studied: sex, age, training, role."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from evidence.workflows.drafts.words import load_words
from evidence.workflows.relevance.linked_sources import RETRACTED
from references.mention_reading import spoken_number

if TYPE_CHECKING:
    from evidence.workflows.drafts.findings import Draught
    from evidence.workflows.drafts.knowledge import Group, KnownClaim, KnownStudy
    from evidence.workflows.drafts.readings import Reading

_FEMALE = re.compile(r"\b(women|woman|ladies|girls?|females?|mums?|mothers?)\b", re.IGNORECASE)
_MALE = re.compile(r"\b(men|man|lads?|guys|boys?|males?|fathers?|dads?)\b", re.IGNORECASE)
_RANGE = re.compile(r"\b(\d{1,2})\s*(?:-|–|to)\s*(\d{1,2})\b")
_NUMBER = r"(\d{1,2}|(?:twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)(?:[- ]\w+)?)"
_ABOVE = re.compile(
    rf"\b(?:over|above|past|older than|at least)[- ]?{_NUMBER}s?\b|\b{_NUMBER}\s*(?:\+|and (?:up|over|older|above))",
    re.IGNORECASE,
)
_DECADE = re.compile(
    r"\bin(?:to)? (?:your|their|his|her|my|our) (?:early |mid |late )?"
    r"(twenties|thirties|forties|fifties|sixties|seventies|eighties|nineties)",
    re.IGNORECASE,
)
_DECADES = re.compile(r"\b(over|under|past)[- ](twen|thir|for|fif|six|seven|eigh|nine)ties\b", re.IGNORECASE)
_BELOW = re.compile(rf"\b(?:under|below|younger than)[- ]?{_NUMBER}s?\b", re.IGNORECASE)
_TEENS = re.compile(
    r"\b(teen\w*|adolescents?|kids|children|girls|boys|youth|schoolchildren)\b", re.IGNORECASE
)
_OLDER = re.compile(
    r"\b(seniors?|elderly|older (?:adults|people|women|men)|pensioners?|masters|grand(?:parents?|mothers?|fathers?)"
    r"|retirees)\b",
    re.IGNORECASE,
)
RANKS = {"untrained": 0, "recreational": 1, "trained": 2, "highly_trained": 3, "elite": 4, "world_class": 5}


@dataclass(frozen=True, slots=True)
class Addressed:
    """Who is spoken to. `rank`: of training; None: not said."""

    sex: str | None
    low: float | None
    high: float | None
    rank: int | None
    roles: tuple[str, ...]
    words: str

    @property
    def named(self) -> bool:
        """Whether anything is said of them at all."""
        return any(x is not None for x in (self.sex, self.low, self.high, self.rank)) or bool(self.roles)


@cache
def _statuses() -> tuple[tuple[re.Pattern[str], int], ...]:
    return tuple(
        (re.compile(rf"\b(?:{'|'.join(row['words'])})\b", re.IGNORECASE), int(row["rank"]))
        for row in load_words()["status"]
    )


def read_people_words(text: str) -> Addressed:
    """People from words such as "recreational runners who lift, 20-45, men and women"."""
    female, male = bool(_FEMALE.search(text)), bool(_MALE.search(text))
    sex = "female" if female and not male else "male" if male and not female else None
    low, high = ages_in(text)
    if low is None and high is None:
        if _TEENS.search(text) and not re.search(r"\bgirls and women\b", text, re.IGNORECASE):
            low, high = 10, 17
        elif _OLDER.search(text):
            low = 60
    rank = next((rank for pattern, rank in _statuses() if pattern.search(text)), None)
    roles = tuple(r for r in load_words()["roles"] if re.search(rf"\b{r}s?\b", text, re.IGNORECASE))
    return Addressed(sex, low, high, rank, roles, text.strip())


def ages_in(text: str) -> tuple[float | None, float | None]:
    """Lowest and highest age named in a text, in years."""
    text = _DECADES.sub(r"\1 \2ty", text)
    between = _RANGE.search(text)
    if between:
        low, high = int(between[1]), int(between[2])
        if 8 <= low < high <= 99:
            return low, high
    decade = _DECADE.search(text)
    if decade:
        start = _age(decade[1].lower().replace("ies", "y"))
        return (start, start + 9) if start is not None else (None, None)
    above, below = _ABOVE.search(text), _BELOW.search(text)
    low_age = _age(next(g for g in above.groups() if g)) if above else None
    return low_age, (_age(below[1]) if below else None)


def _age(text: str) -> float | None:
    if text.isdigit():
        return float(text)
    value, _ = spoken_number(re.split(r"[- ]", text.lower()))
    return float(value) if value is not None else None


def check_people(reading: "Reading") -> Iterator["Draught"]:
    """The people addressed differ from everyone who was studied."""
    from evidence.appraisal.draft_cues import read_addressed
    from evidence.workflows.drafts.suggesting import about_claim

    if reading.not_held or (reading.left_open and not reading.claims) or not reading.studies:
        return
    if not (reading.claims or reading.cited_studies) or not reading.asserts:
        return
    groups = [g for s in studies_meant(reading) for g in s.groups]
    if not groups:
        return
    for addressed, roles in people_addressed(reading, read_addressed(reading.text)):
        differing = [why for g in groups for why in [differs(addressed, g, roles=roles)] if why]
        if len(differing) == len(groups):
            reasons = tuple(dict.fromkeys(differing))
            yield about_claim(
                reading,
                "other-people",
                f"This is for {addressed.words}; others were studied.",
                "; ".join(reasons[:3]),
            )
            return


def people_addressed(reading: "Reading", said: str | None) -> Iterator[tuple[Addressed, bool]]:
    """Those the sentence speaks to or of, then those the draft is for; and whether their role counts.

    The draft's audience counts where the sentence names nobody, or only calls to them ("Ladies, ...").
    """
    addressed = read_people_words(said) if said else None
    if addressed is not None and addressed.named:
        yield addressed, True
    named = reading.cue("studied")
    if named is not None and (addressed is None or not addressed.named):
        # "... in trained women": those of whom it is said, held against those who were studied as well.
        of_whom = read_people_words(without_preposition(named.text))
        if of_whom.named:
            yield of_whom, False
    if (
        not reading.draft.audience
        or named
        or (names_studied(reading) and not (addressed and addressed.named))
    ):
        return
    audience = read_people_words(reading.draft.audience)
    if audience.named:
        yield audience, False


def studies_meant(reading: "Reading") -> tuple["KnownStudy", ...]:
    """The studies whose people count. Of a claim of which nothing was found nobody was studied.

    A cited study counts there all the same, where it compared the claim's exercises and stands.
    """
    if not reading.claims or any(not c.nothing_found for c in reading.claims):
        return reading.studies
    return tuple(s for s in reading.cited_studies if any(has_compared(s, c, reading) for c in reading.claims))


def has_compared(study: "KnownStudy", claim: "KnownClaim", reading: "Reading") -> bool:
    """Whether a study that is not retracted compared a claim's exercises, or gives results of both."""
    known = reading.knowledge.references
    if all(known[key].notice in RETRACTED for key in study.references if key in known):
        return False
    return has_both(study, claim, reading)


def has_both(study: "KnownStudy", claim: "KnownClaim", reading: "Reading") -> bool:
    """Whether a study compared a claim's two exercises, or gives results of both."""
    sides = [side for side in (claim.exercise, claim.comparator) if side]
    done = {e for c in study.contrasts for e in (c.exercise, c.comparator) if e}
    return all(any(reading.finder.related(e, [side]) for e in done) for side in sides)


def without_preposition(words: str) -> str:
    """People without the word that leads to them ("in trained women")."""
    return re.sub(r"^(?:in|among|amongst|of|for|with) ", "", words, flags=re.IGNORECASE)


def names_studied(reading: "Reading") -> bool:
    """Whether the sentence itself names people at all: then it says of whom it speaks."""
    words = read_people_words(reading.text)
    return words.named


def differs(addressed: Addressed, group: "Group", *, roles: bool) -> str | None:
    """In what a group that was studied differs from those addressed; None: in nothing that is known."""
    if addressed.sex and group.sex in ("female", "male") and group.sex != addressed.sex:
        return "only men were studied" if group.sex == "male" else "only women were studied"
    if addressed.low is not None and group.age_high is not None and addressed.low > group.age_high:
        return f"studied up to {group.age_high:.0f} years"
    if addressed.high is not None and group.age_low is not None and addressed.high < group.age_low:
        return f"studied from {group.age_low:.0f} years on"
    rank = RANKS.get(group.status)
    if addressed.rank is not None and rank is not None and abs(addressed.rank - rank) >= 2:
        return f"studied in {group.status.replace('_', ' ')} people"
    studied = [r for r in load_words()["roles"] if r in group.words.lower()]
    if roles and addressed.roles and studied and not set(studied) & set(addressed.roles):
        return f"studied in {studied[0]}s"
    return None
