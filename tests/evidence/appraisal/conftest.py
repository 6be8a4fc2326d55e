"""Small bodies of evidence to judge; every figure here is invented."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest

from evidence.appraisal.body import Body, Contribution
from evidence.vocabulary.terms import Direction


@dataclass(frozen=True)
class Pool:
    """A pooled effect with just what is read of one."""

    estimate: float
    low: float
    high: float
    k: int = 3
    tau2: float | None = 0.0
    i2: float | None = 0.0
    prediction_low: float | None = None
    prediction_high: float | None = None


def make_contribution(number: int = 1, **changes: Any) -> Contribution:
    base = Contribution(
        study=f"s{number}",
        label=f"Bramble {2010 + number}",
        year=2010 + number,
        design="randomised_parallel",
        randomised=True,
        n=60,
        estimate=0.4,
        variance=4 / max(changes.get("n", 60), 1),  # two equal groups and a difference near 0
        low=0.1,
        high=0.7,
        weight=None,
        construct="hypertrophy",
        bias="low",
    )
    return replace(base, **changes)


def make_body(
    pooled: Pool | None = None, k: int = 3, each: dict[str, Any] | None = None, **changes: Any
) -> Body:
    contributions = tuple(make_contribution(i + 1, **(each or {})) for i in range(k))
    base = Body(
        construct="hypertrophy",
        metric="smd",
        contributions=contributions,
        pooled=pooled or Pool(0.4, 0.2, 0.6, k=k),
        direction=Direction.MORE,
    )
    return replace(base, **changes)


@pytest.fixture
def body() -> Callable[..., Body]:
    return make_body


@pytest.fixture
def contribution() -> Callable[..., Contribution]:
    return make_contribution


@pytest.fixture
def pool() -> type[Pool]:
    return Pool
