"""Confidence in one comparison of a network, from its direct and indirect parts.

Order of steps after Brignardello-Petersen et al. 2018 (J Clin Epidemiol 93:36-44): direct first, without
imprecision; indirect left unrated where direct is high and carries at least half; incoherence judged for
the pair and not by a global test; imprecision last, on the network estimate. Incoherence is not counted
again as intransitivity (2019).
"""

from dataclasses import dataclass

from evidence.appraisal.levels import Level, level_at
from evidence.errors import BadInput


@dataclass(frozen=True, slots=True)
class NetworkPart:
    """What is known of one comparison. Levels are rated without imprecision; None: no such evidence.

    `loop`: levels of the two direct comparisons of the shortest loop that the indirect estimate leans on.
    `direct_share`: share of the estimate that is direct (0 to 1). `imprecision`: levels (0 to -3) of the
    network estimate.
    """

    direct: Level | None
    loop: tuple[Level, Level] | None
    direct_share: float
    intransitive: bool = False
    incoherent: bool = False
    imprecision: int = 0


@dataclass(frozen=True, slots=True)
class NetworkRating:
    """The level of the network estimate, of its parts, and the steps taken in words."""

    level: Level
    indirect: Level | None
    steps: tuple[str, ...]


def rate_network(part: NetworkPart) -> NetworkRating:
    """Rate one comparison of a network. Raises BadInput when it has neither direct nor indirect evidence."""
    if not 0 <= part.direct_share <= 1:
        raise BadInput(f"a direct share of {part.direct_share}", hint="It lies between 0 and 1.")
    if not -3 <= part.imprecision <= 0:
        raise BadInput(f"imprecision {part.imprecision}", hint="Use 0, -1, -2 or -3.")
    steps: list[str] = []
    indirect = _rate_indirect(part, steps)
    if part.direct is None and indirect is None:
        raise BadInput("the comparison has neither direct nor indirect evidence")
    level = _choose_part(part, indirect, steps)
    if part.incoherent:
        level = level_at(level.rank - 1)
        steps.append("direct and indirect estimates disagree for this pair: −1")
    if part.imprecision:
        level = level_at(level.rank + part.imprecision)
        steps.append(f"imprecision of the network estimate: −{-part.imprecision}")
    return NetworkRating(level, indirect, tuple(steps))


def _rate_indirect(part: NetworkPart, steps: list[str]) -> Level | None:
    if part.loop is None:
        return None
    if part.direct is Level.HIGH and part.direct_share >= 0.5:
        steps.append("indirect evidence not rated: direct is high and carries at least half")
        return None
    lower = min(part.loop, key=lambda level: level.rank)
    steps.append(f"indirect: the lower of {part.loop[0]} and {part.loop[1]} (from memory)")
    if part.intransitive and not part.incoherent:
        steps.append("studies of the loop differ in ways that matter: −1")
        return level_at(lower.rank - 1)
    return lower


def _choose_part(part: NetworkPart, indirect: Level | None, steps: list[str]) -> Level:
    if part.direct is None:
        assert indirect is not None
        steps.append(f"no head-to-head study: indirect alone, {indirect}")
        return indirect
    if indirect is None or part.direct_share >= 0.5:
        steps.append(f"direct evidence leads ({part.direct_share:.0%} of the estimate): {part.direct}")
        return part.direct
    steps.append(f"indirect evidence leads ({1 - part.direct_share:.0%} of the estimate): {indirect}")
    return indirect
