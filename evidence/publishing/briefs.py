"""A brief: everything there is to say of one claim, on a page. As Markdown, and as one self-contained
HTML file.

The workflows fill a `Brief`; nothing here reads a catalogue. The same brief gives the same bytes.
"""

from dataclasses import dataclass

from evidence.appraisal.confidence import Confidence
from evidence.appraisal.metrics import format_interval, format_value
from evidence.appraisal.verdict import Verdict
from evidence.appraisal.wording import Wordings
from evidence.publishing.figures import ForestPlot, ForestRow, ForestSummary
from evidence.publishing.panels import Panel
from evidence.publishing.sources import Made, Reference
from evidence.vocabulary.terms import Direction


@dataclass(frozen=True, slots=True)
class PrintedFigure:
    """A figure exactly as the paper has it, and where it stands."""

    condition: str  # "hip thrust"
    figure: str  # "69.5 ± 26.9 %MVIC"
    locator: str  # "Table 2"


@dataclass(frozen=True, slots=True)
class StudyEntry:
    """One study that bears on the claim. Figures are on the metric's own scale; `weight` is a share (0 to
    1).

    `indirect`: why it does not answer exactly this question, if so. `notices`: retraction, correction,
    preprint. `read_from`: abstract, full text, figure, open data. `verified`: a second reader has checked
    the figures. `reference`: key of the entry in the list of sources.
    """

    label: str
    n: int
    people: str
    design: str
    printed: tuple[PrintedFigure, ...] = ()
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    weight: float | None = None
    bias: str = "not assessed"
    indirect: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    note: str = ""
    read_from: str = ""
    verified: bool = False
    reference: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A study or result that a person left out, and why."""

    label: str
    reason: str


@dataclass(frozen=True, slots=True)
class GridRow:
    """The answer under one assumed value: the pooled figures (metric's own scale) and the verdict in
    words.
    """

    name: str  # "low", "default", "high"
    value: float | None  # printed after the name; None: the name already tells it
    estimate: float | None
    low: float | None
    high: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something that was not printed and that the figures lean on, with the answer over its range."""

    text: str
    source: str = ""
    grid: tuple[GridRow, ...] = ()

    @property
    def changes_verdict(self) -> bool:
        return len({row.verdict for row in self.grid}) > 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """All of a brief. `claimed` is the claim's own direction; `more` and `less` name the directions of
    the figure.

    `pooling` says how studies were pooled ("REML, Knapp-Hartung"); `prediction` is on the metric's own
    scale. `changes`: what would change the answer, one line each; `invented`: the banner is shown on
    every page.
    """

    key: str
    statement: str
    claimed: Direction
    verdict: Verdict
    confidence: Confidence
    wordings: Wordings
    made: Made
    studies: tuple[StudyEntry, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    more: str = ""
    less: str = ""
    pooling: str = ""
    prediction: tuple[float, float] | None = None
    assumptions: tuple[Assumption, ...] = ()
    changes: tuple[str, ...] = ()
    references: tuple[Reference, ...] = ()
    cautions: tuple[str, ...] = ()
    invented: bool = False
    made_up: tuple[str, ...] = ()  # the invented of its studies, where others are not
    people: str = ""
    review_due: str = ""
    notes: tuple[str, ...] = ()
    panels: tuple[Panel, ...] = ()  # what this kind of claim has to show besides its studies
    graded: bool = True  # False: an opinion, of which no confidence is rated
    empty: bool = False  # nothing was found that could be weighed, so that no domain can be rated
    against: str = ""  # what speaks against it, where no study's own figure can; empty: told from the studies


def brief_forest(brief: Brief) -> ForestPlot:
    """The forest plot of a brief: every study, pooled or not."""
    rows = tuple(ForestRow(s.label, s.n, s.estimate, s.low, s.high, s.weight, s.note) for s in brief.studies)
    verdict = brief.verdict
    summary = None
    if verdict.estimate is not None and verdict.low is not None and verdict.high is not None:
        low, high = brief.prediction if brief.prediction else (None, None)
        label = "Pooled" if verdict.k > 1 else "One study alone"
        summary = ForestSummary(label, verdict.estimate, verdict.low, verdict.high, verdict.people, low, high)
    margin = verdict.margin if brief.claimed is Direction.SAME else None
    return ForestPlot(
        f"Studies on: {brief.statement}",
        verdict.metric,
        rows,
        summary,
        brief.less,
        brief.more,
        margin,
        "brief-forest",
    )


def contradicting(brief: Brief) -> tuple[StudyEntry, ...]:
    """Studies whose own estimate points against the claim, or, for sameness, whose interval leaves out
    zero.
    """
    return tuple(study for study in brief.studies if points_against(brief, study))


def points_against(brief: Brief, study: StudyEntry) -> bool:
    """Whether one study points against the claim (for "differs": against what was found on the whole)."""
    if study.estimate is None:
        return False
    if brief.claimed is Direction.SAME:
        return study.low is not None and study.high is not None and (study.low > 0 or study.high < 0)
    claimed = {Direction.MORE: 1.0, Direction.LESS: -1.0}.get(brief.claimed, brief.verdict.estimate or 0.0)
    return study.estimate * claimed < 0


def tell_contradiction(brief: Brief) -> str:
    """One sentence on what speaks against the claim; never left out."""
    if brief.against:
        return brief.against
    against = contradicting(brief)
    with_figure = sum(s.estimate is not None for s in brief.studies)
    if not with_figure:
        return "No study with a comparable figure, for or against."
    if not against:
        none = (
            "The one study's estimate does not point"
            if with_figure == 1
            else f"None of {with_figure} estimates points"
        )
        return f"{none} against the claim; that is no proof that no study would."
    names = name_contradicting(brief)
    if with_figure == 1:
        return f"The one study with a figure speaks against it: {names}."
    verb = "speaks" if len(against) == 1 else "speak"
    return f"{len(against)} of {with_figure} studies with a figure {verb} against it: {names}."


def name_contradicting(brief: Brief) -> str:
    """The studies against the claim, each with its figure."""
    return "; ".join(f"{s.label}: {tell_effect(brief, s)}" for s in contradicting(brief))


def tell_effect(brief: Brief, study: StudyEntry) -> str:
    """A study's effect as people read it."""
    metric = brief.verdict.metric
    if study.estimate is None:
        return "no figure to compare"
    estimate = format_value(metric, study.estimate, sign=True)
    if study.low is None or study.high is None:
        return f"{estimate}, no interval printed"
    return f"{estimate} ({format_interval(metric, study.low, study.high)})"


def tell_grid_row(brief: Brief, row: GridRow) -> str:
    """A grid row's figures as people read them."""
    metric = brief.verdict.metric
    if row.estimate is None or row.low is None or row.high is None:
        return "not computable"
    return f"{format_value(metric, row.estimate, sign=True)} ({format_interval(metric, row.low, row.high)})"
