"""An annotated programme: picks with the claims that bear on them, as handed over by the workflows.

A pick that rests on nothing is said to do so. Weekly sets are counted three ways and the counting is
always named.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.appraisal.levels import ORDER, Level
from evidence.appraisal.verdict import VerdictKind
from evidence.publishing.sources import Made, Reference

COUNTING = (
    "Weekly sets, counted three ways. Direct: sets of exercises for which the region is the main one. "
    "Fractional: direct sets, and half a set for each set in which the region assists. "
    "Total: every set in which the region takes part."
)


@dataclass(frozen=True, slots=True)
class Prescription:
    """What to do, as text ready to print; empty where the programme does not say."""

    sets: str = ""
    reps: str = ""
    load: str = ""
    effort: str = ""
    rest: str = ""
    tempo: str = ""
    weekly: str = ""  # "2 times": where it differs from its session


@dataclass(frozen=True, slots=True)
class PickClaim:
    """One claim that bears on a pick, as the catalogue has it now.

    `wording`: the claim at the strength its confidence allows (`Wordings.short`). `figures`:
    `Verdict.sentence`. `citation`: short ("Lehman 2004; Contreras 2015"). `favours_pick` False: it speaks
    for the other exercise; None: open. `flags`: what a reader has to know ("rests on activation", "review
    is due").
    """

    key: str
    wording: str
    verdict: VerdictKind
    verdict_text: str
    figures: str
    level: Level
    low: Level
    high: Level
    citation: str
    favours_pick: bool | None
    flags: tuple[str, ...] = ()
    about_goal: bool = True  # False: what was measured is not what the programme is for
    about_region: bool = True  # False: it is about a muscle for which the pick is not chosen
    studied: str = ""  # where it was not (only) this exercise that was studied: which, as a sentence
    indirect: bool = False  # none of its studies did this exercise: a parent of it, or another variant
    own: bool = True  # it names this very exercise

    @property
    def bears_evidence(self) -> bool:
        """Whether any study stands behind it."""
        return self.verdict is not VerdictKind.NOTHING_FOUND

    @property
    def counts(self) -> bool:
        """Whether it says anything of what the pick is chosen for."""
        return self.bears_evidence and self.about_goal and self.about_region


@dataclass(frozen=True, slots=True)
class Swap:
    """Another exercise for the same region, and how the two compare by the claim that does so.

    `better` True: the figures speak for the swap; False: for the pick; None: open. Without a claim, `wording` says so
    and `level` is None.
    """

    exercise: str
    wording: str
    verdict_text: str = ""
    figures: str = ""
    level: Level | None = None
    low: Level | None = None
    high: Level | None = None
    citation: str = ""
    better: bool | None = None
    about_goal: bool = True
    studied: str = ""  # as of a claim, for either of the two


@dataclass(frozen=True, slots=True)
class Pick:
    """One exercise of a session. `reason`: the author's own words. `needs`: equipment that is not at hand."""

    exercise: str
    prescription: Prescription
    note: str = ""
    reason: str = ""
    regions: tuple[str, ...] = ()
    claims: tuple[PickClaim, ...] = ()
    swaps: tuple[Swap, ...] = ()
    needs: str = ""
    problems: tuple[str, ...] = ()  # "exercise not in the vocabulary", "reading assumed: ..."
    group: str = ""  # "A1"

    @property
    def rests_on_nothing(self) -> bool:
        return not any(claim.bears_evidence for claim in self.claims)


@dataclass(frozen=True, slots=True)
class Session:
    """One day of the plan."""

    title: str
    picks: tuple[Pick, ...]


@dataclass(frozen=True, slots=True)
class WeeklySets:
    """Sets a week for one region, three ways; `days`: sessions with it; `priority`: the programme's own."""

    region: str
    direct: float
    fractional: float
    total: float
    days: int
    priority: str = ""


@dataclass(frozen=True, slots=True)
class Overlap:
    """A region that several picks of one session work as a main one, with the sets they give it together."""

    session: str
    region: str
    picks: tuple[str, ...]
    sets: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnotatedProgramme:
    """A whole programme. `audience_gaps`: where those it is for differ from those who were studied, one
    line each.

    `priority_notes`: where the weekly sets do not follow the programme's own priorities. `problems`: what could not be
    read. `open_questions`: what is worth reading up on. `assumed`: readings of the file that were assumed and
    not sure.
    """

    title: str
    made: Made
    sessions: tuple[Session, ...]
    author: str = ""
    audience: str = ""
    goal: str = ""
    weeks: str = ""
    equipment: str = ""
    note: str = ""
    weekly_sets: tuple[WeeklySets, ...] = ()
    overlaps: tuple[Overlap, ...] = ()
    priority_notes: tuple[str, ...] = ()
    audience_gaps: tuple[str, ...] = ()
    open_questions: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    references: tuple[Reference, ...] = ()
    invented: bool = False
    made_up: tuple[str, ...] = ()


def all_picks(programme: AnnotatedProgramme) -> tuple[Pick, ...]:
    """Every pick in order."""
    return tuple(pick for session in programme.sessions for pick in session.picks)


OPEN, AGAINST = "only open answers", "claims against and none in favour"
RELATED = "claims on a parent or another variant of it only"
ELSEWHERE, NOTHING_BEHIND = "claims on another outcome or muscle only", "nothing in the catalogue behind"
WITHOUT = (OPEN, AGAINST, RELATED, ELSEWHERE, NOTHING_BEHIND)


def count_profile(programme: AnnotatedProgramme) -> str:
    """How much of the programme rests on what, in one sentence: for, against, open, nothing."""
    picks = all_picks(programme)
    if not picks:
        return "The programme has no picks."
    parts = []
    standing = [find_standing(pick) for pick in picks]
    for level in reversed(ORDER):
        number = sum(s is level for s in standing)
        if number:
            parts.append(f"{number} with a claim in favour at {level} confidence")
    parts += [f"{standing.count(text)} with {text}" for text in WITHOUT if text in standing]
    return f"Of {len(picks)} {'pick' if len(picks) == 1 else 'picks'}: {join_words(parts)}."


def find_standing(pick: Pick) -> Level | str:
    """The best level in favour of a pick; else what there is instead (one of WITHOUT)."""
    if pick.rests_on_nothing:
        return NOTHING_BEHIND
    counting = [claim for claim in pick.claims if claim.counts]
    if not counting:
        return ELSEWHERE
    direct = [claim for claim in counting if not claim.indirect]
    if not direct:
        return RELATED
    favouring = [claim.level for claim in direct if claim.favours_pick]
    if favouring:
        return max(favouring, key=lambda level: level.rank)
    return AGAINST if any(claim.favours_pick is False for claim in direct) else OPEN


def join_words(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else "".join(parts)


def format_sets(number: float) -> str:
    """`6`, `4.5`."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
