"""The whole vocabulary: what is known, how names are found in it, and the defaults that go with it."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

from evidence.errors import NotFound
from evidence.vocabulary.index import Name, NameIndex
from evidence.vocabulary.model import (
    Caution,
    Construct,
    DefaultCorrelation,
    Design,
    Exercise,
    Health,
    Instrument,
    Margin,
    MeasurementError,
    OwnName,
    Region,
    SetCounting,
    SharedName,
    SizeScale,
    Term,
    TrainingStatus,
    Unit,
    WordLists,
    Worthwhile,
)
from evidence.vocabulary.names import Candidate, Lookup, key_of, words_of

_GRIP_SYNONYMS = {"overhand": "pronated", "underhand": "supinated", "close": "narrow"}
_E = TypeVar("_E", Margin, Worthwhile)


@dataclass(frozen=True)
class Vocabulary:
    """Everything the shipped data files hold, plus what a user added (`with_own`). Mappings are keyed by id.

    `version` is a digest of the data files, to be kept with whatever was computed from them.
    """

    regions: Mapping[str, Region]
    exercises: Mapping[str, Exercise]
    constructs: Mapping[str, Construct]
    normalisations: Mapping[str, Term]
    designs: Mapping[str, Design]
    training_statuses: Mapping[str, TrainingStatus]
    unclear_statuses: tuple[str, ...]
    sexes: Mapping[str, Term]
    healths: Mapping[str, Health]
    units: Mapping[str, Unit]
    correlations: tuple[DefaultCorrelation, ...]
    margins: tuple[Margin, ...]
    worthwhile: tuple[Worthwhile, ...]
    size_scales: tuple[SizeScale, ...]
    set_counting: SetCounting
    measurement_errors: tuple[MeasurementError, ...]
    cautions: Mapping[str, Caution]
    never_say: tuple[str, ...]
    medical_disclaimer: str
    shared_names: Mapping[str, tuple[SharedName, ...]]  # by kind: "exercise", "region"
    extra_names: tuple[OwnName, ...]
    own_names: tuple[OwnName, ...]
    words: WordLists
    version: str

    # -- the trees ---------------------------------------------------------------------------------

    def ancestors(self, region: str) -> tuple[str, ...]:
        """Ids of the regions that hold `region`, nearest first. NotFound for an unknown id."""
        return self._region_lines[self._region(region).id]

    def descendants(self, region: str) -> tuple[str, ...]:
        """Ids of all regions inside `region`, itself not among them. NotFound for an unknown id."""
        outer = self._region(region).id
        return tuple(n for n, line in self._region_lines.items() if n != outer and outer in line)

    def exercise_ancestors(self, exercise: str) -> tuple[str, ...]:
        """Ids of the exercises of which `exercise` is a variant, nearest first."""
        return self._exercise_lines[self._exercise(exercise).id]

    def exercise_descendants(self, exercise: str) -> tuple[str, ...]:
        """Ids of the variants of `exercise`, itself not among them."""
        parent = self._exercise(exercise).id
        return tuple(n for n, line in self._exercise_lines.items() if n != parent and parent in line)

    @cached_property
    def _region_lines(self) -> Mapping[str, tuple[str, ...]]:
        """What holds each region, nearest first: asked very often while many claims are weighed."""
        parents = {r.id: r.parent for r in self.regions.values()}
        return {name: _climb(name, parents) for name in parents}

    @cached_property
    def _exercise_lines(self) -> Mapping[str, tuple[str, ...]]:
        """What each exercise is a variant of, nearest first."""
        parents = {e.id: e.parent for e in self.exercises.values()}
        return {name: _climb(name, parents) for name in parents}

    def exercise_family(self, exercise: str) -> tuple[str, ...]:
        """The topmost exercise that `exercise` is a variant of, and all its variants, that one first."""
        top = (exercise, *self.exercise_ancestors(exercise))[-1]
        return (top, *self.exercise_descendants(top))

    def _region(self, region: str) -> Region:
        if region not in self.regions:
            raise NotFound(f'no region has the id "{region}"', hint=_nearest(self.find_region(region)))
        return self.regions[region]

    def _exercise(self, exercise: str) -> Exercise:
        if exercise not in self.exercises:
            raise NotFound(
                f'no exercise has the id "{exercise}"', hint=_nearest(self.find_exercise(exercise))
            )
        return self.exercises[exercise]

    # -- finding by name ---------------------------------------------------------------------------

    def find_exercise(self, text: str) -> Lookup:
        """The exercise that `text` names. A bare region ("Calves") gives its exercises as candidates."""
        found = self._exercise_index.find(text)
        if found.outcome == "match" and not found.unused:
            return found
        region = self._region_index.find(text)
        if region.outcome != "match" or region.match is None or region.unused or found.outcome == "match":
            return found
        inside = {region.match, *self.descendants(region.match)}
        reason = f'"{text.strip()}" is a region; this exercise works it'
        works = [
            Candidate(e.id, e.name, 60.0, reason) for e in self.exercises.values() if inside & set(e.primary)
        ]
        return Lookup(text, "ambiguous", None, tuple(works)) if works else found

    def find_region(self, text: str) -> Lookup:
        """The region that `text` names. A text that names two ("trapezius/rhomboids") gives both."""
        found = self._region_index.find(text)
        parts = [part for part in re.split(r"\s*(?:/|\+|&|,|;|\band\b)\s*", text) if part.strip()]
        exact = found.outcome == "match" and not found.unused
        if exact or len(parts) < 2:
            return found
        ids = dict.fromkeys(filter(None, (self._find_part(parts, i) for i in range(len(parts)))))
        if len(ids) < 2:
            return found
        reason = f'"{text.strip()}" names more than one region'
        both = tuple(Candidate(i, self.regions[i].name, 90.0, reason) for i in ids)
        return Lookup(text, "ambiguous", None, both)

    def _find_part(self, parts: Sequence[str], index: int) -> str | None:
        """The region named by one part of a list, where shared words stand once ("rectus + vastus")."""
        part, first, last = parts[index], parts[0].split(), parts[-1].split()
        for text in (part, " ".join([*first[:-1], part]), " ".join([part, *last[1:]])):
            found = self._region_index.find(text)
            if found.outcome == "match":
                return found.match
        return None

    def find_construct(self, text: str) -> Lookup:
        """The construct that `text` names, by its own name or an instrument's ("1RM" -> strength)."""
        found = self._construct_index.find(text)
        if found.outcome == "match":
            return found
        tool = self.find_instrument(text)
        if tool.outcome != "match" or tool.match is None:
            return found
        construct = self.constructs[self.instruments[tool.match].construct]
        reason = f"measured by {self.instruments[tool.match].name}"
        return Lookup(text, "match", construct.id, (Candidate(construct.id, construct.name, 100.0, reason),))

    def find_instrument(self, text: str) -> Lookup:
        """The instrument that `text` names."""
        return self._instrument_index.find(text)

    def find_normalisation(self, text: str) -> Lookup:
        """The way of normalising an EMG amplitude that `text` names."""
        return _find_listed(text, self.normalisations)

    def find_design(self, text: str) -> Lookup:
        """The study design that `text` names."""
        return _find_listed(text, self.designs)

    def find_training_status(self, text: str) -> Lookup:
        """The training status that `text` names. Words that are no level ("well-trained") are asked about."""
        if key_of(text) in {key_of(word) for word in self.unclear_statuses}:
            reason = f'"{text.strip()}" is no level by itself'
            ranked = [s for s in self.training_statuses.values() if s.rank is not None]
            return Lookup(
                text, "ambiguous", None, tuple(Candidate(s.id, s.name, 50.0, reason) for s in ranked)
            )
        return _find_listed(text, self.training_statuses)

    def find_sex(self, text: str) -> Lookup:
        """The sex of participants that `text` names: female, male, both, not stated."""
        return _find_listed(text, self.sexes)

    def find_health(self, text: str) -> Lookup:
        """The state of health that `text` names."""
        return _find_listed(text, self.healths)

    def find_unit(self, text: str) -> Unit | None:
        """The unit written `text`, by exact symbol first, then without regard to case; None if unknown."""
        return self._unit_symbols.get(text.strip()) or self._unit_names.get(text.strip().casefold())

    # -- defaults and cautions ---------------------------------------------------------------------

    @cached_property
    def instruments(self) -> Mapping[str, Instrument]:
        """All instruments of all constructs."""
        return {tool.id: tool for construct in self.constructs.values() for tool in construct.instruments}

    def default_correlation(self, construct: str, situation: str) -> DefaultCorrelation:
        """The correlation to assume for `construct` in `situation`: "pre-post", "between conditions", ..."""
        for wanted in (construct, "*"):
            for entry in self.correlations:
                if entry.construct == wanted and entry.situation == situation:
                    return entry
        known = ", ".join(sorted({entry.situation for entry in self.correlations}))
        raise NotFound(f'no default correlation for the situation "{situation}"', hint=f"Known: {known}.")

    def margin(self, construct: str, metric: str) -> Margin | None:
        """The default margin of sameness; None where there is none and a person must set it."""
        return _first(self.margins, construct, metric)

    def smallest_worthwhile(self, construct: str, metric: str) -> Worthwhile | None:
        """The default smallest difference worth having; None where there is none."""
        return _first(self.worthwhile, construct, metric)

    def cautions_for(self, text: str) -> tuple[Caution, ...]:
        """The cautions whose words stand in `text`."""
        words = words_of(text)
        joined = f" {' '.join(words)} "
        return tuple(
            caution
            for caution in self.cautions.values()
            if any(f" {' '.join(words_of(word))} " in joined for word in caution.words)
        )

    # -- a user's own ------------------------------------------------------------------------------

    def with_own(self, exercises: Iterable[Exercise] = (), aliases: Iterable[OwnName] = ()) -> "Vocabulary":
        """This vocabulary with a user's exercises and names. Own names win over shipped and shared ones.

        NotFound where a name points to nothing, a parent or a region is unknown.
        """
        added = {e.id: replace(e, origin="own") for e in exercises}
        grown = replace(self, exercises={**self.exercises, **added})
        for exercise in added.values():
            for region in (*exercise.primary, *exercise.secondary):
                grown._region(region)
            if exercise.parent:
                grown._exercise(exercise.parent)
        names = tuple(aliases)
        for name in names:
            _ = grown._exercise(name.target) if name.kind == "exercise" else grown._region(name.target)
        return replace(grown, own_names=(*self.own_names, *names))

    # -- indexes, built when first asked -----------------------------------------------------------

    @cached_property
    def _exercise_index(self) -> NameIndex:
        names = [Name(e.id, e.id, 0) for e in self.exercises.values()]
        shared = list(self.shared_names.get("exercise", ()))
        for e in self.exercises.values():
            names += [Name(text, e.id, 1) for text in {e.name, _unbracketed(e.name)}]
            names += [Name(text, e.id, 2) for text in e.names]
            listed = {key_of(s.text) for s in shared}
            shared += [SharedName(text, (e.id,)) for text in e.unsure_names if key_of(text) not in listed]
        words = self.words
        return NameIndex(
            names + self._extra("exercise"),
            {e.id: e.name for e in self.exercises.values()},
            words,
            shared=shared,
            own=[(n.name, n.target) for n in self.own_names if n.kind == "exercise"],
            details=words.neutral | words.grips,
            objection=self._object_to_exercise,
            kind="exercise",
        )

    @cached_property
    def _region_index(self) -> NameIndex:
        muscles = [r for r in self.regions.values() if r.kind == "muscle"]
        names = [Name(r.id, r.id, 0) for r in muscles]
        for r in muscles:
            names += [Name(text, r.id, 1) for text in {r.name, _unbracketed(r.name), r.latin} if text]
            names += [Name(text, r.id, 2) for text in r.names]
        sides = self.words.sides
        return NameIndex(
            names + self._extra("region"),
            {r.id: r.name for r in muscles},
            self.words,
            shared=self.shared_names.get("region", ()),
            own=[(n.name, n.target) for n in self.own_names if n.kind == "region"],
            details=sides,
            objection=lambda _entry, left: next((word for word in left if word not in sides), None),
            kind="region",
        )

    def _extra(self, kind: str) -> list[Name]:
        return [Name(n.name, n.target, 2) for n in self.extra_names if n.kind == kind]

    def _object_to_exercise(self, entry: str, left: Sequence[str]) -> str | None:
        """The first left-over word that tells of another exercise: an implement not in use, ..."""
        words, exercise = self.words, self.exercises[entry]
        one_sided = "unilateral" in exercise.laterality
        for word in left:
            if word in words.implements:
                fits = word in words_of(exercise.implement)
            elif word in words.positions:
                fits = word in words_of(exercise.position)
            elif word in words.grips:
                grip = words_of(exercise.grip)
                fits = not grip or "any" in grip or bool({word, _GRIP_SYNONYMS.get(word, word)} & set(grip))
            elif word in words.laterality or word in ("leg", "arm", "hand"):
                fits = one_sided
            else:
                fits = word in words.neutral
            if not fits:
                return word
        return None

    @cached_property
    def _construct_index(self) -> NameIndex:
        return _plain_index(self.constructs.values(), self.words, "construct")

    @cached_property
    def _instrument_index(self) -> NameIndex:
        return _plain_index(self.instruments.values(), self.words, "instrument")

    @cached_property
    def _unit_symbols(self) -> Mapping[str, Unit]:
        return {symbol: unit for unit in self.units.values() for symbol in (unit.id, *unit.names)}

    @cached_property
    def _unit_names(self) -> Mapping[str, Unit]:
        # "mV" and "MV" differ, but no unit here differs from another by case alone where a name is long.
        return {s.casefold(): unit for unit in self.units.values() for s in (*unit.names, unit.id)}


def _plain_index(entries: Iterable[Construct | Instrument], words: WordLists, kind: str) -> NameIndex:
    listed = list(entries)
    names = [Name(entry.id, entry.id, 0) for entry in listed]
    names += [Name(entry.name, entry.id, 1) for entry in listed]
    names += [Name(text, entry.id, 2) for entry in listed for text in entry.names]
    titles = {entry.id: entry.name for entry in listed}
    neutral = words.sides | {"max", "maximal", "peak", "mean"}
    return NameIndex(
        names,
        titles,
        words,
        details=words.sides,
        objection=lambda _entry, left: next((word for word in left if word not in neutral), None),
        kind=kind,
    )


def _find_listed(
    text: str,
    entries: Mapping[str, Term] | Mapping[str, Design] | Mapping[str, TrainingStatus] | Mapping[str, Health],
) -> Lookup:
    """Exact look-up in a short list; without a match the whole list is offered."""
    key = key_of(text)
    for entry in entries.values():
        if key and key in {key_of(entry.id), key_of(entry.name), *map(key_of, entry.names)}:
            return Lookup(
                text, "match", entry.id, (Candidate(entry.id, entry.name, 100.0, "a known name of it"),)
            )
    return Lookup(
        text, "none", None, tuple(Candidate(e.id, e.name, 0.0, "in the list") for e in entries.values())
    )


def _first(entries: tuple[_E, ...], construct: str, metric: str) -> _E | None:
    for wanted in (construct, "*"):
        for entry in entries:
            if entry.construct == wanted and entry.metric == metric:
                return entry
    return None


def _climb(start: str, parents: Mapping[str, str | None]) -> tuple[str, ...]:
    path: list[str] = []
    step = parents.get(start)
    while step is not None and step not in path:  # a user's own entries may loop
        path.append(step)
        step = parents.get(step)
    return tuple(path)


def _unbracketed(text: str) -> str:
    return re.sub(r"\s*\([^)]*\)", "", text)


def _nearest(found: Lookup) -> str | None:
    return f"Nearest: {', '.join(c.id for c in found.candidates[:3])}." if found.candidates else None
