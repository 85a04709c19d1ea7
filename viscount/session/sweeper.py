"""Sweeps up garbage between frames, for Python itself may do so amid one.

To look through what has been made for rings that nobody can reach holds everything up: for a fifth
of a frame's work about every twentieth frame of a dense stream, and for most of one now and then.
Counting makes no such rings; plugins and errors may. So what there was at first is set aside, and
the rest is looked through when no frame waits.
"""

import gc
from types import TracebackType
from typing import Self

EVERY, AT_LAST = 256, 1024
"""After so many frames there is a sweep once none waits; after so many, whatever waits."""
YOUNG, ALL = 1, 2
"""Generations of Python's collector: what has been through one sweep at most, and everything. The
latter waits until the camera is opened anew, when nothing is counted."""


class Sweeper:
    """Sweeps while it is entered; afterwards Python does again as before.

    For a whole process: it is entered once.
    """

    def __init__(self) -> None:
        self._frames = 0
        self._was_on = False

    def __enter__(self) -> Self:
        self._was_on = gc.isenabled()
        gc.disable()
        gc.freeze()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        gc.unfreeze()
        if self._was_on:
            gc.enable()

    def frame(self, waiting: int) -> None:
        """Note that a frame is done while so many are `waiting`; sweep if it is time."""
        self._frames += 1
        if self._frames >= (AT_LAST if waiting else EVERY):
            self._sweep(YOUNG)

    def opened(self) -> None:
        """Sweep everything: the camera is being opened, and nothing is seen meanwhile."""
        self._sweep(ALL)

    def _sweep(self, generation: int) -> None:
        self._frames = 0
        gc.collect(generation)
