"""A region's exercises ranked on one outcome: every study that measured it, in one model.

Only differences within studies enter, direct and indirect ones together. What no study connects is ranked apart, and
what cannot be told apart is said.
"""

from collections.abc import Sequence

from evidence.appraisal.metrics import find_metric
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Reference
from evidence.errors import BadInput, NotFound
from evidence.publishing.rankings import (
    OrderRow,
    Pair,
    RankedExercise,
    RankedStudy,
    Ranking,
    RankingPart,
    Share,
)
from evidence.publishing.sources import Made
from evidence.statistics.network_comparison import Network
from evidence.vocabulary import Vocabulary
from evidence.workflows.claims.claiming import read_scale
from evidence.workflows.effects.links import PICKS, Pick
from evidence.workflows.gather.sources import format_sources
from evidence.workflows.making import made_from
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.rank.ranking_notes import (
    find_obstacles,
    note_part,
    tell_apart,
    tell_changes,
    what_was_held,
)
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.contributions import StudyEvidence
from evidence.workflows.relevance.ranked_studies import Member, gather_pairs
from evidence.workflows.weigh.claims_in_words import name_people
from evidence.workflows.weigh.inventing import Inventions, find_inventions
from evidence.workflows.weigh.ranked_regions import (
    LEVELS,
    Asked,
    Compared,
    Fitted,
    Question,
    ask,
    compare,
    family_of,
    fit_region,
    order_of,
    read_region,
)

__all__ = [
    "LEVELS",
    "Compared",
    "Question",
    "ask",
    "compare",
    "order_of",
    "rank",
]

TOLD_LEVELS = {
    "exercise": "Exercises are compared as such; the details in which conditions of one exercise differ (load, angle, "
    "grip, machine) are lumped. They can be ranked apart, or a claim stated with details.",
    "details": "Variants of one exercise that differ in a detail (load, angle, grip, machine) are ranked apart.",
    "family": "Variants of an exercise are lumped under the exercise they are variants of, and so are details.",
}


def rank(
    catalogue: Catalogue,
    region: str,
    outcome: str,
    against: str | None = None,
    *,
    scale: str | None = None,
    level: str = "exercise",
    status: str | None = None,
    sex: str | None = None,
    draws: int = 10_000,
    seed: int = 1,
    made: Made | None = None,
) -> Ranking:
    """Rank the exercises of a region on an outcome, on the catalogue as it stands; nothing is stored.

    `against` names the exercise that intervals are shown against; else the one most compared. `level`: what counts as
    one exercise (LEVELS). `status`, `sex`: only studies of such people. `made`: what it names as its state; None: the
    catalogue's own, hashed. Raises Ambiguous or NotFound for names, and
    NotFound for a comparator that no study of the ranking has.
    """
    vocabulary = vocabulary_of(catalogue)
    if sex not in (None, "female", "male", "both"):
        raise BadInput(f'Sex "{sex}" is not known.', hint="Use female, male or both, or leave it out.")
    asked = Asked(
        require_match(vocabulary.find_region(region), "region"),
        require_match(vocabulary.find_construct(outcome), "outcome"),
        read_scale(scale),
        level,
        require_match(vocabulary.find_training_status(status), "training status") if status else None,
        sex,
    )
    wanted = require_match(vocabulary.find_exercise(against), "exercise") if against else None
    fitted = fit_region(read_region(catalogue, asked, vocabulary), asked, vocabulary, draws, seed)
    parts = make_parts(fitted.usual, fitted.question, wanted)
    return describe(made or made_from(catalogue), asked, fitted, parts)


def make_parts(compared: Compared, question: Question, wanted: str | None) -> tuple[RankingPart, ...]:
    """The parts as they are told, each against its comparator: the one asked for where it is in it."""
    if compared.comparison is None:
        return ()
    parts = compared.comparison.parts
    if wanted and question.level == "family":
        wanted = family_of(wanted, question.vocabulary)
    named = question.vocabulary.exercises[wanted].name if wanted else None
    nodes = [node for part in parts for node in part.nodes]
    asked = next((node for node in nodes if named and (node == named or node.startswith(f"{named} ("))), None)
    if named and asked is None:
        there = ", ".join(node for part in parts for node in part.nodes)
        raise NotFound(f"No study of this ranking has the {named}.", hint=f"It has: {there}.")
    return tuple(
        make_part(part, compared.members, asked if asked in part.nodes else most_compared(part), question)
        for part in parts
    )


def most_compared(part: Network) -> str:
    """The exercise with the most direct comparisons; of several, the first by name."""
    totals = part.counts.sum(axis=1)
    return part.nodes[int(totals.argmax())]


def make_part(
    part: Network, members: Sequence[Member], comparator: str | None, question: Question
) -> RankingPart:
    """One connected part, best first."""
    assert comparator is not None
    own = [m for m in members if {n.name for n in m.networks} & {s.name for s in part.studies}]
    labels = {network.name: m.label for m in own for network in m.networks}
    order = order_of(part)
    standings = {s.node: s for s in part.standings}
    exercises = []
    for node in order:
        standing, effect = standings[node], part.effect(node, comparator)
        same = node == comparator
        exercises.append(
            RankedExercise(
                node,
                None if same else effect.estimate,
                None if same else effect.low,
                None if same else effect.high,
                effect.k_direct,
                standing.p_score,
                standing.mean_rank,
                standing.rank_low,
                standing.rank_high,
                () if same else share_out(part, node, comparator, labels),
            )
        )
    pairs = []
    for i, first in enumerate(order):
        for second in order[i + 1 :]:
            effect = part.effect(first, second)
            pairs.append(Pair(first, second, effect.estimate, effect.low, effect.high, effect.k_direct))
    return RankingPart(
        comparator,
        tuple(exercises),
        tuple(pairs),
        tuple(m.label for m in own),
        sum(m.people for m in own),
        part.tau2,
        part.i2,
        part.q,
        part.q_df,
        part.q_p,
        tell_apart(order, pairs, find_metric(question.scale)),
        note_part(part, own, question.scale),
    )


def share_out(part: Network, node: str, comparator: str, labels: dict[str, str]) -> tuple[Share, ...]:
    """How much of the information on one comparison each study carries, most first."""
    pair = (node, comparator) if (node, comparator) in part.pairs else (comparator, node)
    column = part.contributions[:, part.pairs.index(pair)]
    shares = [Share(labels[s.name], float(c)) for s, c in zip(part.studies, column, strict=True) if c > 5e-4]
    return tuple(sorted(shares, key=lambda s: (-s.share, s.study)))


def vary_order(kept: Sequence[Bearing], question: Question, usual: Compared) -> tuple[OrderRow, ...]:
    """The order under the low, usual and high correlation; nothing where every one was printed."""
    ranked = [m for m in usual.members if m.networks]
    if usual.comparison is None or not any(assumed_in(m.evidence, question.scale) for m in ranked):
        return ()
    rows = []
    for pick in PICKS:
        varied = usual if pick == "usual" else compare(gather_with(pick, kept, question), question)
        if varied.comparison is None:
            continue
        used = {r for m in varied.members if m.networks for r in assumed_in(m.evidence, question.scale)}
        rows.append(
            OrderRow(
                pick,
                tuple(sorted(used)),
                tuple(order_of(part) for part in varied.comparison.parts),
                () if pick == "usual" else tell_changes(usual.comparison, varied.comparison, order_of),
            )
        )
    return tuple(rows)


def gather_with(pick: Pick, kept: Sequence[Bearing], question: Question) -> list[StudyEvidence]:
    """The pairs of every study, with the low, usual or high correlation where none was printed."""
    return [gather_pairs(b, question.construct, question.vocabulary, pick) for b in kept]


def assumed_in(evidence: StudyEvidence, scale: str) -> set[float]:
    """The correlations assumed in a study's effects on the scale."""
    return {
        a.value
        for c in evidence.contrasts
        if scale in c.effects
        for a in c.effects[scale].assumptions
        if a.code.startswith("correlation") and a.value is not None
    }


def describe(made: Made, asked: Asked, fitted: Fitted, parts: tuple[RankingPart, ...]) -> Ranking:
    """All that is told of a ranking."""
    question, usual, left, kept = fitted.question, fitted.usual, fitted.left_out, fitted.kept
    vocabulary = question.vocabulary
    ranked = [m for m in usual.members if m.networks]
    region, construct = vocabulary.regions[question.region].name, vocabulary.constructs[question.construct]
    title = (
        f"{construct.name[:1].upper()}{construct.name[1:]} of the {region.removeprefix('the ')}, by exercise"
    )
    health = " ".join(p.health for m in ranked for p in m.evidence.rows.people)
    references: dict[str, Reference] = {r.key: r for m in ranked for r in m.evidence.rows.references}
    assumptions = {
        a.text: f"{a.text} ({a.source})" if a.source else a.text
        for m in ranked
        for c in m.evidence.contrasts
        if question.scale in c.effects
        for a in c.effects[question.scale].assumptions
    }
    for member in ranked:
        if member.blocks > 1:
            link = member.evidence.links.assumed("results of one study")
            text = (
                f"Outcomes or portions of one study were averaged, with {link.value:g} between their errors "
                f"(usual range {link.low:g} to {link.high:g}; {link.source})."
            )
            assumptions.setdefault(text, text)
    inventions = find_inventions(m.evidence for m in ranked)
    return Ranking(
        title=title,
        region=question.region,
        construct=question.construct,
        first="lowest" if question.small_first else "best" if -1.0 in question.turned.values() else "highest",
        scale=question.scale,
        metric=find_metric(question.scale),
        made=made,
        parts=parts,
        studies=tuple(describe_study(m, vocabulary, inventions) for m in ranked),
        left_out=tuple(left),
        forbids=find_obstacles(ranked, vocabulary),
        orders=vary_order(kept, question, usual),
        assumptions=tuple(assumptions.values()),
        notes=tell_notes(asked, question, usual, ranked, region, construct.name),
        cautions=tuple(c.text for c in vocabulary.cautions_for(f"{title} {health}")),
        references=inventions.mark_sources(format_sources([references[key] for key in sorted(references)])),
        invented=inventions.any,
        made_up=inventions.names,
        level=asked.level,
        training_status=asked.training_status or "",
        sex=asked.sex or "",
    )


def describe_study(member: Member, vocabulary: Vocabulary, inventions: Inventions) -> RankedStudy:
    """One study as the table has it."""
    rows: StudyRows = member.evidence.rows
    held = what_was_held(member, vocabulary)
    design = vocabulary.designs.get(rows.study.design)
    return RankedStudy(
        label=inventions.mark(member.label),
        n=member.people,
        people=name_people([member.evidence], vocabulary),
        design=design.name if design else rows.study.design,
        exercises=member.nodes,
        regions=tuple(vocabulary.regions[r].name for r in member.evidence.bearing.regions if r),
        unit=held.unit,
        normalisation=held.normalisation,
        loads=held.loads,
        bias=str((rows.study.bias or {}).get("overall") or "not assessed"),
        notices=tuple(dict.fromkeys(r.notice for r in rows.references if r.notice)),
    )


def tell_notes(
    asked: Asked, question: Question, usual: Compared, ranked: Sequence[Member], region: str, construct: str
) -> tuple[str, ...]:
    """What has to be said of the whole."""
    if not ranked:
        return (f"No study in the catalogue gives a comparison of exercises on {construct} of the {region}.",)
    notes = [
        TOLD_LEVELS[asked.level],
        "No confidence is rated for a ranking. For two of the exercises state a claim and weigh it.",
    ]
    if asked.training_status or asked.sex:
        people = ", ".join(filter(None, (asked.training_status, asked.sex)))
        notes.append(
            f"Only studies whose people are all recorded as {people} were ranked; the others are left out."
        )
    if -1.0 in question.turned.values():
        notes.append("Outcomes where lower is better were turned round, so that more always means better.")
    portions = {r for m in ranked for r in m.evidence.bearing.regions if r}
    if any(m.evidence.bearing.region_relation == "portions of it" for m in ranked):
        names = ", ".join(sorted(question.vocabulary.regions[r].name for r in portions))
        notes.append(
            f"Measured on {names}: the portions of one study are averaged, and differences are taken to hold for "
            f"the {region} as a whole."
        )
    notes += usual.comparison.notes if usual.comparison else ()
    notes += [note for m in ranked for note in m.notes]
    return tuple(dict.fromkeys(notes))
