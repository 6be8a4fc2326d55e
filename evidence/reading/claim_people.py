"""People, time and size in a sentence."""

import re

from evidence.reading.claim_mentions import load_cues
from evidence.reading.claim_phrases import all_phrases, find_phrase
from evidence.reading.claim_proposal import Part
from evidence.vocabulary import Vocabulary

WEEKS_IN_A_MONTH = 365.25 / 12 / 7
_TIME = re.compile(r"(\d+)(?:\s*(?:to|-|–|and)\s*(\d+))?[\s-]*(weeks?|months?)\b", re.IGNORECASE)
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(percentage points?|points?|%|percent\b|per cent\b)", re.IGNORECASE)
_TIMES = {"twice": 100.0, "double": 100.0, "three times": 200.0, "half as much": -50.0}


def read_people(text: str, vocabulary: Vocabulary) -> list[Part]:
    """Training status, sex and health, where they stand beside a word for people."""
    cues = load_cues()["people"]
    parts: list[Part] = []
    status = _read_status(text, vocabulary)
    if status is not None:
        parts.append(status)
    sexes = [s for s in ("female", "male") if find_phrase(text, cues[s])]
    if len(sexes) == 1:
        parts.append(Part("sex", sexes[0], find_phrase(text, cues[sexes[0]]) or ""))
    with_health = re.search(
        r"\b(?:people|patients|adults|those|men|women) with ([\w ]+)", text, re.IGNORECASE
    )
    if with_health:
        words = with_health[1].split()
        for count in range(len(words), 0, -1):
            found = vocabulary.find_health(" ".join(words[:count]))
            if found.outcome == "match":
                parts.append(Part("health", found.match, " ".join(words[:count])))
                break
    return parts


def _read_status(text: str, vocabulary: Vocabulary) -> Part | None:
    cues = load_cues()["people"]
    if group := find_phrase(text, cues["groups"]):
        found = vocabulary.find_training_status(re.sub(r"s$| lifters$", "", group))
        if found.match:
            return Part("status", found.match, group)
    for match in all_phrases(text, cues["nouns"]):
        before = re.findall(r"[\w-]+", text[: match.start()])
        for count in (3, 2, 1):
            words = " ".join(before[-count:])
            found = vocabulary.find_training_status(words)
            if words and found.match and found.match != "not stated":
                return Part("status", found.match, words)
        if find_phrase(match.group(), cues["asked"]):
            how = f'"{match.group()}" is no training status; the claim is read as about anyone'
            return Part("status", None, match.group(), "unsure", how)
    return None


def read_weeks(text: str) -> list[Part]:
    """How long the training lasts, in weeks from and to."""
    found = _TIME.search(text)
    if not found:
        return []
    low, high = int(found[1]), int(found[2] or found[1])
    if found[3].lower().startswith("month"):
        low, high = round(low * WEEKS_IN_A_MONTH), round(high * WEEKS_IN_A_MONTH)
        return [Part("weeks", (low, high), found.group(), "unsure", "months as weeks, rounded")]
    return [Part("weeks", (min(low, high), max(low, high)), found.group())]


def read_size(text: str) -> list[Part]:
    """How large the difference is said to be; percent without a word is taken as relative, and said so."""
    for words, value in _TIMES.items():
        if find_phrase(text, [words]):
            return [
                Part("size", value, words, "unsure", "read as percent, relative"),
                _kind_of_percent("relative", words),
            ]
    found = _SIZE.search(text)
    if not found:
        return []
    value = float(found[1].replace(",", "."))
    if "point" in found[2].lower():
        return [Part("size", value, found.group()), _kind_of_percent("points", found.group())]
    how = (
        "percent of the comparator's value (relative), not percentage points: correct it if points were meant"
    )
    return [Part("size", value, found.group(), "unsure", how), _kind_of_percent("relative", found.group())]


def _kind_of_percent(kind: str, text: str) -> Part:
    return Part("percent", kind, text)
