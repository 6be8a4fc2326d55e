"""What the product knows by name: regions, exercises, outcomes, designs, people, units, defaults."""

from evidence.vocabulary.loading import load_vocabulary, read_exercise
from evidence.vocabulary.lookup import Vocabulary
from evidence.vocabulary.model import (
    Caution,
    Construct,
    DefaultCorrelation,
    Design,
    Exercise,
    Instrument,
    Margin,
    OwnName,
    Region,
    TrainingStatus,
    Unit,
)
from evidence.vocabulary.names import Candidate, Lookup

__all__ = [
    "Candidate",
    "Caution",
    "Construct",
    "DefaultCorrelation",
    "Design",
    "Exercise",
    "Instrument",
    "Lookup",
    "Margin",
    "OwnName",
    "Region",
    "TrainingStatus",
    "Unit",
    "Vocabulary",
    "load_vocabulary",
    "read_exercise",
]
