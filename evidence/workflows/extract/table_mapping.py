"""From the labels of a pasted table to a study's conditions, regions, outcomes and times: matched, or asked about."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition
from evidence.errors import BadInput
from evidence.reading.table import ReadCell
from evidence.vocabulary import Lookup, Vocabulary
from evidence.vocabulary.index import ALIKE_RATIO
from evidence.vocabulary.names import key_of
from evidence.vocabulary.terms import Timepoint

SKIP = "skip"
TIME_WORDS = {
    Timepoint.PRE: (
        "pre", "baseline", "before", "pretest", "pre test", "pre training", "week 0", "t0", "vor", "vorher", "vortest",
        "avant", "antes", "trước",
    ),
    Timepoint.POST: (
        "post", "after", "posttest", "post test", "post training", "after training", "after st", "nach", "nachher",
        "nachtest", "après", "después", "depois", "postest", "sau",
    ),
    Timepoint.FOLLOW_UP: ("follow up", "followup", "detraining", "retention"),
    Timepoint.MID: ("mid", "midpoint", "mid test"),
    Timepoint.OVER: ("change", "difference", "delta", "post pre"),
}  # fmt: skip
NEGATIONS = frozenset({"not", "no", "non", "without"})
# A region must be known for what is measured on a muscle.
ON_A_MUSCLE = ("activation", "hypertrophy")


SITE = re.compile(  # parts and sides of muscles as headings shorten them: common practice, no source
    r"(?:lat|med|ant|post|prox|mid|dist|sup|inf)(?:\.|[a-z]*(?:al|ior|dle))?|upper|lower|left|right|dominant|non-?dominant",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cell belongs in a study; None where nothing in the table says so."""

    condition: str | None = None
    region: str | None = None
    outcome: str | None = None
    timepoint: Timepoint | None = None
    people: str | None = None


@dataclass(frozen=True, slots=True)
class Unclear:
    """A label that could not be placed, with what it may be."""

    label: str
    candidates: tuple[str, ...]


class LabelReader:
    """Reads the labels of one table against one study. `says`: what the user said a label stands for."""

    def __init__(self, rows: StudyRows, vocabulary: Vocabulary, says: Mapping[str, str]) -> None:
        self.rows = rows
        self.vocabulary = vocabulary
        self.says = {fold(name): meaning for name, meaning in says.items()}
        self.times = times_of(rows.study.weeks)
        self.unclear: dict[str, Unclear] = {}
        self._known: dict[str, Place | None] = {}
        for meaning in self.says.values():
            self.said(meaning)  # an answer that names nothing is refused at once

    def place(self, cell: ReadCell) -> Place | None:
        """Where a cell belongs, from all its labels together; None: the user said to skip it."""
        found = Place()
        for label in self.labels(cell):
            place = self.read(label)
            if place is None:
                return None
            found = joined(found, place)
        return found

    def labels(self, cell: ReadCell) -> list[str]:
        """The single labels of a cell, stacked headers taken apart; a head that was answered as a whole stays whole."""
        whole = fold(cell.column) in self.says and (cell.group or "") in cell.column
        heads = [cell.column] if whole else cell.column.split(" / ")
        texts = [cell.timepoint, None if whole else cell.group, cell.section, *heads, *cell.row.split(" / ")]
        return list(dict.fromkeys(t.strip() for t in texts if t and t.strip()))

    def read(self, label: str) -> Place | None:
        """What one label says, remembered for the table."""
        key = fold(label)
        if key not in self._known:
            self._known[key] = self.answered(label) if key in self.says else self.recognise(label)
        return self._known[key]

    def answered(self, label: str) -> Place | None:
        """What the user said a label is; a time that the label itself names ("BSS pre", said to be BSS) stays."""
        place, parted = self.said(self.says[fold(label)]), self.part_time(label)
        return joined(place, Place(timepoint=parted[0])) if place is not None and parted else place

    def said(self, meaning: str) -> Place | None:
        """What the user said a label is: a key of the study, an exercise, a region, a time, or "skip"."""
        if meaning == SKIP:
            return None
        if meaning in set(Timepoint):
            return Place(timepoint=Timepoint(meaning))
        for condition in self.rows.conditions:
            if meaning in (condition.key, condition.exercise):
                return Place(condition=condition.key)
        for outcome in self.rows.outcomes:
            if meaning == outcome.key:
                return Place(outcome=outcome.key)
        for group in self.rows.people:
            if meaning == group.key:
                return Place(people=group.key)
        if meaning in self.vocabulary.regions:
            return Place(region=meaning)
        raise BadInput(
            f'"{meaning}" is no condition, outcome or group of this study, no region and no time.',
            hint="Use one of their keys, a region's id, pre, post, acute, or skip.",
        )

    def recognise(self, label: str) -> Place | None:
        """What a label says by itself; a label that may be several things is noted as unclear; None: to be skipped."""
        words = fold(label)
        for time, names in self.times.items():
            if words in names:
                return Place(timepoint=time)
        conditions = [c.key for c in self.rows.conditions if words in (fold(c.printed), fold(c.key))]
        if len(conditions) == 1:
            return Place(condition=conditions[0])
        for outcome in self.rows.outcomes:
            if words in (fold(outcome.key), fold(outcome.instrument), fold(outcome.unit)):
                return Place(outcome=outcome.key)
        for group in self.rows.people:
            if words in (fold(group.key), fold(group.label)):
                return Place(people=group.key)
        parted = self.part_time(label)
        if (
            parted is None or len(self.conditions_alike(label)) == 1
        ):  # a time word may belong to a condition's name
            return self.recognise_names(label)
        time, rest = parted
        place = self.read(rest)
        return joined(place, Place(timepoint=time)) if place is not None else None

    def part_time(self, label: str) -> tuple[Timepoint, str] | None:
        """A label that begins or ends with a time, as that time and the rest: `BSS pre`, `Week 8, leg press`."""
        told = spaced(label).split()
        words = [word.casefold() for word in told]
        names = [(name.split(), time) for time, names in self.times.items() for name in names]
        for name, time in sorted(names, key=lambda item: -len(item[0])):
            if len(name) < len(words) and words[-len(name) :] == name:
                return time, " ".join(told[: -len(name)])
            if len(name) < len(words) and words[: len(name)] == name:
                return time, " ".join(told[len(name) :])
        return None

    def recognise_names(self, label: str) -> Place:
        """A label as an exercise of the study or a region; both, or several of one, is a question."""
        exercise, region = self.vocabulary.find_exercise(label), self.vocabulary.find_region(label)
        alike = self.conditions_alike(label)
        if region.match and not exercise.match:
            return Place(region=region.match)
        if len(alike) == 1 and not region.match:
            return Place(condition=alike[0])
        meant = [e for e in possible(exercise) if any(c.exercise == e for c in self.rows.conditions)]
        done = [c.key for c in self.rows.conditions if c.exercise in meant]
        if exercise.match and len(done) == 1 and not region.match:
            return Place(condition=done[0])
        muscles = possible(region)
        if len(muscles) == 1 and region.match and not done:
            return Place(region=muscles[0])
        likely = [*alike, *done, *muscles] or [*self.conditions_spelt_like(label), *spelt_like(region)]
        self.unclear[label] = Unclear(label, tuple(dict.fromkeys(likely)))
        return Place()

    def conditions_spelt_like(self, label: str) -> list[str]:
        """Conditions of the study whose name is spelt nearly so, best first."""
        from rapidfuzz import fuzz

        def alike(condition: Condition) -> float:
            known = self.vocabulary.exercises.get(condition.exercise or "")
            names = [condition.printed, condition.key, known.name if known else ""]
            return max(fuzz.ratio(key_of(label), key_of(name or "")) for name in names)

        near = [(alike(c), c.key) for c in self.rows.conditions]
        return [key for ratio, key in sorted(near, reverse=True) if ratio >= ALIKE_RATIO]

    def conditions_alike(self, label: str) -> list[str]:
        """Conditions whose printed name holds all words of the label.

        Of two that differ by a negation alone, the one that says as the label does.
        """
        words = set(fold(label).split())
        held = {
            c.key: set(fold(c.printed).split())
            for c in self.rows.conditions
            if words <= set(fold(c.printed).split())
        }
        return [
            key
            for key, mine in held.items()
            if not any(mine - other <= NEGATIONS and mine > other for other in held.values())
        ]


def possible(found: Lookup) -> list[str]:
    """The ids that a name may stand for; none for a name that is only near to some."""
    if found.outcome == "none":
        return []
    return [found.match] if found.match else [c.id for c in found.candidates]


def spelt_like(found: Lookup) -> list[str]:
    """The ids of entries whose name is spelt nearly so; none for one that merely shares a word."""
    return [c.id for c in found.candidates if c.reason.startswith("spelt like")]


def joined(one: Place, other: Place) -> Place:
    """Two places as one; what the first already says stands."""
    return Place(
        one.condition or other.condition,
        one.region or other.region,
        one.outcome or other.outcome,
        one.timepoint or other.timepoint,
        one.people or other.people,
    )


def times_of(weeks: float | None) -> dict[Timepoint, tuple[str, ...]]:
    """The words for each time; the last week of a study, where its length is known, is the time after it."""
    if not weeks or weeks != int(weeks):
        return TIME_WORDS
    last = int(weeks)
    ends = (f"week {last}", f"wk {last}", f"{last} weeks", f"{last} wk", f"after {last} weeks")
    return TIME_WORDS | {Timepoint.POST: (*TIME_WORDS[Timepoint.POST], *ends)}


def spaced(text: str) -> str:
    """A label with spaces for its punctuation."""
    return "".join(c if c.isalnum() or c == "%" else " " for c in text)


def fold(text: str) -> str:
    """A label as compared: case, punctuation and spacing aside."""
    return " ".join(spaced(text.casefold()).split())


def missing_parts(place: Place, construct: str | None) -> list[str]:
    """What must still be known before a cell can be stored."""
    needed = [("condition", place.condition), ("outcome", place.outcome), ("time", place.timepoint)]
    if construct in ON_A_MUSCLE:
        needed.append(("region", place.region))
    return [name for name, value in needed if value is None]


def unit_beside(unit: str | None, usual: str) -> str | None:
    """A unit of a cell that is not its outcome's; what stands in brackets may say a side or a part: "Ham. (lat)"."""
    return unit if unit and unit != usual and not SITE.fullmatch(unit) else None
