"""The only place that reads time. Everything else is handed a clock, or times inside values."""

import threading
import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Monotonic time for intervals, and the date for documents."""

    def now_ns(self) -> int:
        """Return monotonic time in nanoseconds; its zero means nothing."""
        ...

    def date(self) -> datetime:
        """Return the date and time of day, with its offset from UTC."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now_ns(self) -> int:
        """Return the monotonic clock in nanoseconds."""
        return time.monotonic_ns()

    def date(self) -> datetime:
        """Return the wall clock, in UTC."""
        return datetime.now(tz=UTC)


class Alarm:
    """Waits until a time on the monotonic clock has come, unless somebody rings.

    Whoever waits and whoever rings may be in different threads.
    """

    def __init__(self, clock: Clock | None = None) -> None:
        self._clock = clock or SystemClock()
        self._rung = threading.Event()

    @property
    def rung(self) -> bool:
        """Whether it was rung: nobody waits any more."""
        return self._rung.is_set()

    def ring(self) -> None:
        """End all waiting, now and from now on; harmless when repeated."""
        self._rung.set()

    def wait_until(self, t_ns: int) -> bool:
        """Wait until `t_ns`; return whether the alarm was rung instead."""
        return self._rung.wait(max(t_ns - self._clock.now_ns(), 0) * 1e-9)

    def wait(self, seconds: float) -> bool:
        """Wait so long; return whether the alarm was rung instead."""
        return self._rung.wait(seconds)
