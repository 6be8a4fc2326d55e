"""Of what kind a sentence is, and which way it points: by its cue words and the names that stand in it."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.reading.claim_mentions import Mention, load_cues
from evidence.reading.claim_phrases import all_phrases, find_phrase, search_phrase
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction

HARM = ("pain", "injury")
_LEVEL = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?:%|percent|per cent)\s*(?:of\s+)?(?:the\s+|its\s+)?"
    r"(MVIC|MVC|maximum|max|1RM|maximal voluntary contraction)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Reading:
    """What the words of a sentence say before its parts are named.

    `link` is what stands between the two sides of a comparison; `direction` None: asked. `direction_asked`: read one
    way, and too doubtful to be stored without a word from the person.
    """

    text: str
    kind: str
    mentions: tuple[Mention, ...]
    link: re.Match[str] | None = None
    leading: bool = False
    direction: Direction | None = None
    direction_text: str = ""
    direction_how: str = ""
    direction_asked: bool = False
    detail: str | None = None
    detail_text: str = ""
    detail_note: str = ""
    level: float | None = None
    level_text: str = ""

    @property
    def bare(self) -> str:
        """The text with its names blotted out: "raises" in "tibialis raises" says nothing of more or less."""
        text = self.text
        for m in self.mentions:
            if m.kind != "construct":
                text = text[: m.start] + "#" * (m.end - m.start) + text[m.end :]
        return text

    def of_kind(self, kind: str) -> tuple[Mention, ...]:
        """The names of one kind, in order."""
        return tuple(m for m in self.mentions if m.kind == kind)


def choose_kind(text: str, mentions: Sequence[Mention], vocabulary: Vocabulary) -> Reading:
    """The kind of claim a sentence makes; the most telling cue wins."""
    cues = load_cues()
    reading = Reading(text, "comparison", tuple(mentions))
    exercises = reading.of_kind("exercise")
    if _is_practice(text):
        return replace(reading, kind="practice", link=_find_link(text))
    if find_phrase(text, cues["mechanism"]):
        return replace(reading, kind="mechanism")
    if word := find_phrase(text, cues["association"]):
        return _read_association(replace(reading, kind="association"), word)
    trend = _read_trend(reading)
    if trend is not None:
        return trend
    level = _LEVEL.search(text)
    if level and len(exercises) < 2:
        return _read_level(reading, level)
    superlative = _read_superlative(reading, vocabulary)
    if superlative is not None:
        return superlative
    reading = _read_comparison(reading, vocabulary)
    if reading.kind == "comparison" and not exercises and reading.link is None:
        return replace(reading, kind="principle")
    return reading


def _is_practice(text: str) -> bool:
    cues = load_cues()["practice"]
    first = re.match(r"[\w']+", text)
    starts = first is not None and first.group().lower() in cues["at_start"]
    return (
        starts
        or find_phrase(text, cues["anywhere"]) is not None
        or re.search(r"\blikes?\b.*\b(better|more) than\b", text, re.I) is not None
    )


def _read_association(reading: Reading, word: str) -> Reading:
    cues = load_cues()
    if negated := find_phrase(reading.text, cues["negations"]):
        how = "says that they do not go together: state the association that you doubt, and weigh it"
        return replace(reading, direction_text=f"{negated} {word}", direction_how=how)
    if found := find_phrase(reading.text, cues["association_less"]):
        return replace(reading, direction=Direction.LESS, direction_text=found)
    if find_phrase(word, cues["association_sign"]):
        how = "no sign is said; more of one with more of the other is taken"
        return replace(reading, direction=Direction.MORE, direction_text=word, direction_how=how)
    if found := find_phrase(reading.text, ["positively"]):
        return replace(reading, direction=Direction.MORE, direction_text=found)
    how = "no sign is said: any association is taken"
    return replace(reading, direction=Direction.DIFFERS, direction_text=word, direction_how=how)


def _read_trend(reading: Reading) -> Reading | None:
    """`the deeper ..., the more ...`; `falls as hip angle increases`; `more sets lead to more growth`."""
    text = reading.text
    for row in load_cues()["graded"]:
        up, down = search_phrase(text, row["up"]), search_phrase(text, row["down"]) if row["down"] else None
        noun = search_phrase(text, row["nouns"])
        found = up or down or noun
        if found is None:
            continue
        rest = f"{text[: found.start()]} {text[found.end() :]}"
        comparing = search_phrase(text, load_cues()["compare"]["links"]) is not None
        graded = re.search(r"\b(with|as|by)\b[^,]*$", text[: found.start()]) or re.match(
            r"\s*(increases|rises|grows|goes up|decreases|falls)", text[found.end() :]
        )
        paired = re.search(r"\bthe\b\s*$", text[: found.start()]) and "," in text
        leads = re.search(r"\b(leads?|means?|gives?|produces?|results?)\b", rest)
        if not (
            paired
            or (noun and not (up or down) and graded)
            or ((up or down) and leads)
            or ((up or down) and not comparing)
        ):
            continue
        sign = -1 if down and not up else 1
        if not (up or down) and re.search(r"\b(decreases|falls|drops|goes down)\b", text[found.end() :]):
            sign = -1
        outcome = _way(rest if up or down else text[: found.start()] or rest)
        if outcome is None:
            outcome = Direction.MORE
        way = outcome if sign == 1 else _opposite(outcome)
        return replace(
            reading,
            kind="trend",
            direction=way,
            direction_text=found.group(),
            detail=row["detail"],
            detail_text=found.group(),
            detail_note=row.get("note", ""),
        )
    return None


def _way(text: str) -> Direction | None:
    """More or less, by the first word that says so."""
    cues = load_cues()["direction"]
    found = [
        (m.start(), d) for d in (Direction.LESS, Direction.MORE) for m in all_phrases(text, cues[str(d)])
    ]
    verb = search_phrase(text, [w for words in load_cues()["verbs"].values() for w in words])
    if found:
        return min(found)[1]
    return Direction.MORE if verb else None


def _opposite(direction: Direction) -> Direction:
    return {Direction.MORE: Direction.LESS, Direction.LESS: Direction.MORE}.get(direction, direction)


def _read_level(reading: Reading, level: re.Match[str]) -> Reading:
    cues = load_cues()["level"]
    less = search_phrase(reading.text, cues["less"])
    more = search_phrase(reading.text, cues["more"])
    found = less or more
    return replace(
        reading,
        kind="level",
        level=float(level[1].replace(",", ".")),
        level_text=level.group(),
        direction=Direction.LESS if less else Direction.MORE,
        direction_text=found.group() if found else "",
        direction_how="" if found else "at least that level is taken",
    )


def _read_superlative(reading: Reading, vocabulary: Vocabulary) -> Reading | None:
    cues, text = load_cues(), reading.text
    nothing = search_phrase(text, cues["nothing_like"])
    found = nothing or search_phrase(text, cues["superlative"])
    if found is None or (not nothing and len(reading.of_kind("exercise")) > 1):
        return None
    if not nothing and find_phrase(text, cues["negations"]):
        how = "says that it is not the best: state it against the exercise that is better, or confirm"
        return replace(reading, kind="superlative", direction_text=found.group(), direction_how=how)
    return replace(reading, kind="superlative", direction=Direction.MORE, direction_text=found.group())


def _read_comparison(reading: Reading, vocabulary: Vocabulary) -> Reading:
    """More, less, the same or different, with what negates it."""
    cues, text = load_cues(), reading.text
    leading = search_phrase(text, cues["compare"]["leading"])
    is_leading = leading is not None and leading.start() == 0
    reading = replace(reading, link=_find_link(text), leading=is_leading)
    harm = _speaks_of_harm(text, reading)
    kind = "rate" if harm else "comparison"
    same, negated = search_phrase(text, cues["sameness"]), search_phrase(text, cues["negations"])
    for way, phrases in cues["multiple"].items():
        times = search_phrase(text, phrases)
        if times and not negated:
            return replace(reading, kind=kind, direction=Direction(way), direction_text=times.group())
    doubtful = search_phrase(text, cues["not_worse"])
    if doubtful:
        return _doubtful(reading, doubtful.group())
    if same:
        if negated and not re.match(r"no\b", same.group(), re.I):
            if re.search(r"\bas (\w+ )?as\b", same.group()):
                return replace(
                    reading,
                    kind=kind,
                    direction=Direction.LESS,
                    direction_text=f"{negated.group()} {same.group()}",
                )
            return replace(
                reading,
                kind=kind,
                direction=Direction.DIFFERS,
                direction_text=f"{negated.group()} {same.group()}",
            )
        return replace(reading, kind="sameness", direction=Direction.SAME, direction_text=same.group())
    found = _pointing(reading.bare)
    if found is None:
        if harm and find_phrase(text, ["cause*", "leads to"]):
            return replace(reading, kind=kind, direction=Direction.MORE)
        return replace(reading, kind=kind, direction_how="which of the two gives more?")
    word, way = found
    if way is not Direction.DIFFERS and negated:
        return _doubtful(reading, f"{negated.group()} ... {word}")
    judging = find_phrase(word, cues["judging"]) is not None
    if harm and judging:
        return replace(
            reading,
            kind=kind,
            direction=_opposite(way),
            direction_text=word,
            direction_how="better is read as less of it",
        )
    return replace(reading, kind=kind, direction=way, direction_text=word)


def _doubtful(reading: Reading, words: str) -> Reading:
    how = "may say that they are the same, that it is less, or only that more is not shown: which?"
    return replace(
        reading,
        kind="sameness",
        direction=Direction.SAME,
        direction_text=words,
        direction_how=how,
        direction_asked=True,
    )


def _find_link(text: str) -> re.Match[str] | None:
    """What stands between the sides; of several the first that is not part of a figure ("over 8 weeks")."""
    for match in all_phrases(text, load_cues()["compare"]["links"]):
        if match.group().lower() in ("over", "against") and re.match(r"\s*\d", text[match.end() :]):
            continue
        return match
    return None


def _speaks_of_harm(text: str, reading: Reading) -> bool:
    cues = load_cues()
    without_people = re.sub(r"\b(people|patients|adults|those) with [\w ]+", " ", text, flags=re.IGNORECASE)
    words = [w for c in HARM for w in (*cues["nouns"].get(c, []), *cues["verbs"].get(c, []))]
    return find_phrase(without_people, words) is not None


def _pointing(text: str) -> tuple[str, Direction] | None:
    """The word that says more, less or different: the one nearest before "than", else the first."""
    cues = load_cues()["direction"]
    found = [
        (m.start(), m.group(), Direction(d)) for d, words in cues.items() for m in all_phrases(text, words)
    ]
    if not found:
        return None
    than = search_phrase(text, ["than"])
    before = [item for item in found if than and item[0] < than.start()]
    strict = [item for item in before if item[1].lower() in ("more", "less", "fewer")]
    chosen = max(before) if before else min(found)
    if strict:
        chosen = max(strict)
    return chosen[1], chosen[2]
