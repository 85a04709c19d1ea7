"""The capture: one camera at a time, read by a thread of its own."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass

from viscount.clock import Clock
from viscount.errors import SourceError, ViscountError
from viscount.seams import Camera
from viscount.session.bounded import BoundedQueue
from viscount.values import Frame, Notice

_log = logging.getLogger("viscount.session")


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A camera was opened."""

    opening: int
    recorded: bool
    may_repeat: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """A frame has come; `missed` frames before it did not fit into the queue."""

    opening: int
    frame: Frame
    arrived_ns: int
    missed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Over:
    """A camera gives no more frames: by itself, or for an error.

    `missed` frames at its end did not fit into the queue.
    """

    opening: int
    error: ViscountError | None
    notices: tuple[Notice, ...]
    missed: int


Captured = Opened | Taken | Over


class Capture:
    """Reads cameras into a queue. Each is opened and read in a thread of its own.

    A thread that hangs in a driver cannot be ended: it is left behind, what it still brings is of
    an older opening and not looked at, and it ends with the process.

    Parameters
    ----------
    make : opens the camera.
    inbox : where everything goes.
    """

    def __init__(
        self, make: Callable[[], Camera], inbox: BoundedQueue[Captured], clock: Clock
    ) -> None:
        self._make = make
        self._inbox = inbox
        self._clock = clock
        self._opening = 0
        self._readers: list[_Reader] = []

    @property
    def opening(self) -> int:
        """The number of the last opening, from 1."""
        return self._opening

    def begin(self) -> None:
        """Let go of the camera, and open it anew."""
        self.let_go()
        self._opening += 1
        reader = _Reader(self._opening, self._make, self._inbox, self._clock)
        self._readers = [one for one in self._readers if one.thread.is_alive()] + [reader]
        reader.thread.start()

    def let_go(self) -> None:
        """Close the camera that is open, without waiting."""
        for reader in self._readers:
            reader.close()

    def stop(self, wait_s: float) -> bool:
        """Close the camera; return whether its thread has ended by then."""
        self.let_go()
        for reader in self._readers:
            reader.thread.join(wait_s)
        return not any(reader.thread.is_alive() for reader in self._readers)


class _Reader:
    """One opening of the camera."""

    def __init__(
        self,
        opening: int,
        make: Callable[[], Camera],
        inbox: BoundedQueue[Captured],
        clock: Clock,
    ) -> None:
        self._opening, self._make, self._inbox, self._clock = opening, make, inbox, clock
        self._lock = threading.Lock()
        self._camera: Camera | None = None
        self._closed = False
        self._missed = 0
        # A daemon: one that hangs in a driver must not keep the process.
        self.thread = threading.Thread(target=self._run, name=f"camera {opening}", daemon=True)

    def close(self) -> None:
        """Ask the camera to end."""
        with self._lock:
            self._closed = True
            camera = self._camera
        if camera is not None:
            camera.close()

    def _run(self) -> None:
        camera: Camera | None = None
        error: ViscountError | None = None
        try:
            camera = self._make()
            with self._lock:
                self._camera = camera
                closed = self._closed
            if closed:
                camera.close()
            else:
                self._read(camera)
        except ViscountError as caught:
            error = caught
        except Exception as caught:
            _log.debug("the camera broke as follows", exc_info=caught)
            error = SourceError(f"the camera broke: {type(caught).__name__}: {caught}")
        finally:
            if camera is not None:
                camera.close()
        notices = () if camera is None else camera.notices()
        over = Over(opening=self._opening, error=error, notices=notices, missed=self._missed)
        self._inbox.put(over, anyway=True)

    def _read(self, camera: Camera) -> None:
        recorded = bool(getattr(camera, "recorded", False))
        may_repeat = bool(getattr(camera, "may_repeat", recorded))
        opened = Opened(opening=self._opening, recorded=recorded, may_repeat=may_repeat)
        self._inbox.put(opened, anyway=True)
        for frame in camera.frames():
            taken = Taken(
                opening=self._opening,
                frame=frame,
                arrived_ns=self._clock.now_ns(),
                missed=self._missed,
            )
            if self._inbox.put(taken, frame.pixels.nbytes):
                self._missed = 0
            else:
                self._missed += 1
