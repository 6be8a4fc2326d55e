"""Claims of the best (or least): one exercise against all others compared on a region, by the ranking's model.

Best means clearly above every other one of the field; above some and not told apart from others is "among the best".
The field is what was compared in the studies found, and is named: nothing is said of exercises that nobody compared.
Confidence is the lowest of the comparisons that decide it: all others for the best, those not told apart for a tie.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.confidence import Confidence, rate
from evidence.appraisal.kinds import find_kind
from evidence.appraisal.metrics import find_metric, find_thresholds, format_interval, format_value, size_of
from evidence.appraisal.verdict import Verdict, VerdictKind, judge
from evidence.appraisal.wording_kinds import word_superlative
from evidence.catalogue.tables import Claim
from evidence.publishing.panels import Panel
from evidence.statistics.network_comparison import Network
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import contribute
from evidence.workflows.relevance.ranked_studies import Member, bearing_on_region, gather_pairs
from evidence.workflows.weigh.claims_in_words import name_claim
from evidence.workflows.weigh.network_confidence import PairQuestion, rate_pair
from evidence.workflows.weigh.one_sided import Found, finish_weighing
from evidence.workflows.weigh.pooling_claims import choose_scale
from evidence.workflows.weigh.proposing import by_default, propose
from evidence.workflows.weigh.ranked_regions import Question, ask, compare, order_of
from evidence.workflows.weigh.weighed import Inputs, LeftOut, Weighing, set_aside, settle

DRAWS, SEED = 1000, 1  # ranks by simulation are shown in `rank`; here only differences count


@dataclass(frozen=True, slots=True)
class PairEffect:
    """One exercise against another from all direct and indirect evidence, with what the rating asks of it."""

    rival: str
    k: int
    estimate: float
    low: float
    high: float
    tau2: float | None
    i2: float | None
    k_direct: int
    prediction_low: float | None = None
    prediction_high: float | None = None


def weigh_superlative(inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """The exercise against every other one of its part of the network."""
    claim = inputs.claim
    bearings = find_field(inputs, vocabulary)
    kept, left_out = set_aside(bearings, inputs.excluded)
    pairs = [gather_pairs(b, claim.construct_id, vocabulary, "usual") for b in kept]
    scale = choose_scale(claim, pairs, claim.construct_id, vocabulary)
    question = ask(kept, claim.region or "", claim.construct_id, scale, vocabulary, DRAWS, SEED)
    compared = compare(pairs, question)
    left_out += [
        LeftOut(m.evidence.rows.study.key, m.label, m.reason, "rule")
        for m in compared.members
        if not m.networks
    ]
    part, node = find_part(compared.comparison.parts if compared.comparison else (), claim, question)
    found = Found(claim.construct_id, tuple(bearings), tuple(kept), tuple(left_out))
    members = [
        m for m in compared.members if part and {n.name for n in m.networks} & {s.name for s in part.studies}
    ]
    # What is told is always more of the outcome: where lower figures are better, the sign is turned.
    turned = question.small_first and vocabulary.constructs[claim.construct_id].better == "higher"
    effects = against_all(part, node, turned) if part and node else []
    verdict, nearest, rivals = judge_best(claim, effects, scale)
    body = make_pair_body(claim, part, node, nearest, members, scale) if part and nearest else None
    body = body or Body(construct=claim.construct_id, metric=scale, direction=Direction(claim.direction))
    verdict = replace(verdict, people=sum(m.people for m in members))
    proposed = rate(body)
    if part and node and nearest and by_default(claim):
        proposed = rate_deciding(claim, part, node, deciding(effects, nearest, verdict), members, scale)
    elif not by_default(claim):
        proposed = propose(claim, body, (), vocabulary)
    confidence = settle(proposed, inputs.chosen, verdict)
    names = replace(
        name_claim(claim, vocabulary, claim.construct_id, [m.evidence for m in members]), comparator=""
    )
    words = word_superlative(verdict, confidence, names, Direction(claim.direction), len(effects), rivals)
    notes = tell_field(claim, part, compared.comparison.parts if compared.comparison else (), node, nearest)
    return finish_weighing(
        inputs,
        vocabulary,
        found,
        [m.evidence for m in members],
        body,
        None,
        scale,
        verdict,
        confidence,
        words,
        notes=notes,
        panels=[panel_of(part, node, effects, scale)] if part and node else [],
        changes=tell_changes(claim, effects, nearest, scale),
    )


def deciding(effects: Sequence[PairEffect], nearest: PairEffect, verdict: Verdict) -> list[PairEffect]:
    """The comparisons that decide it: all for the best, the open ones for a tie, the clearest for a contradiction."""
    if verdict.kind is VerdictKind.SUPPORTED:
        return list(effects)
    if verdict.kind is VerdictKind.AMONG_THE_BEST:
        return [e for e in effects if e.low <= 0 <= e.high]
    return [nearest]


def rate_deciding(
    claim: Claim,
    part: Network,
    node: str,
    effects: Sequence[PairEffect],
    members: Sequence[Member],
    scale: str,
) -> Confidence:
    """The lowest confidence of the comparisons that decide it; of equals, that with the nearest rival."""
    sign = -1.0 if claim.direction == Direction.LESS else 1.0
    rated: list[tuple[str, Confidence]] = []
    for e in sorted(effects, key=lambda e: sign * e.estimate):
        asked = PairQuestion(node, e.rival, claim.construct_id, scale, Direction(claim.direction))
        people = make_pair_body(claim, part, node, e, members, scale).people
        rated.append((e.rival, rate_pair(part, members, asked, e, people)))
    rival, lowest = min(rated, key=lambda item: item[1].level.rank)
    if len(rated) == 1:
        return lowest
    told = (
        f"Rated for the comparison with the {rival}: the lowest of the {len(rated)} comparisons that decide it "
        f"({'; '.join(f'{name} {c.level}' for name, c in rated)})."
    )
    return replace(lowest, notes=(told, *lowest.notes))


def find_field(inputs: Inputs, vocabulary: Vocabulary) -> list[Bearing]:
    """Studies that measured the outcome on the region, on exercises of the field; wider regions say nothing here."""
    claim = inputs.claim
    field = set(claim.terms.get("field") or ())
    found = []
    for rows in inputs.rows:
        bearing = bearing_on_region(rows, claim.region or "", claim.construct_id, vocabulary)
        if bearing is None or bearing.region_relation == "what contains it":
            continue
        if field:
            kept = tuple(c for c in rows.conditions if c.exercise in {*field, claim.exercise})
            if len({c.exercise for c in kept}) < 2:
                continue
            bearing = replace(bearing, rows=replace(rows, conditions=kept))
        found.append(bearing)
    return found


def find_part(
    parts: Sequence[Network], claim: Claim, question: Question
) -> tuple[Network | None, str | None]:
    """The connected part with the exercise, or with the one variant of it that was compared."""
    vocabulary = question.vocabulary
    ids = [claim.exercise, *vocabulary.exercise_descendants(claim.exercise)] if claim.exercise else []
    names = [vocabulary.exercises[i].name for i in ids if i]
    names += [f"{vocabulary.exercises[i].name} ({i})" for i in ids if i]
    for name in names:
        for part in parts:
            if name in part.nodes:
                return part, name
    return None, None


def against_all(part: Network, node: str, turned: bool) -> list[PairEffect]:
    """The exercise against each other one; positive: more with it."""
    found = []
    for rival in part.nodes:
        if rival == node:
            continue
        e = part.effect(node, rival)
        low, high, estimate = (-e.high, -e.low, -e.estimate) if turned else (e.low, e.high, e.estimate)
        found.append(
            PairEffect(rival, len(part.studies), estimate, low, high, part.tau2, part.i2, e.k_direct)
        )
    return found


def judge_best(
    claim: Claim, effects: Sequence[PairEffect], scale: str
) -> tuple[Verdict, PairEffect | None, list[str]]:
    """The verdict, the rival on which it hangs, and the rivals that are named with it."""
    sign = -1.0 if claim.direction == Direction.LESS else 1.0
    empty = judge(Body(construct=claim.construct_id, metric=scale))
    if not effects:
        return empty, None, []
    metric, thresholds = find_metric(scale), find_thresholds(scale, claim.construct_id)
    beaten = [e for e in effects if (e.high if sign > 0 else -e.low) < 0]
    tied = [e for e in effects if e not in beaten and (e.low if sign > 0 else -e.high) <= 0]
    rivals = beaten or tied
    kind = (
        VerdictKind.CONTRADICTED if beaten else VerdictKind.AMONG_THE_BEST if tied else VerdictKind.SUPPORTED
    )
    nearest = min(effects, key=lambda e: sign * e.estimate)
    names = [f"the {e.rival}" for e in sorted(rivals, key=lambda e: sign * e.estimate)]
    told = ", ".join(names)
    text = find_kind("superlative").name_verdict(
        str(kind),
        best="best" if sign > 0 else "lowest",
        field=f"{len(effects) + 1} exercises compared",
        rivals=told,
        ranks="is" if len(rivals) == 1 else "are",
        higher="higher" if sign > 0 else "lower",
    )
    sentence = (
        f"Against the nearest rival, the {nearest.rival}: {format_value(metric, nearest.estimate, sign=True)} "
        f"(95 % interval {format_interval(metric, nearest.low, nearest.high)}, {metric.unit})."
    )
    direction = (
        None
        if kind is VerdictKind.AMONG_THE_BEST
        else Direction.MORE
        if nearest.estimate > 0
        else Direction.LESS
    )
    verdict = replace(
        empty,
        kind=kind,
        text=text,
        direction=direction,
        sentence=sentence,
        size=size_of(nearest.estimate, thresholds),
        estimate=nearest.estimate,
        low=nearest.low,
        high=nearest.high,
        k=nearest.k,
    )
    return verdict, nearest, names


def make_pair_body(
    claim: Claim, part: Network, node: str | None, nearest: PairEffect, members: Sequence[Member], scale: str
) -> Body:
    """The comparison with the nearest rival as a body to rate: each study with its share of the information."""
    assert node is not None
    pair = (node, nearest.rival) if (node, nearest.rival) in part.pairs else (nearest.rival, node)
    column = part.contributions[:, part.pairs.index(pair)]
    shares = {s.name: float(c) for s, c in zip(part.studies, column, strict=True)}
    contributions: list[Contribution] = []
    for m in members:
        share = sum(shares.get(n.name, 0.0) for n in m.networks)
        bare = contribute(m.evidence, "none", claim.construct_id, m.label)
        both = any({node, nearest.rival} <= set(n.arms) for n in m.networks)
        contributions.append(
            replace(bare, weight=share, n=m.people, estimate=None, note="", via_common_comparator=not both)
        )
    return Body(
        construct=claim.construct_id,
        metric=scale,
        contributions=tuple(contributions),
        pooled=nearest,
        direction=Direction(claim.direction),
        n_total=sum(c.n for c in contributions if (c.weight or 0) > 0.005),
    )


def tell_field(
    claim: Claim, part: Network | None, parts: Sequence[Network], node: str | None, nearest: PairEffect | None
) -> list[str]:
    """The field the claim was held against, and what stands outside it."""
    if part is None:
        others = [n for p in parts for n in p.nodes]
        told = f"; compared there: {', '.join(others)}" if others else ""
        return [f"No study compares this exercise with others on the region and outcome{told}."]
    field = ", ".join(n for n in part.nodes if n != node)
    notes = [f"The field: {field}. Nothing is said of exercises that were not compared with these."]
    outside = [n for p in parts if p is not part for n in p.nodes]
    if outside:
        notes.append(f"Not connected by any study, so not part of the field: {', '.join(outside)}.")
    if nearest is not None:
        notes.append(
            f"Confidence is rated for the comparison with the nearest rival, the {nearest.rival}"
            + ("" if nearest.k_direct else ", which no study compared directly")
            + ". Intervals are of pairs, not corrected for their number."
        )
    return notes


def tell_changes(
    claim: Claim, effects: Sequence[PairEffect], nearest: PairEffect | None, scale: str
) -> list[str]:
    """What would settle it: the comparisons that are open, and whether anyone made them directly."""
    metric, lines = find_metric(scale), []
    for e in effects:
        if e.low <= 0 <= e.high:
            direct = f"{e.k_direct} direct" if e.k_direct else "none direct"
            lines.append(
                f"1 comparison is open: with the {e.rival} "
                f"({format_interval(metric, e.low, e.high)}; {direct}); a study of the pair would help most."
            )
    if claim.falsifier:
        lines.append(f"In the words of {claim.added_by}, it would be given up if: {claim.falsifier}")
    return lines


def panel_of(part: Network, node: str | None, effects: Sequence[PairEffect], scale: str) -> Panel:
    """The order, each with its difference from the exercise of the claim."""
    metric = find_metric(scale)
    by_name = {e.rival: e for e in effects}
    rows = []
    for place, name in enumerate(order_of(part), 1):
        e = by_name.get(name)
        if e is None:
            rows.append((str(place), name, "the exercise of the claim", ""))
            continue
        # Shown as the rival against the exercise, so that the order and the signs run the same way.
        told = f"{format_value(metric, -e.estimate, sign=True)} [{format_interval(metric, -e.high, -e.low)}]"
        rows.append((str(place), name, told, f"{e.k_direct} direct"))
    return Panel(
        "Ranking",
        f"All exercises that studies connect with it, each against it ({metric.unit}).",
        ("place", "exercise", "against it", "studies"),
        tuple(rows),
    )
