"""How far values spread, whatever a few of them are."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

MAD_TO_SIGMA = 1.4826
"""A normal distribution's standard deviation over its median absolute deviation (Rousseeuw and
Croux, JASA 88 (1993) 1273)."""


def quantile(values: ArrayLike, share: float = 0.5) -> float:
    """Return the value that this share of the values lies below, the median if not told.

    What ``numpy.quantile`` returns, without what it costs beside: this is done as frames come.
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    place = share * (ordered.size - 1)
    below = int(place)
    if below + 1 == ordered.size:
        return float(ordered[below])
    low, high = float(ordered[below]), float(ordered[below + 1])
    return low + (place - below) * (high - low)


def wide_spread(values: Floats) -> float:
    """Return the spread of what may be of several kinds; for one kind, its standard deviation.

    Of a normal distribution 10 and 90 percent lie 2.563 standard deviations apart.
    """
    return max(robust_sd(values), (quantile(values, 0.9) - quantile(values, 0.1)) / 2.563)


def robust_sd(values: Floats) -> float:
    """Return the standard deviation by the median absolute one."""
    return MAD_TO_SIGMA * quantile(np.abs(values - quantile(values)))
