"""Robust figures of single parts, and whether a measure tells one part from two."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from viscount.outlet.taught import Chance, Measured

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
DIGITS = 5
"""So many digits are written: more than any measure here is worth."""


def rounded(value: float) -> float:
    """Return a value to `DIGITS` digits."""
    return float(f"{value:.{DIGITS}g}")


def measured(values: Sequence[float] | Floats) -> Measured:
    """Return median, median absolute deviation and percentiles of one or more values."""
    own = np.asarray(values, dtype=np.float64)
    low, middle, high = (rounded(float(x)) for x in np.percentile(own, [5, 50, 95]))
    mad = float(np.median(np.abs(own - np.median(own))))
    return Measured(median=middle, mad=rounded(mad), p05=low, p95=high)


def chance(parts: int, of: int) -> Chance:
    """Return how often a part does what `parts` of so many did, with its 95 % interval.

    Wilson's score interval (E. B. Wilson, JASA 22 (1927) 209).
    """
    z = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2)
    share = parts / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * np.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    low, high = max(middle - half, 0.0), min(middle + half, 1.0)
    return Chance(
        parts=parts,
        chance=rounded(share),
        low=min(rounded(low), rounded(share)),
        high=max(rounded(high), rounded(share)),
    )


def reaches_pairs(values: Sequence[float] | Floats) -> tuple[float, float] | None:
    """Return the 95th percentile of singles and the 5th of two singles' sums where they overlap.

    None where the measure tells one part from two.
    """
    own = np.asarray(values, dtype=np.float64)
    first, second = np.triu_indices(own.size, k=1)
    single = float(np.percentile(own, 95))
    pair = float(np.percentile(own[first] + own[second], 5))
    return (single, pair) if single >= pair else None
