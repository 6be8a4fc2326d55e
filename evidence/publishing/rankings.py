"""Rankings: what is told of one, and its figure: intervals against a chosen exercise, and a ladder of rank intervals.

The workflows fill a `Ranking`; nothing here reads a catalogue. Colours come from the page, so that light, dark and
black-and-white print all work. The figure is always shown beside its table.
"""

from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal.metrics import Metric, format_interval, format_value
from evidence.publishing.axis import Axis, choose_axis, scale_text
from evidence.publishing.briefs import LeftOut
from evidence.publishing.figures import shorten
from evidence.publishing.sources import Made, Reference
from evidence.publishing.templating import render
from evidence.publishing.terminal import ASCII, MINIMUM, PLAIN, UNICODE, Marks

GAP = "No study connects the exercises above with those below: they are ranked apart."


@dataclass(frozen=True, slots=True)
class Share:
    """How much of the information on a comparison one study carries (0 to 1)."""

    study: str
    share: float


@dataclass(frozen=True, slots=True)
class RankedExercise:
    """An exercise against the comparator, on the metric's own scale; None for the comparator itself.

    `k_direct` studies compare the two directly. The P-score is the mean chance (0 to 1) of standing above another
    exercise; `rank_low` to `rank_high` holds the rank, 1 being first, in 95 % of the draws.
    """

    name: str
    estimate: float | None
    low: float | None
    high: float | None
    k_direct: int
    p_score: float
    mean_rank: float
    rank_low: int
    rank_high: int
    sources: tuple[Share, ...] = ()


@dataclass(frozen=True, slots=True)
class Pair:
    """First minus second, from all evidence, on the metric's own scale."""

    first: str
    second: str
    estimate: float
    low: float
    high: float
    k_direct: int


@dataclass(frozen=True, slots=True)
class RankingPart:
    """Exercises that studies connect, first of the order first. `told`: ties and clear differences in sentences."""

    comparator: str
    exercises: tuple[RankedExercise, ...]
    pairs: tuple[Pair, ...]
    studies: tuple[str, ...]
    people: int
    tau2: float
    i2: float | None
    q: float
    q_df: int
    q_p: float
    told: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RankedStudy:
    """One study behind a ranking, with what was held constant in it."""

    label: str
    n: int
    people: str
    design: str
    exercises: tuple[str, ...]
    regions: tuple[str, ...]
    unit: str
    normalisation: str
    loads: tuple[str, ...]
    bias: str
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderRow:
    """The order of every part under other assumed correlations, and what changes against the usual ones."""

    pick: str
    correlations: tuple[float, ...]
    orders: tuple[tuple[str, ...], ...]
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """All of a ranking. `first` says what stands first ("highest"); effects are exercise minus comparator."""

    title: str
    region: str
    construct: str
    first: str
    scale: str
    metric: Metric
    made: Made
    parts: tuple[RankingPart, ...] = ()
    studies: tuple[RankedStudy, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    forbids: tuple[str, ...] = ()  # what forbids comparing raw figures across papers
    orders: tuple[OrderRow, ...] = ()
    assumptions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    references: tuple[Reference, ...] = ()
    invented: bool = False
    made_up: tuple[str, ...] = ()
    level: str = "exercise"  # what counts as one exercise: exercise, details or family
    training_status: str = ""  # only studies of such people; empty: of all
    sex: str = ""

    @property
    def order_holds(self) -> bool:
        """Whether nothing changes whichever correlation is assumed."""
        return not any(row.changes for row in self.orders)


def tell_exercise(metric: Metric, exercise: RankedExercise) -> str:
    """Estimate and interval against the comparator as text."""
    if exercise.estimate is None or exercise.low is None or exercise.high is None:
        return "the comparator"
    return tell_figures(metric, exercise.estimate, exercise.low, exercise.high)


def tell_figures(metric: Metric, estimate: float, low: float, high: float) -> str:
    """Estimate and interval as people read them."""
    return f"{format_value(metric, estimate, sign=True)} [{format_interval(metric, low, high)}]"


def tell_p(p: float) -> str:
    """A p-value; a tiny one by its bound, never as 0."""
    return f"p {p:.2g}" if p >= 1e-4 else "p < 0.0001"


def tell_rank(exercise: RankedExercise) -> str:
    """The rank interval as text."""
    low, high = exercise.rank_low, exercise.rank_high
    return f"{low}" if low == high else f"{low} to {high}"


def describe_ranking(ranking: Ranking) -> str:
    """The figure in sentences: what a reader who does not see it is told."""
    parts = []
    for part in ranking.parts:
        count = len(part.exercises)
        rows = [
            f"{e.name}: {tell_exercise(ranking.metric, e)}, rank {tell_rank(e)} of {count}."
            for e in part.exercises
        ]
        parts.append(" ".join([f"Against {part.comparator}, in order:", *rows]))
    return f" {GAP} ".join(parts) or "Nothing to rank."


def axis_of_part(ranking: Ranking, part: RankingPart) -> Axis:
    """The axis that fits a part's intervals."""
    spans = [
        (e.low, e.estimate, e.high)
        for e in part.exercises
        if e.estimate is not None and e.low is not None and e.high is not None
    ]
    return choose_axis(ranking.metric, spans, [estimate for _, estimate, _ in spans])


def ranking_svg(
    ranking: Ranking, *, standalone: bool = False, only: int | None = None, figure_id: str = "ranking"
) -> str:
    """The figure as SVG: real text, a title and a description.

    `standalone`: with its own colours for light and dark. `only`: the part of that number (from 0) alone.
    """
    shown = ranking if only is None else replace(ranking, parts=(ranking.parts[only],))
    top = 8.0
    drawn = []
    for part in shown.parts:
        panel = _Panel(shown, part, top)
        drawn.append(panel)
        top = panel.bottom + 66
    return render(
        "ranking.svg",
        ranking=shown,
        panels=drawn,
        height=max(top - 14, 60),
        gap=GAP,
        standalone=standalone,
        figure_id=figure_id,
        describe=describe_ranking(shown),
    )


class _Panel:
    """Where everything of one part stands, in the units of the viewBox."""

    WIDTH, ROW = 860, 28
    LEFT, RIGHT = 212, 452  # intervals
    FIRST, LAST = 676, 836  # ladder
    CHARACTER = 8.4  # width of one of an axis label, with room beside it

    def __init__(self, ranking: Ranking, part: RankingPart, top: float) -> None:
        self.part = part
        self.axis = axis_of_part(ranking, part)
        self.top = top
        self.start = top + 44
        self.bottom = self.start + self.ROW * len(part.exercises) + 4
        self.comparator = shorten(part.comparator, 36)
        self.zero = self.x(0.0)
        self.ticks = self._ticks_apart()
        self.count = len(part.exercises)
        step = max(1, -(-self.count // 9))
        marked = [*range(1, self.count - step + 1, step), self.count]  # the last rank always
        self.rungs = [{"x": self.rank_x(r), "text": str(r)} for r in marked]
        self.rows = [self._row(n, e, ranking.metric) for n, e in enumerate(part.exercises)]

    def x(self, value: float) -> float:
        return round(self.LEFT + self.axis.place(value) * (self.RIGHT - self.LEFT), 1)

    def _ticks_apart(self) -> list[dict[str, Any]]:
        """The marks of the axis that do not run into each other, from 0 outwards."""
        kept: list[tuple[float, float, str]] = []
        for tick in sorted(self.axis.ticks, key=lambda t: abs(t.value)):
            x, half = self.x(tick.value), self.CHARACTER * len(tick.text) / 2
            if all(abs(x - other) > half + width for other, width, _ in kept):
                kept.append((x, half, tick.text))
        return [{"x": x, "text": text} for x, _, text in sorted(kept)]

    def rank_x(self, rank: float) -> float:
        return round(self.FIRST + (rank - 1) / max(self.count - 1, 1) * (self.LAST - self.FIRST), 1)

    def _row(self, index: int, exercise: RankedExercise, metric: Metric) -> dict[str, Any]:
        shown: dict[str, Any] = {
            "y": self.start + self.ROW * index + self.ROW / 2,
            "label": shorten(exercise.name, 27),
            "full": exercise.name,
            "figures": tell_exercise(metric, exercise),
            "indirect": exercise.k_direct == 0 and exercise.estimate is not None,
            "rank_low": self.rank_x(exercise.rank_low),
            "rank_high": self.rank_x(exercise.rank_high),
            "rank": self.rank_x(exercise.mean_rank),
            "interval": False,
            "cut": [],
        }
        if exercise.estimate is not None and exercise.low is not None and exercise.high is not None:
            shown["interval"] = True
            shown["inside"] = self.axis.holds(exercise.estimate)
            shown["estimate"] = self.x(exercise.estimate)
            shown["low"], shown["high"] = self.x(exercise.low), self.x(exercise.high)
            ends = (("left", exercise.low), ("right", exercise.high))
            shown["cut"] = [side for side, value in ends if not self.axis.holds(value)]
        return shown


def ranking_figure_text(
    ranking: Ranking, part: RankingPart, width: int = 80, *, ascii_only: bool = False
) -> str:
    """One part as lines of text: the intervals, then the ladder; at most `width` columns (60 at the least)."""
    width = max(width, MINIMUM)
    marks = ASCII if ascii_only else UNICODE
    axis = axis_of_part(ranking, part)
    figures = [tell_exercise(ranking.metric, e) for e in part.exercises]
    right = min(max(map(len, figures)), 34)
    left = min(max(len(e.name) for e in part.exercises), max(14, width - right - 24))
    room = width - left - right - 3
    lines = [shorten(f"Against {part.comparator} (95 % intervals)", width)]
    for exercise, text in zip(part.exercises, figures, strict=True):
        lines.append(
            f"{shorten(exercise.name, left):<{left}} {_interval(axis, exercise, room, marks)} {text}"
        )
    lines.append(" " * (left + 1) + scale_text(axis, room))
    count = len(part.exercises)
    # At most eight columns a rank; with many exercises a rank gets less than one.
    cells = min(8 * (count - 1) + 1, max(width - left - 11, 2))
    lines += ["", f"Ranks, 1 = {ranking.first} (95 % of draws; {marks.study} mean)"]
    for exercise in part.exercises:
        rung = _rung(exercise, count, cells, marks)
        lines.append(f"{shorten(exercise.name, left):<{left}} {rung} {tell_rank(exercise)}")
    lines.append(" " * (left + 1) + _rank_scale(count, cells))
    text = "\n".join(line.rstrip() for line in lines) + "\n"
    return text.translate(PLAIN).encode("ascii", "replace").decode() if ascii_only else text


def _interval(axis: Axis, exercise: RankedExercise, room: int, marks: Marks) -> str:
    cells = [" "] * room

    def column(value: float) -> int:
        return round(axis.place(value) * (room - 1))

    cells[column(0.0)] = marks.zero
    if exercise.estimate is None or exercise.low is None or exercise.high is None:
        return "".join(cells)
    first, last = column(exercise.low), column(exercise.high)
    cells[first : last + 1] = marks.line * (last + 1 - first)
    cells[first] = marks.start if axis.holds(exercise.low) else marks.cut_left
    cells[last] = marks.end if axis.holds(exercise.high) else marks.cut_right
    if axis.holds(exercise.estimate):
        cells[column(exercise.estimate)] = marks.study if exercise.k_direct else marks.bare
    return "".join(cells)


def _rung(exercise: RankedExercise, count: int, cells: int, marks: Marks) -> str:
    drawn = [" "] * cells
    for rank in range(1, count + 1):
        drawn[_rank_column(rank, count, cells)] = "." if marks is ASCII else "·"
    first = _rank_column(exercise.rank_low, count, cells)
    last = _rank_column(exercise.rank_high, count, cells)
    drawn[first : last + 1] = marks.pooled * (last + 1 - first)
    drawn[_rank_column(exercise.mean_rank, count, cells)] = marks.study
    return "".join(drawn)


def _rank_column(rank: float, count: int, cells: int) -> int:
    return round((rank - 1) / max(count - 1, 1) * (cells - 1))


def _rank_scale(count: int, cells: int) -> str:
    """Ranks under the ladder, as many as there is room for; the last one before those beside it."""
    drawn = [" "] * (cells + 2)
    kept: list[int] = []
    for rank in (1, count, *range(2, count)):
        column = _rank_column(rank, count, cells)
        if all(abs(column - other) > 3 for other in kept):
            drawn[column : column + len(str(rank))] = str(rank)
            kept.append(column)
    return "".join(drawn)
