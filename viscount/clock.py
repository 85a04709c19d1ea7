"""The only place that reads time. Everything else is handed a clock, or times inside values."""

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
