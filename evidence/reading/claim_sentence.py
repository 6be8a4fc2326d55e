"""A claim in plain words, read into a proposal: kind, exercises, region, outcome, people, direction, size, time.

The words decide by the lists of `claim_cues.yaml`; names are those of the vocabulary. What is unsure is said, what is
missing or means two things is asked. A plain rule list misreads some sentences (docs/explanation/claims.md has the
measured share), so nothing is ever stored from a sentence alone.
"""

import re
from dataclasses import replace

from evidence.reading.claim_kind import Reading, choose_kind
from evidence.reading.claim_mentions import find_mentions, is_small_word, load_cues, split_words
from evidence.reading.claim_people import read_people, read_size, read_weeks
from evidence.reading.claim_phrases import find_phrase
from evidence.reading.claim_proposal import Part, Proposal, State, part_of
from evidence.reading.claim_sides import read_sides
from evidence.vocabulary import Vocabulary

WITHOUT_OUTCOME = ("practice", "principle", "mechanism")  # kinds that may name no outcome
NEED_OUTCOME = ("comparison", "sameness", "superlative", "trend", "level", "association", "rate")


def propose_claim(text: str, vocabulary: Vocabulary) -> Proposal:
    """Read one sentence as a claim. Never raises: what cannot be read is asked."""
    sentence = " ".join(text.split()).rstrip(".!")
    sentence = re.sub(r"\s>\s", " beats ", sentence)
    mentions = find_mentions(sentence, vocabulary)
    reading = choose_kind(sentence, mentions, vocabulary)
    parts: list[Part] = [*read_sides(reading, vocabulary), *_read_region(reading), *_read_outcome(reading)]
    if reading.kind != "practice":
        parts += _read_direction(reading)
    if reading.kind == "trend":
        parts += _read_detail(reading)
    if reading.kind == "level":
        parts.append(Part("level", reading.level, reading.level_text, how="percent of the maximum named"))
    if reading.kind == "sameness":
        parts.append(_ask_margin())
    parts += read_people(sentence, vocabulary)
    parts += read_weeks(sentence)
    if reading.kind in ("comparison", "rate"):
        parts += read_size(sentence)
    return Proposal(text, reading.kind, tuple(parts), _unread(reading, parts))


def _ask_margin() -> Part:
    how = "the largest difference that still counts as the same, in the scale of the outcome"
    return Part("margin", None, state="asked", how=how)


def _read_region(reading: Reading) -> list[Part]:
    found = [m for m in reading.mentions if m.kind == "region"]
    if not found:
        return []
    part = part_of("region", found[0].text, found[0].found)
    if len({m.id for m in found}) > 1:
        others = ", ".join(m.text for m in found[1:])
        how = f"the first region named; {others} would be a claim of its own"
        part = replace(part, state="asked" if part.state == "asked" else "unsure", how=how)
    if reading.kind == "practice" and part.state == "asked":
        part = replace(part, state="unsure")
    return [part]


def _read_outcome(reading: Reading) -> list[Part]:
    if reading.kind == "practice":
        return []
    if reading.kind == "association":
        return _read_two_outcomes(reading)
    named = [m for m in reading.mentions if m.kind == "construct"]
    for construct in ("injury", "pain"):
        if reading.kind == "rate" and (word := find_phrase(reading.text, _outcome_words(construct))):
            return [Part("outcome", construct, word)]
    named = [m for m in named if m.id != "pain" or "people with" not in reading.text.lower()]
    if named and named[0].id is not None:
        return [Part("outcome", named[0].id, named[0].text, how=named[0].found.reason)]
    for unit, construct in load_cues()["level"]["measures"].items():
        if find_phrase(reading.level_text, [unit]):
            return [
                Part("outcome", construct, reading.level_text, how=f"{unit} is what it is measured against")
            ]
    for where in ("nouns", "verbs"):
        for construct, words in load_cues()[where].items():
            if construct == "open":
                continue
            if word := find_phrase(reading.text, words):
                return [Part("outcome", construct, word, how=f'"{word}" speaks of it')]
    if word := find_phrase(reading.text, load_cues()["verbs"]["open"]):
        how = f'"{word}" says neither activation nor growth: which was meant?'
        return [Part("outcome", None, word, "asked", how)]
    if reading.kind in NEED_OUTCOME:
        return [
            Part("outcome", None, state="asked", how="better at what: activation, growth, strength, ...?")
        ]
    return []


def _outcome_words(construct: str) -> list[str]:
    cues = load_cues()
    return [*cues["nouns"].get(construct, []), *cues["verbs"].get(construct, [])]


def _read_two_outcomes(reading: Reading) -> list[Part]:
    """The two measures of an association, in order: those named, else those that nouns speak of."""
    found: list[tuple[int, str, str]] = [
        (m.start, m.id, m.text) for m in reading.mentions if m.kind == "construct" and m.id
    ]
    for construct, words in load_cues()["nouns"].items():
        word = find_phrase(reading.text, words)
        if word and construct not in {c for _, c, _ in found}:
            found.append((reading.text.lower().find(word.lower()), construct, word))
    parts = [
        Part(name, c, text) for name, (_, c, text) in zip(("outcome", "other"), sorted(found), strict=False)
    ]
    names = {p.name for p in parts}
    for name in ("outcome", "other"):
        if name not in names:
            parts.append(Part(name, None, state="asked", how="which two measures go together?"))
    return parts


def _read_direction(reading: Reading) -> list[Part]:
    if reading.kind in WITHOUT_OUTCOME:
        return []
    if reading.direction is None:
        return [Part("direction", None, reading.direction_text, "asked", reading.direction_how)]
    state: State = "asked" if reading.direction_asked else "unsure" if reading.direction_how else "read"
    return [Part("direction", str(reading.direction), reading.direction_text, state, reading.direction_how)]


def _read_detail(reading: Reading) -> list[Part]:
    if reading.detail is None:
        how = "which detail of the conditions has levels (such as knee_angle_deg, sets)?"
        return [Part("detail", None, state="asked", how=how)]
    return [
        Part(
            "detail",
            reading.detail,
            reading.detail_text,
            "unsure" if reading.detail_note else "read",
            reading.detail_note,
        )
    ]


def _unread(reading: Reading, parts: list[Part]) -> tuple[str, ...]:
    """Words of more than three letters that no part, name or word list accounts for."""
    covered: set[int] = set()
    for m in reading.mentions:
        covered |= set(range(m.first, m.last))
    used = {word.lower() for part in parts for word in re.findall(r"[\w'-]+", part.text)}
    return tuple(
        token.text
        for i, token in enumerate(split_words(reading.text))
        if i not in covered and not is_small_word(token) and token.low not in used and len(token.text) > 3
    )
