"""Times of frames that carry none: taken as they arrive, and freed of most of their scatter.

A picture arrives late by what the line, the driver and this computer took that time. A steady
camera's pictures come at even intervals, so the times of the last ones say when this one was due:
the straight line through them (ordinary least squares), taken at its end. Nothing can be known of
frames to come; a recording is fitted as a whole afterwards.
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


class ArrivalClock:
    """Gives each frame its time from when it arrived. Times rise."""

    def __init__(self) -> None:
        self._numbers: deque[int] = deque(maxlen=WINDOW)
        self._arrivals: deque[int] = deque(maxlen=WINDOW)
        self._strays: deque[bool] = deque(maxlen=3 * STRAYS)
        self._last_ns: int | None = None

    def at(self, arrived_ns: int) -> int:
        """Return the time of the frame that has arrived now."""
        t_ns = self._placed(arrived_ns)
        if self._last_ns is not None and t_ns <= self._last_ns:
            t_ns = self._last_ns + 1000
        self._last_ns = t_ns
        return t_ns

    def _placed(self, arrived_ns: int) -> int:
        if len(self._numbers) < LEAST:
            self._begin_or_add(arrived_ns)
            return arrived_ns
        origin, base = self._numbers[0], self._arrivals[0]
        n = np.array(self._numbers, np.float64) - origin
        t = np.array(self._arrivals, np.float64) - base
        interval, level = np.polyfit(n, t, 1)
        since = arrived_ns - base - (level + interval * n[-1])
        steps = max(round(since / interval), 1)
        if steps > LONGEST_GAP:
            self._forget()
            self._begin_or_add(arrived_ns)
            return arrived_ns
        due = base + level + interval * (n[-1] + steps)
        off = arrived_ns - due
        stray = abs(off) > STRAY_SHARE * interval
        self._strays.append(stray)
        if sum(self._strays) >= STRAYS:
            self._forget()
            self._begin_or_add(arrived_ns)
            return arrived_ns
        if stray:
            return round(float(due))
        self._numbers.append(self._numbers[-1] + steps)
        self._arrivals.append(arrived_ns)
        # This arrival is one of so many; at the end of the line it has four times its share.
        return round(float(due + 4.0 * off / (len(n) + 4.0)))

    def _begin_or_add(self, arrived_ns: int) -> None:
        if self._arrivals:
            steps = np.diff(np.array(self._arrivals, np.float64))
            usual = float(np.median(steps)) if steps.size else float(arrived_ns - self._arrivals[0])
            number = max(round((arrived_ns - self._arrivals[-1]) / max(usual, 1.0)), 1)
            if number > LONGEST_GAP:
                self._forget()
                number = 0
            elif self._numbers:
                number += self._numbers[-1]
        else:
            number = 0
        self._numbers.append(number)
        self._arrivals.append(arrived_ns)

    def _forget(self) -> None:
        self._numbers.clear()
        self._arrivals.clear()
        self._strays.clear()
