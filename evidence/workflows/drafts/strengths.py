"""Checks of wording against verdict and confidence: too strong, too weak, settled too soon, sameness, the opposite."""

from collections.abc import Iterator

from evidence.appraisal.draft_cues import find_cue
from evidence.appraisal.levels import Level
from evidence.appraisal.metrics import find_metric, format_interval, format_value
from evidence.appraisal.rulebook import load_rules
from evidence.appraisal.verdict import VerdictKind
from evidence.vocabulary.terms import Direction
from evidence.workflows.drafts.findings import Draught, mark_of
from evidence.workflows.drafts.knowledge import KnownClaim
from evidence.workflows.drafts.rankings import Order
from evidence.workflows.drafts.readings import Reading
from evidence.workflows.drafts.suggesting import about_claim, rewrite, suggest

SMALL_TOTAL = 30  # people; common practice, no source
OPPOSITE = {Direction.MORE: Direction.LESS, Direction.LESS: Direction.MORE}


def check_strengths(reading: Reading) -> Iterator[Draught]:
    """Every finding on how strongly one sentence says what the catalogue knows."""
    for claim in reading.claims:
        yield from check_opposite(reading, claim)
        yield from check_too_strong(reading, claim)
        yield from check_too_weak(reading, claim)
        yield from check_sameness(reading, claim)
        yield from check_other_view(reading, claim)
        yield from check_stale(reading, claim)
    yield from check_small_study(reading)
    yield from check_superlative(reading)


def allowed_strength(claim: KnownClaim) -> str:
    """The strongest class of wording that a claim's confidence allows."""
    allowed: str = load_rules("wording")["frames"][str(claim.level)]["strength"]
    # An open verdict carries no statement of a direction beyond "may", however sure one is of the figures.
    order = load_rules("wording")["strength_order"]
    return min(allowed, "may", key=order.index) if claim.open else allowed


def told(claim: KnownClaim) -> tuple[str, ...]:
    """Verdict, confidence and figure in words: pooled, or that of the one study behind it."""
    shown = [f"verdict: {claim.found_words}; confidence: {claim.level}"]
    relative = [f for f in claim.figures if f.kind == "relative"]
    estimate = [f for f in claim.figures if f.kind == "estimate"]
    what = "one study" if len(claim.studies) == 1 else "pooled"
    fewer = "\N{MINUS SIGN}" if estimate and estimate[0].value < 0 else ""
    if relative:
        shown.append(
            f"{what}: {fewer}{relative[0].value:.0f} % (relative); "
            f"{'' if len(claim.studies) == 1 else f'{len(claim.studies)} studies, '}{claim.people} people"
        )
    elif estimate:
        metric = find_metric(estimate[0].unit)
        bounds = [f.value for f in claim.figures if f.kind == "bound"][:2]
        interval = f" ({format_interval(metric, *bounds)})" if len(bounds) == 2 else ""
        shown.append(
            f"{what}: {format_value(metric, estimate[0].value)}{interval}, {metric.name}; {claim.people} people"
        )
    return tuple(shown)


def speaks_of_result(reading: Reading, claim: KnownClaim) -> bool:
    """Whether the sentence states the claim's result in general, rather than a detail or one study's past."""
    if not reading.asserts or reading.left_open or reading.reports:
        return False
    if reading.cue("settled") and (reading.topic.training or reading.cue("comparative")):
        return True
    if not reading.generalises:
        return False
    candidate = reading.candidates[claim.key]
    named = candidate.first is not None or candidate.second is not None
    return named or bool(reading.cue("comparative")) or bool(reading.topic.constructs)


def check_too_strong(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """W1: the wording's strength class exceeds what the confidence allows."""
    if not speaks_of_result(reading, claim):
        return
    said = reading.direction(claim)
    if claim.found in OPPOSITE and said is OPPOSITE[claim.found]:
        return  # the opposite is a finding of its own
    if reading.cue("sameness") and not claim.same:
        return  # so is sameness
    order = load_rules("wording")["strength_order"]
    allowed = allowed_strength(claim)
    if order.index(reading.strength) <= order.index(allowed):
        return
    words = load_rules("wording")["allowed_words"][str(claim.level)]
    named = {"plain": "a plain statement", "boosted": "boosted"}.get(
        reading.strength, f'"{reading.strength}"'
    )
    why = f"{claim.level} confidence allows {words}"
    open_words = " and the verdict is open" if claim.open else ""
    if claim.nothing_found:
        open_words, why = (
            ", as nothing was found that bears on it",
            "where nothing was found, nothing can be said",
        )
    mark = mark_of(reading.cue("settled") or reading.cue("effect_verb"))
    yield Draught(
        "stronger-than-confidence",
        f"The wording is {named}; confidence is {claim.level}{open_words}.",
        why,
        mark,
        figures=told(claim),
        suggestions=suggest(claim),
        rewrite=rewrite(reading, claim),
        claim=claim.key,
    )


def check_too_weak(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """W2: two classes or more below what the confidence allows."""
    if claim.open or reading.not_held or reading.reports or reading.cue("own_view"):
        return
    order = load_rules("wording")["strength_order"]
    allowed = {Level.HIGH: "plain", Level.MODERATE: "probably"}.get(claim.level)
    if allowed is None or order.index(allowed) - order.index(reading.strength) < 2:
        return
    mark = mark_of(find_cue("left_open", reading.text))
    yield Draught(
        "weaker-than-confidence",
        f"The wording is more cautious than the rating ({claim.level}).",
        f"{claim.level} confidence allows {load_rules('wording')['allowed_words'][str(claim.level)]}",
        mark,
        figures=told(claim),
        suggestions=suggest(claim),
        rewrite=rewrite(reading, claim),
        claim=claim.key,
    )


def check_sameness(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """W3, W10: sameness with no margin met."""
    sameness = reading.cue("sameness")
    if sameness is None or claim.same or not reading.asserts or not reading.is_tied:
        return
    if reading.cue("sameness_doubted"):
        return
    yield Draught(
        "absence-as-sameness",
        f'"{sameness.text}" says that both are the same; that is not shown.',
        "no margin of sameness is met: the interval holds differences that matter",
        mark_of(sameness),
        figures=told(claim),
        suggestions=suggest(claim),
        rewrite=rewrite(reading, claim),
        claim=claim.key,
    )


def check_opposite(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """The sentence says the opposite of what the figures say."""
    if not reading.asserts or reading.left_open or claim.found is None:
        return
    said = reading.direction(claim)
    clash = (claim.found in OPPOSITE and said is OPPOSITE[claim.found]) or (
        claim.found is Direction.SAME
        and said in OPPOSITE
        and reading.strength in ("plain", "boosted", "probably")
        and not find_cue("left_open", reading.text)
    )
    if not clash:
        return
    yield Draught(
        "contradicts-catalogue",
        "The catalogue's figures say the opposite.",
        f"verdict: {claim.found_words}",
        mark_of(reading.cue("comparative")),
        figures=told(claim),
        suggestions=suggest(claim),
        rewrite=rewrite(reading, claim),
        claim=claim.key,
    )


def check_other_view(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """Results against the claim, on which the text is silent."""
    if not claim.against or set(claim.against) & set(reading.cited):
        return
    if not reading.asserts or reading.left_open or reading.cue("dissent"):
        return
    if set(claim.against) & set(reading.cited_next):
        return
    if reading.reports and not reading.generalises and reading.strength == "plain" and not reading.is_tied:
        return
    names = "; ".join(
        reading.knowledge.references[k].short for k in claim.against if k in reading.knowledge.references
    )
    yield Draught(
        "other-view-left-out",
        "The catalogue holds results against this, and the text is silent on them.",
        f"against it: {names}",
        figures=told(claim),
        suggestions=suggest(claim),
        claim=claim.key,
        references=claim.against,
    )


def check_stale(reading: Reading, claim: KnownClaim) -> Iterator[Draught]:
    """The review is overdue, or evidence came after the draft was last checked."""
    due = claim.review_due
    if due is not None and due < reading.knowledge.today:
        yield Draught(
            "stale",
            f"The review of {claim.key} was due on {due.isoformat()}.",
            "weigh and review the claim before it is told again",
            claim=claim.key,
        )
        return
    checked = last_checked(reading)
    if checked is None:
        return
    newer = [
        reading.knowledge.studies[s].label
        for s in claim.studies
        if (added := reading.knowledge.studies[s].added_at) is not None and added.date() > checked
    ]
    if newer:
        yield Draught(
            "stale",
            "Newer evidence came in after this draft was last checked.",
            f"since {checked.isoformat()}: {', '.join(newer)}",
            claim=claim.key,
        )


def last_checked(reading: Reading):  # type: ignore[no-untyped-def]
    """The day on which the draft says it was checked."""
    from datetime import date, datetime

    said = reading.draft.settings.get("checked")
    if isinstance(said, datetime):
        return said.date()
    if isinstance(said, date):
        return said
    try:
        return date.fromisoformat(str(said)) if said else None
    except ValueError:
        return None


def check_small_study(reading: Reading) -> Iterator[Draught]:
    """Settled wording over one study, or over few people."""
    settled = reading.cue("settled")
    if settled is None or not reading.asserts:
        return
    studies = reading.studies
    if not studies:
        return
    if reading.cited_studies and reading.claims:
        behind = {s for c in reading.claims for s in c.studies}
        studies = tuple(s for s in studies if s.key in behind) or studies
    samples = {s.sample or s.key: s for s in studies}
    people = sum(s.people or 0 for s in samples.values())
    if len(samples) > 1 and people >= SMALL_TOTAL:
        return
    count = "one study" if len(samples) == 1 else f"{len(samples)} studies"
    yield about_claim(
        reading,
        "single-small-study",
        f'"{settled.text}" over {count} of {people} people.',
        "whether another study would find the same is not known",
        mark_of(settled),
    )


def check_superlative(reading: Reading) -> Iterator[Draught]:
    """Best, optimal or superior without a ranking that bears it out."""
    found = reading.cue("superlative")
    if found is None or not reading.asserts or reading.left_open:
        return
    if not (reading.topic.training or reading.claims):
        return
    why = why_no_best(reading)
    if why is None:
        return
    yield about_claim(
        reading,
        "superlative",
        f'"{found.text}" has no ranking behind it.'
        if not why
        else f'"{found.text}" is more than the ranking bears.',
        why or "nothing in the catalogue sets it clear of every other exercise",
        mark_of(found),
    )


def why_no_best(reading: Reading) -> str | None:
    """What a ranking has against a superlative; empty: there is no ranking; None: a ranking bears it out.

    A claim of the best that the sentence is about says it; else the order of a region and an outcome that it names.
    """
    for claim in reading.claims:
        if claim.kind == "superlative" and claim.verdict == VerdictKind.SUPPORTED:
            return None
        if claim.kind == "superlative" and claim.verdict == VerdictKind.AMONG_THE_BEST:
            return f"the catalogue says: {claim.found_words}"
    against = ""
    named = frozenset().union(*reading.topic.exercises)
    for region in sorted(reading.topic.regions):
        for construct in sorted(reading.topic.constructs):
            order = reading.knowledge.rank(region, construct)
            if order is None:
                continue
            is_first = any(reading.finder.related(e, named) for e in order.first)
            if is_first and order.clear:
                return None
            against = against or tell_order(order, is_first)
    return against


def tell_order(order: Order, is_first: bool) -> str:
    """A ranking that does not bear a superlative out, in words."""
    field = f"of {len(order.names)} exercises compared"
    if order.tied:
        who = "it" if is_first else order.names[0]
        return f"{field}, {who} comes first, not told apart from {', '.join(order.tied)}"
    return f"{field}, {order.names[0]} comes first" + (": too few to be a field" if is_first else "")
