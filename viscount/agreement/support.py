"""How well an offset explains both event lists, as a logarithm of a chance.

Every part that an offset brings together needs no explanation. One that it leaves alone must
have been missed by the other counter, unless that one was not watching. Where the stream is
irregular, meeting at the right moment is itself no accident.
"""

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_following import Followed, Following
from viscount.agreement.watch import Watch

Floats = NDArray[np.float64]

MISSED = 0.05
"""Chance that a counter misses a part, for this comparison: missing much must not hide a fit."""
LEAST_GAIN, MOST_GAIN = 1.0, 4.0
"""What a meeting is worth in a perfectly regular stream (clip and log were made together, and
are apart no more than need be), and at most."""


class Support:
    """The watch as one epoch needs it, and what meetings are worth."""

    def __init__(self, following: Following, watch: Watch, epoch: int, board_ns: int) -> None:
        own = following.arrivals
        self._camera_us = 1e-3 * (watch.camera_spans() - own.origin_ns)
        self._beam_us = 1e-3 * (watch.beam_spans(epoch) - board_ns)
        self._following = following
        self._gain = _gain(own.due_s, own.sigma_us)

    def of(self, clock: ClockLine, followed: Followed) -> float:
        """Return the support of an offset that was followed, over as much as was followed."""
        z = followed.residuals / self._following.scatter
        met = self._gain * z.size + float(0.5 * (1.0 - np.minimum(z**2, 20.0)).sum())
        alone = sum(self.watched(clock, followed)) - 2 * z.size
        lamp = self._following.lamp
        sigma = clock.sigma_us(lamp.t_s, np.zeros(lamp.t_s.size))
        expected = clock.offset_us(lamp.t_s)
        logged = _inside(self._beam_us, 1e6 * lamp.t_s + expected)
        unlit = lamp.misfit(expected, sigma, logged)
        return met + max(alone, 0) * float(np.log(MISSED)) - unlit

    def watched(self, clock: ClockLine, followed: Followed) -> tuple[int, int]:
        """Return how many arrivals and pulses fall where the other counter watched."""
        following = self._following
        own, starts = following.arrivals, following.starts_us
        low, high = followed.pieces
        first, last = following.pieces[low].start, following.pieces[high - 1].stop
        due, common = own.due_s[first:last], own.common_us[first:last]
        ours = _inside(self._beam_us, 1e6 * due + clock.offset_us(due) + clock.height * common)
        theirs_us = clock.captured_us(starts)
        seen = _inside(self._camera_us, theirs_us)
        if low > 0:
            seen &= theirs_us >= 1e6 * due[0]
        if high < len(following.pieces):
            seen &= theirs_us <= 1e6 * due[-1]
        # What met was watched, whatever the edges of the stretches say.
        ours[followed.arrivals - first] = True
        seen[followed.pulses] = True
        return int(ours.sum()), int(seen.sum())


def _gain(due_s: Floats, sigma_us: Floats) -> float:
    """Return what one meeting is worth: how much narrower it is than the stream's own rhythm.

    The rhythm's scatter is that of second differences, which a smooth change of pace leaves out;
    for independent scatter their variance is six times that of a single time.
    """
    if due_s.size < 4:
        return MOST_GAIN
    bends = np.diff(1e6 * due_s, n=2)
    scatter = 1.4826 * float(np.median(np.abs(bends))) / np.sqrt(6.0)
    ratio = scatter / float(np.median(sigma_us))
    return float(np.clip(0.5 * np.log1p(ratio**2), LEAST_GAIN, MOST_GAIN))


def _inside(spans: Floats, at: Floats) -> NDArray[np.bool_]:
    found = np.zeros(at.size, dtype=np.bool_)
    for start, end in spans:
        found |= (at >= start) & (at <= end)
    return found
