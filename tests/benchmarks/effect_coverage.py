"""How often the 95 % intervals of single effects hold the truth, by simulation with known truth.

Run: python tests/benchmarks/effect_coverage.py [STUDIES], or coverage.py for all methods. Prints, per kind of
effect, the coverage and the bias. People are normal, sizes as in training
studies (n = 12 per group), the correlation within people is 0.7. Coverage near 95 % is wanted; with n = 12 large-sample
variances and normal limits are known to fall a little short.
"""

import math
import sys
from collections.abc import Callable, Iterator

import numpy as np

from evidence.statistics import independent, paired, prepost
from evidence.statistics.conditions import join_same_people
from evidence.statistics.effect import Effect, Summary
from evidence.workflows.calculator.answers import use_t

N, R = 12, 0.7
Simulated = tuple[Effect, float]


def summarise(values: np.ndarray) -> list[Summary]:
    """One Summary per column."""
    return [
        Summary(float(m), float(s), len(values))
        for m, s in zip(values.mean(axis=0), values.std(axis=0, ddof=1), strict=True)
    ]


def draw(rng: np.random.Generator, means: list[float], sd: float, r: float) -> np.ndarray:
    """People by conditions, equal spreads and correlations."""
    k = len(means)
    return rng.multivariate_normal(means, sd**2 * (r + (1 - r) * np.eye(k)), size=N)


def simulate_groups(rng: np.random.Generator) -> Iterator[tuple[str, Effect, float]]:
    """Different people, means 60 and 50, SD 15."""
    a, b = (summarise(rng.normal(m, 15, (N, 1)))[0] for m in (60, 50))
    plain = independent.mean_difference(a, b)
    yield "independent: mean difference", plain, 10
    yield "independent: mean difference with t (calculator)", use_t(plain, a, b), 10
    yield "independent: log ratio of means", independent.log_ratio_of_means(a, b), math.log(60 / 50)
    yield "independent: SMD", independent.standardised_mean_difference(a, b), 10 / 15


def simulate_conditions(rng: np.random.Generator) -> Iterator[tuple[str, Effect, float]]:
    """The same people, two rows against two pulldowns."""
    values = draw(rng, [60, 56, 50, 46], 15, R)
    columns = summarise(values)
    a, b = columns[0], columns[2]
    seen = float(np.corrcoef(values[:, 0], values[:, 2])[0, 1])
    plain = paired.mean_difference(a, b, seen)
    yield "paired: mean difference", plain, 10
    yield "paired: mean difference with t (calculator)", use_t(plain, a), 10
    yield "paired: log ratio of means", paired.log_ratio_of_means(a, b, seen), math.log(60 / 50)
    yield "paired: SMD", paired.standardised_mean_difference(a, b, seen), 10 / 15
    joined = join_same_people(columns, R).combine_contrasts([(0, 2), (0, 3), (1, 2), (1, 3)])
    truth = (math.log(60 / 50) + math.log(60 / 46) + math.log(56 / 50) + math.log(56 / 46)) / 4
    yield "conditions: 2 by 2 as one log ratio", joined, truth


def simulate_programmes(rng: np.random.Generator) -> Iterator[tuple[str, Effect, float]]:
    """Before and after in two groups of people, and in two limbs of the same people."""
    arms = []
    for gain in (8, 4):
        values = draw(rng, [50, 50 + gain], 10, R)
        before, after = summarise(values)
        arms.append(prepost.Arm(before, after, float(np.corrcoef(values.T)[0, 1])))
    yield "pre/post: mean change difference", prepost.mean_change_difference(*arms), 4
    yield "pre/post: SMD (pre SD)", prepost.standardised_change_difference(*arms), 0.4
    yield "pre/post: percent difference", prepost.percent_change_difference(*arms), 8
    values = draw(rng, [50, 58, 50, 54], 10, R)
    one_pre, one_post, two_pre, two_post = summarise(values)
    limbs = (
        prepost.Arm(one_pre, one_post, float(np.corrcoef(values[:, 0], values[:, 1])[0, 1])),
        prepost.Arm(two_pre, two_post, float(np.corrcoef(values[:, 2], values[:, 3])[0, 1])),
    )
    changes = np.column_stack([values[:, 1] - values[:, 0], values[:, 3] - values[:, 2]])
    linked = float(np.corrcoef(changes.T)[0, 1])
    yield "limbs: mean change difference", prepost.within_person_change_difference(*limbs, linked), 4
    yield "limbs: SMD", prepost.within_person_standardised_change_difference(*limbs, linked), 0.4


SIMULATORS: tuple[Callable[[np.random.Generator], Iterator[tuple[str, Effect, float]]], ...] = (
    simulate_groups,
    simulate_conditions,
    simulate_programmes,
)


def count_held(studies: int, seed: int = 1) -> Iterator[tuple[str, int, float]]:
    """Per kind of effect: its name, in how many simulated studies the 95 % interval held the truth, and the bias."""
    rng = np.random.default_rng(seed)
    kinds: dict[str, list[tuple[bool, float]]] = {}
    for _ in range(studies):
        for simulate in SIMULATORS:
            for name, effect, truth in simulate(rng):
                low, high = effect.interval()
                kinds.setdefault(name, []).append((low <= truth <= high, effect.estimate - truth))
    for name, results in kinds.items():
        yield name, sum(held for held, _ in results), float(np.mean([off for _, off in results]))


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for name, held, bias in count_held(count):
        print(f"{name:38} coverage {100 * held / count:.1f} %  bias {bias:+.4f}")
