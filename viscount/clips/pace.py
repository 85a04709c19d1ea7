"""The pace of a list of frame times: interval, spread, and the gaps where frames are missing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# An interval is the ordinary one when it is within this share of the median.
_NEAR = 0.25
# A clock is steady when this share of its intervals are whole multiples of the ordinary one.
_STEADY_SHARE = 0.9
# Gaps of up to so many intervals help to find the interval.
_SHORT_GAP = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A place where frames are missing.

    Attributes
    ----------
    frame : index of the first frame after the gap.
    interval_ns : time from the frame before it to this one.
    lost : how many frames would have fitted in between.
    """

    frame: int
    interval_ns: int
    lost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How frames follow each other.

    Attributes
    ----------
    interval_ns : mean interval, with gaps divided by the frames that fit in, so that a
        container's rounding of times averages out.
    spread_ns : standard deviation of the intervals that are no gaps.
    steady : at least nine in ten intervals are whole multiples of `interval_ns`.
    gaps : where frames are missing. With a clock that is not steady only gaps of more than
        two and a half intervals are listed.
    """

    interval_ns: float
    spread_ns: float
    steady: bool
    gaps: tuple[Gap, ...]

    @property
    def rate_hz(self) -> float:
        """Frames in a second."""
        return 1e9 / self.interval_ns

    @property
    def lost(self) -> int:
        """Sum over the gaps."""
        return sum(gap.lost for gap in self.gaps)


def measure_pace(times_ns: NDArray[np.int64], tick_ns: float = 0.0) -> Pace | None:
    """Measure the pace of rising frame times; None for fewer than two.

    Parameters
    ----------
    times_ns : (n,) frame times, each after the one before.
    tick_ns : step in which the container stores times; rounding to it is no unsteadiness.
    """
    intervals = np.diff(times_ns)
    if not intervals.size:
        return None
    # The lower median is one of the intervals, however few there are.
    middle = (intervals.size - 1) // 2
    median = float(np.partition(intervals, middle)[middle])
    slack = _NEAR * median + min(tick_ns, _NEAR * median)
    near = np.abs(intervals - median) <= slack
    interval = float(intervals[near].mean())
    multiples = _multiples(intervals, interval)
    # Short gaps take part, or rounding that favours some frames would shift the mean.
    fitting = (np.abs(intervals - multiples * interval) <= slack) & (multiples <= _SHORT_GAP)
    interval = float(intervals[fitting].sum() / multiples[fitting].sum())
    multiples = _multiples(intervals, interval)
    steady = np.abs(intervals - multiples * interval) <= slack
    is_steady = bool(steady.mean() >= _STEADY_SHARE)
    is_gap = intervals > (1.5 if is_steady else 2.5) * interval
    return Pace(
        interval_ns=interval,
        spread_ns=float(intervals[near].std()),
        steady=is_steady,
        gaps=tuple(
            Gap(frame=int(i) + 1, interval_ns=int(intervals[i]), lost=int(multiples[i]) - 1)
            for i in np.flatnonzero(is_gap)
        ),
    )


def _multiples(intervals: NDArray[np.int64], interval: float) -> NDArray[np.float64]:
    return np.maximum(np.rint(intervals / interval), 1)
