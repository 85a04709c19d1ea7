"""The frame clock: the true times of frames behind the rounded ones of a file.

Containers round times, Matroska to 1 ms by default. A steady camera's true times lie on a
straight line through the rounded ones, with gaps where frames are missing. The line is fitted
piece by piece (ordinary least squares); a clock that does not fit is used as it stands, with
its rounding as its uncertainty (rectangular distribution, JCGM 100, 4.3.7). Times that a
computer took when frames arrived scatter about the line by more than the rounding, but stay
with it: they are fitted too.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Times = NDArray[np.int64]

MIN_FRAMES = 8
LONGEST_GAP = 8
"""A piece ends where more intervals than this are missing: beyond, the count of the missing
is not sure."""
FIT_SHARE = 0.6
"""A clock fits when no time is further from the line than this share of the rounding."""
LATE_FRAMES = 30
LATE_SHARES = 0.08, 0.6
LATE_CORRELATION = -0.3
"""Times are late where so many frames are off by these shares of the interval at most, and their
intervals correlate by less than this. Less is left as it stands."""
STRAY_CORRELATION = 0.3
"""Where neighbours' distances from the line correlate by more than this, the rate itself strays."""
EXACT_NS = 2_000.0
"""Times as good as this need no fit."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FrameClock:
    """Times as they stand in the file, and as they are used.

    Attributes
    ----------
    raw_ns, true_ns : (n,) int64, ascending.
    sigma_ns : standard uncertainty of a used time.
    tick_ns : the unit to which the file rounds its times.
    steady : whether the times were fitted.
    """

    raw_ns: Times
    true_ns: Times
    sigma_ns: float
    tick_ns: float
    steady: bool

    @property
    def sigma_frame_s(self) -> float:
        """By how much each frame's own time is off, by chance; 0 where the fit took that out."""
        return 0.0 if self.steady else 1e-9 * self.sigma_ns

    def at(self, t_ns: int) -> int:
        """Return the true time of a frame whose time in the file is `t_ns`."""
        place = int(np.searchsorted(self.raw_ns, t_ns))
        if place < self.raw_ns.size and int(self.raw_ns[place]) == t_ns:
            return int(self.true_ns[place])
        return t_ns


def fit_frame_clock(times_ns: Times, tick_ns: float) -> FrameClock:
    """Fit the clock to the times of all frames.

    Parameters
    ----------
    times_ns : (n,) int64, in order of presentation.
    tick_ns : the unit to which the file rounds its times, > 0.
    """
    raw = np.asarray(times_ns, dtype=np.int64)
    tick = max(tick_ns, 1.0)
    as_it_stands = FrameClock(
        raw_ns=raw, true_ns=raw, sigma_ns=tick / np.sqrt(12.0), tick_ns=tick, steady=False
    )
    if raw.size < MIN_FRAMES or np.any(np.diff(raw) <= 0):
        return as_it_stands
    numbers, pieces = _numbered(raw)
    true = np.empty(raw.size)
    for piece in pieces:
        true[piece] = _line(numbers[piece], raw[piece])
    off = raw - true
    worst = float(np.abs(off).max())
    if worst > FIT_SHARE * tick + EXACT_NS and not (_late(raw, worst) and not _strays(off)):
        return as_it_stands
    scatter = np.sqrt(np.mean(off**2))
    shortest = min(piece.stop - piece.start for piece in pieces)
    # The line's own uncertainty at its ends is twice the scatter over the root of n.
    sigma = max(2.0 * scatter / np.sqrt(shortest), 1.0)
    return FrameClock(
        raw_ns=raw,
        true_ns=np.rint(true).astype(np.int64),
        sigma_ns=float(sigma),
        tick_ns=tick,
        steady=True,
    )


def _late(raw: Times, worst_ns: float) -> bool:
    """Return whether a steady camera's times were only taken late, by chance, frame by frame.

    An interval that ends late is followed by one that begins late: neighbours go against each
    other, by a correlation of -1/2 (moving average of first order, any text on time series).
    Where the rate itself varies they know nothing of each other, and times leave the line.
    """
    steps = np.diff(raw).astype(np.float64)
    usual = float(np.median(steps))
    steps = steps[steps < 1.5 * usual + 2 * worst_ns]
    least, most = LATE_SHARES
    if steps.size < LATE_FRAMES or not least * usual < worst_ns < most * usual:
        return False
    off = steps - steps.mean()
    return float(off[:-1] @ off[1:]) < LATE_CORRELATION * float(off @ off)


def _strays(off: NDArray[np.float64]) -> bool:
    """Return whether times leave the line together with their neighbours.

    Times that are only taken late know nothing of each other; a rate that varies adds up, as a
    random walk does.
    """
    return float(off[:-1] @ off[1:]) > STRAY_CORRELATION * float(off @ off)


def _numbered(raw: Times) -> tuple[NDArray[np.int64], list[slice]]:
    """Number the frames by their times, missing ones included; return the pieces too."""
    steps = np.diff(raw).astype(np.float64)
    near = steps[steps < 1.5 * np.median(steps)]
    interval = float(near.mean()) if near.size else float(np.median(steps))
    counts = np.maximum(np.rint(steps / interval), 1).astype(np.int64)
    numbers = np.concatenate([[0], np.cumsum(counts)])
    breaks = np.nonzero(counts > LONGEST_GAP)[0] + 1
    edges = [0, *breaks.tolist(), raw.size]
    return numbers, [slice(a, b) for a, b in pairwise(edges)]


def _line(numbers: NDArray[np.int64], raw: Times) -> NDArray[np.float64]:
    if raw.size < 2:
        return raw.astype(np.float64)
    x = numbers - numbers.mean()
    y = raw - raw[0]
    slope = float((x * (y - y.mean())).sum() / (x * x).sum())
    return np.asarray(raw[0] + y.mean() + slope * x)
