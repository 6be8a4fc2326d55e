"""Every scale on which effects are pooled can be told: its family names it and says what counts as large."""

import pytest

from evidence.appraisal.metrics import find_metric, find_thresholds
from evidence.workflows.effects.effects_found import SCALES


@pytest.mark.parametrize("scale", sorted(set(SCALES.values())))
def test_a_scale_has_a_family_of_metrics(scale: str) -> None:
    """A new one is named in evidence/appraisal/rules/metrics.yaml, as a family or as an alias of one."""
    assert find_metric(scale).name and find_metric(scale).unit
    assert find_thresholds(scale, "activation").note
