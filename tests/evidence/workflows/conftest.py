"""The invented studies of the demonstration, for tests that need a catalogue with something in it."""

from importlib.resources import files
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.extract.pasting import TableAnswers, store_table, understand_table
from evidence.workflows.gather.gathering import gather
from evidence.workflows.gather.noticing import apply_notices

DEMO = Path(str(files("evidence.workflows") / "demo_data"))


@pytest.fixture
def stocked(catalogue: Catalogue) -> Catalogue:
    """The invented studies of the demonstration, with the table that belongs to plate-2017."""
    gather(catalogue, DEMO / "references.bib", "Sam")
    apply_notices(catalogue, DEMO / "notices.csv", "Sam")
    for path in sorted((DEMO / "studies").glob("*.yaml")):
        load_study(catalogue, path, "Sam")
    answers = TableAnswers(locator="Table 2", read_from="full text", timepoint="acute")
    raw = (DEMO / "pasted_table.txt").read_bytes()
    store_table(catalogue, understand_table(catalogue, "plate-2017", raw, "pasted_table.txt", answers), "Sam")
    return catalogue
