"""Closed lists that the shape of the data depends on. Open lists (exercises, designs, ...) are data files."""

from enum import StrEnum


class Statistic(StrEnum):
    """What kind of figure a paper printed for one result."""

    MEAN = "mean"  # of one condition at one time point
    MEDIAN = "median"
    CHANGE = "change"  # mean change within one condition, in the outcome's unit
    PERCENT_CHANGE = "percent_change"  # mean change within one condition, in percent of its own start
    DIFFERENCE = "difference"  # condition minus comparator, in the outcome's unit
    PERCENT_POINTS = "percent_points"  # condition minus comparator, both already percentages
    RATIO = "ratio"  # condition over comparator
    SMD = "smd"  # condition minus comparator, standardised, as printed
    COUNT = "count"  # events among people, or events in person-time
    CORRELATION = "correlation"
    TEST = "test"  # only a test statistic or a p-value was printed


class Spread(StrEnum):
    """What the figure behind ±, or inside the brackets, is."""

    SD = "SD"
    SE = "SE"
    CI = "CI"
    IQR = "IQR"
    RANGE = "range"
    NONE = "none"  # nothing was printed
    NOT_STATED = "not stated"  # something was printed, and nobody has yet said what it is


class Timepoint(StrEnum):
    """When a result was measured."""

    ACUTE = "acute"  # within one session
    PRE = "pre"
    MID = "mid"
    POST = "post"
    FOLLOW_UP = "follow-up"
    OVER = "over"  # the whole period: changes, counts, rates

    @property
    def told(self) -> str:
        """The time as a reader is told it."""
        return "over the whole period" if self is Timepoint.OVER else self.value

    @property
    def explained(self) -> str:
        """The time with what it means, to be chosen from a list."""
        return {
            Timepoint.ACUTE: "acute: within one session",
            Timepoint.PRE: "pre: before the training",
            Timepoint.MID: "mid: midway through the training",
            Timepoint.POST: "post: after the training",
            Timepoint.FOLLOW_UP: "follow-up: some time after the training ended",
            Timepoint.OVER: "over the whole period: a change, a count",
        }[self]


class ReadFrom(StrEnum):
    """What the person who took the figure had open."""

    ABSTRACT = "abstract"
    FULL_TEXT = "full text"
    FIGURE = "figure"
    DATA = "open data"


class Pairing(StrEnum):
    """Whether the conditions of a study were done by the same people."""

    WITHIN = "within"
    BETWEEN = "between"
    NONE = "none"  # one condition only


class Direction(StrEnum):
    """What a comparison claim says of the exercise against its comparator."""

    MORE = "more"
    LESS = "less"
    SAME = "same"
    DIFFERS = "differs"
