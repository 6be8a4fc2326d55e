"""Confidence in one comparison of a network: its direct and indirect parts rated apart, then joined.

Order of steps after Brignardello-Petersen et al. 2018 (`appraisal.network_rating`): each direct comparison without
imprecision; indirect by the lower of the two direct comparisons of its main loop; the part that carries more of the
estimate leads; direct against indirect for this pair (not a global test); imprecision last, on the network estimate.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.appraisal.body import Body, Contribution, PooledEffect
from evidence.appraisal.confidence import Confidence, DomainRating, combine, rate
from evidence.appraisal.levels import Level
from evidence.appraisal.network_rating import NetworkPart, NetworkRating, rate_network
from evidence.appraisal.rulebook import load_rules
from evidence.statistics.network_comparison import Network
from evidence.statistics.network_consistency import Split, split_node
from evidence.statistics.pooling import pool
from evidence.vocabulary.terms import Direction
from evidence.workflows.relevance.contributions import contribute
from evidence.workflows.relevance.ranked_studies import Member


@dataclass(frozen=True, slots=True)
class PairQuestion:
    """One comparison of a network: first minus second on a metric, for a construct of the vocabulary."""

    first: str
    second: str
    construct: str
    metric: str
    direction: Direction = Direction.MORE


def rate_pair(
    network: Network, members: Sequence[Member], asked: PairQuestion, estimate: PooledEffect, people: int
) -> Confidence:
    """The confidence in the network estimate of a pair, with the steps in its notes.

    `estimate`: the network estimate as it is told (for imprecision); `people`: all people behind it. Whether the
    studies of a loop are alike enough is left to a person: where the pair was never compared directly, the range says
    so. Raises NumberProblem for exercises that are not in the network.
    """
    split = split_node(network, asked.first, asked.second)
    direct = rate_direct(network, members, asked, asked.first, asked.second)
    hub = main_hub(network, asked.first, asked.second)
    loop = None
    if hub is not None:
        sides = (
            rate_direct(network, members, asked, asked.first, hub),
            rate_direct(network, members, asked, hub, asked.second),
        )
        loop = (sides[0], sides[1]) if sides[0] is not None and sides[1] is not None else None
    whole = rate(
        Body(
            construct=asked.construct,
            metric=asked.metric,
            contributions=contributions_of(
                network, members, asked, asked.first, asked.second, only_direct=False
            ),
            pooled=estimate,
            direction=asked.direction,
            n_total=people,
        )
    )
    if direct is None and loop is None:
        return note_steps(
            whole, None, "no single loop joins them: rated on all studies of the network together"
        )
    share = min(1.0, split.share_direct) if direct is not None else 0.0
    incoherent = is_incoherent(split)
    imprecision = whole.domain("imprecision")
    joined = rate_network(
        NetworkPart(
            direct=without_imprecision(direct) if direct is not None else None,
            loop=(without_imprecision(loop[0]), without_imprecision(loop[1])) if loop is not None else None,
            direct_share=share,
            incoherent=incoherent,
            imprecision=imprecision.counted,
        )
    )
    leads = direct if direct is not None and (share >= 0.5 or loop is None) else lower_of(loop)
    assert leads is not None
    domains = tuple(
        imprecision if d.domain == "imprecision" else tell_incoherence(d, split) if incoherent else d
        for d in leads.domains
    )
    if direct is None:
        domains = tuple(widen_indirectness(d, hub) for d in domains)
    return finish(leads, domains, joined, whole)


def finish(
    leads: Confidence, domains: tuple[DomainRating, ...], joined: NetworkRating, whole: Confidence
) -> Confidence:
    """The leading part's rating with the network's imprecision and incoherence in it."""
    domains = tuple(next(d for d in domains if d.domain == name.domain) for name in whole.domains)
    level, low, high = combine(leads.start, domains)  # the level that the steps of `joined` come to as well
    rated = replace(
        leads, level=level, low=low, high=high, proposed_level=level, domains=domains, target=whole.target,
        inputs_hash=whole.inputs_hash,
    )  # fmt: skip
    return note_steps(rated, joined, "")


def note_steps(rated: Confidence, joined: NetworkRating | None, text: str) -> Confidence:
    """The steps that led to a network's rating, told before its other notes."""
    steps = "; ".join(joined.steps) if joined is not None else text
    return replace(
        rated, notes=(f"Network, step by step (Brignardello-Petersen 2018): {steps}.", *rated.notes)
    )


def rate_direct(
    network: Network, members: Sequence[Member], asked: PairQuestion, first: str, second: str
) -> Confidence | None:
    """The rating of the studies that compare two exercises head to head; None where there is none."""
    own = contributions_of(network, members, asked, first, second, only_direct=True)
    if not own:
        return None
    pooled = pool(
        [c.estimate for c in own if c.estimate is not None],
        [c.variance for c in own if c.variance is not None],
        labels=[c.study for c in own],
    )
    weighted = tuple(replace(c, weight=w) for c, w in zip(own, pooled.weights, strict=True))
    return rate(Body(construct=asked.construct, metric=asked.metric, contributions=weighted, pooled=pooled))


def contributions_of(
    network: Network,
    members: Sequence[Member],
    asked: PairQuestion,
    first: str,
    second: str,
    *,
    only_direct: bool,
) -> tuple[Contribution, ...]:
    """Studies with what they say of a pair: those that compare it, or all with their share of the information."""
    names = {s.name for s in network.studies}
    found = []
    for m in members:
        bare = contribute(m.evidence, "none", asked.construct, m.label)
        bare = replace(bare, n=m.people, estimate=None, note="")
        for block in (n for n in m.networks if n.name in names):
            both = {first, second} <= set(block.arms)
            if only_direct and both:
                estimate, variance = block.contrast(first, second)
                reach = 1.959963984540054 * variance**0.5
                found.append(
                    replace(
                        bare,
                        estimate=estimate,
                        variance=variance,
                        low=estimate - reach,
                        high=estimate + reach,
                    )
                )
            elif not only_direct:
                found.append(replace(bare, weight=share_of(network, block.name, first, second)))
    return tuple(found)


def share_of(network: Network, study: str, first: str, second: str) -> float:
    """The share of the information on a pair that one study carries."""
    pair = (first, second) if (first, second) in network.pairs else (second, first)
    row = next(i for i, s in enumerate(network.studies) if s.name == study)
    return float(network.contributions[row, network.pairs.index(pair)])


def main_hub(network: Network, first: str, second: str) -> str | None:
    """The third exercise that was compared directly with both, and most exactly; None where there is none."""
    best: tuple[float, str] | None = None
    for hub in network.nodes:
        if hub in (first, second):
            continue
        spreads = [direct_variance(network, hub, side) for side in (first, second)]
        if None in spreads:
            continue
        total = sum(v for v in spreads if v is not None)
        if best is None or (total, hub) < best:
            best = (total, hub)
    return best[1] if best else None


def direct_variance(network: Network, first: str, second: str) -> float | None:
    """The variance of all head-to-head evidence on a pair, with the network's heterogeneity; None for none."""
    found = [s.contrast(first, second)[1] for s in network.studies if {first, second} <= set(s.arms)]
    return 1.0 / sum(1.0 / (v + network.tau2) for v in found) if found else None


def without_imprecision(confidence: Confidence) -> Level:
    """The level with imprecision set aside, as the parts of a network are rated."""
    kept = [
        replace(d, counted=0, best=0, worst=0) if d.domain == "imprecision" else d for d in confidence.domains
    ]
    return combine(confidence.start, kept)[0]


def lower_of(loop: tuple[Confidence, Confidence] | None) -> Confidence | None:
    """The side of a loop that is rated lower; the first where both are alike."""
    return None if loop is None else min(loop, key=lambda c: without_imprecision(c).rank)


def is_incoherent(split: Split) -> bool:
    """Whether direct and indirect evidence on this pair disagree."""
    return split.p is not None and split.p < load_rules("default")["network"]["incoherence_p"]


def tell_incoherence(d: DomainRating, split: Split) -> DomainRating:
    """Incoherence is counted once, within inconsistency."""
    if d.domain != "inconsistency":
        return d
    told = f"Direct and indirect evidence on this pair disagree (p = {split.p:.2g}): −1 more."
    return replace(
        d,
        proposed=None if d.proposed is None else d.proposed - 1,
        counted=d.counted - 1,
        best=d.best - 1,
        worst=d.worst - 1,
        reason=f"{d.reason} {told}",
        sources=(*d.sources, "BP2018"),
        flags=(*d.flags, "incoherent"),
    )


def widen_indirectness(d: DomainRating, hub: str | None) -> DomainRating:
    """Without head-to-head data, a person may rate down once more where the studies of the loop are not alike."""
    if d.domain != "indirectness":
        return d
    told = (
        f"Compared only through the {hub}: rate one level down where the studies on its two sides differ in people, "
        "dose or measure (GRADE 8)."
    )
    return replace(
        d, worst=d.worst - 1, borderline=True, options=(*d.options, told), flags=(*d.flags, "indirect only")
    )
