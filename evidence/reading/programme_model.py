"""A programme as read: sessions of picks, what had to be assumed, and what must be asked."""

from collections.abc import Mapping
from dataclasses import dataclass, field

Range = tuple[float, float | None]  # low, high; high None: open upward


@dataclass(frozen=True, slots=True)
class Load:
    """How heavy. `kind`: mass, percent, bodyweight, bodyweight-multiple, relative, RM.

    `of` says of what a percentage is (1RM, TM, bodyweight, set before, top set); `unit` None for a mass: not said.
    `per`: "hand" where each hand holds it, "side" where it is on each side of the bar.
    """

    kind: str
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    of: str | None = None
    per: str | None = None


@dataclass(frozen=True, slots=True)
class Effort:
    """How close to failure: RPE (10 = nothing left) or RIR (repetitions left)."""

    kind: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Prescription:
    """What is to be done of one exercise. None: not prescribed.

    `reps` (low, high), high None where open; `reps_open`: as many as possible; `reps_total`: where both
    sides were given together; `time_s`: seconds under load instead of repetitions; `rest_s` in seconds;
    `tempo` in four parts (lowering, pause, lifting, pause); `side` "each": the figure is per side.
    `set_kind`: drop, back-off, rest-pause, cluster, top; None: straight sets. `often`: times a week, where that is said
    of the exercise itself and not of its session.
    """

    sets: int | None = None
    sets_high: int | None = None
    reps: Range | None = None
    reps_open: bool = False
    reps_total: int | None = None
    time_s: Range | None = None
    distance_m: float | None = None
    load: Load | None = None
    effort: Effort | None = None
    rest_s: Range | None = None
    tempo: tuple[str, ...] | None = None
    side: str | None = None
    set_kind: str | None = None
    often: Range | None = None


@dataclass(frozen=True, slots=True)
class Pick:
    """One exercise in a session. `exercise` None: not known, or to be asked; then `candidates` are ids to choose from.

    `group` and `order` place it in a superset or block; `warm_up`: not counted as work; `chosen_for`: region
    ids, where the writer says for which muscles it is; `details` are words
    of the name that the exercise does not account for; `where` is the line or row.
    """

    as_written: str
    exercise: str | None
    prescription: Prescription
    where: str
    candidates: tuple[str, ...] = ()
    implement: str | None = None
    details: tuple[str, ...] = ()
    group: str | None = None
    order: int | None = None
    warm_up: bool = False
    warm_up_sets: Range | None = None
    note: str | None = None
    reason: str | None = None
    chosen_for: tuple[str, ...] = ()

    @property
    def sets(self) -> int | None:
        """Working sets (the lower figure of a range)."""
        return self.prescription.sets


@dataclass(frozen=True, slots=True)
class Session:
    """One day of a programme; `times_per_week` is 1 unless the programme says otherwise."""

    name: str
    picks: tuple[Pick, ...]
    times_per_week: float = 1.0


@dataclass(frozen=True, slots=True)
class Question:
    """Something that only a person can say.

    `topic` groups questions of a kind; `candidates` are possible answers.
    """

    text: str
    where: str
    topic: str
    candidates: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.where}: {self.text}" if self.where else self.text


@dataclass(frozen=True, slots=True)
class Assumption:
    """A reading that was made without being certain: shown, so that a person can object."""

    text: str
    where: str

    def __str__(self) -> str:
        return f"{self.where}: {self.text}" if self.where else self.text


@dataclass(frozen=True, slots=True)
class Audience:
    """Who it is for, in ids of the vocabulary where known.

    `age` as written; `text`: where it was one phrase.
    """

    training_status: str | None = None
    sex: str | None = None
    age: str | None = None
    health: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Programme:
    """A training plan.

    `priorities` are region ids, most important first; `goal` is a construct id, or the words given.
    """

    title: str
    sessions: tuple[Session, ...]
    audience: Audience = field(default_factory=Audience)
    goal: str | None = None
    priorities: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    weeks: int | None = None
    note: str | None = None
    cautions: tuple[str, ...] = ()  # of the writer; those that always stand on a programme come on top
    questions: tuple[Question, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    problems: tuple[str, ...] = ()
    extra: Mapping[str, str] = field(default_factory=dict)

    @property
    def picks(self) -> tuple[Pick, ...]:
        """All picks in order."""
        return tuple(pick for session in self.sessions for pick in session.picks)
