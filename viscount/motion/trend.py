"""How values grow along the time, whatever a few of them are."""

import numpy as np
from numpy.typing import NDArray

from viscount.motion.spread import quantile

Floats = NDArray[np.float64]

FEWEST = 4
"""Fewer values have a level, and no trend."""


def trend(t_s: Floats, values: Floats) -> tuple[float, float]:
    """Return slope and level at time 0 of the values, robustly (Theil 1950, Sen 1968).

    Parameters
    ----------
    t_s, values : (n,), n is 1 or more.
    """
    if t_s.size < FEWEST or np.ptp(t_s) <= 0.0:
        return 0.0, quantile(values)
    # What scipy.stats.theilslopes does, without what it costs beside: this is done as frames come.
    step_s = np.subtract.outer(t_s, t_s)
    later = step_s > 0.0
    slope = quantile(np.subtract.outer(values, values)[later] / step_s[later])
    return slope, quantile(values) - slope * quantile(t_s)
