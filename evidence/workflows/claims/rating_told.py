"""The rating of a claim told as lines: each domain with its rule, reason, numbers and source, and who chose what."""

from collections.abc import Sequence

from evidence.appraisal.confidence import Choice, DomainRating
from evidence.appraisal.origins import explain_origins, mark_origin
from evidence.appraisal.overrides import OVERALL
from evidence.appraisal.raters import Judgements
from evidence.appraisal.rulebook import cite_source, load_rules
from evidence.publishing.mark import mark_text
from evidence.workflows.claims.rating import RatingShown, RuleSetRow, Together
from evidence.workflows.claims.ratings import tell_value
from evidence.workflows.relevance.linked_sources import LinkedSource


def tell_rating(shown: RatingShown) -> list[str]:
    """Everything behind a claim's confidence."""
    c = shown.confidence
    settings = ", ".join(f"{name} {value}" for name, value in shown.settings.items())
    lines = [
        shown.statement,
        f"Confidence: {mark_text(c.level, c.low, c.high)}",
        f"  rules: {c.rule_set}, version {c.version}"
        + (f" ({settings})" if settings else "")
        + f"; {load_rules(c.rule_set)['describes']}",
        f"  judged for: {c.target}",
        f"  starts {c.start}: {c.start_reason}",
    ]
    if c.level != c.proposed_level:
        lines.append(f"  the rules alone come to: {c.proposed_level}")
    choices = {choice.domain: choice for choice in c.choices}
    for d in c.domains:
        lines += tell_domain(d, choices.get(d.domain), shown.judged.get(d.domain))
    if OVERALL in choices:
        lines += ["  overall", *tell_choice(choices[OVERALL], shown.judged.get(OVERALL))]
    lines += [f"  {note}" for note in c.notes]
    return [*lines, *(f"  {text}" for text in explain_origins(d.conf for d in c.domains))]


def tell_domain(d: DomainRating, choice: Choice | None, judged: Judgements | None) -> list[str]:
    """One domain: what is proposed and why, the range a reader may hold, what was chosen instead."""
    told = "open" if d.proposed is None else tell_value(d.domain, levels(d.proposed))
    if d.best != d.worst:
        why = "open" if d.proposed is None else "borderline"
        told += f", {why}: {levels(d.worst)} to {levels(d.best)}; {levels(d.counted)} counts"
    sources = "; ".join(cite_source(key) for key in d.sources)
    lines = [
        f"  {d.domain.replace('_', ' ')}: {told}",
        f"    {d.reason} [rule {d.rule_id}{mark_origin(d.conf)}]",
        f"    after {sources}",
    ]
    lines += [f"    {flag}" for flag in d.flags]
    lines += [f"    not applied: {option}" for option in d.options]
    if choice is not None:
        lines += tell_choice(choice, judged)
    return lines


def tell_choice(choice: Choice, judged: Judgements | None) -> list[str]:
    """What people chose instead, each with the reason; and whether the evidence has changed since."""
    stale = "; STALE: what it rests on has changed since, look again" if choice.stale else ""
    lines = [f"    chosen: {tell_value(choice.domain, choice.chosen)}, over {choice.proposed}{stale}"]
    if judged is None:
        return [*lines, f"      {choice.person} ({choice.date}): {choice.reason}"]
    for opinion in judged.opinions:
        value = tell_value(choice.domain, opinion.value)
        lines.append(f"      {opinion.person} ({opinion.date}): {value}: {opinion.reason}")
    if judged.settlement is not None:
        s = judged.settlement
        again = "; rated anew since: settle it again" if judged.stale else ""
        lines.append(
            f"      settled by {s.person} ({s.date}): {tell_value(choice.domain, s.value)}: {s.reason}{again}"
        )
    elif judged.disagree:
        lines.append(
            "      they differ, and the more cautious counts until it is settled (steelyard claim settle)"
        )
    return lines


def levels(number: int) -> str:
    """`0`, `−1`."""
    return str(number).replace("-", "−")


def tell_rule_sets(rows: Sequence[RuleSetRow]) -> list[str]:
    """What each rule set proposes, side by side."""
    domains = [domain for domain, _ in rows[0].levels]
    head = ("rule set", *(d.replace("_", " ") for d in domains), "level")
    body = [
        (f"{row.rule_set}{' (kept)' if row.chosen else ''}", *(level for _, level in row.levels), row.span)
        for row in rows
    ]
    widths = [max(len(line[i]) for line in (head, *body)) for i in range(len(head))]
    return [
        "  ".join(cell.ljust(w) for cell, w in zip(line, widths, strict=True)).rstrip()
        for line in (head, *body)
    ]


def tell_differences(one: RuleSetRow, other: RuleSetRow) -> list[str]:
    """Where two rule sets differ, each with its reason."""
    lines = []
    reasons, other_reasons = dict(one.reasons), dict(other.reasons)
    other_levels = dict(other.levels)
    for domain, level in one.levels:
        if other_levels[domain] != level:
            lines.append(f"{domain.replace('_', ' ')}:")
            lines.append(f"  {one.rule_set} {level}: {reasons[domain]}")
            lines.append(f"  {other.rule_set} {other_levels[domain]}: {other_reasons[domain]}")
    return lines or ["They propose the same for every domain."]


def tell_together(found: Together) -> list[str]:
    """Several claims on one decision."""
    lines = [
        f"Confidence over all: {found.level}, the lowest among the critical ones (ACIP handbook, chapter 10)"
    ]
    lines += [
        f"  {key}: {level}{'' if critical else ' (not critical)'}: {statement}"
        for key, statement, level, critical in found.rows
    ]
    return lines


def tell_links(sources: Sequence[LinkedSource]) -> list[str]:
    """Linked sources, those for the claim first."""
    order = ["supports", "against", "mixed", "background"]
    return [f"  {s.line()}" for s in sorted(sources, key=lambda s: order.index(s.stance))]
