"""Commands on what people judge of a claim: rate, settle, agreement, together; and the sources they link to it."""

import typer

from evidence.cli.frame import JSON_OPTION, acting_person, opened, say, show_json, tells_problems

CLAIM = typer.Argument(..., help="Key of the claim.")
BECAUSE = typer.Option(..., "--because", help="The reason; it is shown with the claim.")


@tells_problems
def rate(
    key: str = CLAIM,
    domain: str = typer.Argument(
        None, help="risk of bias, inconsistency, indirectness, imprecision, publication bias, overall."
    ),
    level: str = typer.Argument(
        None, help="0, -1, -2, -3 (or: not serious, serious, very serious); a level for overall."
    ),
    because: str = typer.Option(None, "--because", help="Your reason; needed to rate."),
    take_back: bool = typer.Option(False, "--take-back", help="Take your own rating of the domain back."),
    rule_set: str = typer.Option(
        None, "--rule-set", metavar="NAME", help='Compare another rule set; "all" compares every one.'
    ),
    keep: bool = typer.Option(False, "--keep", help="Rate this claim by that rule set from now on."),
    set_: list[str] = typer.Option(
        [],
        "--set",
        metavar="NAME=VALUE",
        help="Keep a setting with the claim: nrs_start, single_study, target.",
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Show why a claim has its confidence, or rate it.

    Rate a domain yourself, with a reason; compare rule sets.

    Example: steelyard claim rate seated-curl-growth imprecision serious --because "12 people are too few for a habit"
    """
    from evidence.workflows.claims.rating import choose_rules, rate_domain, show_rating
    from evidence.workflows.claims.rating import take_back as take_rating_back
    from evidence.workflows.claims.rating_told import tell_rating

    refuse_idle(domain, take_back, keep and not set_, rule_set, because)
    catalogue, who = opened(), acting_person()
    if rule_set is not None and not keep:
        compare(key, rule_set, as_json)
        return
    if rule_set is not None or set_:
        shown = choose_rules(catalogue, key, who, rule_set, split_settings(set_))
    elif domain is None:
        shown = show_rating(catalogue, key)
    elif take_back:
        shown = take_rating_back(catalogue, key, domain, who)
    else:
        refuse_half(domain, level)
        shown = rate_domain(catalogue, key, domain, level, because or "", who)
    if as_json:
        show_json(shown)
        return
    for line in tell_rating(shown):
        say(line)


def refuse_idle(
    domain: str | None, take_back: bool, keep: bool, rule_set: str | None, because: str | None
) -> None:
    """Options that would change nothing are no silent success. Raises BadInput naming what they need."""
    from evidence.errors import BadInput

    if keep and rule_set is None:
        raise BadInput("--keep keeps a rule set, and none is named.", hint="Add --rule-set NAME.")
    if keep and rule_set == "all":
        raise BadInput("one rule set is kept, not all.", hint="Name it: --rule-set NAME --keep.")
    if domain is None and (take_back or because is not None):
        option = "--take-back" if take_back else "--because"
        raise BadInput(f"{option} is about one domain, and none is named.", hint="Such as: imprecision.")


def refuse_half(domain: str, level: str | None) -> None:
    """A domain without a rating says nothing."""
    from evidence.errors import BadInput

    if level is None:
        raise BadInput(
            f"no rating of {domain} is given", hint='Such as: imprecision serious --because "...".'
        )


def split_settings(texts: list[str]) -> dict[str, str]:
    """`single_study=kce` as name and value."""
    from evidence.errors import BadInput

    found = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not sign:
            raise BadInput(f"{text!r} is no setting", hint="Write it as single_study=kce.")
        found[name.strip()] = value.strip()
    return found


def compare(key: str, rule_set: str, as_json: bool) -> None:
    """Another rule set beside the default; nothing is stored."""
    from evidence.workflows.claims.rating import compare_rule_sets
    from evidence.workflows.claims.rating_told import tell_differences, tell_rule_sets
    from evidence.workflows.weigh.proposing import RULE_SETS

    names = RULE_SETS if rule_set == "all" else tuple(dict.fromkeys(("default", rule_set)))
    rows = compare_rule_sets(opened(), key, names)
    if as_json:
        show_json(rows)
        return
    for line in tell_rule_sets(rows):
        say(line)
    if len(rows) == 2:
        for line in ("", *tell_differences(*rows)):
            say(line)
    say(
        f"Nothing is stored. To rate the claim by one from now on: steelyard claim rate {key} --rule-set NAME --keep"
    )


@tells_problems
def settle(
    key: str = CLAIM,
    domain: str = typer.Argument(..., help="The domain on which people differ, or overall."),
    level: str = typer.Argument(
        ..., help="0, -1, -2, -3 (or: not serious, serious, ...); a level for overall."
    ),
    because: str = BECAUSE,
    as_json: bool = JSON_OPTION,
) -> None:
    """Settle where two people rated a claim differently.

    Both ratings stay.

    Example: steelyard claim settle seated-curl-growth imprecision 0 --because "the interval is clear of both lines"
    """
    from evidence.workflows.claims.rating import settle_domain
    from evidence.workflows.claims.rating_told import tell_rating

    shown = settle_domain(opened(), key, domain, level, because, acting_person())
    if as_json:
        show_json(shown)
        return
    for line in tell_rating(shown):
        say(line)


@tells_problems
def agreement(
    key: str = typer.Argument(None, help="Key of one claim; left out: all claims."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say how far people agree on the ratings of claims.

    Percent, Cohen's kappa with its interval, and where they differ.

    Example: steelyard claim agreement
    """
    from evidence.workflows.claims.rating import agreement_on_claims

    found = agreement_on_claims(opened(), key)
    if as_json:
        show_json(found)
        return
    for line in found.lines:
        say(line)


@tells_problems
def together(
    keys: list[str] = typer.Argument(..., help="Claims that one decision turns on."),
    critical: list[str] = typer.Option([], "--critical", help="A claim that decides; left out: all of them."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Give the confidence over several outcomes.

    The lowest among the critical ones.

    Example: steelyard claim together seated-curl-growth thrust-growth --critical seated-curl-growth
    """
    from evidence.workflows.claims.rating import rate_together
    from evidence.workflows.claims.rating_told import tell_together

    found = rate_together(opened(), tuple(keys), tuple(critical))
    if as_json:
        show_json(found)
        return
    for line in tell_together(found):
        say(line)


@tells_problems
def link(
    key: str = CLAIM,
    reference: str = typer.Argument(..., help="Key of the reference."),
    stance: str = typer.Option(..., "--stance", help="supports, against, mixed, background."),
    says: str = typer.Option(..., "--says", help="What it says, in your words; it is shown."),
    locator: str = typer.Option("", "--locator", help='Where it says so: "p. 4".'),
    kind: str = typer.Option("study", "--kind", help="study, review, guideline, expert, other."),
    n: int = typer.Option(None, "--n", help="How many people it is about."),
    design: str = typer.Option(None, "--design", help="Its design, or that of the studies in a review."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Link a source without figures to a claim.

    For, against, mixed, or background; it is shown and not pooled.

    Example: steelyard claim link seated-curl-growth rack2016 --stance against --says "no difference seen"
    """
    from evidence.workflows.claims.linking import NewLink, link_source

    new = NewLink(reference, stance, says, locator, kind, n, design)
    found = link_source(opened(), key, new, acting_person())
    show_found(found, as_json)


@tells_problems
def links(key: str = CLAIM, as_json: bool = JSON_OPTION) -> None:
    """List the sources linked to a claim, for and against.

    Example: steelyard claim links seated-curl-growth
    """
    from evidence.workflows.claims.linking import show_links

    show_found(show_links(opened(), key), as_json)


@tells_problems
def unlink(
    key: str = CLAIM,
    reference: str = typer.Argument(..., help="Key of the reference."),
    locator: str = typer.Option(None, "--locator", help="Which place, where it is linked at several."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Take a linked source away again.

    Example: steelyard claim unlink seated-curl-growth rack2016
    """
    from evidence.workflows.claims.linking import unlink_source

    show_found(unlink_source(opened(), key, reference, acting_person(), locator), as_json)


def show_found(found: object, as_json: bool) -> None:
    """The sources linked to a claim."""
    from evidence.workflows.claims.linking import LinksShown
    from evidence.workflows.claims.rating_told import tell_links

    assert isinstance(found, LinksShown)
    if as_json:
        show_json(found)
        return
    say(found.statement)
    for line in tell_links(found.sources) or ["  no source is linked: steelyard claim link --help"]:
        say(line)


def register(app: typer.Typer) -> None:
    """Add them to the commands on claims."""
    app.command(context_settings={"ignore_unknown_options": True})(rate)
    app.command(context_settings={"ignore_unknown_options": True})(settle)
    app.command()(agreement)
    app.command()(together)
    app.command()(link)
    app.command()(links)
    app.command()(unlink)
