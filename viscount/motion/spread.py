"""How far values spread, whatever a few of them are."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MAD_TO_SIGMA = 1.4826
"""A normal distribution's standard deviation over its median absolute deviation (Rousseeuw and
Croux, JASA 88 (1993) 1273)."""


def wide_spread(values: Floats) -> float:
    """Return the spread of what may be of several kinds; for one kind, its standard deviation.

    Of a normal distribution 10 and 90 percent lie 2.563 standard deviations apart.
    """
    low, high = np.percentile(values, [10, 90])
    return max(robust_sd(values), float(high - low) / 2.563)


def robust_sd(values: Floats) -> float:
    """Return the standard deviation by the median absolute one."""
    return float(MAD_TO_SIGMA * np.median(np.abs(values - np.median(values))))
