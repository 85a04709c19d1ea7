"""A board's own clock: it drifts, ticks and wraps."""

_WRAP_US = 2**32
_BILLION = 10**9


class OwnClock:
    """Turns world time into a board's own, and back.

    Parameters
    ----------
    started_ns : world time at which the clock began to run.
    shows_us : what it showed then.
    drift_ppm : how much it runs fast.
    tick_ns : its resolution.
    """

    def __init__(
        self, started_ns: int, *, shows_us: int = 0, drift_ppm: float = 0.0, tick_ns: int = 1000
    ) -> None:
        self._started_ns = started_ns
        self._shows_ns = shows_us * 1000
        self._rate = _BILLION + round(drift_ppm * 1000)
        self._tick_ns = tick_ns

    def own_ns(self, t_ns: int) -> int:
        """Return the time on this clock, neither ticking nor wrapping."""
        return self._shows_ns + (t_ns - self._started_ns) * self._rate // _BILLION

    def shown_us(self, t_ns: int) -> int:
        """Return what the clock shows."""
        own = self.own_ns(t_ns)
        return own // self._tick_ns * self._tick_ns // 1000 % _WRAP_US

    def later(self, t_ns: int, own_ns: int) -> int:
        """Return when so much has passed on this clock since a world time."""
        return self.when(self.own_ns(t_ns) + own_ns)

    def when(self, own_ns: int) -> int:
        """Return the first world time at which this clock has come to a time of its own."""
        return self._started_ns - (self._shows_ns - own_ns) * _BILLION // self._rate
