"""A recorded clip, replayed as if its camera were there: each frame when it is due."""

from collections.abc import Iterator
from dataclasses import replace

from pydantic import Field

from viscount.clock import Clock
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.live import LiveCamera
from viscount.devices.cameras.source import open_source
from viscount.seams import Aim, Options
from viscount.values import Frame, Notice


class ReplayOptions(Options):
    """Options of the camera `replay`.

    `speed` is how many seconds of the recording go by in a second.
    """

    speed: float = Field(1.0, gt=0, le=1000)


class ReplayCamera(LiveCamera):
    """Replays a clip, or the pictures of a folder.

    A frame that is due while the one before is still being decoded comes late, and its age says
    so; none is left out.

    Parameters
    ----------
    options : see `ReplayOptions`.
    aim : the address is the recording's path.

    Raises
    ------
    SourceError : nothing can be read from there.
    """

    recorded = True
    may_repeat = True

    def __init__(self, options: ReplayOptions, aim: Aim, *, clock: Clock | None = None) -> None:
        super().__init__(clock)
        self._speed = options.speed
        self._camera = open_source(aim.address, capture_fps=aim.capture_fps, threads=1)
        self._fitted = Clocked(self._camera)

    def _come(self) -> Iterator[Frame]:
        """Yield the clip's frames, each when it is due."""
        begun_ns: int | None = None
        origin_ns = 0
        _, frames = self._fitted.opened(1)
        for frame in frames:
            if begun_ns is None:
                begun_ns, origin_ns = self._clock.now_ns(), frame.t_ns
            due_ns = begun_ns + round((frame.t_ns - origin_ns) / self._speed)
            if self._alarm.wait_until(due_ns):
                return
            age_ns = max(self._clock.now_ns() - due_ns, 0)
            yield replace(frame, t_ns=frame.t_ns - origin_ns, age_ns=age_ns)

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the recording as far as it was read."""
        return self._camera.notices()

    def _release(self) -> None:
        self._camera.close()
