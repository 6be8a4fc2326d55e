"""Checks of what was measured against what is told: stand-ins, one session, within groups, cause, scales."""

from collections.abc import Iterator

from evidence.appraisal.draft_cues import find_cue
from evidence.workflows.drafts.findings import Draught, mark_of
from evidence.workflows.drafts.knowledge import KnownStudy
from evidence.workflows.drafts.numbers import matches
from evidence.workflows.drafts.readings import Reading
from evidence.workflows.drafts.suggesting import about_claim

ACUTE = {"activation", "muscle_use", "effort"}


def check_measures(reading: Reading) -> Iterator[Draught]:
    """Every finding on what one sentence makes of what was measured."""
    if reading.not_held:
        return
    yield from check_surrogate(reading)
    yield from check_lasting(reading)
    yield from check_within(reading)
    yield from check_cause(reading)
    yield from check_scales(reading)


def acute_only(reading: Reading) -> bool:
    """Whether all it leans on was measured within one session."""
    if reading.cited_studies:
        return all(s.constructs and s.constructs <= ACUTE for s in reading.cited_studies)
    return bool(reading.claims) and all(c.construct in ACUTE or c.surrogate for c in reading.claims)


def check_surrogate(reading: Reading) -> Iterator[Draught]:
    """Activation told as growth or strength. Hedges do not repair it."""
    outcome = reading.cue("growth") or strength_said(reading)
    if outcome is None or reading.cue("surrogate_not") or reading.left_open:
        return
    activation = reading.cue("activation")
    linked = activation is not None and reading.cue("surrogate_link") is not None
    leaning = acute_only(reading) and bool(reading.cited_studies or reading.claims) and bears(reading)
    if not (leaning or (linked and joined(reading, activation.start, outcome.start))):  # type: ignore[union-attr]
        return
    if activation is None and not leaning:
        return
    if not leaning and any(s.constructs - ACUTE for s in reading.cited_studies) and not linked:
        return
    yield about_claim(
        reading,
        "surrogate-as-outcome",
        f'"{outcome.text}" rests on activation.',
        "surface EMG amplitude is measured in one session; it is not growth and not strength",
        mark_of(outcome),
    )


def bears(reading: Reading) -> bool:
    """Whether some study that is leaned on measured a region the sentence speaks of, where it speaks of any."""
    if not reading.topic.regions or not reading.cited_studies:
        return True
    contrasts = [c for s in reading.cited_studies for c in s.contrasts]
    return any(reading.finder.bears_on(c.region, reading.topic.regions) for c in contrasts)


def strength_said(reading: Reading):  # type: ignore[no-untyped-def]
    """Strength as an outcome, not as a load or a name of a test."""
    cue = reading.cue("strength_gain")
    if cue is not None and cue.text.lower().startswith("strong"):
        return cue
    return reading.cue("strength_outcome")


def joined(reading: Reading, first: int, second: int) -> bool:
    """Whether a word of inference stands between or before the two."""
    low, high = sorted((first, second))
    between = reading.text[low:high].lower()
    words = (
        " so ",
        "because",
        "since",
        "means",
        "mean ",
        "therefore",
        "translate",
        " builds",
        " and so",
        ": ",
    )
    return any(w in f" {between} " for w in words) or reading.text.lower().startswith(
        ("because", "since", "and because", "as ")
    )


def check_lasting(reading: Reading) -> Iterator[Draught]:
    """What one session showed, told of weeks."""
    lasting = reading.cue("lasting")
    if lasting is None or not acute_only(reading):
        return
    yield about_claim(
        reading,
        "acute-as-lasting",
        f'"{lasting.text}": what was measured is one session.',
        "activation was read within one session; nothing was followed over weeks",
        mark_of(lasting),
    )


def check_within(reading: Reading) -> Iterator[Draught]:
    """A difference between groups read off changes within them."""
    if reading.cue("compared_openly") or (reading.left_open and not reading.cue("significant")):
        return
    studies = reading.studies
    only = bool(studies) and all(s.within_only for s in studies)
    contrast = reading.cue("significant") is not None and reading.cue("significant_not_other") is not None
    better = reading.cue("better_between") or reading.cue("comparative")
    if not ((only and (better or contrast)) or (contrast and better)):
        return
    if not only and any(not s.within_only for s in studies):
        return
    mark = better or reading.cue("significant")
    yield about_claim(
        reading,
        "within-as-between",
        "Changes within groups are told as a difference between them.",
        "the source gives no estimate of the difference; one significant and one not is no test of it",
        mark_of(mark),
        references=tuple(reading.cited),
    )


def check_cause(reading: Reading) -> Iterator[Draught]:
    """A verb of direct cause over studies that were not randomised."""
    cause = reading.cue("cause")
    if cause is None or not reading.studies or any(s.randomised is not False for s in reading.studies):
        return
    yield about_claim(
        reading,
        "cause-beyond-design",
        f'"{cause.text}" says that one thing makes the other.',
        "the study was not randomised: what goes with what is known, not what makes what",
        mark_of(cause),
    )


def check_scales(reading: Reading) -> Iterator[Draught]:
    """Readings of papers on different scales put in one order."""
    studies = [s for s in reading.passage_studies if "activation" in s.constructs]
    if len(studies) < 2:
        return
    behind = reading.after.text if reading.after is not None else ""
    if not (reading.cue("ranking") or reading.cue("comparative") or find_cue("ranking", behind)):
        return
    told = [n for n in reading.numbers if n.kind in ("reading", "percent")]
    owners = {n.start: holders(n, studies) for n in told}
    single = {next(iter(h)) for h in owners.values() if len(h) == 1}
    held = {k for h in owners.values() for k in h}
    if len(held) < 2 or (len(single) < 1 and len(told) < 3):
        return
    by_key = {s.key: s for s in studies}
    scales = {(c.scale, c.region) for k in held for c in by_key[k].contrasts if c.construct == "activation"}
    if len(scales) < 2 or len(told) < 2:
        return
    yield Draught(
        "mixed-scales",
        "Figures of different scales are put in one order.",
        "scales: "
        + "; ".join(sorted({f"{by_key[k].label}: {next(iter(by_key[k].contrasts)).scale}" for k in held})),
        (told[0].start, told[-1].end),
        references=tuple(reading.cited),
    )


def holders(number, studies: list[KnownStudy]) -> set[str]:  # type: ignore[no-untyped-def]
    """The studies that print a number as a mean."""
    return {s.key for s in studies if any(f.kind == "mean" and matches(number, f.value) for f in s.figures)}
