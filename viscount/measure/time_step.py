"""The step in which a file's frame times really advance, and the rate a header states."""

import numpy as np
from numpy.typing import NDArray

COARSEST = 0.25
"""A step longer than this share of the frame interval is the pace itself, not a rounding."""

SAME_RATE = 0.02
"""Rates within this share of each other are the same."""


def time_step_ns(times_ns: NDArray[np.int64], tick_ns: float) -> float:
    """Return the unit to which frame times were rounded, before or while they were stored.

    A file with a fine time base may hold times that somebody rounded coarsely before. The
    greatest common divisor of the intervals shows it.

    Parameters
    ----------
    times_ns : (n,) int64, ascending.
    tick_ns : the unit of the file's time base.
    """
    intervals = np.diff(np.asarray(times_ns, dtype=np.int64))
    if not intervals.size:
        return tick_ns
    common = float(np.gcd.reduce(intervals))
    return common if tick_ns < common <= COARSEST * float(np.median(intervals)) else tick_ns


def same_rate(one_hz: float, other_hz: float) -> bool:
    """Return whether two rates, both > 0, agree within `SAME_RATE`."""
    return abs(one_hz / other_hz - 1.0) <= SAME_RATE
