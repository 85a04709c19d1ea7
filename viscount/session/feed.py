"""Values on their way to another process: newest first kept, never waited for."""

import contextlib
import threading
from collections import deque
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

DEPTH = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed:
    """So many values before the next one were not sent: the reader was too slow."""

    count: int


class Feed:
    """Sends values through a pipe, by a thread of its own.

    Whoever puts a value never waits. Where the reader falls behind, the oldest values that wait
    give way, and it is told how many it missed.

    Parameters
    ----------
    pipe : its other end is the reader's.
    depth : so many values may wait.
    keeps : values of these kinds never give way; there must be few.
    """

    def __init__(
        self, pipe: Connection, *, depth: int = DEPTH, keeps: tuple[type, ...] = ()
    ) -> None:
        self._pipe = pipe
        self._depth = depth
        self._keeps = keeps
        self._waiting: deque[Any] = deque()
        self._missed = 0
        self._changed = threading.Condition()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="feed", daemon=True)
        self._thread.start()

    def put(self, value: Any) -> None:
        """Send a value, soon or never."""
        with self._changed:
            if self._closed:
                return
            if len(self._waiting) >= self._depth:
                self._leave_one_out()
            self._waiting.append(value)
            self._changed.notify()

    def close(self, wait_s: float) -> bool:
        """Send what waits, if it goes fast enough; return whether it did."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join(wait_s)
        return not self._thread.is_alive()

    def _leave_one_out(self) -> None:
        """Let go of the oldest value that may be missed."""
        for place, value in enumerate(self._waiting):
            if not isinstance(value, self._keeps):
                del self._waiting[place]
                self._missed += 1
                return

    def _run(self) -> None:
        with contextlib.suppress(OSError):
            while (batch := self._next()) is not None:
                for value in batch:
                    self._pipe.send(value)
        with self._changed:
            self._closed = True
        with contextlib.suppress(OSError):
            self._pipe.close()

    def _next(self) -> list[Any] | None:
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closed)
            if not self._waiting:
                return None
            missed, self._missed = self._missed, 0
            value = self._waiting.popleft()
        return [Missed(count=missed), value] if missed else [value]
