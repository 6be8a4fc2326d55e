"""The command trace: the chain from a printed number to the sentence, or from one number to all that it feeds."""

import typer

from evidence.cli.frame import JSON_OPTION, opened, say, show_json, tells_problems


@tells_problems
def trace(
    target: str = typer.Argument(..., metavar="CLAIM|STUDY/RESULT", help="Key of a claim, or of a result."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Follow a figure from the page to the sentence.

    How a claim's figure came about, or what a printed figure feeds.

    Example: steelyard trace seated-curl-growth
    """
    from evidence.workflows.trace.tracing import trace_claim, trace_result
    from evidence.workflows.trace.tracing_text import claim_trace_text, result_trace_text

    study, slash, result = target.partition("/")
    if slash:
        followed = trace_result(opened(), study, result)
        show_json(followed) if as_json else say(result_trace_text(followed))
        return
    chain = trace_claim(opened(), target)
    show_json(chain) if as_json else say(claim_trace_text(chain))


def register(app: typer.Typer) -> None:
    """Add trace to the top level."""
    app.command()(trace)
