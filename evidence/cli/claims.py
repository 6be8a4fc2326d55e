"""Commands on claims: list, show, leave-out; and weigh and brief at the top level."""

from pathlib import Path

import typer

from evidence.cli import claim_judgement, claim_stating
from evidence.cli.frame import (
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    opened,
    say,
    say_invented,
    show_json,
    table,
    tells_problems,
)
from evidence.cli.outputs import FORMAT, PAPER, TO, tell

app = typer.Typer(help="Claims: statements that can be held against results.", no_args_is_help=True)

CLAIM = typer.Argument(..., help="Key of the claim.")


claim_stating.register(app)


@app.command("list")
@tells_problems
def list_(
    region: str = typer.Option(None, "--region", help="Only of this region and its portions."),
    outcome: str = typer.Option(None, "--outcome", help="Only of this outcome."),
    exercise: str = typer.Option(None, "--exercise", help="Only with this exercise, on either side."),
    confidence: str = typer.Option(
        None, "--confidence", help="Only at this level: high, moderate, low, very low."
    ),
    verdict: str = typer.Option(
        None, "--verdict", help='Only with this verdict: supported, "not weighed", ...'
    ),
    kind: str = typer.Option(None, "--kind", help="Only of this kind: comparison, sameness, trend, ..."),
    due: bool = typer.Option(False, "--due", help="Only those whose review is due."),
    as_json: bool = JSON_OPTION,
) -> None:
    """List claims with their last verdict.

    Options narrow the list.

    Example: steelyard claim list --region hamstrings --outcome growth
    """
    from evidence.workflows.pages.claim_lists import Filters, list_claims

    filters = Filters(region, outcome, exercise, confidence, verdict, kind, due)
    catalogue = opened()
    found = list_claims(catalogue, filters)
    if as_json:
        show_json(found)
        return
    if not found:
        say("No claim yet: steelyard claim state --help" if filters == Filters() else "No claim fits.")
        return
    say_invented(catalogue)
    rows = [(c.key, c.kind, c.statement, c.verdict, c.confidence) for c in found]
    say(table(rows, ("key", "kind", "claim", "verdict", "confidence")))


@app.command()
@tells_problems
def show(key: str = CLAIM, as_json: bool = JSON_OPTION) -> None:
    """Show a claim and the studies that bear on it.

    How it is read, each study with the rule that brought it in, and where the claim was told.

    Example: steelyard claim show seated-curl-growth
    """
    from evidence.workflows.pages.claim_showing import show_whole_claim

    shown = show_whole_claim(opened(), key)
    if as_json:
        show_json(shown)
        return
    for line in shown.lines:
        say(line)


@app.command()
@tells_problems
def details(as_json: bool = JSON_OPTION) -> None:
    """List the details that a claim may name.

    With --detail, --over-detail and --graded, and what each holds.

    Example: steelyard claim details
    """
    from evidence.workflows.claims.details import known_details

    found = known_details(opened())
    if as_json:
        show_json(found)
        return
    rows = [(d.name, d.about, d.holds, str(d.carried)) for d in found]
    say(table(rows, ("detail", "about", "holds", "conditions")))


@app.command("leave-out")
@tells_problems
def leave_out(
    key: str = CLAIM,
    study: str = typer.Argument(..., help="Key of the study."),
    reason: str = typer.Option(..., "--because", help="The reason; it is shown with the claim."),
) -> None:
    """Leave a study out of a claim, with the reason shown.

    Example: steelyard claim leave-out seated-curl-growth barbell-2020 --because "other people"
    """
    from evidence.workflows.claims.claiming import leave_study_out

    leave_study_out(opened(), key, study, reason, acting_person())
    say(f"{study} is left out of {key}; the reason is shown with it.")


@tells_problems
def weigh(key: str = CLAIM, as_json: bool = JSON_OPTION) -> None:
    """Weigh a claim: what the evidence says, and how sure.

    Every study for and against, the pooled result, the verdict, and the confidence with its reasons.

    Example: steelyard weigh seated-curl-growth
    """
    from evidence.workflows.documents.briefing import cautions_for
    from evidence.workflows.opening import vocabulary_of
    from evidence.workflows.weigh.telling import weighing_as_text
    from evidence.workflows.weigh.weighing import weigh_and_keep

    catalogue = opened()
    weighing = weigh_and_keep(catalogue, key, acting_person())
    if as_json:
        show_json(weighing)
        return
    say(weighing_as_text(weighing, cautions_for(weighing, vocabulary_of(catalogue))))


@tells_problems
def brief(
    key: str = CLAIM,
    output: Path = TO,
    form: str = FORMAT,
    paper: str = PAPER,
    one_page: bool = typer.Option(False, "--one-page", help="The answer and its sources alone, on one page."),
    replace: bool = REPLACE_OPTION,
) -> None:
    """Write a brief on a claim.

    The answer on its first page, the reasons and figures behind it; or, with --one-page, the answer and its sources.

    Example: steelyard brief seated-curl-growth --one-page --to brief.pdf
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.documents.briefing import write_brief

    wanted = choose_format(form, output, paper, replace)
    tell(write_brief(opened(), key, output, acting_person(), wanted, one_page=one_page), as_json=False)


claim_judgement.register(app)


def register(app: typer.Typer) -> None:
    """Add weigh and brief to the top level."""
    app.command()(weigh)
    app.command()(brief)
