"""Commands that state claims and change them: state, load, propose, edit, falsifier, remove."""

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import JSON_OPTION, acting_person, opened, say, show_json, tells_problems, warn

if TYPE_CHECKING:
    from evidence.workflows.claims.claiming import Stated
    from evidence.workflows.claims.terms import Terms

CLAIM = typer.Argument(..., help="Key of the claim.")
EXERCISE = typer.Option(None, "--exercise", help="The exercise the claim is about.")
OVER = typer.Option(None, "--over", help="The exercise it is compared with.")
REGION = typer.Option(None, "--region", help="The muscle or region.")
OUTCOME = typer.Option(None, "--outcome", help="activation, growth, strength, ...")
SAYS = typer.Option(None, "--says", help="more, less, same or differs.")
KIND = typer.Option(
    None,
    "--kind",
    help="comparison, sameness, superlative, trend, level, association, rate, mechanism, principle, practice.",
)
STATUS = typer.Option(None, "--status", help="Only people of this training status.")
SEX = typer.Option(None, "--sex", help="Only female or male.")
HEALTH = typer.Option(None, "--health", help="Only people with this condition, or healthy ones.")
DETAILS = typer.Option([], "--detail", metavar="NAME=VALUE", help="A detail of the exercise.")
OVER_DETAILS = typer.Option([], "--over-detail", metavar="NAME=VALUE", help="A detail of the other one.")
MARGIN = typer.Option(None, "--margin", help="Smallest difference that matters, in the claim's metric.")
SURROGATE = typer.Option(None, "--leaning-on", help="A stand-in outcome the claim may lean on, told openly.")
SCALE = typer.Option(
    None, "--scale", help="smd, log-ratio-of-means, mean-difference, percent-change-difference, ..."
)
NOTE = typer.Option(None, "--note", help="Anything to remember.")
FALSIFIER = typer.Option(None, "--falsifier", help="What finding would make you give the claim up.")
WEEKS = typer.Option(None, "--weeks", metavar="FROM-TO", help="Only training of this length: 8, or 8-12.")
SIZE = typer.Option(None, "--size", help="How large the difference is said to be, in percent.")
PERCENT = typer.Option(None, "--percent", help="What the percent is: relative or points.")
GRADED = typer.Option(None, "--graded", metavar="NAME", help="Trend: the detail that has levels.")
STEP = typer.Option(None, "--step", help="Trend: told over this much of the detail.")
LEVEL = typer.Option(None, "--level", help="Level: percent of the maximum that is passed.")
TO = typer.Option(None, "--to-level", help="Level: the upper end of the band.")
BAND = typer.Option(None, "--band", help="Level: low, moderate, high or very high, as in common use.")
SOURCE = typer.Option(None, "--band-source", help="Level: where the line comes from.")
OTHER = typer.Option(None, "--other", metavar="OUTCOME", help="Association: what it goes together with.")
FIELD = typer.Option([], "--among", metavar="EXERCISE", help="Superlative: only among these exercises.")
TEXT = typer.Option(None, "--text", help="Mechanism, principle, practice: the claim in your own words.")


@tells_problems
def state(
    exercise: str = EXERCISE,
    over: str = OVER,
    region: str = REGION,
    outcome: str = OUTCOME,
    direction: str = SAYS,
    kind: str = KIND,
    key: str = typer.Option(None, "--key", help="Short name for the claim; made from the rest if left out."),
    status: str = STATUS,
    sex: str = SEX,
    health: str = HEALTH,
    details: list[str] = DETAILS,
    over_details: list[str] = OVER_DETAILS,
    margin: float = MARGIN,
    surrogate: str = SURROGATE,
    scale: str = SCALE,
    note: str = NOTE,
    falsifier: str = FALSIFIER,
    weeks: str = WEEKS,
    size: float = SIZE,
    percent: str = PERCENT,
    graded: str = GRADED,
    step: float = STEP,
    level: float = LEVEL,
    to_level: float = TO,
    band: str = BAND,
    band_source: str = SOURCE,
    other: str = OTHER,
    among: list[str] = FIELD,
    text: str = TEXT,
    as_json: bool = JSON_OPTION,
) -> None:
    """State a claim, part by part.

    So that it can be tested: a comparison, or another --kind with what that kind needs.

    Example: steelyard claim state --exercise "Nordic curl" --over "lying leg curl"
    --region hamstrings --outcome growth
    """
    from evidence.workflows.claims.claiming import Statement, state_claim, usual_direction

    terms = make_terms(
        weeks, size, percent, graded, step, level, to_level, band, band_source, other, among, text
    )
    said = direction or usual_direction(kind)
    stated = state_claim(
        opened(),
        Statement(
            exercise, over, outcome, region, said, key, status, sex, tuple(details), tuple(over_details), margin,
            surrogate, note, scale, kind, health, falsifier, terms,
        ),
        acting_person(),
    )  # fmt: skip
    tell_stated(stated, as_json)


@tells_problems
def load(
    files: list[Path] = typer.Argument(..., help="Files of claims (YAML; docs/reference/claims-file.md)."),
    as_json: bool = JSON_OPTION,
) -> None:
    """State all claims of a file.

    Those that are here already stay as they are; one that cannot be stated is told with its line.

    Example: steelyard claim load claims.yaml
    """
    from evidence.workflows.claims.claim_files import load_claims

    reports = load_claims(opened(), files, acting_person())
    if as_json:
        show_json(reports)
    for report in reports:
        for stated in () if as_json else report.stated:
            tell_stated(stated, False, follow_up=False)
        for key in report.known:
            warn(f"Note: {key} is here already and was left as it is.")
        for reason in report.refused:
            warn(f"Problem: {reason}")
    if not as_json and any(report.stated for report in reports):
        say("Next: steelyard weigh KEY, or steelyard changes --keep to weigh all of them")
    if any(report.refused for report in reports):
        raise typer.Exit(1)


@tells_problems
def propose(
    text: str = typer.Argument(..., help="The claim in plain words, in quotes."),
    store: bool = typer.Option(False, "--store", help="Store it as read; refused while something is asked."),
    exercise: str = EXERCISE,
    over: str = OVER,
    region: str = REGION,
    outcome: str = OUTCOME,
    direction: str = SAYS,
    kind: str = KIND,
    key: str = typer.Option(None, "--key", help="Short name for the claim."),
    status: str = STATUS,
    sex: str = SEX,
    health: str = HEALTH,
    details: list[str] = DETAILS,
    over_details: list[str] = OVER_DETAILS,
    margin: float = MARGIN,
    surrogate: str = SURROGATE,
    scale: str = SCALE,
    weeks: str = WEEKS,
    size: float = SIZE,
    percent: str = PERCENT,
    graded: str = GRADED,
    step: float = STEP,
    level: float = LEVEL,
    other: str = OTHER,
    as_json: bool = JSON_OPTION,
) -> None:
    """Read a claim in plain words.

    How each part was read, what is unsure, what is asked. Options answer.

    Example: steelyard claim propose "seated leg curl grows the hamstrings more than lying leg curl"
    """
    from evidence.workflows.claims.claiming import Statement
    from evidence.workflows.claims.proposals import propose as propose_claim
    from evidence.workflows.claims.proposals import tell_proposed
    from evidence.workflows.opening import vocabulary_of

    catalogue = opened()
    terms = make_terms(weeks, size, percent, graded, step, level, None, None, None, other, [], None)
    answers = Statement(
        exercise, over, outcome, region, direction or "more", key, status, sex, tuple(details), tuple(over_details),
        margin, surrogate, None, scale, kind, health, None, terms,
    )  # fmt: skip
    proposed = propose_claim(catalogue, text, answers, acting_person(), says=direction, store=store)
    if as_json:
        show_json(proposed)
        return
    for line in tell_proposed(proposed, vocabulary_of(catalogue)):
        say(line)
    if proposed.stated is not None:
        tell_stated(proposed.stated, False)
    elif not proposed.open:
        say("Nothing is stored yet. Store it as read: the same command with --store.")
    else:
        say("Nothing is stored. Answer what is asked with options, then add --store.")


@tells_problems
def edit(
    key: str = CLAIM,
    exercise: str = EXERCISE,
    over: str = OVER,
    region: str = REGION,
    outcome: str = OUTCOME,
    direction: str = SAYS,
    kind: str = KIND,
    status: str = STATUS,
    sex: str = SEX,
    health: str = HEALTH,
    details: list[str] = DETAILS,
    over_details: list[str] = OVER_DETAILS,
    margin: str = MARGIN,
    surrogate: str = SURROGATE,
    scale: str = SCALE,
    note: str = NOTE,
    weeks: str = WEEKS,
    size: str = SIZE,
    percent: str = PERCENT,
    graded: str = GRADED,
    step: str = STEP,
    level: str = LEVEL,
    to_level: str = TO,
    band: str = BAND,
    band_source: str = SOURCE,
    other: str = OTHER,
    among: list[str] = FIELD,
    text: str = TEXT,
    as_json: bool = JSON_OPTION,
) -> None:
    """Change what a claim says.

    Its key stays, and what it said before can be brought back with undo.

    "none" takes a part away: --status none.

    Example: steelyard claim edit extension-activation --region "biceps femoris"
    """
    from evidence.workflows.claims.changing import edit_claim

    changes: dict[str, object] = {
        "exercise": exercise, "comparator": over, "region": region, "outcome": outcome, "direction": direction,
        "kind": kind, "training_status": status, "sex": sex, "health": health,
        "margin": read_or_clear("--margin", margin),
        "exercise_details": tuple(details) or None, "comparator_details": tuple(over_details) or None,
        "surrogate": surrogate, "scale": scale, "note": note,
    }  # fmt: skip
    given = make_terms(weeks, None, percent, graded, None, None, None, band, band_source, other, among, text)
    terms = {n: v for n in given.__dataclass_fields__ if (v := getattr(given, n)) not in (None, ())}
    figures = {"size": size, "step": step, "level": level, "to": to_level}
    for name, typed in figures.items():
        if (read := read_or_clear("--to-level" if name == "to" else f"--{name}", typed)) is not None:
            terms[name] = read
    named = {name: value for name, value in changes.items() if value is not None}
    tell_stated(edit_claim(opened(), key, named, terms, acting_person()), as_json)


def read_or_clear(option: str, typed: str | None) -> float | str | None:
    """A number as typed, or "none", which takes the part away. Raises BadInput for anything else."""
    from evidence.workflows.calculator.computing import read_number
    from evidence.workflows.claims.changing import CLEAR

    if typed is None or typed.strip().casefold() == CLEAR:
        return None if typed is None else CLEAR
    return read_number(option, typed)


@tells_problems
def falsifier(
    key: str = CLAIM,
    words: str = typer.Argument(..., help="What finding would make you give the claim up, in quotes."),
) -> None:
    """Write down what would overturn a claim.

    Needed at high and moderate confidence.

    Example: steelyard claim falsifier seated-curl-growth "a trial of 60 trained people that finds less growth"
    """
    from evidence.workflows.claims.changing import set_falsifier

    said = set_falsifier(opened(), key, words, acting_person())
    say(f"{key} would be given up if: {said}")


@tells_problems
def remove(
    key: str = CLAIM,
    because: str = typer.Option(..., "--because", help="The reason; it stays in the history."),
) -> None:
    """Remove a claim with what belongs to it.

    `steelyard undo` brings it back.

    Example: steelyard claim remove seated-curl-growth --because "asked twice"
    """
    from evidence.workflows.claims.changing import remove_claim

    told = remove_claim(opened(), key, because, acting_person())
    say(f"{key} is removed; the reason is in the history. Bring it back: steelyard undo")
    for place in told:
        say(f"  It was told in: {place}")


def make_terms(
    weeks: str | None,
    size: float | None,
    percent: str | None,
    detail: str | None,
    step: float | None,
    level: float | None,
    to: float | None,
    band: str | None,
    source: str | None,
    other: str | None,
    among: list[str],
    text: str | None,
) -> "Terms":
    """The terms as the options give them."""
    from evidence.workflows.claims.terms import Terms

    return Terms(
        weeks=weeks,
        size=size,
        percent=percent,
        detail=detail,
        step=step,
        level=level,
        to=to,
        band=band,
        source=source,
        other=other,
        field=tuple(among),
        text=text,
    )


def tell_stated(stated: "Stated", as_json: bool, *, follow_up: bool = True) -> None:
    """The claim as stored, with how names were read and the cautions that go with it."""
    if as_json:
        show_json(stated)
        return
    say(f"{stated.key}: {stated.statement}")
    for reading in stated.readings:
        say(f"  {reading}")
    for caution in stated.cautions:
        say(f"  Caution: {caution}")
    if follow_up:
        say(f"Next: steelyard weigh {stated.key}")


def register(app: typer.Typer) -> None:
    """Add the commands to the group of claims."""
    for command in (state, load, propose, edit, falsifier, remove):
        app.command()(command)
