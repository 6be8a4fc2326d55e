"""All deletions at once give what pooling without each result in turn gives."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.deletions import pool_without_each
from evidence.statistics.sensitivity import leave_one_out

EFFECTS = st.floats(-3, 3).map(lambda x: round(x, 4))
VARIANCES = st.floats(0.001, 2).map(lambda x: round(x, 5)).filter(lambda x: x > 0)


@given(st.lists(st.tuples(EFFECTS, VARIANCES), min_size=2, max_size=9))
def test_every_deletion_is_the_pooled_effect_without_that_result(rows: list[tuple[float, float]]) -> None:
    y, v = (np.array(column) for column in zip(*rows, strict=True))
    got, expected = pool_without_each(y, v), leave_one_out(y, v)
    # tau^2 is found to 1e-13 of itself by both; where the likelihood is flat its peak is known less well than that.
    assert got.tau2 == pytest.approx([one.tau2 for one in expected], rel=1e-5, abs=1e-9)
    assert got.estimates == pytest.approx([one.estimate for one in expected], rel=1e-6, abs=1e-8)
    assert got.low == pytest.approx([one.low for one in expected], rel=1e-6, abs=1e-7)
    assert got.high == pytest.approx([one.high for one in expected], rel=1e-6, abs=1e-7)


def test_many_results_are_taken_in_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    y, v = rng.normal(0.2, 0.4, 40), rng.uniform(0.01, 0.2, 40)
    whole = pool_without_each(y, v)
    monkeypatch.setattr("evidence.statistics.deletions.ROOM", 24 * 40 * 7)
    parts = pool_without_each(y, v)
    assert parts.low == pytest.approx(whole.low, rel=1e-12)


def test_one_result_leaves_nothing() -> None:
    with pytest.raises(NumberProblem, match="nothing left"):
        pool_without_each([0.2], [0.1])
