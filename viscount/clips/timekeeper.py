"""From a file's time stamps to nanoseconds since its first picture."""

from fractions import Fraction

_SECOND_NS = 1_000_000_000
# A step back of this length is a new start of the file's clock, not a misplaced stamp.
_RESTART_NS = _SECOND_NS


class Timekeeper:
    """Gives each picture its time; the first is at zero and each is later than the last.

    Parameters
    ----------
    tick_ns : length of one tick of the stamps, exact. Slow motion is undone by a shorter tick.
    interval_ns : ordinary interval, > 0, for pictures without a usable stamp.
    """

    def __init__(self, tick_ns: Fraction, interval_ns: int) -> None:
        self._tick_ns = tick_ns
        self._interval_ns = interval_ns
        self._first_stamp: int | None = None
        self._shift_ns = 0
        self._last_ns: int | None = None

    def time(self, stamp: int | None) -> tuple[int, bool]:
        """Return a picture's time in ns, and whether it had to be estimated."""
        if stamp is None:
            return self._advance(self._next_ns()), True
        if self._first_stamp is None:
            self._first_stamp = stamp
            self._shift_ns = self._next_ns()
        t_ns = round((stamp - self._first_stamp) * self._tick_ns) + self._shift_ns
        if self._last_ns is None or t_ns > self._last_ns:
            return self._advance(t_ns), False
        if self._last_ns - t_ns > _RESTART_NS:
            self._shift_ns += self._next_ns() - t_ns
        return self._advance(self._next_ns()), True

    def _next_ns(self) -> int:
        return 0 if self._last_ns is None else self._last_ns + self._interval_ns

    def _advance(self, t_ns: int) -> int:
        self._last_ns = t_ns
        return t_ns
