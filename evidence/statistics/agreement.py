"""Agreement of two people who judged the same things: the share that agrees, and Cohen's kappa with its interval.

Kappa: Cohen 1960, Educ Psychol Meas 20:37-46: (po - pe) / (1 - pe), po the share of pairs that agree, pe the share
expected by chance from how often each person used each word. Large-sample variance: Fleiss, Cohen & Everitt 1969,
Psychol Bull 72:323-327 (formula from memory; checked against a published printout in the tests).
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.errors import NumberProblem

Z = 1.959963984540054  # two-sided 5 % point of the normal distribution


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far two people agree over `n` things.

    `observed` and `expected` are shares (0 to 1). `kappa` with its standard error and 95 % interval; all None where
    both used one and the same word throughout (chance alone then agrees fully and kappa is 0/0). The interval is
    None for fewer than two things.
    """

    n: int
    agreed: int
    observed: float
    expected: float
    kappa: float | None
    se: float | None
    low: float | None
    high: float | None


def measure_agreement(pairs: Sequence[tuple[str, str]]) -> Agreement:
    """Agreement over pairs of words, one pair for each thing that both judged. Raises NumberProblem for none."""
    n = len(pairs)
    if n == 0:
        raise NumberProblem(
            "nothing was judged by both", hint="Agreement needs things that two people judged."
        )
    cells = Counter(pairs)
    first, second = Counter(a for a, _ in pairs), Counter(b for _, b in pairs)
    words = sorted({*first, *second})
    agreed = sum(cells[word, word] for word in words)
    observed = agreed / n
    expected = sum(first[word] * second[word] for word in words) / n**2
    if first.keys() == second.keys() and len(words) == 1:
        return Agreement(n, agreed, observed, expected, None, None, None, None)
    kappa = (observed - expected) / (1 - expected)
    if n < 2:
        return Agreement(n, agreed, observed, expected, kappa, None, None, None)
    se = math.sqrt(max(0.0, _variance(cells, first, second, n, kappa, expected)))
    # The interval is cut where kappa itself ends: it cannot be above 1 or below -1.
    return Agreement(
        n, agreed, observed, expected, kappa, se, max(-1.0, kappa - Z * se), min(1.0, kappa + Z * se)
    )


def _variance(
    cells: Counter[tuple[str, str]],
    first: Counter[str],
    second: Counter[str],
    n: int,
    kappa: float,
    expected: float,
) -> float:
    """(A + B - C) / (n (1 - pe)^2), after Fleiss, Cohen & Everitt 1969."""
    on = off = 0.0
    for (a, b), count in cells.items():
        if a == b:
            on += count / n * (1 - (first[a] + second[a]) / n * (1 - kappa)) ** 2
        else:
            off += count / n * ((second[a] + first[b]) / n) ** 2
    spread = on + (1 - kappa) ** 2 * off - (kappa - expected * (1 - kappa)) ** 2
    return spread / (n * (1 - expected) ** 2)
