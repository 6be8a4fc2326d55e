"""From names as written to exercises:

matched, assumed openly, or asked about, with the rest of the session in view.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from evidence.reading.programme_cells import Ledger
from evidence.reading.programme_limits import find_excesses
from evidence.reading.programme_lines import Written
from evidence.reading.programme_model import Assumption, Pick, Question
from evidence.vocabulary import Lookup, Vocabulary
from evidence.vocabulary.names import is_abbreviation, key_of, words_of

_LOWER = frozenset(
    ["leg", "lower", "quad", "quadriceps", "hamstring", "ham", "glute", "calf", "squat", "hinge"]
)
_PARTS = re.compile(r"[,;/+]|\band\b")
_UPPER = frozenset(["upper", "push", "pull", "chest", "back", "arm", "shoulder", "bench", "press"])


@dataclass(frozen=True, slots=True)
class WrittenPick:
    """A pick as written, its place, and what reading its figures took for granted or left open."""

    written: Written
    where: str
    ledger: Ledger
    reason: str | None = None
    warm_up_sets: tuple[float, float | None] | None = None
    chosen_for: tuple[str, ...] = ()  # as written


@dataclass(slots=True)
class Told:
    """Questions and assumptions of a whole programme, each told once."""

    questions: list[Question] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)
    _seen: set[str] = field(default_factory=set)

    def ask(self, text: str, where: str, topic: str, candidates: Iterable[str] = ()) -> None:
        if text not in self._seen:
            self._seen.add(text)
            self.questions.append(Question(text, where, topic, tuple(candidates)))

    def assume(self, text: str, where: str) -> None:
        if text not in self._seen:
            self._seen.add(text)
            self.assumptions.append(Assumption(text, where))

    def take(self, ledger: Ledger, where: str) -> None:
        """Tell what the figures of one pick left open.

        Topics that hold for the whole programme are asked once.
        """
        for text in ledger.assumed:
            self.assume(text, where)
        for topic, text in ledger.asked:
            self.ask(text if topic in ("TM", "counting", "dates") else f"{text}", where, topic)


def name_picks(
    session: str, written: Sequence[WrittenPick], vocabulary: Vocabulary, told: Told
) -> tuple[Pick, ...]:
    """The picks of one session with their exercises; what is unsure goes to `told`."""
    found = [vocabulary.find_exercise(item.written.name) for item in written]
    setting = _Setting(session, found, vocabulary)
    picks = []
    for place, item in enumerate(written):
        lower = setting.is_lower_around(place)
        exercise = _settle(item, found[place], lower, vocabulary, told)
        told.take(item.ledger, item.where)
        picks.append(_make_pick(item, found[place], exercise, vocabulary, told))
    return tuple(picks)


class _Setting:
    """A session as the setting of its picks: for the legs or not, by its name or by its other exercises."""

    def __init__(self, session: str, found: Sequence[Lookup], vocabulary: Vocabulary) -> None:
        words = set(words_of(session))
        lower, upper = bool(words & _LOWER), bool(words & _UPPER)
        self._by_name = lower if lower != upper else None
        self._votes = [
            None if f.match is None or _is_guess(f) else _is_lower(f.match, vocabulary) for f in found
        ]
        self._lower, self._known = self._votes.count(True), sum(vote is not None for vote in self._votes)

    def is_lower_around(self, place: int) -> bool | None:
        """Whether the session around one pick is for the legs; None where nothing tells."""
        own = self._votes[place]
        known = self._known - (own is not None)
        if self._by_name is not None or not known:
            return self._by_name
        return (self._lower - (own is True)) / known >= 0.5


def _is_short(found: Lookup) -> bool:
    return found.broad and is_abbreviation(found.text)


def _is_guess(found: Lookup) -> bool:
    """Whether a match says too little to judge the rest of the session by: two letters."""
    return _is_short(found) and len(key_of(found.text)) <= 2


def _settle(
    item: WrittenPick, found: Lookup, lower: bool | None, vocabulary: Vocabulary, told: Told
) -> str | None:
    """The exercise of one pick, or None where a person must say."""
    name = item.written.name
    if found.match is not None and not found.broad:
        return found.match
    if found.match is not None:
        title = vocabulary.exercises[found.match].name
        if _is_short(found) and lower is not None and lower != _is_lower(found.match, vocabulary):
            told.ask(
                f"{name}: {title}, in a session of other exercises?", item.where, "exercise", (found.match,)
            )
            return None
        setting = ", in a lower-body session" if _is_short(found) and lower else ""
        told.assume(f'"{name}" is read as {title}{setting}', item.where)
        return found.match
    if lower and not found.other and key_of(name) not in _shared_keys(vocabulary):
        guess = _with_leg(name, vocabulary)
        if guess is not None:
            title = vocabulary.exercises[guess].name
            told.assume(f'"{name}" beside leg exercises is read as {title}', item.where)
            return guess
    _ask_exercise(item, found, vocabulary, told)
    return None


def _ask_exercise(item: WrittenPick, found: Lookup, vocabulary: Vocabulary, told: Told) -> None:
    name = item.written.name
    options = [*(c.name for c in found.candidates[:4]), *found.other]
    listed = ", ".join(options[:-1]) + f" or {options[-1]}" if len(options) > 1 else "".join(options)
    if found.outcome == "none":
        near = f"; nearest: {listed}" if listed else ""
        text = f'exercise "{name}" is not in the vocabulary{near}'
    else:
        text = f'exercise of "{name}": {listed}?'
    told.ask(text, item.where, "exercise", [c.id for c in found.candidates])


def _make_pick(
    item: WrittenPick, found: Lookup, exercise: str | None, vocabulary: Vocabulary, told: Told
) -> Pick:
    written = item.written
    details = found.unused if exercise is not None else ()
    named = next((word for word in details if word in vocabulary.words.implements), None)
    pick = Pick(
        as_written=written.name,
        exercise=exercise,
        prescription=written.prescription,
        where=item.where,
        candidates=tuple(c.id for c in found.candidates) if exercise is None else (),
        implement=written.implement or named,
        details=tuple(word for word in details if word != named),
        group=written.group,
        order=written.order,
        warm_up=written.warm_up,
        warm_up_sets=item.warm_up_sets,
        note=written.note,
        reason=item.reason,
        chosen_for=find_regions(
            item.chosen_for or purpose_in(written.note, vocabulary),
            "chosen for",
            item.where,
            vocabulary,
            told,
        ),
    )
    _ask_figures(pick, vocabulary, told)
    ask_limits(pick, told)
    return pick


def purpose_in(note: str | None, vocabulary: Vocabulary) -> tuple[str, ...]:
    """The regions of a note "for quads and calves"; none where it is for something else ("for time")."""
    said = re.fullmatch(r"for (?:the |your )?(.+)", (note or "").strip(), re.IGNORECASE)
    parts = [part.strip() for part in _PARTS.split(said[1])] if said else []
    return tuple(parts) if parts and all(vocabulary.find_region(p).outcome != "none" for p in parts) else ()


def find_regions(
    texts: Iterable[str], what: str, where: str, vocabulary: Vocabulary, told: Told
) -> tuple[str, ...]:
    """The regions that texts name, one after another; what is none is asked about."""
    regions = []
    for text in (part.strip() for entry in texts for part in _PARTS.split(entry)):
        found = vocabulary.find_region(text)
        if found.match is not None:
            regions.append(found.match)
        elif text:
            names = ", ".join(c.name for c in found.candidates[:4])
            message = f'{what} "{text}": {names}?' if names else f'{what} "{text}" is no region that is known'
            told.ask(message, where, "region", [c.id for c in found.candidates])
    return tuple(dict.fromkeys(regions))


def _ask_figures(pick: Pick, vocabulary: Vocabulary, told: Told) -> None:
    """Ask for what the figures leave open once the exercise is known."""
    done = pick.prescription
    in_block = pick.group is not None and pick.group.startswith(("amrap", "emom"))
    endurance = done.time_s is not None and done.time_s[0] >= 300
    if done.sets is None and not in_block and not endurance:
        told.ask(f"{pick.as_written}: how many sets?", pick.where, "sets")
    if pick.exercise is None or done.side is not None or done.reps is None:
        return
    if vocabulary.exercises[pick.exercise].laterality == "unilateral":
        reps = f"{done.reps[0]:g}"
        told.ask(
            f'{reps} {pick.as_written}: in all or on each side? Write "{reps} each side" or "{reps} total".',
            pick.where,
            "side",
        )


def ask_limits(pick: Pick, told: Told) -> None:
    """Ask about figures that are hardly ever meant: a slip of the pen is not counted on in silence."""
    for said in find_excesses(pick.prescription):
        told.ask(f"{pick.as_written}: {said}: right?", pick.where, "limits")


def _is_lower(exercise: str, vocabulary: Vocabulary) -> bool:
    return any(
        "lower_limb" in vocabulary.ancestors(region) for region in vocabulary.exercises[exercise].primary
    )


def _with_leg(name: str, vocabulary: Vocabulary) -> str | None:
    """The exercise that `name` is once "leg" is put before its last word ("seated curl" -> seated leg curl)."""
    words = name.split()
    if len(words) < 2:
        return None
    found = vocabulary.find_exercise(" ".join([*words[:-1], "leg", words[-1]]))
    sure = found.outcome == "match" and not found.broad and not found.unused
    return found.match if sure else None


def _shared_keys(vocabulary: Vocabulary) -> set[str]:
    return {key_of(shared.text) for shared in vocabulary.shared_names.get("exercise", ())}
