"""Steele et al. 2023, open data, all the way: from stored effects to the claim. May not be shipped (CC BY-NC-SA).

Answers from the project's design material (data/README.md): three-level 0.865 [0.768, 0.962]; ignoring that effects
are nested in studies (common effect), wrong on purpose, 0.638.
"""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pytest

from evidence.catalogue import Catalogue
from evidence.statistics.dependent_pooling import pool_dependent
from evidence.statistics.pooling import common_effect
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.weigh.pooling_claims import NestedPooled
from evidence.workflows.weigh.weighing import weigh

STEELE = Path(__file__).parents[5] / "shared" / "data" / "steele2023_rt_vs_control_effects.csv"


def as_study(number: str, rows: Sequence[Mapping[str, str]]) -> str:
    """A study file with the effects as printed: an outcome of its own for each, with its standard error."""
    lines = [
        "steelyard: study/1",
        f"key: study-{int(number):03d}",
        f"title: Study {number} of the open data",
        "design: randomised_parallel",
        "locator: open data",
        "read_from: open data",
        "people: [{key: all, sex: not stated, training_status: not stated, health: healthy}]",
        "conditions:",
        "  - {key: rt, exercise: leg press, details: {group: training}}",
        "  - {key: con, details: {group: control}}",
        "outcomes:",
        *(f"  - {{key: e{n}, construct: strength, instrument: 1RM, unit: kg}}" for n in range(len(rows))),
        "results:",
    ]
    for n, row in enumerate(rows):
        se = float(row["vi"]) ** 0.5
        lines.append(
            f"  - {{outcome: e{n}, condition: rt, comparator: con, statistic: smd, value: {row['yi']}, se: {se!r}, "
            f"printed: '{row['yi']}'}}"
        )
    return "\n".join(lines) + "\n"


if STEELE.exists():

    def test_steele_2023_goes_from_stored_effects_to_the_published_answer(
        catalogue: Catalogue, tmp_path: Path
    ) -> None:
        with STEELE.open(encoding="utf-8", newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["outcome"] == "strength"]
        studies: dict[str, list[dict[str, str]]] = {}
        for row in rows:
            studies.setdefault(row["study"], []).append(row)
        for number, own in studies.items():
            path = tmp_path / f"{number}.yaml"
            path.write_text(as_study(number, own), "utf-8")
            load_study(catalogue, path, "Sam")
        statement = Statement(
            exercise="leg press", comparator="any", comparator_details=("group=control",), outcome="strength"
        )
        weighing = weigh(catalogue, state_claim(catalogue, statement, "Sam").key)
        pooled = weighing.pooled
        assert isinstance(pooled, NestedPooled)
        assert (pooled.k, pooled.results) == (len(studies), len(rows))
        y, v = (np.array([float(row[name]) for row in rows]) for name in ("yi", "vi"))
        ids = [row["study"] for row in rows]
        mean = {number: np.mean([float(row["vi"]) for row in own]) for number, own in studies.items()}
        expected = pool_dependent(y, [mean[number] for number in ids], ids, rho=pooled.rho, way="three_level")
        assert (pooled.estimate, pooled.low, pooled.high) == pytest.approx(
            (expected.estimate, expected.low, expected.high), rel=1e-6
        )
        # Published with independent errors inside studies: another assumption, so no more than the interval agrees.
        # The model of the paper itself, on the same data, is tested in statistics/test_dependent_pooling.
        assert pooled.low < 0.865 < pooled.high
        assert common_effect(y, v).estimate == pytest.approx(0.638, abs=5e-4)
        assert not pooled.low < 0.638 < pooled.high
