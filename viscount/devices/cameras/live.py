"""What live cameras have in common: they wait for the next picture, and can be told to stop."""

import threading
from collections.abc import Iterator
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from viscount.clock import Alarm, Clock, SystemClock
from viscount.values import Frame, Notice

Pixels = NDArray[np.uint8]


class LiveCamera:
    """The base of our own live cameras. Use as a context manager.

    Attributes
    ----------
    recorded, may_repeat : see `viscount.seams.Camera`.
    """

    recorded = False
    may_repeat = False

    def __init__(self, clock: Clock | None = None) -> None:
        self._clock = clock or SystemClock()
        self._alarm = Alarm(self._clock)
        self._lock = threading.Lock()
        self._begun = False
        self._said: list[Notice] = []
        self._made = Frames()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def frames(self) -> Iterator[Frame]:
        """Yield the frames as they come; once.

        Raises
        ------
        SourceError : the camera is lost, or silent for too long.
        """
        with self._lock:
            if self._begun or self._alarm.rung:
                return
            self._begun = True
        try:
            yield from self._come()
        finally:
            # Here, in the thread that reads: what is released under a reader's feet crashes.
            self._release()

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the camera so far."""
        return tuple(self._said)

    def close(self) -> None:
        """Let go of the camera; whoever waits in `frames` then ends soon."""
        self._alarm.ring()
        with self._lock:
            if self._begun:
                return
            self._begun = True
        self._release()

    def _come(self) -> Iterator[Frame]:
        """Yield the frames as they come, until the alarm is rung."""
        raise NotImplementedError

    def _release(self) -> None:
        """Let go of what was opened."""


class Frames:
    """Numbers frames, and puts the first at time zero."""

    def __init__(self) -> None:
        self._next = 0
        self._first_ns = 0
        self._last_ns = -1

    def frame(
        self, taken_ns: int, pixels: Pixels, *, age_ns: int, damaged: bool = False
    ) -> Frame | None:
        """Return the next frame; None where its time is not later than that of the one before.

        Parameters
        ----------
        taken_ns : its time, on any clock.
        pixels : (H, W); made read-only.
        """
        if self._next == 0:
            self._first_ns = taken_ns
        t_ns = taken_ns - self._first_ns
        if t_ns <= self._last_ns:
            return None
        pixels.setflags(write=False)
        made = Frame(
            index=self._next, t_ns=t_ns, pixels=pixels, age_ns=max(age_ns, 0), damaged=damaged
        )
        self._next, self._last_ns = self._next + 1, t_ns
        return made
