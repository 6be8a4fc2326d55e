"""What is said of a ranking in sentences: ties, what the data carry, what forbids comparing raw figures."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

from evidence.appraisal.metrics import Metric
from evidence.publishing.rankings import Pair, tell_figures, tell_p
from evidence.statistics.network_comparison import Network, NetworkComparison, NetworkEffect
from evidence.statistics.network_consistency import decompose_q, split_all
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import fold
from evidence.workflows.relevance.comparability import tell_scaling
from evidence.workflows.relevance.contributions import choose_outcomes
from evidence.workflows.relevance.ranked_studies import Member

CLEAR = 0.05  # p below which direct and indirect evidence are said to disagree
# Comparisons: from here on some intervals will leave out zero by chance alone (20 at 95 % give one).
MANY = 10
# Names in one sentence; above that they are counted.
MOST = 8
# People: at half of this a normal interval is too narrow by about a tenth (t with 9 df: 2.26 against 1.96).
SMALL = 20


@dataclass(frozen=True, slots=True)
class Held:
    """How a study scaled its figures, and with which loads its conditions were done."""

    unit: str
    normalisation: str
    loads: tuple[str, ...]


def what_was_held(member: Member, vocabulary: Vocabulary) -> Held:
    """Unit, normalisation and loads of a study as ranked."""
    outcomes = choose_outcomes(member.evidence.bearing.outcomes)
    names = [
        vocabulary.normalisations[o.normalisation].name
        if o.normalisation in vocabulary.normalisations
        else o.normalisation
        for o in outcomes
    ]
    loads = [{**c.dose, **c.details}.get("load") for c in member.evidence.rows.conditions]
    return Held(
        ", ".join(dict.fromkeys(o.unit for o in outcomes if o.unit)) or "not stated",
        ", ".join(dict.fromkeys(names)),
        tuple({fold(load): "not stated" if load is None else str(load) for load in reversed(loads)}.values())[
            ::-1
        ],
    )


def find_obstacles(members: Sequence[Member], vocabulary: Vocabulary) -> tuple[str, ...]:
    """What forbids ranking by the raw figures of different papers, or clouds a contrast within one."""
    if not members:
        return ()
    held = {m.label: what_was_held(m, vocabulary) for m in members}
    told = []
    if len(members) > 1:
        told.append(
            "Only differences within each study are used; figures of different papers are never compared."
        )
    scales = group({label: f"{h.unit}, {h.normalisation}" for label, h in held.items()})
    if len(scales) > 1:
        told.append(f"Figures stand on different scales, so raw ones cannot be ranked: {listed(scales)}.")
    loads = group({label: " and ".join(h.loads) for label, h in held.items()})
    if len({fold(load) for load in loads}) > 1:
        told.append(f"Loads differ between studies, so raw figures cannot be ranked: {listed(loads)}.")
    for member in members:
        if len(held[member.label].loads) > 1:
            loads_here = ", ".join(held[member.label].loads)
            told.append(
                f"{member.label}: its conditions were not done with the same load ({loads_here}); its differences are "
                "those of exercise and load together."
            )
    told += tell_scaling([m.evidence for m in members], vocabulary)
    return tuple(told)


def run(names: Sequence[str]) -> str:
    """Neighbours in the order: all by name, or from the first down to the last where they are many."""
    return joined(names) if len(names) <= MOST else f"{len(names)} from {names[0]} down to {names[-1]}"


def some(names: Sequence[str]) -> str:
    """Names, or the first of them and how many more there are."""
    return joined(names) if len(names) <= MOST else f"{', '.join(names[:MOST])} and {len(names) - MOST} more"


def group(values: dict[str, str]) -> dict[str, list[str]]:
    """Labels by the value they have."""
    groups: dict[str, list[str]] = {}
    for label, value in values.items():
        groups.setdefault(value, []).append(label)
    return groups


def listed(groups: dict[str, list[str]]) -> str:
    """Values with those that have them."""
    return "; ".join(f"{value} ({', '.join(labels)})" for value, labels in groups.items())


def tell_apart(order: Sequence[str], pairs: Sequence[Pair], metric: Metric) -> tuple[str, ...]:
    """Ties (the interval of the difference holds zero) and clear differences, in sentences."""
    clear = {(p.first, p.second) for p in pairs if is_clear(p)}
    if len(order) == 2:
        only = pairs[0]
        shown = tell_figures(metric, only.estimate, only.low, only.high)
        said = "They can be told apart" if clear else "They cannot be told apart"
        return (
            f"Two exercises are a comparison, not a ranking: {only.first} against {only.second} {shown}. {said}.",
        )
    told = []
    last = -1
    for start in range(len(order)):
        end = start
        while end + 1 < len(order) and not any(
            (order[i], order[end + 1]) in clear for i in range(start, end + 1)
        ):
            end += 1
        if end > start and end > last:
            told.append(
                f"Not told apart (intervals of their differences hold zero): {run(order[start : end + 1])}."
            )
            last = end
    for first in order:
        below = [second for second in order if (first, second) in clear]
        if below:
            told.append(f"{first[:1].upper()}{first[1:]} stands clear of {some(below)}.")
    if not clear:
        told.append("No two exercises can be told apart: the order is no more than a guess.")
    if len(pairs) >= MANY:
        told.append(
            f"{len(pairs)} comparisons are made at 95 % each: about one in twenty leaves out zero by chance alone."
        )
    return tuple(told)


def is_clear(effect: Pair | NetworkEffect) -> bool:
    """Whether the interval leaves out zero."""
    return effect.low > 0 or effect.high < 0


def joined(names: Sequence[str]) -> str:
    """A, B and C."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def note_part(part: Network, members: Sequence[Member], scale: str) -> tuple[str, ...]:
    """How far one part's data carry."""
    notes = []
    if len(members) == 1:
        notes.append(
            f"One study ({members[0].label}): the order is its own, and whether another would find it is not known. "
            "Its intervals here are normal ones; a claim that rests on it alone has them by Student's t, wider: what "
            "is only just told apart here may be no clear difference there."
        )
    notes += [note for note in part.notes if len(members) > 1 or "heterogeneity" not in note]
    if len(part.nodes) > 2:
        notes += note_consistency(part)
    smallest = min((m.people for m in members), default=SMALL)
    if smallest < SMALL:
        notes.append(
            f"Intervals are built with the normal distribution; with {smallest} people in the smallest study they are "
            "somewhat too narrow."
        )
    flagged = [m.label for m in members if any(r.notice for r in m.evidence.rows.references)]
    if flagged:
        notes.append(f"With a notice, see the table: {', '.join(flagged)}.")
    return tuple(notes)


def note_consistency(part: Network) -> list[str]:
    """Whether direct and indirect evidence agree, where both exist."""
    splits = [s for s in split_all(part) if s.p is not None]
    if not splits:
        return []
    between = decompose_q(part).between
    apart = [
        f"{s.first} against {s.second} ({tell_p(s.p)})" for s in splits if s.p is not None and s.p < CLEAR
    ]
    told = "" if between.p is None else f" (Q {between.q:.2f} on {between.df} df, {tell_p(between.p)})"
    notes = []
    if between.p is not None and between.p < CLEAR:
        # With a study a comparison, the between-study variance takes the contradiction up and no split shows it.
        notes.append(
            f"Direct and indirect evidence contradict each other over all designs{told}: do not lean on this order "
            "before it is known why."
        )
    if apart:
        notes.append(
            f"Direct and indirect evidence disagree on {'; '.join(apart)}: read those from their direct studies."
        )
    if not notes:
        notes.append(
            f"On {len(splits)} comparisons with both, direct and indirect evidence do not clearly disagree{told}; "
            "with few studies that says little."
        )
    return notes


def tell_changes(
    usual: NetworkComparison, varied: NetworkComparison, order_of: Callable[[Network], tuple[str, ...]]
) -> tuple[str, ...]:
    """What changes in order and in clear differences between two runs of the model."""
    told = []
    former = {frozenset(part.nodes): part for part in usual.parts}
    for part in varied.parts:
        before = former.get(frozenset(part.nodes))
        if before is None:
            told.append(f"other exercises are connected: {', '.join(part.nodes)}")
            continue
        if order_of(before) != order_of(part):
            told.append(tell_order(order_of(before), order_of(part)))
        gained: list[str] = []
        lost: list[str] = []
        for a, b in combinations(order_of(before), 2):
            was, now = is_clear(before.effect(a, b)), is_clear(part.effect(a, b))
            if was != now:
                (gained if now else lost).append(f"{a} and {b}")
        told += [f"{pair} can be told apart" for pair in gained[:MOST]]
        told += [f"{pair} can no longer be told apart" for pair in lost[:MOST]]
        more = max(len(gained) - MOST, 0) + max(len(lost) - MOST, 0)
        told += [f"{more} more pairs change in whether they can be told apart"] if more else []
    return tuple(told)


def tell_order(before: Sequence[str], after: Sequence[str]) -> str:
    """A changed order: whole, or who moved where it is long."""
    if len(after) <= MOST:
        return f"the order becomes {', '.join(after)}"
    moved = [name for name in after if before.index(name) != after.index(name)]
    return f"the order changes for {some(moved)}"
