"""Wordings of a verdict at the strength its confidence allows: short, plain, full.

Frames and word lists are in `rules/wording.yaml`. Comparator, region and people are always named; for a
percent claim the kind of percent is named, and points are given beside it where the means are known.
"""

from dataclasses import dataclass

from evidence.appraisal.confidence import Confidence, format_levels
from evidence.appraisal.levels import Level
from evidence.appraisal.metrics import Metric, Size, format_interval, format_value
from evidence.appraisal.rulebook import load_rules
from evidence.appraisal.verdict import Verdict, VerdictKind
from evidence.vocabulary.terms import Direction


@dataclass(frozen=True, slots=True)
class Names:
    """What things are called in a sentence, as they stand in the middle of one ("the hip thrust").

    `region` may be empty. `people`: "resistance-trained women"; empty: the people are not told.
    `outcome` replaces the usual words for the construct ("thickness of the vastus lateralis"). `unit`: of a plain
    mean difference ("kg"); empty: told as "in the unit of the outcome".
    """

    exercise: str
    comparator: str
    region: str
    construct: str
    people: str = ""
    outcome: str = ""
    unit: str = ""
    alone: str = (
        ""  # "muscle activation": what was measured in place of the outcome; told with every sentence
    )


@dataclass(frozen=True, slots=True)
class Points:
    """The same difference in the unit of the papers: exercise minus comparator, with the unit in words."""

    difference: float
    unit: str  # "percentage points of MVIC"
    base: float | None = None  # the comparator's mean, in that unit


@dataclass(frozen=True, slots=True)
class Wordings:
    """One sentence; the sentence with people and figures; and with the reasons for the confidence."""

    short: str
    plain: str
    full: str
    cue: str = ""  # in the imperative, where something can be chosen


def wordings(
    verdict: Verdict, confidence: Confidence, names: Names, points: Points | None = None
) -> Wordings:
    """Say a verdict at the strength of its confidence, at three lengths."""
    claim = _say_claim(verdict, confidence.level, names)
    if names.alone and verdict.kind is not VerdictKind.NOTHING_FOUND:
        claim = f"by {names.alone} alone, {claim}"
    short = finish(claim)
    where = f"in {names.people}, " if names.people else ""
    figures = say_figures(verdict, points, names.unit)
    plain = finish(f"{where}{claim}") + (f" {figures}" if figures else "")
    cue = word_cue(verdict, confidence, names)
    return Wordings(short, plain, f"{plain} {say_confidence(confidence, verdict)}".strip(), cue)


def word_claim(verdict: Verdict, confidence: Confidence, claim: str, people: str, figures: str) -> Wordings:
    """A claim already said, at three lengths: as it is, with people and figures, with reasons for the confidence."""
    where = f"in {people}, " if people else ""
    plain = finish(f"{where}{claim}") + (f" {figures}" if figures else "")
    return Wordings(finish(claim), plain, f"{plain} {say_confidence(confidence, verdict)}".strip())


def word_cue(verdict: Verdict, confidence: Confidence, names: Names) -> str:
    """A cue for a client in the imperative, no stronger than the confidence allows."""
    subject, a, b = name_subject(names), names.exercise, names.comparator
    open_kinds = (VerdictKind.NOTHING_FOUND, VerdictKind.NO_CLEAR_DIFFERENCE, VerdictKind.DIRECTION_ONLY)
    if verdict.kind in open_kinds or verdict.direction is None:
        return finish(f"choose {a} or {b} by what suits you: it is unclear whether {subject} differs")
    if verdict.direction is Direction.SAME:
        claim = _say_claim(verdict, confidence.level, names)
        return f"Choose {a} or {b} by what suits you. {finish(claim)}"
    row = subject_row(names.construct)
    more = verdict.direction is Direction.MORE
    wanted = row.get("better", "more")  # whether more or less of it is wanted
    first, second = (a, b) if more == (wanted == "more") else (b, a)
    verb: str = load_rules("wording")["frames"][str(confidence.level)]["cue"]
    word = row[wanted]
    frame = load_rules("wording")["frames"][str(confidence.level)]
    because = f"{subject} {frame['copula']} {word} with it{frame.get('tail', '')}"
    return f"{finish(f'{verb} {first} over {second}')} {finish(because)}"


def name_subject(names: Names) -> str:
    """The thing that is compared: `activation of the gluteus maximus`, `growth of the hamstrings`."""
    if names.outcome:
        return names.outcome
    row = subject_row(names.construct)
    template: str = row["with_region"] if names.region else row["alone"]
    region = names.region.removeprefix("the ")
    return template.format(region=region, construct=names.construct.replace("_", " "))


def subject_row(construct: str) -> dict[str, str]:
    """The words for a construct: what is compared, and its comparatives."""
    subjects = load_rules("wording")["subjects"]
    row: dict[str, str] = subjects.get(construct, subjects["other"])
    return row


def _say_claim(verdict: Verdict, level: Level, names: Names) -> str:
    subject, a, b = name_subject(names), names.exercise, names.comparator
    frame = load_rules("wording")["frames"][str(level)]
    tail = frame.get("tail", "")
    if verdict.kind is VerdictKind.NOTHING_FOUND:
        return f"no study that could be weighed compares {a} with {b} for {subject}"
    if verdict.kind is VerdictKind.DIRECTION_ONLY:
        return _say_direction(verdict, subject, names)
    if verdict.direction is Direction.SAME:
        return f"{frame['none']} little to no difference in {subject} between {a} and {b}{tail}"
    if verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE:
        return f"it is unclear whether {subject} differs between {a} and {b}"
    row = subject_row(names.construct)
    word = row["more"] if verdict.direction is Direction.MORE else row["less"]
    size = load_rules("wording")["sizes"][str(verdict.size or Size.MODERATE)]["say"]
    return f"{subject} {frame['copula']} {size}{word} with {a} than with {b}{tail}"


def _say_direction(verdict: Verdict, subject: str, names: Names) -> str:
    row = subject_row(names.construct)
    studies = "the one study found" if verdict.k == 1 else f"the {verdict.k} studies found"
    open_end = "no interval can be worked out, so the evidence is very uncertain"
    if verdict.direction is None:
        pair = f"{names.exercise} and {names.comparator}"
        return f"estimates of {subject} point both ways in {studies} of {pair}, and {open_end}"
    word = row["more"] if verdict.direction is Direction.MORE else row["less"]
    pair = f"with {names.exercise} than with {names.comparator}"
    return f"{subject} was {word} {pair} in {studies}, but {open_end}"


def say_figures(verdict: Verdict, points: Points | None, unit: str) -> str:
    """The estimate with its interval and what stands behind it; in points too, where the percent is relative."""
    if verdict.estimate is None or verdict.low is None or verdict.high is None:
        return verdict.sentence if verdict.kind is VerdictKind.DIRECTION_ONLY else ""
    metric = verdict.metric
    interval = f"95 % interval {format_interval(metric, verdict.low, verdict.high)}"
    source = f"{count(verdict.k, 'study', 'studies')}, {count(verdict.people, 'person', 'people')}"
    text = f"The estimate: {_say_estimate(metric, verdict.estimate, unit)} ({interval}; {source})."
    if points is not None and metric.shown_as == "percent":
        text += f" {_say_points(points)}"
    if verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE and verdict.direction is None:
        text += " The interval reaches from less to more, which does not show that they are alike."
    return text


def _say_estimate(metric: Metric, estimate: float, unit: str) -> str:
    if metric.shown_as == "ratio":
        return f"a ratio of {format_value(metric, estimate)}"
    shown = format_value(metric, estimate).removeprefix("−")
    side = "lower" if estimate < 0 else "higher"
    if metric.shown_as == "percent":
        return f"{shown} {side}, relative to the comparator's value"
    if metric.shown_as == "per_hundred":
        return f"{shown} {'fewer' if estimate < 0 else 'more'} in 100 people"
    if metric.shown_as == "points":
        return f"{shown} {metric.unit} {side}"
    if metric.family == "smd":
        return f"{shown} standard deviations{f' {side}' if float(shown) else ''}"
    if metric.family == "raw":
        return f"{shown} {unit} {side}" if unit else f"{shown} {side}, in the unit of the outcome"
    return f"{format_value(metric, estimate)} ({metric.unit})"


def _say_points(points: Points) -> str:
    amount = f"{abs(points.difference):.1f} {points.unit} {'lower' if points.difference < 0 else 'higher'}"
    base = f", from {points.base:.1f} with the comparator" if points.base is not None else ""
    return f"In points, which is another figure: {amount}{base}."


def say_confidence(confidence: Confidence, verdict: Verdict) -> str:
    """The level with the domains that were rated down; nothing where nothing was found."""
    if verdict.kind is VerdictKind.NOTHING_FOUND:
        return ""
    chosen = {c.domain: c.chosen for c in confidence.choices}
    counted = {d.domain: chosen.get(d.domain, format_levels(d.counted)) for d in confidence.domains}
    down = [domain.replace("_", " ") for domain, levels in counted.items() if levels != "0"]
    text = f"Confidence is {confidence.level}"
    if confidence.low != confidence.high:
        text += f" (between {confidence.low} and {confidence.high})"
    if down:
        text += f", rated down for {join_words(down)}"
    text += "."
    indirect = confidence.domain("indirectness")
    if "surrogate" in indirect.flags:
        text += f" {indirect.reason}"
    return text


def finish(claim: str) -> str:
    """A claim as a sentence: a large first letter and a full stop."""
    return f"{claim[:1].upper()}{claim[1:]}."


def join_words(words: list[str]) -> str:
    """`a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def count(number: int, one: str, many: str) -> str:
    """`1 study`, `2 studies`."""
    return f"{number} {one if number == 1 else many}"
