"""The board's clock on the host's, from when its lines arrive: close enough to be shown."""

DRIFT_PPM = 200
"""Two clocks of quartz run apart by less than this."""


class LeastDelay:
    """Keeps the least time between an edge and its arrival.

    A line is late by a few ms at times, and never early; so the least delay lately is the best
    one. It grows with time, so that clocks which run apart are followed.
    """

    def __init__(self) -> None:
        self._offset_ns: int | None = None
        self._heard_ns = 0
        self._epoch = 0

    @property
    def offset_ns(self) -> int:
        """To be added to the board's time for the host's clock; 0 before the first edge."""
        return self._offset_ns or 0

    def heard(self, now_ns: int, board_ns: int, epoch: int) -> None:
        """Take the arrival of an edge, its time on the board's unwrapped clock, and its epoch."""
        found = now_ns - board_ns
        if self._offset_ns is not None and epoch == self._epoch:
            aged_ns = self._offset_ns + (now_ns - self._heard_ns) * DRIFT_PPM // 1_000_000
            found = min(found, aged_ns)
        self._offset_ns, self._heard_ns, self._epoch = found, now_ns, epoch
