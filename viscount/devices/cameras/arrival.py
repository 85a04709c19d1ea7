"""Times of frames that carry none: taken as they arrive, and freed of most of their scatter.

A picture arrives late by what the line, the driver and this computer took that time. A steady
camera's pictures come at even intervals, so the times of the last ones say when this one was due:
the straight line through them (ordinary least squares), taken at its end. Nothing can be known of
frames to come; a recording is fitted as a whole afterwards.

After a silence a picture is late, or others before it were lost. The next one tells: pictures
that were held up come at once behind each other, those of a camera keep their interval.
"""

from collections import deque

import numpy as np

WINDOW = 128
"""So many arrivals make the line."""
LEAST = 12
"""With fewer, arrivals are taken as they are."""
LONGEST_GAP = 8
"""After more missing intervals than this their number is not sure: the line begins anew."""
STRAY_SHARE = 0.35
"""Arrivals farther than this share of an interval from the line are left out of it."""
STRAYS = 8
"""With so many of them among three times as many frames the camera has another rate by now."""
HELD_UP_SHARE = 0.5
"""Pictures closer than this share of an interval were held up together,"""
HELD_UP_NS = 250_000_000
"""for so long at most: what piled up during a longer silence is of nobody knows when."""


class ArrivalClock:
    """Gives each frame its time from when it arrived. Times rise."""

    def __init__(self) -> None:
        self._numbers: deque[int] = deque(maxlen=WINDOW)
        self._arrivals: deque[int] = deque(maxlen=WINDOW)
        self._strays: deque[bool] = deque(maxlen=3 * STRAYS)
        self._number = 0
        self._line: tuple[float, float] | None = None
        self._last_ns: int | None = None

    def is_late(self, arrived_ns: int) -> bool:
        """Whether only the arrival after this one can tell how many were lost before it."""
        return self._line is not None and self._due_in(arrived_ns) > 1.5

    def at(self, arrived_ns: int, next_ns: int | None = None) -> int:
        """Return the time of a frame that has arrived.

        Parameters
        ----------
        next_ns : when the one after it arrived, as far as that is known; see `is_late`.
        """
        t_ns = self._placed(arrived_ns, next_ns)
        if self._last_ns is not None and t_ns <= self._last_ns:
            t_ns = self._last_ns + 1000
        self._last_ns = t_ns
        return t_ns

    def _due_in(self, arrived_ns: int) -> float:
        """Return how many intervals after the last frame's own time this one arrived."""
        assert self._line is not None
        level, interval = self._line
        return (arrived_ns - self._arrivals[0] - level) / interval - self._number

    def _placed(self, arrived_ns: int, next_ns: int | None) -> int:
        if self._line is None:
            self._begin(arrived_ns)
            return arrived_ns
        level, interval = self._line
        since = self._due_in(arrived_ns)
        held_up = next_ns is not None and next_ns - arrived_ns < HELD_UP_SHARE * interval
        held_up = held_up and since * interval < HELD_UP_NS
        steps = 1 if held_up else max(round(since), 1)
        off = since - steps
        self._strays.append(abs(off) > STRAY_SHARE)
        if steps > LONGEST_GAP or off < -HELD_UP_SHARE or sum(self._strays) >= STRAYS:
            self._forget()
            self._begin(arrived_ns)
            return arrived_ns
        self._number += steps
        due_ns = self._arrivals[0] + level + interval * self._number
        if self._strays[-1]:
            return round(due_ns)
        # This arrival is one of so many; at the end of the line it has four times its share.
        t_ns = round(due_ns + 4.0 * off * interval / (len(self._arrivals) + 4.0))
        self._numbers.append(self._number)
        self._arrivals.append(arrived_ns)
        self._fit()
        return t_ns

    def _begin(self, arrived_ns: int) -> None:
        """Add one of the first arrivals, numbered by the median of their intervals."""
        if self._arrivals:
            steps = np.diff(np.array([*self._arrivals, arrived_ns], np.float64))
            step = round(float(steps[-1] / max(np.median(steps), 1.0)))
            if step > LONGEST_GAP:
                self._forget()
            self._number += max(step, 1)
        self._numbers.append(self._number)
        self._arrivals.append(arrived_ns)
        if len(self._numbers) >= LEAST:
            self._fit()

    def _fit(self) -> None:
        n = np.array(self._numbers, np.float64)
        t = np.array(self._arrivals, np.float64) - self._arrivals[0]
        interval, level = np.polyfit(n, t, 1)
        self._line = (float(level), float(interval)) if interval > 0 else None

    def _forget(self) -> None:
        self._numbers.clear()
        self._arrivals.clear()
        self._strays.clear()
        self._number = 0
        self._line = None
