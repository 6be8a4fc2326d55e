"""Commands on claims: state, list, show, leave-out; and weigh and brief at the top level."""

from pathlib import Path

import typer

from evidence.cli import claim_judgement
from evidence.cli.frame import JSON_OPTION, acting_person, opened, say, show_json, table, tells_problems

app = typer.Typer(help="Claims: statements that can be held against results.", no_args_is_help=True)

CLAIM = typer.Argument(..., help="Key of the claim.")


@app.command()
@tells_problems
def state(
    exercise: str = typer.Option(..., "--exercise", help="The exercise the claim is about."),
    over: str = typer.Option(..., "--over", help="The exercise it is compared with."),
    region: str = typer.Option(None, "--region", help="The muscle or region."),
    outcome: str = typer.Option(..., "--outcome", help="activation, growth, strength, ..."),
    direction: str = typer.Option("more", "--says", help="more, less, same or differs."),
    key: str = typer.Option(None, "--key", help="Short name for the claim; made from the rest if left out."),
    status: str = typer.Option(None, "--status", help="Only people of this training status."),
    sex: str = typer.Option(None, "--sex", help="Only female or male."),
    details: list[str] = typer.Option([], "--detail", metavar="NAME=VALUE", help="A detail of the exercise."),
    over_details: list[str] = typer.Option(
        [], "--over-detail", metavar="NAME=VALUE", help="A detail of the other one."
    ),
    margin: float = typer.Option(
        None, "--margin", help="Smallest difference that matters, in the claim's metric."
    ),
    surrogate: str = typer.Option(
        None, "--leaning-on", help="A stand-in outcome the claim may lean on, told openly."
    ),
    scale: str = typer.Option(
        None, "--scale", help="smd, log-ratio-of-means, mean-difference, percent-change-difference."
    ),
    note: str = typer.Option(None, "--note", help="Anything to remember."),
    as_json: bool = JSON_OPTION,
) -> None:
    """State a comparison so that it can be tested.

    Example: steelyard claim state --exercise "seated leg curl" --over "lying leg curl"
    --region hamstrings --outcome growth
    """
    from evidence.workflows.claiming import Statement, state_claim

    stated = state_claim(
        opened(),
        Statement(
            exercise=exercise,
            comparator=over,
            region=region,
            outcome=outcome,
            direction=direction,
            key=key,
            training_status=status,
            sex=sex,
            exercise_details=tuple(details),
            comparator_details=tuple(over_details),
            margin=margin,
            surrogate=surrogate,
            note=note,
            scale=scale,
        ),
        acting_person(),
    )
    if as_json:
        show_json(stated)
        return
    say(f"{stated.key}: {stated.statement}")
    for reading in stated.readings:
        say(f"  {reading}")
    say(f"Next: steelyard weigh {stated.key}")


@app.command("list")
@tells_problems
def list_(as_json: bool = JSON_OPTION) -> None:
    """List claims with their last verdict.

    Example: steelyard claim list
    """
    from evidence.workflows.browsing import list_claims

    found = list_claims(opened())
    if as_json:
        show_json(found)
        return
    if not found:
        say("No claim yet: steelyard claim state --help")
        return
    say(
        table(
            [(c.key, c.statement, c.verdict, c.confidence) for c in found],
            ("key", "claim", "verdict", "confidence"),
        )
    )


@app.command()
@tells_problems
def show(key: str = CLAIM, as_json: bool = JSON_OPTION) -> None:
    """Show a claim, how it is read, what was left out and where it was told.

    Example: steelyard claim show KEY
    """
    from evidence.workflows.browsing import show_claim

    shown = show_claim(opened(), key)
    if as_json:
        show_json(shown)
        return
    for line in shown.lines:
        say(line)


@app.command("leave-out")
@tells_problems
def leave_out(
    key: str = CLAIM,
    study: str = typer.Argument(..., help="Key of the study."),
    reason: str = typer.Option(..., "--because", help="The reason; it is shown with the claim."),
) -> None:
    """Leave a study out of a claim, with the reason shown.

    Example: steelyard claim leave-out KEY STUDY --because ...
    """
    from evidence.workflows.claiming import leave_study_out

    leave_study_out(opened(), key, study, reason, acting_person())
    say(f"{study} is left out of {key}; the reason is shown with it.")


@tells_problems
def weigh(key: str = CLAIM, as_json: bool = JSON_OPTION) -> None:
    """Weigh a claim: every study, pooled result, verdict, confidence with reasons.

    Example: steelyard weigh KEY
    """
    from evidence.workflows.telling import weighing_as_text
    from evidence.workflows.weighing import weigh_and_keep

    weighing = weigh_and_keep(opened(), key, acting_person())
    if as_json:
        show_json(weighing)
        return
    say(weighing_as_text(weighing))


@tells_problems
def brief(
    key: str = CLAIM,
    output: Path = typer.Option(
        None, "--to", help="File to write: .html or .md. Left out: Markdown on the screen."
    ),
) -> None:
    """Write a one-page brief on a claim.

    Example: steelyard brief KEY --to brief.html
    """
    from evidence.workflows.briefing import write_brief

    text, path = write_brief(opened(), key, output, acting_person())
    say(f"Wrote {path}." if path else text)


claim_judgement.register(app)


def register(app: typer.Typer) -> None:
    """Add weigh and brief to the top level."""
    app.command()(weigh)
    app.command()(brief)
