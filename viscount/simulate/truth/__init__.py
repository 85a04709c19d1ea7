"""What truly happened in a simulated pour, worked out before anything is counted."""

from viscount.simulate.truth.making import truth
from viscount.simulate.truth.schema import truth_schema
from viscount.simulate.truth.values import (
    SCHEMA,
    BagTruth,
    FrameTruth,
    PartTruth,
    Recrossing,
    Seen,
    Separable,
    Spread,
    Truth,
)

__all__ = [
    "SCHEMA",
    "BagTruth",
    "FrameTruth",
    "PartTruth",
    "Recrossing",
    "Seen",
    "Separable",
    "Spread",
    "Truth",
    "truth",
    "truth_schema",
]
