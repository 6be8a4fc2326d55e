"""What two references are to each other: same, likely same, related (and how), or different."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from references.distance import Distance
from references.folding import STOPWORDS
from references.profiles import Profile
from references.rules import load_rules
from references.titles import compare_titles


class Answer(StrEnum):
    """How two references stand to each other."""

    SAME = "same"
    LIKELY_SAME = "likely same"  # a person is asked
    RELATED = "related"  # two works that belong together: link, never merge
    DIFFERENT = "different"


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Where the answers part, on the distance from 0 to 1."""

    same: float
    likely_same: float
    title_for_relation: float

    @classmethod
    def packaged(cls) -> "Thresholds":
        """The thresholds of data/duplicates.yaml."""
        return cls(**load_rules("duplicates")["thresholds"])


@dataclass(frozen=True, slots=True)
class Judgement:
    """An answer; for related works the relation of the second to the first (`erratum-of`), and the reason."""

    answer: Answer
    relation: str | None = None
    reason: str = ""


_DIFFERENT = Judgement(Answer.DIFFERENT)


def judge(a: Profile, b: Profile, distance: Distance, thresholds: Thresholds) -> Judgement:
    """Answer for two prepared records and their distance."""
    titles = distance.amount("title") if a.titles and b.titles else 0.0
    if a.marker != b.marker:
        return _judge_marked(a, b, distance, titles, thresholds)
    shared = sorted(distance.agreements & {"DOI", "PMID", "PMCID"})
    if shared and not distance.vetoes:
        return _judge_identified(a, b, distance, titles, shared[0])
    if a.titles and b.titles and titles <= thresholds.title_for_relation:
        related = _find_relation(a, b, distance)
        if related:
            return related
    if (
        a.registrations
        and a.registrations == b.registrations
        and not (shared or "title" in distance.agreements)
    ):
        return Judgement(Answer.RELATED, "same-sample", f"both name {a.registrations[0]}")
    if distance.vetoes:
        return _judge_vetoed(a, b, distance, titles)
    return _judge_by_distance(a, b, distance, thresholds)


def _judge_marked(
    a: Profile, b: Profile, distance: Distance, titles: float, thresholds: Thresholds
) -> Judgement:
    """One of the two is a notice, a reply or a meeting abstract; it belongs to the other if the titles say
    so.
    """
    relation = b.marker or a.marker
    if not a.titles or not b.titles or a.title in _generic_titles() or b.title in _generic_titles():
        return _DIFFERENT
    clear = min(len(a.title), len(b.title)) >= 12 and not distance.amount("words")
    if titles > thresholds.title_for_relation or not clear:
        return _DIFFERENT
    if relation not in ("reply-to",) and a.surnames and b.surnames and "authors" not in distance.agreements:
        return _DIFFERENT
    if relation == "abstract-of" and _are_one_printing(distance):
        return Judgement(Answer.LIKELY_SAME, None, "only one title says that it is an abstract")
    return Judgement(Answer.RELATED, relation, "the title says so")


def _are_one_printing(distance: Distance) -> bool:
    """Whether year, venue and pages leave no sign of two printings."""
    return distance.amount("venue") < 1.0 and not any(
        distance.amount(name) for name in ("year", "pages", "volume", "identifier")
    )


def _judge_identified(a: Profile, b: Profile, distance: Distance, titles: float, kind: str) -> Judgement:
    reason = f"one {kind}"
    pieces = {"chapter", "abstract", "meeting"}
    if titles > 0.4 and {a.form, b.form} & pieces and kind == "DOI" and (distance.amount("pages")):
        return Judgement(Answer.DIFFERENT, None, "pieces of one volume that share its DOI")
    doubtful = titles > 0.6 or distance.amount("words") >= 1.0 or distance.amount("authors") >= 1.0
    if doubtful and not ({a.title, b.title} & {""} or _starts_alike(a.title, b.title)):
        return Judgement(Answer.LIKELY_SAME, None, f"{reason}, but titles or authors differ")
    return Judgement(Answer.SAME, None, reason)


def _starts_alike(a: str, b: str) -> bool:
    short, long = sorted((a, b), key=len)
    return len(short) >= 4 and long.startswith(short + " ")


def _find_relation(a: Profile, b: Profile, distance: Distance) -> Judgement | None:
    """Parts of a series, preprint, meeting abstract, second report on the same people."""
    if "authors" not in distance.agreements:
        return None
    if a.part is not None and b.part is not None and a.part != b.part:
        return Judgement(Answer.RELATED, "part-of-series", f"part {a.part} and part {b.part}")
    companion = companion_words(a, b)
    if companion:
        return Judgement(Answer.RELATED, "same-sample", f"only one title says {companion}")
    if distance.amount("words") >= 1.0 or distance.amount("numbers") >= 1.0:
        return None
    forms = {a.form, b.form}
    if "preprint" in forms and len(forms) == 2 and "abstract" not in forms:
        return Judgement(Answer.RELATED, "preprint-of", "one is a preprint, the other its published version")
    if "abstract" in forms and len(forms) == 2 and not _are_one_printing(distance):
        return Judgement(Answer.RELATED, "abstract-of", "one is a meeting abstract")
    return None


def companion_words(a: Profile, b: Profile) -> str | None:
    """Words in only one title that tell a second report on the same people, the rest of the titles being
    alike.
    """
    if a.title == b.title:
        return None
    for phrase in _companion_phrases():
        in_a, in_b = (f" {phrase} " in f" {profile.title} " for profile in (a, b))
        if in_a == in_b:
            continue
        longer, other = (a.title, b.title) if in_a else (b.title, a.title)
        rest = " ".join(f" {longer} ".replace(f" {phrase} ", " ").split())
        gap = compare_titles(rest, other)
        if gap.amount <= 0.4 and gap.words < 1.0:
            return phrase
    return None


@cache
def _companion_phrases() -> tuple[str, ...]:
    phrases: list[str] = load_rules("duplicates")["companions"]["same-sample"]
    return tuple(sorted(phrases, key=len, reverse=True))


def _judge_vetoed(a: Profile, b: Profile, distance: Distance, titles: float) -> Judgement:
    """Two registered works. Alike in all but the identifier, they are versions of one; otherwise
    different.
    """
    alike = titles <= 0.15 and not distance.amount("words") and not distance.amount("numbers")
    if (
        not alike
        or "authors" not in distance.agreements
        or is_generic(a)
        or is_generic(b)
        or "title" not in distance.agreements
        or "year" not in distance.agreements
    ):
        return _DIFFERENT
    if "venue" in distance.agreements and distance.amount("pages") >= 1.0:
        return _DIFFERENT
    return Judgement(Answer.RELATED, "version-of", distance.vetoes[0])


def _judge_by_distance(a: Profile, b: Profile, distance: Distance, thresholds: Thresholds) -> Judgement:
    agreed = distance.agreements
    if "title" not in agreed:
        return _DIFFERENT
    if is_generic(a) or is_generic(b):
        return _judge_generic(distance)
    one_title = distance.amount("title") <= 0.1 and not distance.amount("words") + distance.amount("numbers")
    if (
        one_title
        and distance.amount("authors") < 0.2
        and "authors" in agreed
        and min(len(a.title), len(b.title)) >= 20
    ):
        if distance.amount("year") >= 1.0 and not agreed & {"pages", "volume"}:
            return Judgement(Answer.RELATED, "edition-of", "same title and authors, years apart")
        if distance.total > thresholds.likely_same:
            return Judgement(Answer.RELATED, "version-of", "same title and authors, printed elsewhere")
    one_place = {"year", "venue"} <= agreed and not distance.amount("pages") + distance.amount("volume")
    telling = distance.amount("title") == 0 and min(len(a.title), len(b.title)) >= 30
    if telling and one_place and distance.amount("authors") >= 0.5:
        return Judgement(Answer.LIKELY_SAME, None, "all but the authors agrees")
    sister = distance.amount("words") >= 1.0 or distance.amount("numbers") >= 1.0
    if distance.total > thresholds.likely_same or (sister and "pages" not in agreed):
        return _DIFFERENT
    if distance.total <= thresholds.same and _has_evidence(agreed):
        return Judgement(Answer.SAME, None, "title and " + ", ".join(sorted(agreed - {"title"})) + " agree")
    return Judgement(Answer.LIKELY_SAME, None, _what_is_open(distance))


def _has_evidence(agreed: frozenset[str]) -> bool:
    """An equal title alone proves nothing: authors and one field more, or venue with volume or pages, must
    agree.
    """
    others = agreed & {"year", "venue", "volume", "pages", "ISBN"}
    return ("authors" in agreed and bool(others)) or len(others) >= 3


def _what_is_open(distance: Distance) -> str:
    if distance.penalties:
        return f"{distance.penalties[0].name}: {distance.penalties[0].reason}"
    return "too few fields to be sure"


def _judge_generic(distance: Distance) -> Judgement:
    """`Editorial` and the like recur: only the place in the journal can tell."""
    place = distance.agreements & {"pages", "volume", "venue", "year"}
    if "pages" in place and len(place) >= 3 and distance.total < 0.3:
        return Judgement(Answer.SAME, None, "a recurring title at one place in the journal")
    if "pages" in place and len(place) >= 2 and distance.total < 0.3:
        return Judgement(Answer.LIKELY_SAME, None, "a recurring title")
    if {"year", "venue", "authors"} <= distance.agreements and distance.total < 0.1:
        return Judgement(Answer.LIKELY_SAME, None, "a recurring title")
    return _DIFFERENT


@cache
def _generic_titles() -> frozenset[str]:
    return frozenset(load_rules("duplicates")["generic_titles"])


def is_generic(profile: Profile) -> bool:
    """Whether the title is one that recurs issue after issue, or has no meaning of its own."""
    title = profile.title
    if title in _generic_titles():
        return True
    words = [word for word in title.split() if word not in STOPWORDS and not word.isdecimal()]
    return not words and title.isascii()
